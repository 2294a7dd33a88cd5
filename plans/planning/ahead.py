"""What is ahead of agreed work: windows as they stand now, and what a chosen day does to those after it."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass, replace
from datetime import date, timedelta

from plans.planning import calendar, tables
from plans.planning.calendar import Slot
from plans.planning.figures import Figure, Term
from plans.planning.job import Climate, Conversion, DoneStep, Job
from plans.planning.planner import plan_job
from plans.planning.price_list import PriceList
from plans.planning.programs import possible_steps, steps_for
from plans.planning.tables import Step


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


def made_firm(conversion: Conversion, added: Collection[str], years: int) -> Conversion:
    """The conversion with steps that may be needed now part of it.

    Their options are taken, and what else those options would bring is left out. A step without an option
    stays out of the chain: see `alone`. Source: reference/steps.csv. Raises UnknownChoice.
    """
    options = {name for key in added for name in tables.steps()[key].option} - {*conversion.options}
    if not options:
        return conversion
    taken = replace(conversion, options=(*conversion.options, *sorted(options)))
    kept = {step.step for step in steps_for(conversion, years)} | {*added}
    brought = (step.step for step in steps_for(taken, years) if step.step not in kept)
    return replace(taken, left_out=(*conversion.left_out, *brought))


def comes_with(conversion: Conversion, key: str, years: int) -> tuple[Step, ...]:
    """A step that may be needed, and the later ones that go with it; empty where it may not be.

    A second summer of kills leads to the spring after it: both are of one option. Source:
    reference/steps.csv.
    """
    possible = possible_steps(conversion, years)
    asked = next((step for step in possible if step.step == key), None)
    if asked is None:
        return ()
    later = (step for step in possible if asked.option == step.option and step.order > asked.order)
    return (asked, *later) if asked.option else (asked,)


def slots(
    conversion: Conversion,
    climate: Climate,
    years: int,
    start: date,
    not_before: Mapping[str, date] | None = None,
) -> dict[str, Slot]:
    """The steps still open with their windows, none before `start` and some not before a day of their own.

    Source: plans.planning.calendar. Raises ValueError when no sound order of work exists any more.
    """
    found = calendar.schedule(conversion, climate, years, start, not_before)
    return {slot.step.step: slot for slot in found if slot.movable}


def alone(
    conversion: Conversion, climate: Climate, years: int, start: date, key: str, not_before: date
) -> Slot:
    """A step beside the chain: its own next window after what it follows and after the last work done.

    The others are dated from `start` on; this one waits for `not_before` too.
    What it follows is the step that its row names, else the one before it in working order. Source:
    reference/steps.csv. Raises ValueError when no sound order of work exists any more.
    """
    step = tables.steps()[key]
    others = calendar.schedule(conversion, climate, years, start)
    before = [slot for slot in others if slot.step.order < step.order]
    named = [slot for slot in before if slot.step.step == step.after]
    follows = max(named or before, key=lambda slot: slot.step.order, default=None)
    ready = max(start, not_before, *(entry.on for entry in conversion.log))
    if follows is not None:
        ready = max(ready, follows.earliest + timedelta(days=step.wait_days))
    opens, shuts, missed = calendar.next_window(step, climate, ready)
    return Slot(step, max(opens, ready), shuts, follows.step.step if follows else "", missed=missed)


def windows_of(found: Mapping[str, Slot]) -> dict[str, Window]:
    """The windows of slots, by step."""
    return {key: Window(slot.earliest, slot.latest) for key, slot in found.items()}


def windows(conversion: Conversion, climate: Climate, years: int, start: date) -> dict[str, Window]:
    """Windows of the steps still open, none before `start`, by step.

    Source: plans.planning.calendar. Raises ValueError when no sound order of work exists any more.
    """
    return windows_of(slots(conversion, climate, years, start))


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
