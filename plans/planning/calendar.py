"""Steps to dated windows: in their moments, in order, waiting times kept.

A forward pass gives each step the earliest day that its moment and the step before allow; a backward pass
gives the latest day that still leaves the following step its wait. The years shown are calendar years.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, timedelta

from plans.planning import plots, tables
from plans.planning.job import Climate, Conversion
from plans.planning.observed import moves
from plans.planning.programs import steps_for
from plans.planning.season import DAYS, moment_days, on
from plans.planning.tables import Step

SOWING = frozenset({"no_till_drilling", "broadcast_seeding", "tree_planting"})
"""Operations that put seed or plants in the ground."""
ASIDE = "lime"
"""What is spread months ahead, beside the kills and not between them."""
MISSED_WITHIN_DAYS = 120
"""A window that shut no longer ago than this is one that the start has missed."""
LONGEST_SPRAY_DAYS = 300
"""A spray that would be open longer has its moments the wrong way round at this place: it has no window."""
MOST_REPLANS = 40


@dataclass(frozen=True, slots=True)
class Slot:
    """A step with its window. `missed` is the window the start came too late for."""

    step: Step
    earliest: date
    latest: date
    after: str
    done_on: date | None = None
    missed: tuple[date, date] | None = None
    repeats: date | None = None
    """Day of earlier work of the same step that is too long ago to build on."""

    @property
    def movable(self) -> bool:
        return self.done_on is None


def window(step: Step, climate: Climate, year: int) -> tuple[date, date]:
    """Opening and closing day of a step's moment in the season that opens in or about `year`."""
    days = moment_days(climate)
    opens = days[step.opens] + step.opens_days
    closes, turns = days[step.closes] + step.closes_days, 0
    while closes < opens:
        closes, turns = closes + DAYS, turns + 1
    if not climate.observed:
        return on(year, opens), on(year, closes)
    moved = moves(climate)
    first, last = moved.get((step.opens, year)), moved.get((step.closes, year + turns))
    opened = on(year, opens + (first.days if first else 0))
    return opened, max(opened, on(year, closes + (last.days if last else 0)))


def next_window(step: Step, climate: Climate, ready: date) -> tuple[date, date, tuple[date, date] | None]:
    """The first window that shuts on or after `ready`, and the one just missed, if any."""
    missed = None
    for year in range(ready.year - 2, ready.year + 4):
        opened, shut = window(step, climate, year)
        if shut >= ready:
            return opened, shut, missed
        missed = (opened, shut) if (ready - shut).days <= MISSED_WITHIN_DAYS else None
    raise ValueError(f"step {step.step}: no window found after {ready}")


def soil_wait_days(step: Step) -> int:
    """Longest usual wait from a step's ingredients to a seeding [days]; 0 for a step that sprays nothing."""
    known = tables.ingredients()
    return max((known[name].wait_before_seeding_days for name, _ in step.chemicals), default=0)


def _chain(
    steps: list[Step], climate: Climate, start: date, done: dict[str, date], not_before: dict[str, date]
) -> tuple[list[Slot], dict[str, date]]:
    """One forward pass. Returns the slots and, for each step, the close of its moment."""
    slots: list[Slot] = []
    shuts: dict[str, date] = {}
    ready, clear, before = start, start, ""
    for step in steps:
        if step.step in done:
            day = done[step.step]
            slots.append(Slot(step, day, day, before, done_on=day))
            shuts[step.step] = day
        else:
            lower = max(
                ready + timedelta(days=step.wait_days) if before else ready, not_before.get(step.step, start)
            )
            lower = max(lower, start, clear if step.operation in SOWING else start)
            opened, shut, missed = next_window(step, climate, lower)
            slots.append(Slot(step, max(opened, lower), shut, before, missed=missed))
            shuts[step.step] = shut
        ready, before = slots[-1].earliest, step.step
        clear = max(clear, ready + timedelta(days=soil_wait_days(step)))
    return slots, shuts


def _still_open(steps: list[Step], done: dict[str, date]) -> list[Step]:
    """The done steps and those after the last of them: work goes on from there, never back before it."""
    last = max((place for place, step in enumerate(steps) if step.step in done), default=-1)
    return [step for place, step in enumerate(steps) if place > last or step.step in done]


