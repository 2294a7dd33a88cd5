"""From walk-overs to the planning service, and what it suggests for a field."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from django.utils.translation import gettext, gettext_lazy

from plans import facts
from plans.models import Conversion
from plans.planning import walked
from plans.planning.suggestion import FieldFacts, Suggestion, suggest
from plans.planning.suggestion import facts_of as facts_from_walk
from sites.ground.stem_plots import stems_per_acre
from sites.models import Farm, Field, WalkOver
from sites.walks import latest_walks


def walk_of(walk: WalkOver) -> walked.Walk:
    return walked.Walk(
        on=walk.on,
        covers=tuple(walked.Cover(row["what"], float(row["share_pct"])) for row in walk.covers),
        weeds=tuple(walked.Weed(row["what"], row["abundance"]) for row in walk.weeds),
        woody=tuple(
            walked.Woody(row["what"], row["size"], stems_per_acre(row["stems"], walk.plots).per_acre)
            for row in walk.stems
        ),
        thatch_in=walk.thatch_in,
        bare_pct=walk.bare_pct,
    )


def slope_of(walk: WalkOver, field: Field) -> float:
    """The steeper of what is known of the field and what the eye said [%]."""
    return max(field.slope_pct, walk.slope_pct or 0)


@dataclass(frozen=True, slots=True)
class Change:
    """One fact of a field as it stands and as the walk-over has it."""

    name: str
    label: str
    now: str
    then: str
    value: str


LABELS = {
    "cover": gettext_lazy("What grows there"),
    "thatch": gettext_lazy("Thatch"),
    "weeds": gettext_lazy("Weeds present"),
    "woody_plants": gettext_lazy("Woody plants present"),
}


def changes_to(field: Field, found: FieldFacts) -> list[Change]:
    """Facts that the walk-over knows otherwise than the field's page."""
    shown = {"cover": dict(Field.COVER), "thatch": dict(Field.THATCH)}

    def words(name: str, value: str) -> str:
        return str(shown.get(name, {}).get(value, value)) or gettext("none noted")

    return [
        Change(name, str(label), words(name, getattr(field, name)), words(name, value), value)
        for name, label in LABELS.items()
        if (value := getattr(found, name)) is not None and value != getattr(field, name)
    ]


@dataclass(frozen=True, slots=True)
class Suggested:
    """What a walk-over suggests for a purpose."""

    walk: WalkOver
    answer: Suggestion
    changes: tuple[Change, ...]
    """What the field's own page, by which a plan is made, says otherwise."""


def suggested(walk: WalkOver, field: Field, farm: Farm, purpose: str) -> Suggested:
    found, slope_pct, climate = walk_of(walk), slope_of(walk, field), facts.climate_of(farm)
    changes = changes_to(field, facts_from_walk(found, slope_pct, climate))
    return Suggested(walk, suggest(found, slope_pct, purpose, climate), tuple(changes))


def suggested_for(conversions: Iterable[Conversion], farm: Farm) -> dict[int, Suggested]:
    """By field what its latest walk-over suggests for the purpose planned: one query, however many."""
    rows = list(conversions)
    walks = latest_walks(row.field_id for row in rows)
    return {
        row.field_id: suggested(walks[row.field_id], row.field, farm, row.purpose)
        for row in rows
        if row.field_id in walks
    }
