"""Two plans of one job beside each other: what changed in ground, mix, steps and price."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date
from decimal import Decimal
from typing import Literal

from plans.planning import tables
from plans.planning.ahead import Window
from plans.planning.job import Conversion
from plans.planning.money import ZERO, total
from plans.planning.plan import EstimateLine, Plan, Task, YearPrice

Topic = Literal["ground", "mix", "steps"]
What = Literal[
    "field",
    "acres",
    "outline",
    "kept away",
    "cover",
    "thatch",
    "slope",
    "water",
    "neighbors",
    "lines",
    "purpose",
    "kill program",
    "seeding",
    "may begin",
    "mix",
    "species",
    "trees",
    "step",
    "done",
    "rate",
]
Value = str | float | date | Window | tuple[str, ...] | None
BY_YEAR = ("contingency", "discount", "tax")
"""What a year adds to its lines."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Change:
    """One thing that is another now. None on a side: it is not there."""

    topic: Topic
    what: What
    field: str
    subject: str = ""
    """The species, the step, the product at its step."""
    unit: str = ""
    before: Value
    after: Value


@dataclass(frozen=True, slots=True, kw_only=True)
class YearChange:
    """A year's price on both sides [$]; zero for a year that one side does not have."""

    year: int
    before: Decimal
    after: Decimal

    @property
    def difference(self) -> Decimal:
        return self.after - self.before


@dataclass(frozen=True, slots=True, kw_only=True)
class LineChange:
    """A priced line that differs: lines of one year, kind and label together. None: not there."""

    year: int
    category: str
    """A category of the estimate, or `contingency`, `discount`, `tax` without quantities."""
    label: str
    fields: tuple[str, ...]
    unit: str
    quantity_before: float | None
    quantity_after: float | None
    before: Decimal
    after: Decimal

    @property
    def difference(self) -> Decimal:
        return self.after - self.before


@dataclass(frozen=True, slots=True, kw_only=True)
class Changes:
    """All that changed. The differences of the lines sum to those of their years, and these to the total's.

    `lines` is None where the two sides were not priced for the same work, so that only years compare.
    """

    ground: tuple[Change, ...]
    mix: tuple[Change, ...]
    steps: tuple[Change, ...]
    years: tuple[YearChange, ...]
    lines: tuple[LineChange, ...] | None
    before: Decimal
    after: Decimal

    def __post_init__(self) -> None:
        if total(year.difference for year in self.years) != self.difference:
            raise ValueError("the years of the two plans do not sum to their totals")
        for year in self.years if self.lines is not None else ():
            if (
                total(line.difference for line in self.lines or () if line.year == year.year)
                != year.difference
            ):
                raise ValueError(f"the lines of {year.year} do not sum to what the year changed by")

    @property
    def difference(self) -> Decimal:
        return self.after - self.before

    @property
    def anything(self) -> bool:
        """Whether anything differs at all."""
        return bool(self.ground or self.mix or self.steps or self.lines) or any(
            year.difference for year in self.years
        )


def compare(before: Plan, after: Plan) -> Changes:
    """What `after` has otherwise than `before`; fields, steps and lines pair by their names.

    Raises ValueError where the printed sums of a plan do not add up.
    """
    return Changes(
        ground=tuple(_ground(before, after)),
        mix=tuple(_mixes(before, after)),
        steps=tuple(_steps(before, after)),
        years=year_changes(
            {year.year: year.total.dollars for year in before.estimate.years},
            {year.year: year.total.dollars for year in after.estimate.years},
        ),
        lines=tuple(_lines(before, after)),
        before=before.estimate.total.total.dollars,
        after=after.estimate.total.total.dollars,
    )


def compare_by_year(
    before: Plan, after: Plan, was: Mapping[int, Decimal], becomes: Mapping[int, Decimal]
) -> Changes:
    """The same of plans priced for unlike parts of a job, with each side's whole price by year given [$]."""
    found = compare(before, after)
    return replace(
        found,
        years=year_changes(was, becomes),
        lines=None,
        before=total(was.values()),
        after=total(becomes.values()),
    )


def year_changes(before: Mapping[int, Decimal], after: Mapping[int, Decimal]) -> tuple[YearChange, ...]:
    """Two prices by year [$] side by side, years that either has."""
    return tuple(
        YearChange(year=year, before=before.get(year, ZERO), after=after.get(year, ZERO))
        for year in sorted({*before, *after})
    )


# Ground

