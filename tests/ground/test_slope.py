"""Steepness: percent is not degrees, a walk says how noisy it is, a grid is judged by its steepest part."""

from __future__ import annotations

import math
import random

import numpy as np
import pytest
import rasterio
from hypothesis import given, settings
from hypothesis import strategies as st
from pyproj import Transformer
from rasterio.io import MemoryFile
from rasterio.transform import from_origin

from sites.ground.elevation import horn, slope_of_field
from sites.ground.errors import GroundError, GroundFileError
from sites.ground.outline import Point
from sites.ground.slope import Slope, along_walk, from_degrees, from_rise
from tests.ground.make import off, outline, square

FT = 0.3048


def test_percent_is_not_degrees() -> None:
    assert str(from_rise(15, 100)) == "15.0 % (8.5°)"
    assert from_degrees(15).percent == pytest.approx(26.79, abs=0.01)
    assert from_degrees(-45).percent == pytest.approx(100)
    assert Slope(100).degrees == pytest.approx(45)


@pytest.mark.parametrize(("rise", "run"), [(1, 0), (1, -1), (math.nan, 1), (1, math.inf)])
def test_a_slope_needs_a_run(rise: float, run: float) -> None:
    with pytest.raises(GroundError, match="run must be more than 0"):
        from_rise(rise, run)


@pytest.mark.parametrize("degrees", [90, -120, math.nan])
def test_an_angle_is_less_than_upright(degrees: float) -> None:
    with pytest.raises(GroundError, match="less than 90 degrees"):
        from_degrees(degrees)


def walk(noise_m: float = 0.0) -> tuple[list[Point], list[float]]:
    """Round a square of 1,000 ft, a point every 20 ft, on ground that falls 8 % to the south."""
    chance = random.Random(7)
    way = [
        *((20.0 * n, 0.0) for n in range(50)),
        *((1000.0, 20.0 * n) for n in range(50)),
        *((1000.0 - 20 * n, 1000.0) for n in range(50)),
        *((0.0, 1000.0 - 20 * n) for n in range(50)),
    ]
    heights = [200 + 0.08 * north * FT + chance.gauss(0, noise_m) for _, north in way]
    return [off(*at) for at in way], heights


def test_a_walk_gives_the_slope_of_its_ground() -> None:
    found = along_walk(*walk())
    assert found.steepest.percent == pytest.approx(8, abs=0.01)
    assert found.plane.percent == pytest.approx(8, abs=0.01)
    assert found.faces == "south"
    assert found.scatter_ft < 0.3


def test_a_walk_says_how_much_of_it_is_steep() -> None:
    """The way up and the way down are 2,000 of 4,000 ft; the rest runs along the hill."""
    found = along_walk(*walk(), limits_pct=(5, 12))
    assert found.above[5] == pytest.approx(50, abs=2)
    assert found.above[12] == 0
    assert "over 5 %: " in found.shares_working and "over 12 %: 0 of " in found.shares_working


def test_a_noisy_walk_says_how_noisy_it_is() -> None:
    found = along_walk(*walk(noise_m=1.0))
    assert found.scatter_ft == pytest.approx(1 / FT, rel=0.25)
    assert found.plane.percent == pytest.approx(8, abs=0.3)
    assert 1 < found.doubt_pct < 5
    assert abs(found.p90.percent - 8) < 3 * found.doubt_pct
    assert f"scatter by {found.scatter_ft:.1f} ft" in found.words
    assert "may be steeper" in found.words


@pytest.mark.parametrize(
    ("points", "heights", "said"),
    [
        ([off(20 * n, 0) for n in range(4)], [1.0] * 4, "4 points"),
        ([off(20 * n, 0) for n in range(9)], [None] * 9, "0 points"),
        ([off(2 * n, 0) for n in range(9)], [1.0] * 9, "16 ft long"),
        ([off(500 * n, 0) for n in range(9)], [1.0] * 9, "too far apart"),
    ],
)
def test_a_walk_too_thin_is_refused(points: list[Point], heights: list[float | None], said: str) -> None:
    with pytest.raises(GroundError, match=said):
        along_walk(points, heights)


def grid(
    heights: np.ndarray, epsg: int | None, left: float, top: float, cell: float, **more: object
) -> bytes:
    profile = {
        "driver": "GTiff",
        "height": heights.shape[0],
        "width": heights.shape[1],
        "count": 1,
        "dtype": "float32",
        "crs": epsg and f"EPSG:{epsg}",
        "transform": from_origin(left, top, cell, cell),
    }
    units = more.pop("units", None)
    with MemoryFile() as file:
        with file.open(**profile | more) as made:
            made.write(heights.astype("float32"), 1)
            if units:
                made.units = (units,)
        return bytes(file.read())


MIDDLE = (-92.22, 38.82)
FIELD = outline(square(1000, MIDDLE))


