"""The normal year of any climate: monthly means kept, moments on days of the year, sound degree days."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from plans.planning import tables
from plans.planning.job import Climate
from plans.planning.season import (
    DAYS,
    MONTH_DAYS,
    MONTH_STARTS,
    daily_normal,
    day_of,
    growing_degree_days,
    moment_days,
    month_day,
    normal_degree_days,
    on,
    season_at,
    soil_normal,
    stand_ins,
)
from tests.planning import make

degrees = st.floats(-40, 110)
means = st.lists(degrees, min_size=12, max_size=12)
freezes = st.lists(st.integers(0, DAYS - 1), min_size=2, max_size=2, unique=True).map(sorted)
climates = st.builds(
    lambda monthly, days: Climate(
        place="anywhere",
        monthly_mean_f=tuple(monthly),
        last_spring_freeze=month_day(days[0]),
        first_fall_freeze=month_day(days[1]),
    ),
    means,
    freezes,
)


@given(means)
def test_daily_normal_keeps_every_monthly_mean(monthly: list[float]) -> None:
    days = daily_normal(monthly)
    assert days.shape == (DAYS,)
    for mean, start, length in zip(monthly, MONTH_STARTS, MONTH_DAYS, strict=True):
        assert days[start : start + length].mean() == pytest.approx(mean, abs=1e-9)


@given(means)
def test_new_year_is_no_break(monthly: list[float]) -> None:
    """The year bends no more sharply there than elsewhere."""
    step = np.diff(np.append(daily_normal(monthly), daily_normal(monthly)[0]))
    bend = np.abs(step - np.roll(step, 1))
    assert bend[[0, -1]].max() <= 1.5 * bend[1:-1].max() + 1e-9


@given(climates)
def test_moments_are_days_of_the_year(climate: Climate) -> None:
    days = moment_days(climate)
    assert days.keys() == tables.moment_rules().keys()
    assert all(isinstance(day, int) and 0 <= day < DAYS for day in days.values())


@given(climates)
def test_the_ribbon_has_a_value_for_every_day(climate: Climate) -> None:
    season = season_at(climate)
    for curve in (season.cool_growth, season.warm_growth):
        assert len(curve) == DAYS and min(curve) >= 0 and max(curve) == 1
    assert len(season.daily_mean_f) == DAYS
    assert all(day_of(moment.day) >= 0 and moment.working and moment.source for moment in season.moments)


@pytest.mark.parametrize("climate", make.climates().values(), ids=lambda climate: climate.place)
def test_the_year_runs_in_order_at_every_station(climate: Climate) -> None:
    days = moment_days(climate)
    order = ["sod_wakes", "sod_at_height", "sod_boots", "summer_sod_rests", "fall_regrowth", "count_opens"]
    places = [days[key] for key in order]
    assert places == sorted(places)
    assert days["soil_50"] < days["natives_green_up"] < days["soil_60"] < days["drill_shuts"]
    assert days["fall_regrowth"] < days["first_freeze"] < days["hard_freeze"] < days["leaf_fall"]


@pytest.mark.parametrize("climate", make.climates().values(), ids=lambda climate: climate.place)
def test_a_crossing_is_the_first_day_past_its_mark(climate: Climate) -> None:
    air = daily_normal(climate.monthly_mean_f)
    soil = soil_normal(air)
    days = moment_days(climate)
    assert soil[days["natives_green_up"]] >= 55 > soil[days["natives_green_up"] - 1]
    assert air[days["fall_regrowth"]] <= 70 < air[days["fall_regrowth"] - 1]


TROPICS = Climate(
    place="always warm",
    monthly_mean_f=(70, 71, 72, 74, 76, 78, 79, 78, 77, 75, 73, 71),
    last_spring_freeze="01-10",
    first_fall_freeze="12-20",
)
NORTH = replace(
    TROPICS,
    place="always cool",
    monthly_mean_f=(5, 9, 22, 36, 48, 56, 60, 58, 49, 37, 22, 9),
)


def working(climate: Climate, key: str) -> str:
    return next(moment.working for moment in season_at(climate).moments if moment.key == key)


def test_a_place_that_never_crosses_gets_the_nearest_day_and_says_so() -> None:
    coldest = int(np.argmin(soil_normal(daily_normal(TROPICS.monthly_mean_f))))
    assert moment_days(TROPICS)["soil_40_falling"] == moment_days(TROPICS)["soil_40_rising"] == coldest
    low = soil_normal(daily_normal(TROPICS.monthly_mean_f)).min()
    assert working(TROPICS, "soil_40_falling") == (
        f"soil at 2 in is never under 40 °F here; the coldest day, {low:.1f} °F, stands for it"
    )
    assert working(TROPICS, "sod_at_height").endswith("stands for it, +7 days")
    warmest = int(np.argmax(daily_normal(NORTH.monthly_mean_f)))
    assert moment_days(NORTH)["summer_sod_rests"] == moment_days(NORTH)["fall_regrowth"] == warmest
    assert "never over 72 °F here; the warmest day" in working(NORTH, "summer_sod_rests")
    assert working(NORTH, "soil_40_falling") == "soil at 2 in falls to 40 °F in the normal year"


@given(climates)
def test_a_stand_in_is_named_just_where_the_mark_is_not_crossed(climate: Climate) -> None:
    air = daily_normal(climate.monthly_mean_f)
    crossed = {key for key, mark in (("sod_wakes", 40), ("sod_boots", 63)) if air.min() < mark <= air.max()}
    assert {"sod_wakes", "sod_boots"} - stand_ins(climate).keys() == crossed


@given(means, st.floats(0.01, 3))
def test_soil_swings_less_than_air_and_keeps_its_mean(monthly: list[float], depth: float) -> None:
    air = daily_normal(monthly)
    soil = soil_normal(air, depth)
    assert np.ptp(soil) <= np.ptp(air) + 1e-9
    assert soil.mean() == pytest.approx(air.mean(), abs=0.5)


@given(means, st.floats(30, 70), st.floats(0, 20))
def test_degree_days_fall_as_the_base_rises(monthly: list[float], base: float, more: float) -> None:
    assert (normal_degree_days(monthly, base) >= normal_degree_days(monthly, base + more) - 1e-9).all()
    assert (normal_degree_days(monthly, base) >= -1e-9).all()


days = st.lists(st.tuples(degrees, degrees).map(lambda pair: (max(pair), min(pair))), min_size=1, max_size=40)


@given(days, st.floats(30, 60))
def test_degree_days_are_summed_day_by_day(pairs: list[tuple[float, float]], base: float) -> None:
    for cap in (None, base + 36):
        whole = growing_degree_days([p[0] for p in pairs], [p[1] for p in pairs], base, cap).value
        alone = [growing_degree_days([high], [low], base, cap).value for high, low in pairs]
        assert float(whole) == pytest.approx(sum(map(float, alone)), abs=1e-6)
        assert all(float(one) >= 0 for one in alone)
        if cap is not None:
            assert all(float(one) <= 36 + 1e-9 for one in alone)


@pytest.mark.parametrize(
    ("high", "low", "base", "cap", "named"),
    [
        ([70.0], [50.0, 51.0], 50, None, "min_f"),
        ([], [], 50, None, "max_f"),
        ([50.0], [70.0], 50, None, r"min_f\[0\]"),
        ([70.0], [50.0], 50, 50, "cap_f"),
    ],
)
def test_unsound_degree_days_are_refused(
    high: list[float], low: list[float], base: float, cap: float | None, named: str
) -> None:
    with pytest.raises(ValueError, match=named):
        growing_degree_days(high, low, base, cap)


@given(st.integers(0, DAYS - 1))
def test_month_and_day_turn_round(day: int) -> None:
    assert day_of(month_day(day)) == day


@given(st.integers(2020, 2040), st.integers(-400, 800))
def test_days_run_on_round_the_year(year: int, day: int) -> None:
    assert on(year, day) == on(year + 1, day - DAYS)
    assert on(year, day) < on(year, day + 1)


@pytest.mark.parametrize("wrong", ["02-30", "00-10", "13-01", "04-31"])
def test_no_such_day(wrong: str) -> None:
    with pytest.raises(ValueError, match=wrong):
        day_of(wrong)
