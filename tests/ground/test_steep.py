"""The steep part of a field parted from the rest: acres add up, and what is too small stays where it is."""

from __future__ import annotations

import numpy as np
import pytest
from rasterio import Affine
from shapely import box

from sites.ground.elevation import slope_of_field
from sites.ground.errors import GroundError
from sites.ground.local import LocalPlane
from sites.ground.measuring import measure
from sites.ground.projection import projection_of
from sites.ground.shaping import take_out
from sites.ground.steep import LEAST_ACRES, Cells, steep_part
from tests.ground.test_slope import FIELD, tilted

FIELD_ACRES = measure(FIELD).acres


def cells(percent: np.ndarray, side: float = 1e-4) -> Cells:
    """Cells of `side` degrees about the field's middle, in rows from the north."""
    west, _, _, north = FIELD.bounds
    east_m, north_m = side * 86_740, side * 111_010
    at = Affine(side, 0, west - 2 * side, 0, -side, north + 2 * side)
    return Cells(percent, at, projection_of(""), east_m, north_m)


def banded(first: int, last: int) -> np.ndarray:
    """A plane at 5 % with a band of 18 % across it from north to south."""
    percent = np.full((36, 44), 5.0)
    percent[:, first:last] = 18.0
    return percent


def test_a_steep_band_becomes_an_outline_and_acres_add_up() -> None:
    found = steep_part(FIELD, cells(banded(20, 28)), 10)
    assert found and measure(found.outline).acres == pytest.approx(found.acres)
    assert found.acres + found.rest_acres == pytest.approx(FIELD_ACRES, rel=1e-7)
    assert found.acres == pytest.approx(FIELD_ACRES * 8e-4 * 86_740 / 304.8, rel=0.01)
    assert (found.steepest.percent, found.rest_steepest.percent, found.spots_acres) == (18, 5, 0)


def test_a_spot_too_small_to_be_worked_apart_stays_with_the_rest_and_is_said() -> None:
    percent = banded(20, 28)
    percent[10:12, 35:37] = 30.0
    found = steep_part(FIELD, cells(percent), 10)
    assert found and len(found.outline.parts) == 1
    assert found.rest_steepest.percent == 30
    assert found.spots_acres == pytest.approx(4 * 8.674 * 11.101 / 4046.86, rel=0.05)


def test_a_gentle_spot_inside_the_steep_part_goes_with_it() -> None:
    percent = banded(15, 30)
    percent[15:17, 20:22] = 5.0
    found = steep_part(FIELD, cells(percent), 10)
    assert found and not found.outline.parts[0].holes


@pytest.mark.parametrize("limit", [4.0, 18.0], ids=["all is steeper", "nothing is steeper"])
def test_where_one_side_is_empty_there_is_nothing_to_part(limit: float) -> None:
    assert steep_part(FIELD, cells(banded(20, 28)), limit) is None


def test_an_edge_too_ragged_is_refused_before_it_takes_long() -> None:
    percent = np.random.default_rng(7).uniform(0, 20, (360, 440))
    with pytest.raises(GroundError, match="too ragged"):
        steep_part(FIELD, cells(percent, 1e-5), 10)


def test_ground_without_heights_stays_with_the_rest() -> None:
    percent = banded(20, 28)
    percent[:12] = np.nan
    found = steep_part(FIELD, cells(percent), 10)
    assert found and found.acres + found.rest_acres == pytest.approx(FIELD_ACRES, rel=1e-7)
    assert found.acres < 0.8 * FIELD_ACRES * 8e-4 * 86_740 / 304.8


def test_a_grid_of_heights_tells_its_steep_parts() -> None:
    """A plane has none; a fall that begins at the middle of the field has one."""
    assert not slope_of_field("dem.tif", tilted(26915, 5.0, 12), FIELD).steep
    found = slope_of_field("dem.tif", tilted(26915, 5.0, 4, bends_to=12), FIELD, limits_pct=(6, 15))
    (part,) = found.steep
    assert part.limit_pct == 6
    assert part.acres + part.rest_acres == pytest.approx(FIELD_ACRES, rel=1e-7)
    assert part.acres == pytest.approx(FIELD_ACRES * found.above[6] / 100, rel=0.02)
    assert part.steepest.percent == pytest.approx(12, rel=0.01)
    assert part.rest_steepest.percent <= 6


@pytest.mark.parametrize(("wide_m", "sides"), [(0.5, None), (100, 2), (999, None)])
def test_ground_is_taken_out_of_an_outline(wide_m: float, sides: int | None) -> None:
    """0.5 m by 1,000 ft is under a quarter of an acre."""
    plane = LocalPlane.of(FIELD)
    west = plane.to_earth(box(-200, -200, -152.4 + wide_m, 200))
    found = take_out(FIELD, west, LEAST_ACRES)
    if sides is None:
        assert found is None
    else:
        acres = [measure(side).acres for side in found or ()]
        assert acres[0] == pytest.approx(100 * 304.8 / 4046.86, rel=1e-3)
        assert sum(acres) == pytest.approx(FIELD_ACRES, rel=1e-9)
