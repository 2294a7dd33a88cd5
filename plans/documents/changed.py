"""What changed between two plans, in words: a label with both sides, and a sentence of what it comes from."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date
from decimal import ROUND_HALF_UP, Decimal

from plans.documents.manner import _, marked
from plans.documents.told import told
from plans.documents.words import (
    ONE_OF,
    converted,
    day,
    listed,
    lower_first,
    measured,
    number,
    quantity,
    unit,
    upper_first,
    usd,
    window,
)
from plans.planning.ahead import Window
from plans.planning.changes import Change, Changes, LineChange, Value
from plans.planning.plan import Plan

LEAST_ACRES = 0.005
MOST_REASONS = 6
"""Lines named as what moves the price; the table has them all."""


@dataclass(frozen=True, slots=True)
class Row:
    """A change with both its sides, as a table has it."""

    field: str
    label: str
    before: str
    after: str


@dataclass(frozen=True, slots=True)
class LineRow:
    """A priced line with both its sides and what its difference comes from."""

    label: str
    fields: str
    before: Decimal
    after: Decimal
    difference: Decimal
    because: str


@dataclass(frozen=True, slots=True)
class YearRows:
    year: int
    before: Decimal
    after: Decimal
    difference: Decimal
    lines: tuple[LineRow, ...]


# Labels

LABELS = {
    "acres": marked("Acres"),
    "outline": marked("Outline"),
    "kept away": marked("Kept free"),
    "cover": marked("What grows there"),
    "thatch": marked("Thatch"),
    "slope": marked("Steepest part"),
    "water": marked("Water or a well within"),
    "neighbors": marked("Neighbors to mind"),
    "lines": marked("Power lines"),
    "purpose": marked("Purpose"),
    "kill program": marked("Kill program"),
    "seeding": marked("Seeding"),
    "may begin": marked("Work may begin"),
    "mix": marked("Mix"),
}
NOT_THERE = "–"


def rows(changes: Iterable[Change]) -> tuple[Row, ...]:
    """The changes as rows of a table."""
    return tuple(
        Row(one.field, _label(one), _side(one, one.before), _side(one, one.after)) for one in changes
    )


def _label(change: Change) -> str:
    if change.what == "field":
        return _("Field")
    if change.subject:
        return upper_first(told(change.subject))
    return _(LABELS[change.what])


def _side(change: Change, value: Value) -> str:
    if change.what == "field":
        return _("not in it") if value is None else _acres(value)
    if change.what == "outline":
        return _("not drawn") if value is None else _("as drawn then")
    if value is None:
        return _("none") if change.what in ("water", "neighbors", "lines", "kept away") else NOT_THERE
    return said(value, change.unit)


def _acres(value: Value) -> str:
    return measured(float(value), "acre") if isinstance(value, int | float) else NOT_THERE


def said(value: Value, unit: str = "") -> str:
    """A value as it is printed."""
    if isinstance(value, Window):
        return window(value.opens, value.shuts)
    if isinstance(value, date):
        return day(value)
    if isinstance(value, tuple):
        return listed(value)
    if isinstance(value, int | float):
        return _acres(value) if unit == "acre" else quantity(float(value), unit)
    return str(value)


# Sentences


def reasons(changes: Changes, *, steps: bool = True) -> tuple[str, ...]:
    """What the changes come from, a sentence each: the ground, the mix, the steps, then the prices.

    Without `steps` for a paper that lists them by themselves.
    """
    found = [_of_ground(one) for one in changes.ground]
    found += _of_mix(changes.mix)
    found += _of_steps(changes.steps) if steps else []
    found += _of_prices(changes.lines or ())
    return tuple(sentence for sentence in dict.fromkeys(found) if sentence)


def _of_ground(one: Change) -> str:
    before, after = one.before, one.after
    if one.what == "field" and before is None:
        return _("{field} is new in it, with {acres}.").format(field=one.field, acres=_acres(after))
    if one.what == "field":
        return _("{field}, {acres}, is no longer in it.").format(field=one.field, acres=_acres(before))
    if one.what == "acres" and isinstance(before, float) and isinstance(after, float):
        if abs(after - before) < LEAST_ACRES:
            return ""
        text = _("{field} is {acres} larger.") if after > before else _("{field} is {acres} smaller.")
        return text.format(field=one.field, acres=_acres(abs(after - before)))
    if one.what == "outline":
        return _("{field} was drawn anew.").format(field=one.field)
    if one.what == "kept away":
        was, now = (side if isinstance(side, tuple) else () for side in (before, after))
        more, less = ([one for one in some if one not in other] for some, other in ((now, was), (was, now)))
        texts = []
        if more:
            texts.append(_("{field}: kept free now, {what}.").format(field=one.field, what=listed(more)))
        if less:
            texts.append(
                _("{field}: no longer kept free, {what}.").format(field=one.field, what=listed(less))
            )
        return " ".join(texts)
    return _("{field}, {what}: {after}, before {before}.").format(
        field=one.field,
        what=lower_first(_label(one)),
        after=_side(one, after),
        before=_side(one, before),
    )


def _of_mix(changes: Sequence[Change]) -> list[str]:
    found = []
    for field in dict.fromkeys(one.field for one in changes):
        own = [one for one in changes if one.field == field]
        for one in own:
            if one.what == "mix":
                text = _("{field} is seeded with {after} in place of {before}.")
                if one.before is None:
                    text = _("{field} is seeded with {after}.")
                sides = {"after": _side(one, one.after), "before": _side(one, one.before)}
                found.append(text.format(field=field, **sides))
        new = [one.subject for one in own if one.subject and one.before is None]
        gone = [one.subject for one in own if one.subject and one.after is None]
        rest = [one.subject for one in own if one.subject and None not in (one.before, one.after)]
        for names, text in (
            (new, _("New on {field}: {names}.")),
            (gone, _("No longer on {field}: {names}.")),
            (rest, _("Other amounts on {field}: {names}.")),
        ):
            if names:
                found.append(text.format(field=field, names=listed(map(told, names))))
    return found


def _of_steps(changes: Sequence[Change]) -> list[str]:
    """Choices one by one; the same steps on several fields in one sentence."""
    ways = (one for one in changes if one.what not in ("step", "done", "rate"))
    found = [_of_ground(one) for one in ways if one.before is not None]
    for text, kind in (
        (_("Added on {fields}: {steps}."), lambda one: one.what == "step" and one.before is None),
        (_("Left out on {fields}: {steps}."), lambda one: one.what == "step" and one.after is None),
        (
            _("Moved on {fields}: {steps}."),
            lambda one: one.what == "step" and None not in (one.before, one.after),
        ),
        (_("Done since on {fields}: {steps}."), lambda one: one.what == "done"),
    ):
        steps: dict[str, list[str]] = {}
        for one in filter(kind, changes):
            steps.setdefault(one.field, []).append(lower_first(one.subject))
        for names in dict.fromkeys(tuple(own) for own in steps.values()):
            fields = [field for field, own in steps.items() if tuple(own) == names]
            found.append(text.format(fields=listed(fields), steps=listed(names)))
    return found + [
        _("{field}, {what}: {after}, before {before}.").format(
            field=one.field,
            what=lower_first(one.subject),
            after=_side(one, one.after),
            before=_side(one, one.before),
        )
        for one in changes
        if one.what == "rate"
    ]


UNIT_PRICED = ("seed", "spray", "materials", "hauling")
"""Kinds whose price follows from their amount; a trip's has a least charge in it."""


