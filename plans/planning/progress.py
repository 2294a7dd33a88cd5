"""What an agreed plan has cost so far and what is left of it, at the prices of the signed proposal.

A line's share done weighs the tasks it covers: work by their acres, hauling by trips, seed, spray and
materials by how much of it each task takes. Every amount is cut into done, left and skipped in whole cents
that add up to the amount signed.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from decimal import Decimal

from plans.planning import tables
from plans.planning.calendar import SOWING
from plans.planning.figures import Figure, Term
from plans.planning.money import exact, split, to_cents, total
from plans.planning.plan import CATEGORIES, EstimateLine, Plan, Task
from plans.planning.work import Visit, visits

SOURCE = "the signed proposal, and the visits as they stand"
RECORD_SOURCE = "records of work, at the prices of the signed proposal"
SUM_SOURCE = "sum of printed amounts"
PARTS = ("estimate", "done", "left", "skipped")


@dataclass(frozen=True, slots=True)
class Share:
    """How much of something is done and how much will not be done, 0 to 1 each; the rest is left."""

    done: float = 0.0
    skipped: float = 0.0

    @property
    def left(self) -> float:
        return max(0.0, 1.0 - self.done - self.skipped)


@dataclass(frozen=True, slots=True)
class Weighed:
    """A task that a line covers, and what it weighs in it."""

    task: Task
    weight: float
    unit: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Row:
    """An amount that was signed and what became of it [$]: done + left + skipped is the estimate."""

    label: str
    estimate: Figure
    done: Figure
    left: Figure
    skipped: Figure


@dataclass(frozen=True, slots=True, kw_only=True)
class LineDone:
    """A line of the estimate with its share done, cut at direct cost and at the client's price."""

    line: EstimateLine
    share: Figure
    """Done, in percent."""
    cost: Row
    price: Row
    allowed: Figure | None = None
    """What of the cost done was allowed for use beyond the plan [$]."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Progress:
    lines: tuple[LineDone, ...]
    years: tuple[Row, ...]
    """Direct cost by year; `kinds` the same by kind of work, `cost` all of it."""
    kinds: tuple[Row, ...]
    cost: Row
    price: Row
    """What the client pays without tax: lines, contingency and discount."""


def cut(amount: Decimal, share: Share) -> tuple[Decimal, Decimal, Decimal]:
    """Done, left and skipped of an amount [$], in whole cents that add up to it."""
    parts = split(amount, (share.done, share.skipped, share.left))
    return parts[0], parts[2], parts[1]


def progress(
    plan: Plan, shares: Mapping[str, Share], earlier: Sequence[tuple[Plan, Mapping[str, Share]]] = ()
) -> Progress:
    """What became of each line, from the share of each task by its key; a task without one is all left.

    `earlier` are plans in whose place this one was agreed to. Of them counts what was done or skipped;
    what was left of them is in the plan that followed.
    """
    lines: tuple[LineDone, ...] = ()
    priced: list[tuple[int, Row]] = []
    for one, own, over in [*((*pair, True) for pair in earlier), (plan, shares, False)]:
        found = tuple(_line_done(line, groups, own) for line, groups in covered(one))
        rows = [
            (year, _price_of_year(one, year, found)) for year in sorted({part.line.year for part in found})
        ]
        if over:
            found = tuple(kept for part in found if (kept := _settled(part)).cost.estimate.dollars)
            rows = [(year, _over(row)) for year, row in rows]
        lines, priced = (*lines, *found), [*priced, *rows]
    years = sorted({one.line.year for one in lines})
    costs = [
        _sum(str(year), "direct cost", [one.cost for one in lines if one.line.year == year]) for year in years
    ]
    return Progress(
        lines=lines,
        years=tuple(costs),
        kinds=tuple(
            _sum(kind.capitalize(), "direct cost", [one.cost for one in lines if one.line.category == kind])
            for kind in CATEGORIES
            if any(one.line.category == kind for one in lines)
        ),
        cost=_sum("All years", "direct cost", costs),
        price=_sum("All years", "price without tax", [row for _, row in sorted(priced, key=_year)]),
    )


def _year(pair: tuple[int, Row]) -> int:
    return pair[0]


def _over(row: Row) -> Row:
    """A row of which nothing is left: what was not done by then is in the plan that followed."""
    parts = [("done", row.done.dollars), ("skipped", row.skipped.dollars)]
    nothing = added("what is left of it is in the change order", [])
    return replace(row, estimate=added("done and skipped before the change order", parts), left=nothing)


def _settled(one: LineDone) -> LineDone:
    return replace(one, cost=_over(one.cost), price=_over(one.price))


# Which tasks a line covers


def covered(plan: Plan) -> list[tuple[EstimateLine, tuple[tuple[Weighed, ...], ...]]]:
    """Each line with the groups of tasks it covers: its trips for hauling, else one group."""
    trips = visits(plan.tasks)
    year_of = {task.key: trip.on.year for trip in trips for task in trip.tasks}
    known = {task.key: task for task in plan.tasks}
    worked: dict[tuple[int, str, tuple[str, ...]], list[Visit]] = {}
    for trip in trips:
        fields = tuple(task.field for task in trip.tasks)
        worked.setdefault((trip.on.year, trip.tasks[0].label, fields), []).append(trip)
    used: dict[tuple[int, str, str], list[Weighed]] = {}
    for category, name, key, amount, unit in _used(plan):
        if key in year_of:
            at = (year_of[key], category, name)
            used.setdefault(at, []).append(Weighed(known[key], amount, unit))
    found: list[tuple[EstimateLine, tuple[tuple[Weighed, ...], ...]]] = []
    for line in plan.estimate.lines:
        if line.category == "hauling":
            groups = tuple(_by_acres(trip.tasks) for trip in trips if trip.on.year == line.year)
        elif line.category == "work":
            same = worked.get((line.year, line.label, line.fields))
            groups = (_by_acres(same.pop(0).tasks),) if same else ()
        else:
            groups = (tuple(used.get((line.year, line.category, line.label), ())),)
        found.append((line, groups))
    return found


def _by_acres(tasks: Sequence[Task]) -> tuple[Weighed, ...]:
    return tuple(Weighed(task, task.acres, "acre") for task in tasks)


def _used(plan: Plan) -> Iterable[tuple[str, str, str, float, str]]:
    """Kind, label, task and amount of all that tasks take of seed, products and materials."""
    by_field = {field.field: field for field in plan.seed}
    for task in plan.tasks:
        if task.operation in SOWING and task.field in by_field:
            step = tables.steps().get(task.step)
            share = step.share_pct / 100 if step else 1.0
            for line in by_field[task.field].lines:
                if line.cost is not None:
                    yield "seed", f"{line.species} seed", task.key, float(line.pls_lb.value) * share, "lb PLS"
    for tank in plan.tanks:
        for part in tank.parts:
            if part.cost is not None:
                yield "spray", part.name, tank.task, float(part.total.value), part.total.unit
    for material in plan.materials:
        if material.cost is not None:
            amount = material.amount
            yield "materials", material.name, material.task, float(amount.value), amount.unit


# How much of a line is done


def weighted(parts: Sequence[tuple[float, Share]]) -> Share:
    """Shares weighed by amounts; all alike where no amount is known, all left where there is none."""
    whole = sum(weight for weight, _ in parts)
    if not parts:
        return Share()
    if whole <= 0:
        return weighted([(1.0, share) for _, share in parts])
    done = sum(weight * share.done for weight, share in parts) / whole
    return Share(done, min(1.0 - done, sum(weight * share.skipped for weight, share in parts) / whole))


def _line_done(
    line: EstimateLine, groups: Sequence[Sequence[Weighed]], shares: Mapping[str, Share]
) -> LineDone:
    trips = line.category == "hauling"
    each = [weighted([(one.weight, shares.get(one.task.key, Share())) for one in group]) for group in groups]
    share = weighted([(1.0, one) for one in each])
    if trips:
        terms = tuple(
            Term(f"{group[0].task.label}, {', '.join(one.task.field for one in group)}", 100 * one.done, "%")
            for group, one in zip(groups, each, strict=True)
        )
    else:
        terms = tuple(
            Term(
                f"{one.task.field}, {one.task.label}, of {one.weight:.4g} {one.unit}",
                100 * shares.get(one.task.key, Share()).done,
                "%",
            )
            for group in groups
            for one in group
        )
    rule = "mean of the year's trips" if trips else "share done of each, weighed by how much of it is there"
    percent = Figure(100 * share.done, "%", rule, terms, SOURCE)
    return LineDone(
        line=line,
        share=percent,
        cost=_cut_row(line.label, line.cost, share),
        price=_cut_row(line.label, line.price, share),
        allowed=_cut_row(line.label, line.allowance, share).done if line.allowance else None,
    )


def _cut_row(label: str, whole: Figure, share: Share) -> Row:
    done, left, skipped = cut(whole.dollars, share)

    def part(amount: Decimal, name: str, of: float) -> Figure:
        terms = (Term("amount signed", whole.dollars, "$"), Term(f"share {name}", 100 * of, "%"))
        rule = f"amount × share {name}, cut so that done, left and skipped add up to the amount"
        return Figure(amount, "$", rule, terms, SOURCE)

    return Row(
        label=label,
        estimate=whole,
        done=part(done, "done", share.done),
        left=part(left, "left", share.left),
        skipped=part(skipped, "skipped", share.skipped),
    )


def added(formula: str, parts: Iterable[tuple[str, Decimal]], source: str = SUM_SOURCE) -> Figure:
    """A sum of printed amounts [$]; parts that are nothing are left out. Source: arithmetic."""
    listed = list(parts)
    terms = tuple(Term(name, amount, "$") for name, amount in listed if amount)
    return Figure(total(amount for _, amount in listed), "$", formula, terms, source)


def _sum(label: str, what: str, rows: Sequence[Row]) -> Row:
    words = {"estimate": "as signed", "done": "of what is done", "left": "of what is left"}
    columns = {
        name: added(
            f"{what} {words.get(name, 'of what was skipped')}, added up",
            [(row.label, getattr(row, name).dollars) for row in rows],
        )
        for name in PARTS
    }
    return Row(label=label, **columns)


def _price_of_year(plan: Plan, year: int, lines: Sequence[LineDone]) -> Row:
    """A year's lines with its contingency and discount, which are cut as the lines are."""
    rows = [one.price for one in lines if one.line.year == year]
    whole = total(row.estimate.dollars for row in rows)
    signed = next(one for one in plan.estimate.years if one.year == year)
    if whole:
        done = float(total(row.done.dollars for row in rows) / whole)
        skipped = float(total(row.skipped.dollars for row in rows) / whole)
        share = Share(done, min(skipped, 1.0 - done))
        for name, figure in (("contingency", signed.contingency), ("discount", signed.discount)):
            if figure.dollars:
                rows.append(_cut_row(name, figure, share))
    return _sum(str(year), "price without tax", rows)


