"""What stays away of a field: exclusions added, changed and removed, and the acres that each one takes."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from django.core.exceptions import ValidationError
from django.db import transaction

from consulting.services import save
from sites.drawn import left_by_work
from sites.ground.errors import GroundError
from sites.models import Exclusion, Field, Landmark


@dataclass(frozen=True, slots=True)
class Stays:
    """An exclusion and the acres it takes of each kind of work; None where it does not speak of that."""

    row: Exclusion
    words: str
    takes: tuple[tuple[str, float | None], ...]
    """Kind of work as the table heads it, and acres."""


@dataclass(frozen=True, slots=True)
class Table:
    """A field's exclusions; `whole`, `left` and `workings` are empty where no acres can be reckoned."""

    rows: tuple[Stays, ...]
    heads: tuple[str, ...] = ()
    whole: tuple[tuple[str, float], ...] = ()
    left: tuple[tuple[str, float], ...] = ()
    workings: tuple[tuple[str, tuple[str, ...]], ...] = ()
    source: str = ""
    problem: str = ""


SHORT = {"spray": "Spray", "drill": "Drill", "burn": "Burn", "mow": "Mow"}


def words_of(row: Exclusion) -> str:
    """`50 ft from Mill Creek`; the thing itself where no distance is kept."""
    name = row.landmark.name or row.landmark.get_kind_display().lower()
    return f"{row.distance_ft:g} ft from {name}" if row.distance_ft else name


def away_table(field: Field) -> Table:
    """The exclusions of a field with the acres that each takes; ask for `exclusions__landmark` beforehand."""
    rows = list(field.exclusions.all())
    plain = tuple(Stays(row, words_of(row), ()) for row in rows)
    try:
        left = left_by_work(field, SHORT if rows else ())
    except GroundError as error:
        return Table(plain, problem=str(error))
    if not left:
        return Table(plain)
    taken: dict[tuple[str, int], float] = {}
    for work, found in left.items():
        spoken = [row for row in rows if work in row.work]
        taken |= {(work, row.pk): one.acres for row, one in zip(spoken, found.taken, strict=True)}
    return Table(
        tuple(
            Stays(row, words_of(row), tuple((SHORT[work], taken.get((work, row.pk))) for work in left))
            for row in rows
        ),
        heads=tuple(SHORT[work] for work in left),
        whole=tuple((SHORT[work], found.whole_acres) for work, found in left.items()),
        left=tuple((SHORT[work], found.left_acres) for work, found in left.items()),
        workings=tuple((SHORT[work], found.steps) for work, found in left.items() if found.taken),
        source=next(iter(left.values())).source,
    )


@transaction.atomic
def exclusion_create(
    *, field: Field, landmark: Landmark | None, drawn: dict[str, Any] | None, **values: Any
) -> Exclusion:
    """An exclusion about a landmark of the farm, or about a new one from `drawn`. Raises ValidationError."""
    if landmark is None:
        landmark = save(Landmark(practice_id=field.practice_id, farm=field.farm), **(drawn or {}))
    row = save(Exclusion(practice_id=field.practice_id, field=field, landmark=landmark), **values)
    _measurable(field)
    return row


@transaction.atomic
def exclusion_update(*, exclusion: Exclusion, **values: Any) -> Exclusion:
    row = save(exclusion, **values)
    _measurable(exclusion.field)
    return row


def exclusion_remove(*, exclusion: Exclusion) -> None:
    """The landmark stays on the farm."""
    exclusion.delete()


def _measurable(field: Field) -> None:
    """Raises ValidationError where the ground it takes cannot be reckoned, as from a state away."""
    try:
        left_by_work(field, SHORT)
    except GroundError as error:
        raise ValidationError({"landmark": str(error)}) from None
