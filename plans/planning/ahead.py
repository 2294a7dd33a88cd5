"""What is ahead of agreed work: windows as they stand now, and what a chosen day does to those after it."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace
from datetime import date

from plans.planning import calendar
from plans.planning.figures import Figure, Term
from plans.planning.job import Climate, Conversion, DoneStep, Job
from plans.planning.planner import plan_job
from plans.planning.price_list import PriceList


@dataclass(frozen=True, slots=True)
class Window:
    """A step's window; both days are sound."""

    opens: date
    shuts: date


@dataclass(frozen=True, slots=True)
class Shift:
    """A later step whose window moves, or falls out (None)."""

    step: str
    was: Window
    becomes: Window | None


def done_so_far(conversion: Conversion, done: Iterable[tuple[str, date]]) -> Conversion:
    """The conversion with everything that has been done on its field, what it began with included.

    Source: the record of the visits.
    """
    known = {step.step: step for step in conversion.log}
    known |= {step: DoneStep(step=step, on=on) for step, on in done}
    return replace(conversion, log=tuple(sorted(known.values(), key=lambda step: (step.on, step.step))))


def windows(conversion: Conversion, climate: Climate, years: int, start: date) -> dict[str, Window]:
    """Windows of the steps still open, none before `start`, by step.

    Source: plans.planning.calendar. Raises ValueError when no sound order of work exists any more.
    """
    return {
        slot.step.step: Window(slot.earliest, slot.latest)
        for slot in calendar.schedule(conversion, climate, years, start)
        if slot.movable
    }


def shifts(before: dict[str, Window], after: dict[str, Window]) -> tuple[Shift, ...]:
    """Steps whose window differs, in order of the first day they had. Source: arithmetic."""
    return tuple(
        Shift(step, was, after.get(step))
        for step, was in sorted(before.items(), key=lambda item: (item[1].opens, item[0]))
        if after.get(step) != was
    )


def price_of_shift(job: Job, prices: PriceList, before: Conversion, after: Conversion, today: date) -> Figure:
    """What is still to be done on one field when it goes one way, less the other [$].

    Source: the whole plan of that field alone, at the prices given.
    """
    amounts = [
        plan_job(replace(job, conversions=(way,)), prices, today).estimate.total.total.dollars
        for way in (before, after)
    ]
    return Figure(
        amounts[1] - amounts[0],
        "$",
        "what is left after it - what was left before",
        (Term("after", amounts[1], "$"), Term("before", -amounts[0], "$")),
        "this field for itself, at the prices of the signed proposal",
    )