# Against the record


@dataclass(frozen=True, slots=True, kw_only=True)
class Used:
    """What a record says was used on a task, beside what was planned for the acres of that record."""

    task: str
    name: str
    where: str
    used: float
    planned: float
    unit: str


@dataclass(frozen=True, slots=True)
class UnitPrice:
    """What the proposal takes of something [unit] and what that costs [$]."""

    amount: Decimal
    unit: str
    cost: Decimal


@dataclass(frozen=True, slots=True)
class Difference:
    """A line of the record that differs from the plan; `cost` is None where it cannot be priced."""

    where: str
    says: str
    cost: Figure | None


class UnitPrices:
    """Frozen prices by task and name, and by name alone for what was planned on another task."""

    def __init__(self, *plans: Plan) -> None:
        self._of_task: dict[tuple[str, str], UnitPrice] = {}
        self._of_name: dict[str, UnitPrice] = {}
        for plan in plans:
            self._take(plan)

    def _take(self, plan: Plan) -> None:
        by_field = {field.field: field for field in plan.seed}
        for task in plan.tasks:
            if task.operation in SOWING and task.field in by_field:
                for line in by_field[task.field].lines:
                    self._keep(task.key, line.species, line.bulk_lb, line.cost)
        for tank in plan.tanks:
            for part in tank.parts:
                self._keep(tank.task, part.name, part.total, part.cost)
        for material in plan.materials:
            self._keep(material.task, material.name, material.amount, material.cost)

    def _keep(self, task: str, name: str, amount: Figure | None, cost: Figure | None) -> None:
        if amount is not None and cost is not None and amount.value > 0:
            price = UnitPrice(exact(amount.value), amount.unit, cost.dollars)
            self._of_task[task, name] = price
            self._of_name.setdefault(name, price)

    def of(self, task: str, name: str) -> UnitPrice | None:
        return self._of_task.get((task, name)) or self._of_name.get(name)