def tilted(
    epsg: int,
    cell: float,
    percent: float,
    *,
    side: int = 120,
    bump: float = 0.0,
    bends_to: float | None = None,
    **more: object,
) -> bytes:
    """Ground that falls evenly to the east, on the earth and not on the map.

    `bump` raises one cell [m]; east of the middle it may fall by `bends_to` [%] instead.
    """
    to = Transformer.from_crs("OGC:CRS84", f"EPSG:{epsg}", always_xy=True)
    x, y = to.transform(*MIDDLE)
    left, top = x - side / 2 * cell, y + side / 2 * cell
    columns, rows = np.meshgrid(left + cell * (np.arange(side) + 0.5), top - cell * (np.arange(side) + 0.5))
    longitudes, _ = to.transform(columns, rows, direction="INVERSE")
    east_m = (longitudes - MIDDLE[0]) * math.radians(1) * 6385900 * math.cos(math.radians(MIDDLE[1]))
    heights = 250 - percent / 100 * east_m
    if bends_to is not None:
        heights -= (bends_to - percent) / 100 * np.maximum(east_m, 0)
    heights[side // 2, side // 2] += bump
    return grid(heights, epsg, left, top, cell, **more)


@pytest.mark.parametrize(
    ("epsg", "cell"),
    [(26915, 5.0), (4326, 5e-5), (3857, 6.0), (3436, 16.0)],
    ids=["metres", "degrees", "the stretched web map", "feet"],
)
def test_a_grid_gives_the_slope_in_any_projection(epsg: int, cell: float) -> None:
    found = slope_of_field("dem.tif", tilted(epsg, cell, 12), FIELD)
    assert found.mean.percent == pytest.approx(12, rel=0.01)
    assert found.p90.percent == pytest.approx(12, rel=0.01)
    assert found.faces == "east"
    assert (found.above[10], found.above[15]) == (100, 0)
    assert "meters were taken" in found.notes[0]
    assert found.cells * found.cell_ft**2 == pytest.approx(1_000_000, rel=0.35)


def test_the_steepest_part_is_found_and_the_rest_not_forgotten() -> None:
    found = slope_of_field("dem.tif", tilted(26915, 5.0, 4, bump=5), FIELD)
    assert found.steepest.percent > 20
    assert found.p90.percent == pytest.approx(4, rel=0.02)
    assert 0 < found.above[15] < 1


def test_heights_in_feet_are_taken_as_stated_or_answered() -> None:
    in_feet = tilted(26915, 5.0, 12 / FT, units="ft")
    stated = slope_of_field("dem.tif", in_feet, FIELD)
    assert stated.mean.percent == pytest.approx(12, rel=0.01) and not stated.notes
    answered = slope_of_field("dem.tif", tilted(26915, 5.0, 12 / FT), FIELD, height_unit="ft")
    assert answered.mean.percent == pytest.approx(12, rel=0.01) and not answered.notes


def test_missing_heights_are_left_out_and_said() -> None:
    data = tilted(26915, 5.0, 12, nodata=-9999.0)
    with MemoryFile(data) as file, file.open() as read:
        heights, profile = read.read(1), read.profile
    heights[: heights.shape[0] // 2] = -9999
    with MemoryFile() as file:
        with file.open(**profile) as made:
            made.write(heights, 1)
        found = slope_of_field("dem.tif", bytes(file.read()), FIELD)
    assert found.mean.percent == pytest.approx(12, rel=0.01)
    assert any("has no height; it is left out" in note for note in found.notes)


@settings(max_examples=60, deadline=None)
@given(st.floats(-0.5, 0.5), st.floats(-0.5, 0.5), st.floats(0.1, 50), st.floats(0.1, 50))
def test_the_gradient_of_a_plane_is_exact(east: float, north: float, wide: float, high: float) -> None:
    columns, rows = np.meshgrid(np.arange(6) * wide, -np.arange(5) * high)
    found = horn(100 + east * columns + north * rows, wide, high)
    assert found[0].shape == (3, 4)
    assert np.allclose(found[0], east) and np.allclose(found[1], north)


SHARE, SOME_BYTES = st.floats(0, 0.999), st.binary(min_size=1, max_size=6)
BARE = tilted(26915, 5.0, 12)


@pytest.mark.parametrize(
    ("data", "said"),
    [
        (b"", "no GeoTIFF"),
        (b"\x89PNG\r\n\x1a\n", "no GeoTIFF"),
        (b"II*\x00" + b"\xff" * 90, "damaged or cut off"),
        (BARE[: len(BARE) // 2], "damaged or cut off"),
        (grid(np.zeros((9, 9)), None, 0, 9, 1), "states no projection"),
        (grid(np.zeros((9, 9)), 26915, 0, 9, 1), "does not cover the field"),
        (grid(np.zeros((9, 9)), 4326, -93, 40, 0.3), "too few heights"),
        (tilted(26915, 0.05, 12, side=3), "does not cover the field|too few heights"),
        (grid(np.zeros((9, 9)), 26915, 0, 9, 1, count=3), "is a picture"),
        (grid(np.zeros((9, 9)), 26915, 0, 9, 1, dtype="complex64"), "is a picture"),
        (
            grid(np.zeros((2500, 2500)), 26915, 0, 9, 1, compress="deflate", blockysize=2500),
            "pieces too large",
        ),
        (tilted(26915, 5.0, 12, transform=rasterio.Affine(5, 1, 0, 1, -5, 0)), "north up"),
    ],
)
def test_a_grid_that_cannot_be_used_is_refused(data: bytes, said: str) -> None:
    with pytest.raises(GroundFileError, match=said):
        slope_of_field("dem.tif", data, FIELD)


@settings(max_examples=150, deadline=None)
@given(
    st.lists(st.tuples(st.floats(0, 0.999), st.binary(min_size=1, max_size=6)), max_size=4), st.floats(0, 1)
)
def test_a_damaged_grid_gives_a_slope_or_a_sentence(changes: list[tuple[float, bytes]], cut: float) -> None:
    data = bytearray(tilted(26915, 20.0, 12, side=30))
    for where, put in changes:
        at = int(where * len(data))
        data[at : at + len(put)] = put
    for damaged in (bytes(data), bytes(data[: int(cut * len(data))])):
        try:
            assert slope_of_field("dem.tif", damaged, FIELD).cells
        except GroundFileError as refused:
            assert refused.words
