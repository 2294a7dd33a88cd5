"""The normal year against station normals, growth curves and the calendar."""

from __future__ import annotations

import csv
from datetime import date
from pathlib import Path

import numpy as np
import pytest

from plans.planning.season import (
    DAYS,
    daily_normal,
    day_of,
    moment_days,
    month_day,
    normal_degree_days,
    on,
    season_at,
)
from sites.climate import stations
from tests.planning import make

with (Path(__file__).parent / "degree_days.csv").open(newline="") as table:
    DEGREE_DAYS = [(row["station_id"], float(row["base_50_f_days"])) for row in csv.DictReader(table)]


@pytest.mark.parametrize(("station_id", "printed"), DEGREE_DAYS)
def test_degree_days_of_a_station(station_id: str, printed: float) -> None:
    """Annual base-50 degree days within 8 %: the means are of 1991-2020, the print of the cooler 1981-2010.

    Source: NOAA NCEI US Climate Normals 1981-2010, file ann-grdd-base50.
    """
    means = stations()[station_id].monthly_mean_f
    assert normal_degree_days(means, 50).sum() == pytest.approx(printed, rel=0.08)


@pytest.mark.parametrize("station_id", [key for key, _ in DEGREE_DAYS])
def test_a_mean_fed_into_the_simple_rule_loses_warm_days(station_id: str) -> None:
    """Why the daily spread is there: without it the cool months vanish.

    Source: arithmetic on the same normals.
    """
    means = stations()[station_id].monthly_mean_f
    naive = np.clip(daily_normal(means) - 50, 0, None)
    spread = normal_degree_days(means, 50)
    assert naive.sum() < spread.sum()
    assert naive[:60].sum() < 0.2 * spread[:60].sum()


FREEZES = [
    # NOAA NCEI US Climate Normals 1981-2010, ann-tmin-prblst-t32Fp50 and prbfst: median 32 F dates
    ("Columbia", "last_freeze", "04-09"),
    ("Columbia", "first_freeze", "10-23"),
    ("Louisville", "last_freeze", "04-03"),
    ("Louisville", "first_freeze", "11-04"),
    ("Topeka", "last_freeze", "04-15"),
    ("Topeka", "first_freeze", "10-20"),
]


@pytest.mark.parametrize(("town", "moment", "printed"), FREEZES)
def test_median_freezes(town: str, moment: str, printed: str) -> None:
    climate = next(climate for place, climate in make.climates().items() if place.startswith(town))
    assert month_day(moment_days(climate)[moment]) == printed


MONTHLY_MEANS = [31.0, 35.8, 46.0, 56.4, 65.8, 74.6, 78.5, 77.2, 69.2, 57.5, 45.4, 35.2]


@pytest.mark.parametrize("month", range(12))
def test_daily_normal_keeps_columbias_monthly_mean(month: int) -> None:
    """Columbia Regional Airport, Missouri.

    Source: NOAA NCEI normals 1991-2020, mean of maximum and minimum.
    """
    assert make.columbia().monthly_mean_f[month] == MONTHLY_MEANS[month]
    days = [day for day in range(DAYS) if on(2001, day).month == month + 1]
    assert daily_normal(MONTHLY_MEANS)[days].mean() == pytest.approx(MONTHLY_MEANS[month], abs=1e-9)


def test_tall_fescue_has_made_most_of_its_growth_by_july() -> None:
    """Two thirds by late June or early July. Source: Oregon State University, Tall Fescue Monograph."""
    growth = season_at(make.columbia()).cool_growth
    assert sum(growth[: day_of("07-10")]) / sum(growth) == pytest.approx(2 / 3, abs=0.03)


def test_native_grass_makes_most_of_its_growth_after_the_middle_of_june() -> None:
    """About 70 % after June 15 for big bluestem and indiangrass.

    Source: NRCS Illinois; Missouri Department of Conservation.
    """
    growth = season_at(make.columbia()).warm_growth
    assert sum(growth[day_of("06-15") :]) / sum(growth) == pytest.approx(0.70, abs=0.05)


@pytest.mark.parametrize("town", ["Peoria", "Springfield Capital"])
def test_bluestem_starts_in_late_april_in_illinois(town: str) -> None:
    """Late April to early May, given a week either way. Source: NRCS Illinois, big bluestem."""
    climate = next(climate for place, climate in make.climates().items() if place.startswith(town))
    assert "04-15" <= month_day(moment_days(climate)["natives_green_up"]) <= "05-12"


def test_fescue_starts_in_early_march_in_indiana() -> None:
    """Daily means over 40 F from early March. Source: Indiana growers' column on tall fescue (weak)."""
    climate = next(climate for place, climate in make.climates().items() if place.startswith("Indianapolis"))
    assert "03-01" <= month_day(moment_days(climate)["sod_wakes"]) <= "03-15"


ORDINALS = [("01-01", 1), ("03-01", 60), ("07-01", 182), ("10-15", 288), ("12-31", 365)]


@pytest.mark.parametrize(("day", "ordinal"), ORDINALS)
def test_ordinal_days(day: str, ordinal: int) -> None:
    """Ordinal dates of a common year. Source: ISO 8601-1:2019, 5.2.3."""
    assert day_of(day) == ordinal - 1
    assert month_day(ordinal - 1) == day


@pytest.mark.parametrize(
    ("year", "day", "expected"),
    [
        (2027, day_of("03-01"), date(2027, 3, 1)),
        (2028, day_of("03-01"), date(2028, 3, 1)),
        (2028, day_of("02-29"), date(2028, 2, 28)),
        (2027, 365, date(2028, 1, 1)),
        (2027, -1, date(2026, 12, 31)),
        (2028, 365 + 59, date(2029, 3, 1)),
    ],
)
def test_days_of_the_normal_year_on_the_calendar(year: int, day: int, expected: date) -> None:
    """2028 is a leap year: its February 29 shares the normal of the 28th.

    Source: Gregorian calendar, ISO 8601.
    """
    assert on(year, day) == expected
