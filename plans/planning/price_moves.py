"""What could change the price, and by how much: the job planned again with one thing changed."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from decimal import Decimal
from typing import Literal

from plans.planning import tables
from plans.planning.calendar import SOWING
from plans.planning.estimate import hauling_lines, priced, work_line, year_price
from plans.planning.fields import index_prices
from plans.planning.figures import Figure, Term
from plans.planning.job import Conversion, Job, KeptAway
from plans.planning.money import to_cents
from plans.planning.plan import Plan
from plans.planning.planner import plan_job
from plans.planning.price_list import PriceList, SeedPrice
from plans.planning.work import Visit, visits

Kind = Literal["seed price", "lower test", "more acres", "fewer acres", "one more kill", "drill again"]
SEED_RISE_PCT = Decimal(10)
LOWER_BY_POINTS = 10.0
"""Germination lost between the test that is listed and the lot that comes [points]."""
SOURCE = "the job planned again with this one thing changed"


@dataclass(frozen=True, slots=True, kw_only=True)
class Move:
    """One thing that could come otherwise, and what it would do to the whole price [$]."""

    kind: Kind
    change: Figure
    about: str = ""
    """The field or the step that it is about."""
    more_lb: float | None = None
    """Bulk seed that it takes more [lb]."""


def _difference(plan: Plan, other: Plan) -> Figure:
    total, was = other.estimate.total.total.dollars, plan.estimate.total.total.dollars
    terms = (Term("changed", total, "$"), Term("plan", -was, "$"))
    return Figure(total - was, "$", "price as changed - price of the plan", terms, SOURCE)


def _bulk_lb(plan: Plan) -> float:
    return sum(float(need.bulk_lb.value) for need in plan.seed_needs if need.bulk_lb is not None)


def _lots(prices: PriceList, change: Callable[[SeedPrice], SeedPrice]) -> PriceList:
    return replace(prices, seed=tuple(change(lot) for lot in prices.seed))


def _dearer(lot: SeedPrice) -> SeedPrice:
    return replace(lot, price_usd_per_lb=to_cents(lot.price_usd_per_lb * (100 + SEED_RISE_PCT) / 100))


def _weaker(lot: SeedPrice) -> SeedPrice:
    return replace(lot, germination_pct=max(1.0, lot.germination_pct - LOWER_BY_POINTS))


def _seed(plan: Plan, prices: PriceList) -> Iterator[Move]:
    if not any(line.category == "seed" for line in plan.estimate.lines):
        return
    dearer = plan_job(plan.job, _lots(prices, _dearer), plan.today)
    yield Move(kind="seed price", change=_difference(plan, dearer))
    weaker = plan_job(plan.job, _lots(prices, _weaker), plan.today)
    more_lb = round(_bulk_lb(weaker) - _bulk_lb(plan), 2)
    yield Move(kind="lower test", change=_difference(plan, weaker), more_lb=more_lb)


def _by_acres(field: Conversion, more: float) -> Conversion:
    kept = tuple(
        KeptAway(
            work=one.work,
            left_acres=None if one.left_acres is None else max(0.0, round(one.left_acres + more, 6)),
            because=one.because,
        )
        for one in field.kept_away
    )
    return replace(field, acres=round(field.acres + more, 6), kept_away=kept)


def _acres(plan: Plan, prices: PriceList) -> Iterator[Move]:
    """The largest field measured an acre larger, and an acre smaller."""
    largest = max(plan.job.conversions, key=lambda field: field.acres)
    changes: tuple[tuple[Kind, float], ...] = (("more acres", 1.0), ("fewer acres", -1.0))
    for kind, more in changes:
        if largest.acres + more < 0.5:
            continue
        fields = tuple(_by_acres(one, more) if one is largest else one for one in plan.job.conversions)
        other = plan_job(replace(plan.job, conversions=fields), prices, plan.today)
        yield Move(kind=kind, change=_difference(plan, other), about=largest.field)


def _one_more_kill(plan: Plan) -> Iterator[Move]:
    likely = plan.estimate.range
    for step in likely.steps if likely else ():
        if tables.steps()[step.step].phase == "kill":
            yield Move(kind="one more kill", change=step.price, about=step.label)
            return


def _drill_again(plan: Plan, prices: PriceList) -> Iterator[Move]:
    """The drill brought, and charged its minimum, on a trip of its own."""
    listed = index_prices(prices)
    job: Job = plan.job
    for trip in visits(plan.tasks):
        if trip.operation in SOWING:
            task = replace(trip.tasks[0], acres=0.0, hours=None, plants=0)
            again = Visit(trip.operation, trip.on, trip.latest, (task,))
            work = work_line(again, listed)
            if work is None:
                return
            lines = [priced(line, job.terms) for line in (work, *hauling_lines([again], job, listed))]
            whole = year_price(again.on.year, "", lines, job.terms).total
            change = Figure(
                whole.value,
                "$",
                "least charge of a visit and its miles, priced as the rest",
                whole.inputs,
                SOURCE,
            )
            if change.dollars:
                yield Move(kind="drill again", change=change)
            return


def price_moves(plan: Plan, prices: PriceList) -> tuple[Move, ...]:
    """What seed, acres, another kill and another trip would do to the price; what cannot happen is left out.

    Source: `plan_job` with one thing changed. Raises ValueError as it does.
    """
    if not plan.estimate.years:
        return ()
    return (
        *_seed(plan, prices),
        *_one_more_kill(plan),
        *_drill_again(plan, prices),
        *_acres(plan, prices),
    )
