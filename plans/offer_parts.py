"""Parts of a proposal that its page tells as its print does: mixes, options, what moves the price."""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal

from plans.documents.changed import signed
from plans.documents.cost_share import verdicts
from plans.documents.manner import _
from plans.documents.price import move_words
from plans.documents.side_by_side import SideBySide, beneath, shown, side_by_side, why_not
from plans.documents.sown import height_of, kind_of, what_it_gives
from plans.documents.told import told
from plans.documents.words import months, upper_first
from plans.planning import tables
from plans.planning.beside import NOTHING, Beside, read_beside
from plans.planning.by_field import by_field
from plans.planning.options import standing
from plans.planning.plan import FieldSeed, Plan, SeedLine
from plans.planning.standards import standards
from plans.planning.wire import BadInput


@dataclass(frozen=True, slots=True)
class Sown:
    """One plant of a mix."""

    name: str
    kind: str
    gives: str
    height: str
    blooms: str
    """`Jun – Aug`; empty where it is not told."""
    line: SeedLine


@dataclass(frozen=True, slots=True)
class OptionsShown:
    table: SideBySide | None
    """None where no option can be had."""
    beneath: tuple[tuple[str, str], ...]
    """Label of an option, and what the table has no room for."""
    why_not: tuple[tuple[str, str], ...]
    """Those that cannot be had, and why."""


@dataclass(frozen=True, slots=True)
class StandardShown:
    number: str
    title: str
    fields: tuple[str, ...]
    verdicts: tuple[tuple[str, str], ...]


def kept_beside(text: str) -> Beside:
    """What stood beside a proposal; nothing where an earlier version of the site wrote it."""
    try:
        return read_beside(text)
    except BadInput:
        return NOTHING


def mix_shown(field: FieldSeed) -> tuple[Sown, ...]:
    return tuple(plant_shown(line) for line in field.lines)


def plant_shown(line: SeedLine) -> Sown:
    plant = tables.species().get(line.species)
    return Sown(
        name=upper_first(told(line.species)),
        kind=kind_of(line, plant),
        gives=what_it_gives(line),
        height=height_of(plant),
        blooms=span_of_months(plant.bloom_months) if plant else "",
        line=line,
    )


def span_of_months(found: tuple[int, ...]) -> str:
    names = months("abbreviated")
    if not found:
        return ""
    first, last = names[min(found) - 1], names[max(found) - 1]
    return first if first == last else f"{first} – {last}"


def prices_by_field(plan: Plan) -> tuple[tuple[str, tuple[Decimal, ...]], ...]:
    """Each field with its price by year and in all [$]; empty for a single field."""
    fields = by_field(plan)
    if len(fields) < 2:
        return ()
    return tuple((one.field, (*(year.dollars for year in one.years), one.total.dollars)) for one in fields)


def price_moves(beside: Beside) -> tuple[tuple[str, str], ...]:
    """What would be otherwise, and by how much the price would differ."""
    return tuple((move_words(move), signed(move.change.dollars)) for move in beside.moves)


def options_shown(plan: Plan, beside: Beside) -> OptionsShown | None:
    if not beside.options:
        return None
    can = shown(beside.options)
    return OptionsShown(
        table=side_by_side(standing(plan), can) if can else None,
        beneath=tuple((told(one.label), text) for one in can if (text := beneath(one))),
        why_not=tuple(
            (_("{option}: not here.").format(option=label), why) for label, why in why_not(beside.options)
        ),
    )


def standards_shown(plan: Plan) -> tuple[StandardShown, ...]:
    everywhere = len(plan.job.conversions)
    return tuple(
        StandardShown(
            number=one.number,
            title=told(one.title),
            fields=() if len(one.fields) == everywhere else one.fields,
            verdicts=tuple(verdicts(one)),
        )
        for one in standards(plan)
    )