def _of_prices(lines: Sequence[LineChange]) -> list[str]:
    """Unit prices that are others now, those first that move the price most."""
    moved = []
    for one in lines:
        prices = _unit_prices(one)
        if one.category in UNIT_PRICED and prices and prices[0] != prices[1]:
            text = _("{what} went from {before} to {after} per {unit}.").format(
                what=upper_first(told(one.label)),
                before=usd(prices[0]),
                after=usd(prices[1]),
                unit=_per(one),
            )
            moved.append((abs(one.difference), text))
    texts = dict.fromkeys(text for _amount, text in sorted(moved, key=lambda pair: -pair[0]))
    return list(texts)[:MOST_REASONS]


def _per(one: LineChange) -> str:
    return unit(ONE_OF.get(one.unit, one.unit)) + (" PLS" if one.category == "seed" else "")


def _unit_prices(one: LineChange) -> tuple[Decimal, Decimal] | None:
    if not one.quantity_before or not one.quantity_after:
        return None
    before, after = (
        (amount / Decimal(str(converted(much, one.unit)))).quantize(Decimal("0.01"), ROUND_HALF_UP)
        for amount, much in ((one.before, one.quantity_before), (one.after, one.quantity_after))
    )
    # A cent of difference may be the rounding of the line.
    least = Decimal("0.01") + max(before, after) / 1000
    return (before, after) if abs(after - before) > least else (before, before)


