"""The price by field: every printed amount cut among its fields, so that both ways of adding agree.

A line of work is cut by the acres, hours or plants of each field on the trip, a line of seed, products or
materials by what each field takes of it, miles by the acres worked on each trip. Contingency and discount
follow a field's own lines, tax its taxed ones. Parts of an amount add up to it to the cent (`money.split`).
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal

from plans.planning.figures import Figure, Term
from plans.planning.money import ZERO, exact, split, total
from plans.planning.plan import CATEGORIES, Category, EstimateLine, Plan, YearPrice
from plans.planning.work import Visit, visits

SOURCE = "printed amounts cut among the fields they are for; parts add up to the cent"
Weights = Mapping[str, Decimal]


@dataclass(frozen=True, slots=True, kw_only=True)
class FieldPrice:
    """What one field is of the whole price [$], tax and all."""

    field: str
    years: tuple[Figure, ...]
    """In the order of the estimate's years."""
    total: Figure


def _acres(visit: Visit) -> dict[str, Decimal]:
    return {task.field: exact(task.acres) for task in visit.tasks}


def _of_work(line: EstimateLine, trips: Sequence[Visit]) -> dict[str, Decimal]:
    """By what the line is priced by; by acres where that is nothing, as for a minimum charge."""
    for trip in trips:
        same = trip.tasks[0].label == line.label and trip.on.year == line.year
        if same and tuple(task.field for task in trip.tasks) == line.fields:
            by = {
                "h": lambda task: exact(float(task.hours.value)) if task.hours else ZERO,
                "plants": lambda task: exact(task.plants),
            }.get(line.quantity.unit)
            found = {task.field: by(task) for task in trip.tasks} if by else {}
            return found if any(found.values()) else _acres(trip)
    return {}


def _of_goods(line: EstimateLine) -> dict[str, Decimal]:
    """By what each field's part costs, as the line's own working has it."""
    found = dict.fromkeys(line.fields, ZERO)
    for term in line.cost.inputs:
        if term.name in found and term.unit == "$" and not isinstance(term.value, str):
            found[term.name] += exact(term.value)
    return found


def _of_hauling(year: int, trips: Sequence[Visit]) -> dict[str, Decimal]:
    """Each trip counts as one, cut among its fields by acres."""
    found: dict[str, Decimal] = {}
    for trip in trips:
        if trip.on.year == year:
            acres = _acres(trip)
            whole = sum(acres.values(), ZERO)
            for field, part in acres.items():
                share = part / whole if whole else exact(1) / len(acres)
                found[field] = found.get(field, ZERO) + share
    return found


def _weights(line: EstimateLine, trips: Sequence[Visit], fields: Sequence[str]) -> Weights:
    if len(line.fields) == 1:
        return {line.fields[0]: exact(1)}
    if line.category == "hauling" or not line.fields:
        found = _of_hauling(line.year, trips)
    else:
        found = _of_work(line, trips) if line.category == "work" else _of_goods(line)
    return found if any(found.values()) else dict.fromkeys(line.fields or fields, exact(1))


def _cut(amount: Decimal, weights: Weights, into: dict[str, Decimal]) -> None:
    named = list(weights)
    if not amount or not any(weights.values()):
        return
    for field, part in zip(named, split(amount, [weights[name] for name in named]), strict=True):
        into[field] = into.get(field, ZERO) + part


def _year(year: YearPrice, plan: Plan, trips: Sequence[Visit]) -> dict[str, Decimal]:
    """Each field's part of a year's total [$]."""
    fields = [conversion.field for conversion in plan.job.conversions]
    by_category: dict[Category, dict[str, Decimal]] = {category: {} for category in CATEGORIES}
    for line in plan.estimate.lines:
        if line.year == year.year:
            _cut(line.price.dollars, _weights(line, trips, fields), by_category[line.category])
    rates = {category: exact(getattr(plan.job.terms.taxes, f"{category}_pct")) for category in CATEGORIES}
    own, taxed = dict.fromkeys(fields, ZERO), dict.fromkeys(fields, ZERO)
    for category, parts in by_category.items():
        for field, part in parts.items():
            own[field] += part
            taxed[field] += part * rates[category]
    found = dict(own)
    for amount, weights in ((year.contingency, own), (year.discount, own), (year.tax, taxed)):
        _cut(amount.dollars, weights, found)
    return found


def by_field(plan: Plan) -> tuple[FieldPrice, ...]:
    """The whole price field by field and year by year, in the job's order [$].

    Source: the estimate's own lines; a year's parts add up to its total, a field's years to the field's.
    """
    trips = visits(plan.tasks)
    years = [(year.year, _year(year, plan, trips)) for year in plan.estimate.years]
    found = []
    for conversion in plan.job.conversions:
        parts = [(year, amounts[conversion.field]) for year, amounts in years]
        found.append(
            FieldPrice(
                field=conversion.field,
                years=tuple(
                    Figure(amount, "$", f"the field’s part of each line of {year}, added up", (), SOURCE)
                    for year, amount in parts
                ),
                total=Figure(
                    total(amount for _, amount in parts),
                    "$",
                    "the field’s years, added up",
                    tuple(Term(str(year), amount, "$") for year, amount in parts if amount),
                    SOURCE,
                ),
            )
        )
    return tuple(found)