def _schedule_chain(
    steps: list[Step],
    climate: Climate,
    start: date,
    log: dict[str, date],
    conversion: Conversion,
    held: Mapping[str, date],
) -> list[Slot]:
    """Kill and planting steps, one after the other, moved on until no gap is longer than a step bears.

    Work too old to build on is done again, but never a seeding: what comes too late after it is left out.
    """
    done = {step.step: log[step.step] for step in steps if step.step in log}
    too_old: dict[str, date] = {}
    not_before = dict(held)
    apart = ""
    for _ in range(MOST_REPLANS):
        slots, shuts = _chain(_still_open(steps, done), climate, start, done, not_before)
        for previous, slot in zip(slots, slots[1:], strict=False):
            gap = slot.step.max_gap_days
            if gap is None or not slot.movable:
                continue
            if (slot.earliest - shuts[previous.step.step]).days > gap:
                key = previous.step.step
                apart = f"{slot.step.step!r} never comes within {gap} days of {key!r}"
                if not previous.movable and previous.step.operation in SOWING:
                    steps = [step for step in steps if step is not slot.step]
                elif previous.movable:
                    not_before[key] = shuts[key] + timedelta(days=1)
                else:
                    too_old[key] = done.pop(key)
                break
        else:
            return [replace(slot, repeats=too_old.get(slot.step.step)) for slot in slots]
    way_out = (
        "take back a step that was left out"
        if conversion.left_out
        else "choose another kill program or way of seeding for this place"
    )
    raise ValueError(f"conversion {conversion.field!r}: {apart} at {climate.place}; {way_out}")


def _narrow(slots: list[Slot]) -> list[Slot]:
    """Backward pass: no window runs so late that the next step, or the seeding, loses its wait."""
    narrowed = list(slots)
    sown = next((place for place, slot in enumerate(slots) if slot.step.operation in SOWING), None)
    for place in range(len(slots) - 2, -1, -1):
        slot, following = narrowed[place], narrowed[place + 1]
        if slot.movable and following.movable:
            bound = following.latest - timedelta(days=following.step.wait_days)
            if sown is not None and place < sown and narrowed[sown].movable:
                bound = min(bound, narrowed[sown].latest - timedelta(days=soil_wait_days(slot.step)))
            narrowed[place] = replace(slot, latest=max(slot.earliest, min(slot.latest, bound)))
    return narrowed


def _upkeep(
    steps: list[Step],
    climate: Climate,
    first_season: int,
    planted: Slot,
    log: dict[str, date],
    start: date,
    by_summer: bool,
) -> list[Slot]:
    """Steps of the seasons after seeding, each in its own calendar year.

    `by_summer`: a window that opens in fall and runs into spring belongs to the summer after it.
    """
    slots: list[Slot] = []
    by_step: dict[str, Slot] = {}
    passed_over = {step.after for step in steps if step.step in log} - log.keys()
    for step in steps:
        if step.step in passed_over:
            continue
        if step.step in log:
            slot = Slot(step, log[step.step], log[step.step], step.after, done_on=log[step.step])
        else:
            year = first_season + step.season - 1
            opened, shut = window(step, climate, year)
            if by_summer and shut.year > year:
                opened, shut = window(step, climate, year - 1)
            if step.chemicals and (shut - opened).days > LONGEST_SPRAY_DAYS:
                continue
            waits_for = by_step.get(step.after, planted if step.season == 1 else None)
            lower = max(opened, start)
            if waits_for is not None:
                lower = max(lower, waits_for.earliest + timedelta(days=step.wait_days))
            if lower > shut:
                continue
            slot = Slot(step, lower, shut, waits_for.step.step if waits_for else "")
        slots.append(slot)
        by_step[step.step] = slot
    for slot in reversed(slots):
        before = by_step.get(slot.step.after)
        if before is not None and before.movable and slot.movable:
            bound = by_step[slot.step.step].latest - timedelta(days=slot.step.wait_days)
            by_step[before.step.step] = replace(
                before, latest=max(before.earliest, min(before.latest, bound))
            )
    return [by_step[slot.step.step] for slot in slots]


