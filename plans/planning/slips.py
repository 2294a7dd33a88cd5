"""What it costs to miss a window: the next sound date of the seeding, and the price of the wait."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from datetime import date, timedelta
from decimal import Decimal

from plans.planning import calendar, tables
from plans.planning.calendar import SOWING
from plans.planning.estimate import estimate
from plans.planning.fields import (
    SPRAYING,
    Prices,
    field_seed,
    field_tasks,
    index_prices,
    start_for,
    tank_mix,
)
from plans.planning.figures import Figure, Term
from plans.planning.job import Conversion, DoneStep, Job
from plans.planning.plan import Task
from plans.planning.price_list import PriceList


@dataclass(frozen=True, slots=True)
class Slip:
    """A step whose window passes without it being done."""

    field: str
    label: str
    shuts: date
    """Last day on which the step is sound."""
    seeding_was: date
    seeding_becomes: date
    """First day of the seeding's window before and after the miss."""
    extra: Figure
    """What the wait adds to the field's price [$]; negative where it falls."""


def _ahead(conversion: Conversion, job: Job, start: date, listed: Prices) -> tuple[Decimal, tuple[Task, ...]]:
    """Price of what is still to be done on a field, for itself alone [$], and the tasks."""
    slots = calendar.schedule(conversion, job.climate, job.terms.years, start)
    tasks = field_tasks(conversion, slots, listed)
    tanks = [
        tank_mix(task, tables.steps()[task.step], conversion, job, listed)
        for task in tasks
        if task.operation in SPRAYING and task.done_on is None
    ]
    priced = estimate(job, listed, [field_seed(conversion, listed)], tanks, tasks)
    return priced.total.total.dollars, tasks


def _seeding(tasks: tuple[Task, ...]) -> date | None:
    return next((task.earliest for task in tasks if task.operation in SOWING and task.done_on is None), None)


def _of_field(conversion: Conversion, job: Job, today: date, listed: Prices) -> Iterator[Slip]:
    alone = replace(job, conversions=(conversion,))
    _, tasks = _ahead(conversion, alone, start_for(conversion, today), listed)
    was = _seeding(tasks)
    done = conversion.log
    for task in tasks:
        if task.phase not in ("kill", "plant") or task.season > 0:
            break
        if task.done_on is not None:
            continue
        if task.operation in SPRAYING or task.operation in SOWING:
            so_far = replace(conversion, log=done)
            on_time, _ = _ahead(so_far, alone, task.earliest, listed)
            too_late, moved = _ahead(so_far, alone, task.latest + timedelta(days=1), listed)
            becomes = _seeding(moved)
            if was is not None and becomes is not None:
                yield Slip(
                    field=conversion.field,
                    label=task.label,
                    shuts=task.latest,
                    seeding_was=was,
                    seeding_becomes=becomes,
                    extra=Figure(
                        too_late - on_time,
                        "$",
                        "what is left when planned again after the window - what is left in time",
                        (Term("after", too_late, "$"), Term("in time", -on_time, "$")),
                        "this field for itself, at the prices of today",
                    ),
                )
        done = (*done, DoneStep(step=task.step, on=task.latest))


def slips(job: Job, prices: PriceList, today: date) -> tuple[Slip, ...]:
    """For each spray before seeding and each seeding that is still to be done: what missing its window costs.

    Steps before it are taken as done on their last sound day. Raises ValueError as `plan_job` does.
    """
    listed = index_prices(prices)
    found: list[Slip] = []
    for conversion in job.conversions:
        found += _of_field(conversion, job, today, listed)
    return tuple(found)
