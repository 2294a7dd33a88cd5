"""Take some days' visits out of a booking and put each back where it is cheapest: ruin and recreate.

Source: Schrimpf and others 2000 [from memory]. Quick and blind beside the whole-number program; it empties a
rented day whose work finds room among the other days.
"""

from __future__ import annotations

from collections import defaultdict

import numpy as np

from plans.planning.booking_greedy import best_place
from plans.planning.booking_ground import Diary, Ground, Placements

FEWEST, MOST = 4, 24
"""Visits taken out in one round."""


def shaken(ground: Ground, start: Placements, rounds: int, draw: np.random.Generator) -> Placements:
    """A booking no worse than `start` after `rounds` rounds."""
    now, score = dict(start), ground.score(start)
    diary = Diary(ground, now)
    depth = {visit: place for place, visit in enumerate(ground.order)}
    for _ in range(rounds):
        out = _taken(ground, now, draw)
        if not out:
            break
        for visit in out:
            diary.take_out(visit)
        by_size = bool(draw.integers(2))
        noise = draw.random(len(out))
        related = any(before in out for visit in out for before, _ in ground.after[visit])
        ranked = sorted(
            zip(out, noise, strict=True),
            key=lambda pair: (
                depth[pair[0]] if related else 0,
                -ground.minutes[pair[0]] * (0.7 + 0.6 * pair[1]) if by_size else pair[1],
            ),
        )
        back = all(_put_back(ground, diary, visit) for visit, _ in ranked)
        new = ground.score(diary.placed) if back else score
        if back and new <= score:
            now, score = dict(diary.placed), new
            continue
        for visit in out:
            if visit in diary.placed:
                diary.take_out(visit)
        for visit in out:
            diary.place(visit, now[visit])
    return now


def _taken(ground: Ground, best: Placements, draw: np.random.Generator) -> list[int]:
    """Visits on a few days of one class of machine, more often about a day on which one is rented."""
    rented = [one for one in best if any(ground.rented[machine] for machine in best[one].way.machines)]
    pool = rented if rented and draw.integers(3) else list(best)
    if not pool:
        return []
    about = pool[int(draw.integers(len(pool)))]
    visits = ground.season.visits
    needs, middle = visits[about].needs, best[about].way.start
    by_day: defaultdict[int, list[int]] = defaultdict(list)
    for one, placed in best.items():
        if visits[one].needs == needs and not visits[one].fixed:
            by_day[placed.way.start].append(one)
    near = sorted(by_day, key=lambda day: (abs(day - middle) * (0.5 + draw.random()), day))
    most = int(draw.integers(FEWEST, MOST))
    chosen: list[int] = []
    for day in near:
        if chosen and len(chosen) + len(by_day[day]) > most:
            break
        chosen += by_day[day]
    return chosen


def _put_back(ground: Ground, diary: Diary, visit: int) -> bool:
    soonest, latest = 0, ground.days
    for before, wait in ground.after[visit]:
        if before in diary.placed:
            soonest = max(soonest, diary.placed[before].way.end + wait)
        elif before in ground.ways:
            return False
    for follower, wait in ground.followers[visit]:
        if follower in diary.placed:
            latest = min(latest, diary.placed[follower].way.start - wait)
    placed = best_place(diary, visit, soonest, ground.days, latest=latest)
    if placed is not None:
        diary.place(visit, placed)
    return placed is not None