def difference(used: Used, price: UnitPrice | None) -> Difference | None:
    """What more or less than planned was used, at the frozen price; None where the two are alike."""
    apart = exact(used.used) - exact(used.planned)
    if abs(apart) <= Decimal("1e-6") * max(Decimal(1), abs(exact(used.planned))):
        return None
    says = (
        f"Used {abs(float(apart)):.4g} {used.unit} {'more' if apart > 0 else 'less'} {used.name} than planned"
    )
    if price is None:
        return Difference(
            used.where, f"{says}: the signed proposal has no price for it, so it cannot be priced", None
        )
    if price.unit != used.unit:
        why = f"it is priced by the {price.unit}, so it cannot be priced"
        return Difference(used.where, f"{says}: {why}", None)
    terms = (
        Term("used", used.used, used.unit),
        Term("planned", used.planned, used.unit),
        Term("cost in the proposal", price.cost, "$"),
        Term("amount in the proposal", price.amount, price.unit),
    )
    rule = "(used - planned) × cost in the proposal / amount in the proposal"
    amount = to_cents(apart * price.cost / price.amount)
    return Difference(used.where, says, Figure(amount, "$", rule, terms, RECORD_SOURCE))


def allowed(found: Progress) -> Difference | None:
    """What the signed cost of what is done allowed for use beyond the plan, as a credit; None for nothing."""
    parts = [(one.line.label, -one.allowed.dollars) for one in found.lines if one.allowed is not None]
    if not any(amount for _, amount in parts):
        return None
    says = "Allowed for in the signed cost of what is done"
    return Difference("The price list’s allowances", says, added("allowances, added up", parts, SOURCE))


@dataclass(frozen=True, slots=True)
class Margin:
    """What the price leaves over direct cost [$]; overhead is still to be borne by it."""

    so_far: Figure
    at_close: Figure
    differences: Figure


def margin(found: Progress, differences: Iterable[Difference]) -> Margin:
    """The margin of what is done, and of that with all that is left done as signed."""
    more = added(
        "differences from the record, added up",
        [(one.says, one.cost.dollars) for one in differences if one.cost is not None],
        RECORD_SOURCE,
    )

    def over(price: Decimal, cost: Decimal, words: str) -> Figure:
        terms = (
            Term(f"price of what {words}, without tax", price, "$"),
            Term(f"direct cost of what {words}", cost, "$"),
            Term("used more than planned", more.dollars, "$"),
        )
        rule = "price - direct cost - what was used more than planned"
        return Figure(price - cost - more.dollars, "$", rule, terms, SOURCE)

    price, cost = found.price, found.cost
    return Margin(
        so_far=over(price.done.dollars, cost.done.dollars, "is done"),
        at_close=over(
            price.done.dollars + price.left.dollars,
            cost.done.dollars + cost.left.dollars,
            "is done and is left",
        ),
        differences=more,
    )
