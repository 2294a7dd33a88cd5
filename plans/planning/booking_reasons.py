"""Why a visit is late or unfitted, and what would free it: counted in its window, all others left in place.

Nothing is solved again: that one more machine would let this visit in is certain, that it is the cheapest way
for the whole season is not.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from datetime import date
from decimal import Decimal

from plans.planning.booking import Booking, BookVisit, Cause, Explanation
from plans.planning.booking_ground import Diary, Ground, Placements, Way
from plans.planning.booking_settle import settled
from plans.planning.money import to_cents

LEFT = "with all other visits left where they are"


def explained(ground: Ground, placements: Placements, bound: tuple[int, int, int] | None = None) -> Booking:
    """The booking of some placements with an explanation for each late and each unfitted visit."""
    booking = settled(ground, placements, bound)
    held = [one for one in ground.open if one not in placements or placements[one].way.late]
    if not held:
        return booking
    diary = Diary(ground, placements)
    return replace(booking, explanations=tuple(_explain(ground, diary, visit) for visit in held))


def _explain(ground: Ground, diary: Diary, visit: int) -> Explanation:
    placed = diary.placed.get(visit)
    if placed is not None:
        diary.take_out(visit)
    try:
        found = _reason(ground, diary, visit)
    finally:
        if placed is not None:
            diary.place(visit, placed)
    return replace(found, late_days=None if placed is None else placed.way.late)


def _reason(ground: Ground, diary: Diary, visit: int) -> Explanation:
    asked = ground.season.visits[visit]
    for before, _ in ground.after[visit]:
        if before in ground.ways and before not in diary.placed:
            name = ground.season.visits[before].id
            return _said(asked, "order", name, f"waits for {name}, which is not fitted", f"fit {name} first")
    on_time = [way for way in ground.ways[visit] if not way.late]
    if not on_time:
        return _alone(ground, diary, visit)
    soonest = _soonest(ground, diary, visit)
    ready = [way for way in on_time if way.start >= soonest]
    if not ready:
        return _waits(ground, diary, visit)
    if (fitting := [way for way in ready if diary.fits(visit, way)]) and any(
        diary.people_for(visit, way) is not None for way in fitting
    ):
        words = "would be on time if it alone were moved; others that came later took their days around it"
        return _said(asked, "order", "", words, "fit the season again, or for longer")
    if fitting:
        return _person(ground, asked, fitting)
    short = _machine(ground, diary, visit, ready)
    if any(diary.people_for(visit, way) is not None for way in ready):
        return short
    who = _person(ground, asked, ready)
    both = None if short.usd is None or who.usd is None else short.usd + who.usd
    return _said(
        asked,
        "machine and person",
        short.what,
        f"{short.words}; nor are there people with the time",
        f"{short.way_out}, and {who.way_out}",
        both,
    )


def _said(
    asked: BookVisit, binds: Cause, what: str, words: str, way_out: str, usd: Decimal | None = None
) -> Explanation:
    return Explanation(asked.id, None, binds, what, words, way_out, usd)


def _soonest(ground: Ground, diary: Diary, visit: int) -> int:
    """First day after every wait, as the visits waited for lie now."""
    ends = [0]
    for before, wait in ground.after[visit]:
        done = ground.season.visits[before].done_on
        ends.append((ground.day(done) if done is not None else diary.placed[before].way.end) + wait)
    return max(ends)


def _waits(ground: Ground, diary: Diary, visit: int) -> Explanation:
    asked = ground.season.visits[visit]

    def clear(pair: tuple[int, int]) -> int:
        before, wait = pair
        done = ground.season.visits[before].done_on
        return (ground.day(done) if done is not None else diary.placed[before].way.end) + wait

    before, wait = max(ground.after[visit], key=clear)
    name = ground.season.visits[before].id
    return _said(
        asked,
        "wait",
        name,
        f"must wait {wait} days after {name}, which leaves no day to end by {_day(asked.latest)}",
        f"do {name} earlier; no machine or person makes the wait shorter",
    )


def _alone(ground: Ground, diary: Diary, visit: int) -> Explanation:
    """A visit that could not be on time if it were the only one."""
    season, asked = ground.season, ground.season.visits[visit]
    first, last = max(0, ground.day(asked.earliest)), min(ground.days - 1, ground.day(asked.latest))
    window = [day for day in range(first, last + 1) if ground.room[day] > 0]
    for name in asked.needs:
        holders = ground.holders.get(name, [])
        if not any(ground.machine_room[one][day] for one in holders for day in window):
            words = f"needs a {name}, and none can be had from {_day(asked.earliest)} to {_day(asked.latest)}"
            return _machine_offer(ground, asked, name, words, 1)
    staffed = [
        day
        for day in window
        if len(there := ground.there([day])) >= asked.people
        and {skill for one in there for skill in season.people[one].skills}.issuperset(asked.skills)
    ]
    if window and not staffed:
        return _person(ground, asked, [], " on any day of its window")
    if asked.fixed:
        words = f"is fixed to {asked.promised}, and that day cannot be had or ends after its window"
        return _said(asked, "fixed", "", words, "free it from its day")
    if ground.after[visit] and _soonest(ground, diary, visit) > last:
        return _waits(ground, diary, visit)
    hours = sum(max(0, ground.room[day] - ground.travel[ground.farm[visit]]) for day in window) / 60
    dry = sum(max(0.0, _dry_hours(ground, day) - ground.travel[ground.farm[visit]] / 60) for day in window)
    words = f"takes {asked.hours:.1f} h, and its window has {hours:.1f} h fit for work, travel taken out"
    if dry >= asked.hours:
        words += f"; were every day fit it would have {dry:.1f} h"
        return _said(asked, "weather", "", words, "split it between two machines, or widen its window")
    return _said(asked, "window", "", words, "split it, or widen its window")


def _dry_hours(ground: Ground, day: int) -> float:
    season = ground.season
    return min(season.daylight_hours_by_month[ground.dates[day].month], season.working_hours)


def _person(ground: Ground, asked: BookVisit, ways: Sequence[Way], where: str = "") -> Explanation:
    skilled = " and ".join(asked.skills)
    who = f"{asked.people} with {skilled} among them" if skilled else f"{asked.people}"
    days = min((len(way.span) for way in ways), default=1)
    rate = ground.season.prices.hire_usd_per_person_day
    kind = f"one more person who holds {skilled}" if skilled else "one more person"
    return _said(
        asked,
        "person",
        skilled,
        f"needs people ({who}) and there are not as many with the time{where}, {LEFT}",
        f"{kind} for {_count(days)}" + ("; no price is listed" if rate is None else ""),
        None if rate is None else to_cents(rate * days),
    )


def _count(days: int) -> str:
    return "1 day" if days == 1 else f"{days} days"


def _machine(ground: Ground, diary: Diary, visit: int, ways: Sequence[Way]) -> Explanation:
    """The class whose machines have no time on any of the ways, and how full their days are."""
    asked = ground.season.visits[visit]
    farm = ground.farm[visit]

    def free(machine: int, way: Way) -> bool:
        return all(
            diary.machine_left[machine][day]
            >= minutes + (0 if (machine, farm, day) in diary.machine_at else ground.travel[farm])
            for day, minutes in way.span
        )

    def openings(name: str) -> int:
        holders = set(ground.holders[name])
        return sum(any(free(one, way) for one in holders & set(way.machines)) for way in ways)

    name = min(asked.needs, key=openings)
    days = sorted({day for way in ways for day, _ in way.span})
    holders = ground.holders[name]
    whole = sum(ground.machine_room[one][day] for one in holders for day in days) / 60
    left = sum(max(0, diary.machine_left[one][day]) for one in holders for day in days) / 60
    words = (
        f"every {name} is taken: {whole - left:.1f} of {whole:.1f} h fit for work are booked on the days it "
        f"could be on time, travel counted, and no day has room for its {asked.hours:.1f} h, {LEFT}"
    )
    return _machine_offer(ground, asked, name, words, min(len(way.span) for way in ways))


def _day(on: date) -> str:
    return f"{on:%B} {on.day}, {on.year}"


def _machine_offer(ground: Ground, asked: BookVisit, name: str, words: str, days: int) -> Explanation:
    prices = ground.season.prices
    rate = prices.rent_usd_per_day_by_class.get(name)
    fee = prices.delivery_usd_by_class.get(name, Decimal(0))
    return _said(
        asked,
        "machine",
        name,
        words,
        f"one more {name} for {_count(days)}" + ("; no price is listed" if rate is None else ""),
        None if rate is None else to_cents(rate * days + fee),
    )
