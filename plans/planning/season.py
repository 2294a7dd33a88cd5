"""The year at a place: daily temperature, soil temperature, degree days, growth, and the named moments.

A normal year has 365 days, counted from 0 on January 1; February 29 shares the day of February 28.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from datetime import date, timedelta
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from plans.planning import tables
from plans.planning.figures import Figure, Term
from plans.planning.job import Climate
from plans.planning.plan import Moment, Season

DAYS = 365
NORMAL_YEAR = date(2001, 1, 1)
"""First day of a year without a February 29."""
MONTH_DAYS = (31, 28, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31)
MONTH_STARTS = tuple(sum(MONTH_DAYS[:month]) for month in range(12))
DAMPING_DEPTH_M = 2.24
"""Annual damping depth at a thermal diffusivity of 0.5e-6 m²/s: sqrt(2 k / w), Hillel 1982."""
SEEDING_DEPTH_M = 0.0508
"""Two inches, the depth that seeding windows are stated for."""
DAILY_SPREAD_F = (9.0, 9.0, 9.0, 7.5, 6.0, 6.0, 6.0, 6.0, 6.0, 7.5, 9.0, 9.0)
"""Standard deviation of daily means about their normal by month [F]; see `normal_degree_days`."""
Days = NDArray[np.float64]


@lru_cache(maxsize=1)
def _spread_months() -> Days:
    """The 365 × 12 matrix that spreads monthly means over the days.

    The smoothest year (least sum of squared second differences, December joined to January) that keeps
    each month's mean, solved once with Lagrange multipliers: a mean-preserving spline.
    """
    bend = np.zeros((DAYS, DAYS))
    for day in range(DAYS):
        bend[day, (day - 1) % DAYS] += 1
        bend[day, day] -= 2
        bend[day, (day + 1) % DAYS] += 1
    means = np.zeros((12, DAYS))
    for month, (start, length) in enumerate(zip(MONTH_STARTS, MONTH_DAYS, strict=True)):
        means[month, start : start + length] = 1 / length
    system = np.zeros((DAYS + 12, DAYS + 12))
    system[:DAYS, :DAYS] = 2 * bend.T @ bend
    system[:DAYS, DAYS:] = means.T
    system[DAYS:, :DAYS] = means
    right = np.zeros((DAYS + 12, 12))
    right[DAYS:, :] = np.eye(12)
    return np.asarray(np.linalg.solve(system, right)[:DAYS, :], dtype=np.float64)


def daily_normal(monthly: Sequence[float]) -> Days:
    """365 daily values whose monthly means are `monthly` (12, January first), smooth round the year.

    Any unit. Method: the smoothest mean-preserving daily series (after the idea of Rymes and Myers 2001,
    Solar Energy 71:225-231, mean-preserving interpolation). Raises ValueError for other than 12 values.
    """
    if len(monthly) != 12:
        raise ValueError(f"monthly: has {len(monthly)} values; give 12, January first")
    return np.asarray(_spread_months() @ np.asarray(monthly, dtype=np.float64))


def soil_normal(air: Days, depth_m: float = SEEDING_DEPTH_M) -> Days:
    """Daily normal soil temperature at a depth [m], same unit as `air`.

    The yearly wave is damped by exp(-z/D) and delayed by z/D × 365/2π days, D = 2.24 m: Hillel 1982 as
    given by Oklahoma State University soil physics. Thatch can hold it 3 to 8 F cooler in spring.
    """
    ratio = depth_m / DAMPING_DEPTH_M
    lag = ratio * DAYS / (2 * math.pi)
    days = np.arange(DAYS)
    delayed = np.interp(days - lag, np.arange(-DAYS, 2 * DAYS), np.tile(air, 3))
    mean = float(air.mean())
    return np.asarray(mean + (delayed - mean) * math.exp(-ratio), dtype=np.float64)


def soil_filtered(air: Days) -> Days:
    """Daily normal soil temperature at 4 in by a running filter of air, same unit as `air`, 365 values.

    soil(d) = soil(d-1) + 0.25 × (mean of air over the last 11 days - soil(d-1)): Zheng, Hunt and Running
    1993, Climate Research 2:183-191 [from memory], without its leaf-area term. The named alternative to
    `soil_normal`, run round the year until it repeats.
    """
    mean = np.mean([np.roll(air, back) for back in range(11)], axis=0)
    soil = np.empty(DAYS)
    last = float(air.mean())
    for _ in range(3):
        for day in range(DAYS):
            last += 0.25 * (float(mean[day]) - last)
            soil[day] = last
    return soil


def growing_degree_days(
    max_f: Sequence[float], min_f: Sequence[float], base_f: float, cap_f: float | None = None
) -> Figure:
    """Degree days of a run of days [°F·day].

    Without `cap_f`: (max + min) / 2 - base, never below zero (Midwestern Regional Climate Center). With it:
    both ends held between base and cap first, then averaged less base (the 86/50 rule of Iowa State
    University Agronomy 541). The two differ in spring and fall and must not be mixed.
    Raises ValueError when the lists differ in length, are empty, or a minimum is above its maximum.
    """
    if len(max_f) != len(min_f):
        raise ValueError(f"min_f: has {len(min_f)} values and max_f {len(max_f)}; give one of each per day")
    if not max_f:
        raise ValueError("max_f: has no values; give one per day")
    if cap_f is not None and cap_f <= base_f:
        raise ValueError(f"cap_f: {cap_f:g} is not above base_f {base_f:g}")
    total = 0.0
    for day, (high, low) in enumerate(zip(max_f, min_f, strict=True)):
        if low > high:
            raise ValueError(f"min_f[{day}]: {low:g} is above max_f[{day}] {high:g}")
        if cap_f is None:
            total += max(0.0, (high + low) / 2 - base_f)
        else:
            held_high, held_low = (min(max(value, base_f), cap_f) for value in (high, low))
            total += (held_high + held_low) / 2 - base_f
    days = Term("days", len(max_f))
    base = Term("base", base_f, "°F")
    if cap_f is None:
        return Figure(
            total,
            "°F·day",
            "sum of (max + min) / 2 - base, never below zero",
            (days, base),
            "simple mean: Midwestern Regional Climate Center",
        )
    return Figure(
        total,
        "°F·day",
        "sum of (max + min) / 2 - base, both ends held between base and cap first",
        (days, base, Term("cap", cap_f, "°F")),
        "86/50 rule: Iowa State University Agronomy 541, lesson 2b",
    )


def normal_degree_days(monthly_mean_f: Sequence[float], base_f: float) -> Days:
    """Expected degree days of each day of the normal year [°F·day], 365 values.

    A day's mean is taken as normally distributed about its normal, so that cold months keep their warm
    days: sd × (z Φ(z) + φ(z)), z = (normal - base) / sd. The spread (9 F from November to March, 6 F in
    summer) comes within 8 % of the annual base-50 degree days of 19 stations in NOAA NCEI's 1981-2010
    normals.
    """
    air = daily_normal(monthly_mean_f)
    spread = np.repeat(DAILY_SPREAD_F, MONTH_DAYS)
    z = (air - base_f) / spread
    density = np.exp(-z * z / 2) / math.sqrt(2 * math.pi)
    below = np.array([0.5 * (1 + math.erf(value / math.sqrt(2))) for value in z])
    result: Days = spread * (z * below + density)
    return result


def day_of(month_day: str) -> int:
    """Day of the normal year, 0 to 364, of `MM-DD`; February 29 counts as the 28th.

    Raises ValueError for no such day.
    """
    month, day = int(month_day[:2]), int(month_day[3:])
    if not (1 <= month <= 12 and 1 <= day <= MONTH_DAYS[month - 1]):
        if (month, day) == (2, 29):
            return day_of("02-28")
        raise ValueError(f"{month_day}: is no day of the year")
    return MONTH_STARTS[month - 1] + day - 1


def month_day(day: int) -> str:
    """`MM-DD` of a day of the normal year; days run on round the year."""
    return f"{NORMAL_YEAR + timedelta(days=day % DAYS):%m-%d}"


def on(year: int, day: int) -> date:
    """The date of a day of the normal year in a calendar year; days before 0 or past 364 run over."""
    turns, rest = divmod(day, DAYS)
    return (NORMAL_YEAR + timedelta(days=rest)).replace(year=year + turns)


def _crossing(values: Days, threshold: float, rising: bool) -> int:
    """First day at or past the threshold, searched from the coldest (rising) or the warmest (falling) day.

    A place that never crosses gets the day that comes nearest, so that a plan can still be made; `stand_ins`
    says so.
    """
    start = int(np.argmin(values)) if rising else int(np.argmax(values))
    for step in range(DAYS):
        day = (start + step) % DAYS
        if (values[day] >= threshold) if rising else (values[day] <= threshold):
            return day
    return int(np.argmax(values)) if rising else int(np.argmin(values))


def _marks(climate: Climate) -> Iterator[tuple[tables.MomentRule, Days, float, bool]]:
    """Moments that wait for a temperature: rule, 365 daily values and mark [F], rising or not."""
    air = daily_normal(climate.monthly_mean_f)
    soil = soil_normal(air)
    for rule in tables.moment_rules().values():
        what, _, way = rule.rule.partition(" ")
        if what in ("air", "soil"):
            yield rule, air if what == "air" else soil, float(rule.value), way == "rises to"


@lru_cache(maxsize=256)
def moment_days(climate: Climate) -> dict[str, int]:
    """Day of the normal year of every named moment at a place, by reference/moments.csv."""
    crossings = {rule.key: _crossing(values, mark, rising) for rule, values, mark, rising in _marks(climate)}
    days: dict[str, int] = {}
    for rule in tables.moment_rules().values():
        if rule.rule == "day":
            day = day_of(rule.value)
        elif rule.rule == "last spring freeze":
            day = day_of(climate.last_spring_freeze)
        elif rule.rule == "first fall freeze":
            day = day_of(climate.first_fall_freeze)
        else:
            day = crossings[rule.key]
        days[rule.key] = (day + rule.offset_days) % DAYS
    return days


@lru_cache(maxsize=256)
def stand_ins(climate: Climate) -> dict[str, str]:
    """Moments whose mark the normal year never crosses, each with the day that stands for it, in words."""
    found: dict[str, str] = {}
    for rule, values, mark, rising in _marks(climate):
        what = _measured(rule)
        coldest, warmest = float(values.min()), float(values.max())
        if coldest >= mark if rising else coldest > mark:
            found[rule.key] = (
                f"{what} is never under {mark:g} °F here; the coldest day, {coldest:.1f} °F, stands for it"
            )
        elif warmest < mark if rising else warmest <= mark:
            found[rule.key] = (
                f"{what} is never over {mark:g} °F here; the warmest day, {warmest:.1f} °F, stands for it"
            )
    return found


def _measured(rule: tables.MomentRule) -> str:
    return "daily mean air" if rule.rule.startswith("air") else "soil at 2 in"


def _working(rule: tables.MomentRule, stand_in: str) -> str:
    if rule.rule == "day":
        return "a fixed day"
    if stand_in:
        base = stand_in
    elif rule.rule in ("last spring freeze", "first fall freeze"):
        base = f"median {rule.rule}"
    else:
        base = f"{_measured(rule)} {rule.rule.partition(' ')[2]} {rule.value} °F in the normal year"
    return base if not rule.offset_days else f"{base}, {rule.offset_days:+d} days"


REFERENCE_MEAN_F = (31.0, 35.8, 46.0, 56.4, 65.8, 74.6, 78.5, 77.2, 69.2, 57.5, 45.4, 35.2)
"""Where the monthly shares of growth are taken to hold: Columbia, Missouri, NOAA NCEI normals 1991-2020."""
LEAST_APART_DAYS = 5


def _turns(air: Days) -> list[int]:
    """Coldest day, then days after it to 40 and 50 °F rising, the warmest, 50 and 40 °F falling."""
    coldest = int(np.argmin(air))
    marks = [
        _crossing(air, 40, True),
        _crossing(air, 50, True),
        int(np.argmax(air)),
        _crossing(air, 50, False),
        _crossing(air, 40, False),
    ]
    return [coldest, *((mark - coldest) % DAYS for mark in marks)]


def daily_growth(monthly_pct: Sequence[float], monthly_mean_f: Sequence[float]) -> Days:
    """Share of the year's growth on each day at a place [%], 365 values that sum to 100.

    `monthly_pct` is the distribution at the reference place; its year is stretched piece by piece so that
    the place's own days at 40 and 50 °F, rising and falling, and its warmest day fall on the reference's.
    Shares: reference/growth.csv; the stretching is our own, common practice being to shift by eye. Where a
    place has no such days in order, the reference's year stands.
    """
    per_day = [pct / length for pct, length in zip(monthly_pct, MONTH_DAYS, strict=True)]
    there = np.clip(daily_normal(per_day), 0, None)
    home, here = _turns(daily_normal(REFERENCE_MEAN_F)), _turns(daily_normal(monthly_mean_f))
    marks = [0, *here[1:], DAYS]
    if min(np.diff(marks)) < LEAST_APART_DAYS:
        return np.asarray(100 * there / there.sum())
    since = (np.arange(DAYS) - here[0]) % DAYS
    looked = home[0] + np.interp(since, marks, [0, *home[1:], DAYS])
    found = np.interp(looked, np.arange(2 * DAYS), np.tile(there, 2))
    return np.asarray(100 * found / found.sum())


@lru_cache(maxsize=256)
def season_at(climate: Climate) -> Season:
    """The normal year at a place as drawn on the season ribbon: temperature, two growth curves, moments."""
    days, never = moment_days(climate), stand_ins(climate)
    moments = tuple(
        Moment(
            key=rule.key,
            label=rule.label,
            day=month_day(days[rule.key]),
            working=_working(rule, never.get(rule.key, "")),
            source=rule.source,
        )
        for rule in tables.moment_rules().values()
    )
    shares = tables.growth()

    def curve(monthly: list[float]) -> tuple[float, ...]:
        values = daily_growth(monthly, climate.monthly_mean_f)
        return tuple(round(float(value), 4) for value in values / values.max())

    return Season(
        place=climate.place,
        daily_mean_f=tuple(round(float(value), 2) for value in daily_normal(climate.monthly_mean_f)),
        cool_growth=curve([row.cool_pct for row in shares]),
        warm_growth=curve([row.warm_pct for row in shares]),
        moments=moments,
    )