def _aside(step: Step, climate: Climate, seeding: Slot, log: Mapping[str, date], start: date) -> Slot:
    """Lime's own window before the seeding: it waits for no kill, and no kill waits for it.

    Begun too late for that window it is spread until the seeding opens, and works less.
    """
    if step.step in log:
        return Slot(step, log[step.step], log[step.step], "", done_on=log[step.step])
    years = range(seeding.earliest.year - 2, seeding.earliest.year + 2)
    fitting = [span for span in (window(step, climate, year) for year in years) if span[1] < seeding.earliest]
    opened, shut = fitting[-1]
    if start > shut:
        opened, shut = start, max(start, seeding.earliest - timedelta(days=1))
    return Slot(step, max(opened, start), shut, "")


def _check_log(conversion: Conversion, steps: Sequence[Step], log: Mapping[str, date]) -> None:
    """Work after the seeding is counted from its day, so that day must be known."""
    sowing = next((step for step in steps if step.operation in SOWING), None)
    if sowing is None or sowing.step in log:
        return
    later = next((step for step in steps if step.order > sowing.order and step.step in log), None)
    if later is not None:
        raise ValueError(
            f"conversion {conversion.field!r}, log: {later.step!r} is logged and the seeding before it is "
            f"not; log {sowing.step!r} with its day too"
        )


def check_days(conversion: Conversion, today: date) -> None:
    """Raises ValueError for a step logged on a day after `today`: it cannot have been done."""
    for entry in conversion.log:
        if entry.on > today:
            raise ValueError(
                f"conversion {conversion.field!r}, log: {entry.step!r} is logged on {entry.on}, a day after "
                f"{today}; log it when it is done"
            )


def schedule(
    conversion: Conversion,
    climate: Climate,
    years: int,
    start: date,
    not_before: Mapping[str, date] | None = None,
) -> tuple[Slot, ...]:
    """Dated windows, none before `start`, of every step of a conversion, in order of their earliest day.

    The first season is that of the first summer; a plot's is the year in which it is sown. Where nothing is
    sown, upkeep follows the last step of the release. Work already logged keeps its day, the
    latest where a step stands twice. `not_before` holds single steps before the seeding until a day.
    Raises ValueError when no sound order exists or the log has work after a seeding that it lacks,
    UnknownChoice for a key in no table.
    """
    chosen = steps_for(conversion, years)
    crop_window = plots.crop_window(conversion, climate)
    steps = [plots.dated(step, crop_window) for step in chosen]
    log = {entry.step: entry.on for entry in sorted(conversion.log, key=lambda entry: entry.on)}
    _check_log(conversion, steps, log)
    aside = [step for step in steps if ASIDE in step.materials]
    chain = [step for step in steps if step.set != "upkeep" and step not in aside]
    upkeep = [step for step in steps if step.set == "upkeep"]
    slots = _narrow(_schedule_chain(chain, climate, start, log, conversion, not_before or {}))
    seeding = next((slot for slot in slots if slot.step.operation in SOWING), None)
    if seeding is None and tables.seedings()[conversion.seeding].way == "none" and slots:
        seeding = slots[-1]
    if seeding is None:
        return tuple(slots)
    slots += [
        _aside(step, climate, seeding, log, start) for step in aside if seeding.movable or step.step in log
    ]
    fall_sown = seeding.latest.month >= 9 and crop_window is None
    first_season = seeding.latest.year + fall_sown
    slots += _upkeep(upkeep, climate, first_season, seeding, log, start, by_summer=crop_window is None)
    return tuple(sorted(slots, key=lambda slot: (slot.earliest, slot.step.order)))


def moment_label(key: str, days: int) -> str:
    """A window's end in words: `30 days after native grass greens up`."""
    label = tables.moment_rules()[key].label
    if days == 0:
        return label
    apart = "1 day" if abs(days) == 1 else f"{abs(days)} days"
    return f"{apart} after: {label}" if days > 0 else f"{apart} before: {label}"