FACTS: tuple[tuple[What, Callable[[Conversion], Value], str], ...] = (
    ("acres", lambda one: one.acres, "acre"),
    ("outline", lambda one: one.drawn[0].field.kind if one.drawn else None, ""),
    ("kept away", lambda one: _kept_away(one), ""),
    ("cover", lambda one: one.cover, ""),
    ("thatch", lambda one: one.thatch, ""),
    ("slope", lambda one: one.slope_pct, "%"),
    ("water", lambda one: one.water_within_ft, "ft"),
    ("neighbors", lambda one: one.sensitive_neighbours or None, ""),
    ("lines", lambda one: "yes" if one.power_lines else None, ""),
    ("purpose", lambda one: one.purpose, ""),
    ("kill program", lambda one: _label(tables.programs(), one.kill_program), ""),
    ("seeding", lambda one: _label(tables.seedings(), one.seeding), ""),
    ("may begin", lambda one: one.start_on, ""),
)
OF_THE_WORK = frozenset({"purpose", "kill program", "seeding", "may begin"})


def _label(rows: object, key: str) -> str:
    row = rows.get(key)  # type: ignore[attr-defined]
    return row.label if row else key


def _kept_away(one: Conversion) -> tuple[str, ...] | None:
    return tuple(dict.fromkeys(words for kept in one.kept_away for words in kept.because)) or None


def _by_field(plan: Plan) -> dict[str, Conversion]:
    return {one.field: one for one in plan.job.conversions}


def _ground(before: Plan, after: Plan) -> Iterator[Change]:
    was, now = _by_field(before), _by_field(after)
    for name in dict.fromkeys((*was, *now)):
        old, new = was.get(name), now.get(name)
        if old is None or new is None:
            acres = [one.acres if one else None for one in (old, new)]
            yield Change(
                topic="ground", what="field", field=name, unit="acre", before=acres[0], after=acres[1]
            )
            continue
        for what, of, unit in FACTS:
            if what not in OF_THE_WORK and (what == "outline" or of(old) != of(new)):
                if what == "outline" and not _drawn_anew(old, new):
                    continue
                yield Change(topic="ground", what=what, field=name, unit=unit, before=of(old), after=of(new))


def _drawn_anew(old: Conversion, new: Conversion) -> bool:
    """Whether the outline is another; that parts of it are kept free is told apart."""
    shapes = [one.drawn[0].field if one.drawn else None for one in (old, new)]
    wholes = [one.drawn[0].whole_acres if one.drawn else None for one in (old, new)]
    return (shapes[0] is None) != (shapes[1] is None) or wholes[0] != wholes[1]


# Mix


def _mixes(before: Plan, after: Plan) -> Iterator[Change]:
    was, now = _by_field(before), _by_field(after)
    for name in now:
        sides = (was.get(name), now[name])
        names = [one.mix.name if one and one.mix else None for one in sides]
        if names[0] != names[1]:
            yield Change(topic="mix", what="mix", field=name, before=names[0], after=names[1])
    yield from _amounts(
        "species",
        "lb PLS per acre",
        {(one.field, line.species): line.pls_lb_per_acre.value for one in before.seed for line in one.lines},
        {(one.field, line.species): line.pls_lb_per_acre.value for one in after.seed for line in one.lines},
        {*was} & {*now},
    )
    yield from _amounts(
        "trees",
        "plants",
        {(one.field, line.species): line.plants.value for one in before.trees for line in one.lines},
        {(one.field, line.species): line.plants.value for one in after.trees for line in one.lines},
        {*was} & {*now},
    )


ALIKE = 1e-6
"""Shares of an amount below which two amounts are the same one, worked out twice."""


def _amounts(
    what: What,
    unit: str,
    before: dict[tuple[str, str], float | Decimal],
    after: dict[tuple[str, str], float | Decimal],
    fields: set[str],
) -> Iterator[Change]:
    for field, name in dict.fromkeys((*before, *after)):
        old, new = before.get((field, name)), after.get((field, name))
        if field not in fields or (
            old is not None and new is not None and abs(float(old) - float(new)) <= ALIKE * float(old)
        ):
            continue
        yield Change(
            topic="mix",
            what=what,
            field=field,
            subject=name,
            unit=unit,
            before=None if old is None else float(old),
            after=None if new is None else float(new),
        )


# Steps


