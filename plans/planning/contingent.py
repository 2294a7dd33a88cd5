"""Steps that may be needed: what each would cost, and what all of it may then come to.

A step comes or does not come for the whole job, since a wet summer or a sod that lives is everyone's; steps
come independently of each other. The distribution is exact: every sum with its weight in whole numbers.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal

from plans.planning import tables
from plans.planning.calendar import SOWING, Slot
from plans.planning.estimate import (
    allowance_of,
    hauling_lines,
    priced,
    seed_share_lines,
    spray_lines,
    work_line,
    year_price,
)
from plans.planning.fields import SPRAYING, Prices, field_seed, field_tasks, index_prices, tank_mix
from plans.planning.figures import Figure, Term
from plans.planning.findings import FieldPlan
from plans.planning.job import Conversion, Job
from plans.planning.plan import PossibleStep, PriceRange, TankMix, Task
from plans.planning.price_list import PriceList
from plans.planning.programs import possible_steps
from plans.planning.tables import Step
from plans.planning.work import Visit

SOURCE = "likelihoods of reference/steps.csv; exact, by every combination of the steps"


def enough_in(base: Decimal, extras: Sequence[tuple[int, Decimal]], cases: Sequence[int]) -> list[Decimal]:
    """The least total [$] that is enough in so many of 100 cases, for each of `cases`.

    `extras` are likelihood [%] and price [$] of independent steps on top of `base` [$]. Weights are whole
    numbers, so nothing is rounded. Source: convolution of independent two-point distributions.
    """
    weights: dict[Decimal, int] = {base: 1}
    for likelihood_pct, price in extras:
        longer: dict[Decimal, int] = {}
        for amount, weight in weights.items():
            longer[amount] = longer.get(amount, 0) + weight * (100 - likelihood_pct)
            longer[amount + price] = longer.get(amount + price, 0) + weight * likelihood_pct
        weights = longer
    whole = sum(weights.values())
    found = []
    for case in cases:
        reached = 0
        for amount in sorted(weights):
            reached += weights[amount]
            if reached * 100 >= case * whole:
                found.append(amount)
                break
    return found


@dataclass(frozen=True, slots=True)
class _Wanted:
    """A possible step with the fields it may be needed on."""

    step: Step
    fields: tuple[FieldPlan, ...]


def _wanted(fields: Sequence[FieldPlan], years: int) -> list[_Wanted]:
    by_step: dict[str, list[FieldPlan]] = {}
    for field in fields:
        for step in possible_steps(field.conversion, years):
            by_step.setdefault(step.step, []).append(field)
    found = [_Wanted(tables.steps()[key], tuple(some)) for key, some in by_step.items()]
    return sorted(found, key=lambda wanted: wanted.step.order)


def _price(wanted: _Wanted, job: Job, prices: Prices, year: int) -> Figure | None:
    """What a possible step would cost the client, on one trip [$]; None where a price is not listed."""
    tasks: list[Task] = []
    tanks: list[TankMix] = []
    for field in wanted.fields:
        day = field.tasks[-1].latest if field.tasks else field.conversion.start_on
        (task,) = field_tasks(field.conversion, [Slot(wanted.step, day, day, "")], prices)
        tasks.append(task)
        if task.operation in SPRAYING:
            tanks.append(tank_mix(task, wanted.step, field.conversion, job, prices))
    visit = Visit(wanted.step.operation, tasks[0].earliest, tasks[0].latest, tuple(tasks))
    work = work_line(visit, prices)
    allowance_pct = allowance_of(wanted.step.operation, prices)
    seed = (
        seed_share_lines([field.seed for field in wanted.fields], wanted.step.share_pct, year, allowance_pct)
        if wanted.step.operation in SOWING
        else []
    )
    if work is None or seed is None or any(part.cost is None for tank in tanks for part in tank.parts):
        return None
    year_of: Mapping[str, int] = {task.key: year for task in tasks}
    sprays = spray_lines(tanks, year_of, {task.key: allowance_pct for task in tasks})
    lines = [work, *seed, *sprays, *hauling_lines([visit], job, prices)]
    whole = year_price(year, "", [priced(line, job.terms) for line in lines], job.terms).total
    return Figure(
        whole.value,
        "$",
        "work, seed, sprays and hauling of the step, priced as the rest",
        whole.inputs,
        SOURCE,
    )


def price_of_step(
    step: Step, conversion: Conversion, job: Job, prices: PriceList, year: int
) -> Figure | None:
    """What one step on one field would cost the client, a trip of its own [$]; None without a listed price.

    Source: the estimate's own lines. Raises ValueError for a species nobody knows the seed count of.
    """
    listed = index_prices(prices)
    field = FieldPlan(conversion, (), (), field_seed(conversion, listed), ())
    return _price(_Wanted(step, (field,)), job, listed, year)


def price_range(
    job: Job, prices: Prices, fields: Sequence[FieldPlan], firm: Decimal, year: int
) -> PriceRange | None:
    """The range of the whole price about the firm one [$]; None where no step is left open."""
    steps: list[PossibleStep] = []
    unpriced: list[str] = []
    for wanted in _wanted(fields, job.terms.years):
        price = _price(wanted, job, prices, year)
        if price is None:
            unpriced.append(wanted.step.label)
            continue
        steps.append(
            PossibleStep(
                step=wanted.step.step,
                label=wanted.step.label,
                why=wanted.step.why,
                fields=tuple(field.conversion.field for field in wanted.fields),
                likelihood_pct=wanted.step.likelihood_pct or 0,
                price=price,
            )
        )
    if not steps and not unpriced:
        return None
    inputs = [Term("firm price", firm, "$")]
    for step in steps:
        inputs += [
            Term(step.label.lower(), step.price.dollars, "$"),
            Term("likelihood", step.likelihood_pct, "%"),
        ]
    cases = (10, 50, 90)
    amounts = enough_in(firm, [(step.likelihood_pct, step.price.dollars) for step in steps], cases)
    low, middle, high = (
        Figure(amount, "$", f"least total that is enough in {case} of 100 cases", tuple(inputs), SOURCE)
        for case, amount in zip(cases, amounts, strict=True)
    )
    return PriceRange(p10=low, p50=middle, p90=high, steps=tuple(steps), unpriced=tuple(unpriced))
