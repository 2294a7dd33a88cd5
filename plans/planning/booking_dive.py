"""A booking from the packed days: the likeliest patterns are booked, the rest is packed anew, and so on.

Diving in a linear program of columns, as for bins to be packed: Sadykov and others 2019 [from memory].
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Collection, Iterable, Iterator, Mapping, Sequence

import numpy as np

from plans.planning.booking_bound import Packing
from plans.planning.booking_days import Part, Pattern
from plans.planning.booking_greedy import best_place
from plans.planning.booking_ground import Diary, Ground, Placed, Placements, Way

SURE = 0.9
"""Share of a day from which on a pattern is booked with the likeliest."""
AT_ONCE = 0.05
"""Part of the open patterns that is booked in one step, however unlikely."""
ROUNDS = 15
"""Most rounds of payments before a step."""
MOST_ROUNDS = 60
"""And before the first of them."""
PARTS = (2, 3, 3, 5)
"""Into how many parts the days are parted of which one is packed anew."""
TRIES = 5
"""Times as many places are sought as there are visits to be placed."""
SEEDS = 2500
"""Patterns taken along to the next step."""


def dived(first: Packing, kept: Placements, most_late: int, left: Callable[[], float]) -> Placements | None:
    """`kept` and the visits of `first`; None where one finds no place or the time is up."""
    ground, free = first.ground, set(first.ways)
    diary = Diary(ground, kept)
    seeds, pays, kept_days = _likely(first), first.pays, first.likely_kept()
    while free and left() > 0:
        ways = _within(choices(ground, diary, free, most_late), kept_days)
        packing = Packing(ground, ways, first.price, diary)
        packing.begin_with(seeds)
        packing.pay(pays)
        for _ in range(ROUNDS):
            if left() <= 0 or not packing.improve():
                break
        done = set(_book(ground, diary, packing))
        if not done:
            break
        free -= done
        seeds, pays = _likely(packing), packing.pays
    return _all_placed(ground, diary, free)


def _all_placed(ground: Ground, diary: Diary, free: set[int]) -> Placements | None:
    """With the last few each where it is cheapest, those that wait for it put off if it fits nowhere."""
    waiting = sorted(free, key=lambda one: -ground.minutes[one])
    for _ in range(TRIES * len(waiting)):
        if not waiting:
            break
        placed = _best_place(ground, diary, waiting[0])
        if placed is not None:
            diary.place(waiting.pop(0), placed)
            continue
        after = [one for one, _ in ground.followers[waiting[0]] if one in diary.placed]
        if not after:
            return None
        for one in after:
            diary.take_out(one)
        waiting[1:1] = after
    return None if waiting else diary.placed


def _best_place(ground: Ground, diary: Diary, visit: int) -> Placed | None:
    soonest, latest = between(ground, diary, visit)
    return best_place(diary, visit, soonest, ground.days, latest=latest)


def again(
    packing: Packing,
    best: Placements,
    most_late: int,
    left: Callable[[], float],
    draw: np.random.Generator,
) -> Placements | None:
    """The work of some days that share farms, drawn by lot, dived for anew; the rest stays."""
    ground = packing.ground
    work: defaultdict[tuple[tuple[int, ...], int], list[int]] = defaultdict(list)
    for visit in packing.ways:
        if visit in best:
            work[best[visit].way.machines, best[visit].way.start].append(visit)
    if len(work) < 2:
        return None
    farms = {at: {ground.farm[visit] for visit in visits} for at, visits in work.items()}
    others = sorted(work)
    wanted = len(others) // int(draw.choice(PARTS))
    reached: set[int] = set()
    out: set[int] = set()
    for _ in range(max(2, wanted)):
        near = [at for at in others if farms[at] & reached] or others
        at = near[int(draw.integers(len(near)))]
        others.remove(at)
        reached |= farms[at]
        out.update(work[at])
    kept = {visit: placed for visit, placed in best.items() if visit not in out}
    return beside(packing, kept, {visit: best[visit] for visit in out}, most_late, left)


def beside(
    packing: Packing, kept: Placements, was: Placements, most_late: int, left: Callable[[], float]
) -> Placements | None:
    """`kept` and, packed anew around them, the visits of `was`."""
    ground = packing.ground
    diary = Diary(ground, kept)
    part = Packing(ground, choices(ground, diary, was, most_late), packing.price, diary)
    part.begin(was)
    part.begin_with(_likely(packing))
    part.pay(packing.pays)
    for _ in range(MOST_ROUNDS):
        if left() <= 0 or not part.improve():
            break
    part.solution()
    return dived(part, kept, most_late, left)


def moved(ground: Ground, best: Placements, fresh: Placements) -> Placements | None:
    """`best` with some visits placed as in `fresh`; None where they do not fit into it."""
    diary = Diary(ground, {visit: placed for visit, placed in best.items() if visit not in fresh})
    for visit in ground.order:
        if visit in fresh:
            way = fresh[visit].way
            soonest, latest = between(ground, diary, visit)
            people = diary.people_for(visit, way) if diary.fits(visit, way) else None
            if people is None or way.start < soonest or way.end > latest:
                return None
            diary.place(visit, Placed(way, people))
    return diary.placed


def between(ground: Ground, diary: Diary, visit: int) -> tuple[int, int]:
    """First and last day that the visits booked already leave by their waits."""
    soonest, latest = 0, ground.days
    for before, wait in ground.after[visit]:
        if before in diary.placed:
            soonest = max(soonest, diary.placed[before].way.end + wait)
    for follower, wait in ground.followers[visit]:
        if follower in diary.placed:
            latest = min(latest, diary.placed[follower].way.start - wait)
    return soonest, latest


def choices(ground: Ground, diary: Diary, free: Iterable[int], most_late: int) -> dict[int, list[Way]]:
    """Ways that leave room for every wait, those between the visits that are free included."""
    ways: dict[int, list[Way]] = {}
    asked = set(free)
    in_order = [visit for visit in ground.order if visit in asked]
    for visit in in_order:
        soonest, latest = between(ground, diary, visit)
        for before, wait in ground.after[visit]:
            if ways.get(before):
                soonest = max(soonest, min(way.end for way in ways[before]) + wait)
        ways[visit] = [
            way
            for way in ground.ways[visit]
            if way.start >= soonest and way.end <= latest and way.late <= most_late and diary.fits(visit, way)
        ]
    for visit in reversed(in_order):
        for follower, wait in ground.followers[visit]:
            if ways.get(follower):
                latest = max(way.start for way in ways[follower]) - wait
                ways[visit] = [way for way in ways[visit] if way.end <= latest]
    return {visit: several for visit, several in ways.items() if several}


def _within(
    ways: Mapping[int, Sequence[Way]], kept_days: Mapping[int, Collection[int]]
) -> dict[int, list[Way]]:
    """Ways that need rented machines only on the days on which they are kept."""

    def is_within(way: Way) -> bool:
        return all(
            day in kept_days[machine]
            for machine in way.machines
            if machine in kept_days
            for day, _ in way.span
        )

    within = {visit: [way for way in several if is_within(way)] for visit, several in ways.items()}
    return {visit: several for visit, several in within.items() if several}


def _likely(packing: Packing) -> list[tuple[int, int, Sequence[Part]]]:
    """Patterns nearest to paying their way, the dearest left behind."""
    packing.solution()
    columns = sorted(packing.columns.values(), key=lambda pair: pair[1].reduced_cost())[:SEEDS]
    return [(pattern.machine, day, pattern.parts) for pattern, _ in columns for day in pattern.days]


def _book(ground: Ground, diary: Diary, packing: Packing) -> Iterator[int]:
    """Visits of the likeliest patterns, as they are booked."""
    chosen = packing.solution()
    wanted = max(1, round(AT_ONCE * sum(share for share, _ in chosen)))
    for share, pattern in chosen:
        if wanted <= 0 and share < SURE:
            return
        done = _book_pattern(ground, diary, packing, pattern)
        wanted -= bool(done)
        yield from done


def _book_pattern(ground: Ground, diary: Diary, packing: Packing, pattern: Pattern) -> list[int]:
    """Its visits where all find their place: on the day of a long one that is begun, or on a middle day."""
    visits = [part.visit for part in pattern.parts if part.visit not in diary.placed]
    middles = [(packing.ways[one][0].start + packing.ways[one][-1].end) / 2 for one in visits]
    middle = sum(middles) / max(1, len(middles))
    begun = {
        day
        for part in pattern.parts
        if part.visit in diary.placed
        for day, minutes in diary.placed[part.visit].way.span
        if minutes == part.minutes
    }
    for day in sorted(pattern.days, key=lambda one: (one not in begun, abs(one - middle))):
        done = _book_on(ground, diary, packing, pattern, day)
        if len(done) == len(visits):
            return done
        for visit in done:
            diary.take_out(visit)
    return []


def _book_on(ground: Ground, diary: Diary, packing: Packing, pattern: Pattern, day: int) -> list[int]:
    done = []
    for part in pattern.parts:
        if part.visit in diary.placed:
            continue
        soonest, latest = between(ground, diary, part.visit)
        ways = [
            way
            for way in packing.ways[part.visit]
            if pattern.machine in way.machines
            and (day, part.minutes) in way.span
            and soonest <= way.start
            and way.end <= latest
            and diary.fits(part.visit, way)
        ]
        for way in sorted(ways, key=lambda one: (one.late, diary.added_cents(part.visit, one), one.change)):
            people = diary.people_for(part.visit, way)
            if people is not None:
                diary.place(part.visit, Placed(way, people))
                done.append(part.visit)
                break
    return done