def _steps(before: Plan, after: Plan) -> Iterator[Change]:
    was, now = _by_field(before), _by_field(after)
    for name, becomes in now.items():
        for what, of, unit in FACTS:
            before_it = of(was[name]) if name in was else None
            if what in OF_THE_WORK and before_it != of(becomes):
                yield Change(
                    topic="steps", what=what, field=name, unit=unit, before=before_it, after=of(becomes)
                )
    old = {(task.field, task.step): task for task in before.tasks}
    new = {(task.field, task.step): task for task in after.tasks}
    pairs = [(key, old.get(key), new.get(key)) for key in dict.fromkeys((*old, *new))]
    for (field, _), one, other in sorted(pairs, key=lambda pair: (pair[0][0], _first(pair[1:]))):
        task = other or one
        if task is None or (sides := _told(one, other)) is None:
            continue
        what, first, second = sides
        yield Change(topic="steps", what=what, field=field, subject=task.label, before=first, after=second)
    yield from _rates(before, after)


def _first(tasks: Iterable[Task | None]) -> date:
    return min(task.earliest for task in tasks if task is not None)


def _told(one: Task | None, other: Task | None) -> tuple[What, Value, Value] | None:
    """Which change of a step this is, with both sides; None where there is none."""
    first = Window(one.earliest, one.latest) if one else None
    second = Window(other.earliest, other.latest) if other else None
    if other is not None and other.done_on is not None:
        return None if one is not None and one.done_on == other.done_on else ("done", first, other.done_on)
    if one is not None and one.done_on is not None:
        return ("step", one.done_on, second) if other is not None else None
    return None if first == second else ("step", first, second)


def _rates(before: Plan, after: Plan) -> Iterator[Change]:
    """Products whose rate at a step is another; a step that comes or goes is told as a step."""
    labels = {(task.field, task.step): task.label for plan in (before, after) for task in plan.tasks}
    sides = []
    for plan in (before, after):
        steps = {task.key: (task.field, task.step) for task in plan.tasks}
        sides.append(
            {
                (*steps[tank.task], part.name): part.rate
                for tank in plan.tanks
                if tank.task in steps
                for part in tank.parts
            }
        )
    both = {key[:2] for key in sides[0]} & {key[:2] for key in sides[1]}
    for field, step, name in dict.fromkeys((*sides[0], *sides[1])):
        if (field, step) not in both:
            continue
        old, new = (side.get((field, step, name)) for side in sides)
        if old and new and old.unit == new.unit and abs(float(old.value) - float(new.value)) <= 1e-9:
            continue
        yield Change(
            topic="steps",
            what="rate",
            field=field,
            subject=f"{labels[field, step]}: {name}",
            unit=(new or old).unit,  # type: ignore[union-attr]
            before=float(old.value) if old else None,
            after=float(new.value) if new else None,
        )


# Price


def _lines(before: Plan, after: Plan) -> Iterator[LineChange]:
    years = [{year.year: year for year in plan.estimate.years} for plan in (before, after)]
    groups = [_grouped(plan.estimate.lines) for plan in (before, after)]
    for year in sorted({*years[0], *years[1]}):
        keys = (key for key in dict.fromkeys((*groups[0], *groups[1])) if key[0] == year)
        for key in keys:
            found = _line(key, groups[0].get(key, ()), groups[1].get(key, ()))
            if found is not None:
                yield found
        for name in BY_YEAR:
            amounts = [_of_year(side.get(year), name) for side in years]
            if amounts[0] != amounts[1]:
                yield LineChange(
                    year=year,
                    category=name,
                    label=name,
                    fields=(),
                    unit="",
                    quantity_before=None,
                    quantity_after=None,
                    before=amounts[0],
                    after=amounts[1],
                )


def _of_year(year: YearPrice | None, name: str) -> Decimal:
    return Decimal(getattr(year, name).value) if year is not None else ZERO


Key = tuple[int, str, str]


def _grouped(lines: Sequence[EstimateLine]) -> dict[Key, tuple[EstimateLine, ...]]:
    found: dict[Key, tuple[EstimateLine, ...]] = {}
    for line in lines:
        key = (line.year, line.category, line.label)
        found[key] = (*found.get(key, ()), line)
    return found


def _line(key: Key, old: Sequence[EstimateLine], new: Sequence[EstimateLine]) -> LineChange | None:
    amounts = [total(line.price.dollars for line in side) for side in (old, new)]
    if amounts[0] == amounts[1]:
        return None
    units = {line.quantity.unit for line in (*old, *new)}
    one_unit = units.pop() if len(units) == 1 else ""
    quantities = [
        sum(float(line.quantity.value) for line in side) if side and one_unit else None for side in (old, new)
    ]
    year, category, label = key
    return LineChange(
        year=year,
        category=category,
        label=label,
        fields=tuple(dict.fromkeys(field for line in (*old, *new) for field in line.fields)),
        unit=one_unit,
        quantity_before=quantities[0],
        quantity_after=quantities[1],
        before=amounts[0],
        after=amounts[1],
    )