# Price

PARTS = {"contingency": marked("Contingency"), "discount": marked("Discount"), "tax": marked("Tax")}


def year_rows(changes: Changes) -> tuple[YearRows, ...]:
    """Years whose price is another, with the lines that make the difference."""
    return tuple(
        YearRows(
            year.year,
            year.before,
            year.after,
            year.difference,
            tuple(_line_row(line) for line in changes.lines or () if line.year == year.year),
        )
        for year in changes.years
    )


def _line_row(one: LineChange) -> LineRow:
    label = _(PARTS[one.category]) if one.category in PARTS else upper_first(told(one.label))
    return LineRow(label, listed(one.fields), one.before, one.after, one.difference, _because(one))


def _because(one: LineChange) -> str:
    if one.category in PARTS:
        return _("follows from the lines")
    if not one.before:
        return _("new")
    if not one.after:
        return _("no longer in it")
    if one.quantity_before is None or one.quantity_after is None:
        return ""
    seed = " PLS" if one.category == "seed" else ""
    amounts = [quantity(much, one.unit) + seed for much in (one.quantity_before, one.quantity_after)]
    prices = _unit_prices(one)
    dearer = prices is not None and prices[0] != prices[1] and one.category in UNIT_PRICED
    said = {
        "before": amounts[0],
        "after": amounts[1],
        "was": usd(prices[0]) if prices else "",
        "now": usd(prices[1]) if prices else "",
        "unit": _per(one),
    }
    if amounts[0] == amounts[1]:
        return _("{now} per {unit} in place of {was}").format(**said) if dearer else ""
    if dearer:
        return _("{after} in place of {before}, at {now} per {unit} in place of {was}").format(**said)
    return _("{after} in place of {before}").format(**said)


def signed(amount: Decimal) -> str:
    """`+$12.50`, `−$12.50`, and a dash for nothing."""
    return NOT_THERE if not amount else f"+{usd(amount)}" if amount > 0 else usd(amount)


def difference_words(amount: Decimal) -> str:
    """`$12.50 more`, `$12.50 less`, `the same`."""
    if not amount:
        return _("the same")
    text = _("{amount} more") if amount > 0 else _("{amount} less")
    return text.format(amount=usd(abs(amount)))


@dataclass(frozen=True, slots=True)
class Brief:
    """A plan in a few rows, to be set beside another."""

    label: str
    before: str
    after: str
    differs: bool


def briefs(before: Plan, after: Plan, changes: Changes) -> tuple[Brief, ...]:
    """Both plans at a glance: acres, fields, plants, first seeding, last year, price."""

    def pair(label: str, first: str, second: str) -> Brief:
        return Brief(label, first, second, first != second)

    sides = (before, after)
    acres = [_acres(float(sum(one.acres for one in side.job.conversions))) for side in sides]
    fields = [listed([one.field for one in side.job.conversions]) for side in sides]
    species = [len({line.species for field in side.seed for line in field.lines}) for side in sides]
    seeding = [
        min(
            (task.done_on or task.earliest for task in side.tasks if task.phase == "plant"),
            default=None,
        )
        for side in sides
    ]
    last = [max((task.latest.year for task in side.tasks), default=None) for side in sides]
    found = [
        pair(_("Ground"), acres[0], acres[1]),
        pair(_("Fields"), fields[0], fields[1]),
        pair(_("Plants in the mixes"), number(species[0]), number(species[1])),
        pair(_("Seeding opens"), *(day(on) if on else NOT_THERE for on in seeding)),
        pair(_("Runs to"), *(str(year) if year else NOT_THERE for year in last)),
        pair(_("Price"), usd(changes.before), usd(changes.after)),
    ]
    return tuple(found)
