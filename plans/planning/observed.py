"""What the consultant saw this year goes before the normal, and moves what follows on its side of the year.

Spring moments (air and soil rising, the last freeze) follow one another, and so do fall moments. One seen
earlier or later than normal moves every later one of its side and year by the same days; an earlier one is
never left after it. Days fixed by the calendar stay. That a season keeps its lead is common practice.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from functools import lru_cache

import numpy as np

from plans.planning import tables
from plans.planning.job import Climate, Observation
from plans.planning.season import DAYS, daily_normal, day_of, moment_days, on

FARTHEST_DAYS = 75
"""An observation farther from its normal day than this is taken for a slip of the pen."""


@dataclass(frozen=True, slots=True)
class Move:
    """By how many days a moment of one year lies off its normal day, and what was seen."""

    days: int
    because: Observation


def side(moment: str) -> str:
    """`spring`, `fall`, or empty for a day fixed by the calendar."""
    rule = tables.moment_rules()[moment].rule
    if rule == "day":
        return ""
    return "spring" if "rises" in rule or "spring" in rule else "fall"


def observable() -> tuple[str, ...]:
    """Keys of the moments that can be seen on the ground or on a thermometer."""
    return tuple(key for key in tables.moment_rules() if side(key))


@dataclass(frozen=True, slots=True)
class _Anchor:
    """An observation in its season; `place` is its normal day, counted from the season's turn."""

    key: str
    place: int
    off: int
    seen: Observation


def _anchors(climate: Climate, turns: Mapping[str, int]) -> dict[tuple[str, int], list[_Anchor]]:
    """Observations by side and season, in the order of the normal year. Raises ValueError, see `moves`."""
    days = moment_days(climate)
    found: dict[tuple[str, int], list[_Anchor]] = {}
    for number, seen in enumerate(sorted(climate.observed, key=lambda seen: seen.on)):
        where = f"climate.observed.{number}"
        if seen.moment not in observable():
            raise ValueError(f"{where}.moment: {seen.moment!r} is not one of: {', '.join(observable())}")
        label = tables.moment_rules()[seen.moment].label
        turn = turns[side(seen.moment)]
        at = day_of(f"{seen.on:%m-%d}") - days[seen.moment]
        off = min(at - DAYS, at, at + DAYS, key=abs)
        if abs(off) > FARTHEST_DAYS:
            raise ValueError(
                f"{where}.on: {label} was noted for {seen.on}, {abs(off)} days from its normal day; "
                "check the date on the farm's page"
            )
        year = seen.on.year + (at - off) // DAYS
        season = year if days[seen.moment] >= turn else year - 1
        anchors = found.setdefault((side(seen.moment), season), [])
        if any(other.key == seen.moment for other in anchors):
            raise ValueError(f"{where}: {label} was noted twice for one season; keep one of the two days")
        anchors.append(_Anchor(seen.moment, (days[seen.moment] - turn) % DAYS, off, seen))
    return {place: sorted(anchors, key=lambda anchor: anchor.place) for place, anchors in found.items()}


def check_days(climate: Climate, today: date) -> None:
    """Raises ValueError for a moment noted for a day after `today`: nobody can have seen it."""
    for number, seen in enumerate(climate.observed):
        if seen.on > today:
            raise ValueError(
                f"climate.observed.{number}.on: {seen.moment!r} is noted for {seen.on}, a day after "
                f"{today}; note it when it is seen"
            )


@lru_cache(maxsize=256)
def moves(climate: Climate) -> dict[tuple[str, int], Move]:
    """Moved moments by (key, calendar year of the normal day). What was seen stays as it was seen.

    Raises ValueError for a moment in no table, one fixed by the calendar, a day more than 75 days off, or the
    same moment seen twice in a season.
    """
    days = moment_days(climate)
    air = daily_normal(climate.monthly_mean_f)
    turns = {"spring": int(np.argmin(air)), "fall": int(np.argmax(air))}
    found: dict[tuple[str, int], Move] = {}
    for (half, season), anchors in _anchors(climate, turns).items():
        turn = turns[half]
        for key in observable():
            if side(key) != half:
                continue
            own_year = season if days[key] >= turn else season + 1
            move = _move(key, (days[key] - turn) % DAYS, anchors)
            if move is not None:
                found[key, own_year] = move
    return found


def _move(key: str, place: int, anchors: Sequence[_Anchor]) -> Move | None:
    """A moment seen keeps its day; another moves with the last seen before it, never past the next."""
    own = next((anchor for anchor in anchors if anchor.key == key), None)
    if own is not None:
        return Move(own.off, own.seen)
    before = [anchor for anchor in anchors if anchor.place < place]
    move = Move(before[-1].off, before[-1].seen) if before else None
    after = [anchor for anchor in anchors if anchor.place >= place]
    if after:
        bound = min(after, key=lambda anchor: anchor.place + anchor.off)
        most = bound.place + bound.off - place
        if (move.days if move else 0) > most:
            move = Move(most, bound.seen)
    return move


def day_in(climate: Climate, moment: str, year: int) -> date:
    """The day of a moment in the year of its normal day: as seen, moved by what was seen, or normal."""
    move = moves(climate).get((moment, year))
    return on(year, moment_days(climate)[moment] + (move.days if move else 0))
