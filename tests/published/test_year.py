"""Freeze dates, soil temperature, growth and leaf counts of a place against what is printed."""

from __future__ import annotations

import json
from typing import Any

import numpy as np
import pytest

from plans.planning import tables
from plans.planning.freezes import freeze_dates, freeze_probability
from plans.planning.leaves import phyllochrons, walk_to_count
from plans.planning.reckoner import reckon
from plans.planning.season import (
    DAMPING_DEPTH_M,
    REFERENCE_MEAN_F,
    daily_growth,
    daily_normal,
    day_of,
    soil_filtered,
    soil_normal,
)
from tests.planning import make

COLUMBIA: dict[str, Any] = {"spring": ("04-09", "03-27"), "fall": ("10-23", "11-06")}
"""NOAA NCEI US Climate Normals 1981-2010, Columbia, Missouri, 32 F: median and 90 % dates."""


@pytest.mark.parametrize(
    ("side", "day", "chance"), [("spring", "04-09", 50), ("spring", "03-27", 90), ("spring", "04-22", 10)]
)
def test_a_spring_freeze_grows_unlikely(side: Any, day: str, chance: float) -> None:
    """Source: NOAA NCEI normals; the 90 % date is early, the 10 % one as far after the median."""
    found = freeze_probability(side, *COLUMBIA[side], day)
    assert float(found.value) == pytest.approx(chance, abs=0.01)


@pytest.mark.parametrize(("day", "chance"), [("10-23", 50), ("11-06", 90), ("10-09", 10)])
def test_a_fall_freeze_grows_likely(day: str, chance: float) -> None:
    """Source: NOAA NCEI normals 1981-2010."""
    assert float(freeze_probability("fall", *COLUMBIA["fall"], day).value) == pytest.approx(chance, abs=0.01)


def test_the_late_date_of_spring_is_the_one_to_go_by() -> None:
    """Source: arithmetic, 2 × April 9 - March 27."""
    assert freeze_dates("spring", *COLUMBIA["spring"])["10 %"] == "04-22"


def test_a_90_percent_date_of_spring_read_as_the_late_one_is_refused() -> None:
    with pytest.raises(ValueError, match="p90"):
        freeze_dates("spring", "03-27", "04-09")


@pytest.mark.parametrize(("depth_m", "share"), [(0.10, 0.96), (0.50, 0.80), (1.00, 0.64)])
def test_the_yearly_wave_is_damped(depth_m: float, share: float) -> None:
    """Source: Hillel 1982, exp(-z/D) with D 2.24 m."""
    assert DAMPING_DEPTH_M == 2.24
    air = daily_normal(REFERENCE_MEAN_F)
    assert np.ptp(soil_normal(air, depth_m)) / np.ptp(air) == pytest.approx(share, abs=0.01)


@pytest.mark.parametrize("place", list(make.climates())[::6])
def test_two_soil_models_agree_within_a_week_and_a_half(place: str) -> None:
    """Wave (Hillel 1982) against filter (Zheng and others 1993 [from memory]) on the way up through 55 °F.

    Source: monthly normals lag about a week in spring at 2 to 4 in and years differ by 10 to 14 days.
    """
    air = daily_normal(make.climates()[place].monthly_mean_f)
    wave, filtered = soil_normal(air, 0.1016), soil_filtered(air)
    up = [int(np.argmax((soil >= 55) & (np.arange(365) > 45))) for soil in (wave, filtered)]
    assert abs(up[0] - up[1]) <= 10


@pytest.mark.parametrize("place", list(make.climates())[::4])
@pytest.mark.parametrize("column", ["cool_pct", "warm_pct"])
def test_a_years_growth_is_all_of_it_at_every_place(place: str, column: str) -> None:
    monthly = [getattr(row, column) for row in tables.growth()]
    assert daily_growth(monthly, make.climates()[place].monthly_mean_f).sum() == pytest.approx(100)


def test_growth_at_the_reference_place_is_the_printed_one() -> None:
    """Source: reference/growth.csv [from memory], Columbia's normals of NOAA NCEI."""
    monthly = [row.cool_pct for row in tables.growth()]
    days = daily_growth(monthly, REFERENCE_MEAN_F)
    april, may = (days[day_of(f"0{m}-01") : day_of(f"0{m + 1}-01")].sum() for m in (4, 5))
    assert (april, may) == (pytest.approx(18, abs=1.0), pytest.approx(26, abs=1.0))


def test_native_grass_starts_later_in_the_north() -> None:
    """A tenth of the growth is made later where spring is later. Source: NRCS Illinois; Tennessee SP731-C."""
    monthly = [row.warm_pct for row in tables.growth()]
    south = [mean + 6 for mean in REFERENCE_MEAN_F]
    north = [mean - 6 for mean in REFERENCE_MEAN_F]
    tenth = [int(np.argmax(np.cumsum(daily_growth(monthly, means)) >= 10)) for means in (south, north)]
    assert tenth[0] < tenth[1]


@pytest.mark.parametrize(("plant", "low", "high"), [("switchgrass", 80, 130), ("big bluestem", 70, 110)])
def test_leaf_intervals(plant: str, low: float, high: float) -> None:
    """Degree days a leaf over 10 °C [from memory]; the spread is why leaves are counted."""
    row = phyllochrons()[plant]
    assert (row.base_c, row.low_c_days, row.high_c_days) == (10, low, high)


def test_a_fescue_seedling_makes_a_leaf_in_11_days_at_10_degrees() -> None:
    """10.8 days at 10 °C, 5.2 at 25 °C. Source: Robson 1973 (seen)."""
    for mean_c, row_end, days in ((10, "from_days", 10.8), (25, "to_days", 5.2)):
        steady = [mean_c * 1.8 + 32] * 12
        found: Any = walk_to_count("tall fescue", "06-01", 1, steady)[row_end]
        assert found.value == pytest.approx(days, abs=1)


def test_leaves_are_counted_and_never_reckoned() -> None:
    given = {"plant": "switchgrass", "emerged": "05-25", "leaves": 5, "monthly_mean_f": REFERENCE_MEAN_F}
    found = reckon("walk_to_count", json.dumps(given))
    assert found["from"] < found["to"]
    assert "releases no spray" in found["count"]
