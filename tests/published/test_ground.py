"""Areas, distances and slopes of the ground against what others print."""

from __future__ import annotations

import json
import math

import numpy as np
import pytest
from pyproj import Geod

from plans.ground_reckonings import EVERY
from plans.planning.reckoner import reckon
from plans.planning.seed import SQFT_PER_ACRE
from sites.ground.elevation import horn
from sites.ground.measuring import distance_m, measure, ring_m2_and_m
from sites.ground.mending import mend
from sites.ground.outline import Point
from sites.ground.projection import projection_of
from sites.ground.slope import from_rise
from sites.ground.units import M2_PER_ACRE, M_PER_FT, M_PER_MILE

KARNEY = "Karney 2013, as in the test suites of GeographicLib, `Planimeter0` and `Planimeter5`"
UNIT_SQUARE = "documentation of geographiclib-rs, `PolygonArea`, the example"
ANTARCTICA = "documentation of pyproj, `Geod.polygon_area_perimeter`, the example"

SHORE = [
    (-74, -72.9), (-102, -71.9), (-102, -74.9), (-131, -74.3), (-163, -77.5), (163, -77.4), (172, -71.7),
    (140, -65.9), (113, -65.7), (88, -66.6), (59, -66.9), (25, -69.8), (-4, -70.0), (-14, -71.0),
    (-33, -77.3), (-46, -77.9), (-61, -74.7),
]  # fmt: skip
RINGS = [
    # corners as longitude, latitude; area m²; perimeter m; within m² and m; source
    ([(0, 89), (90, 89), (180, 89), (270, 89)], 24_952_305_678.0, 631_819.8745, 1, 1e-4, KARNEY),
    ([(0, -89), (90, -89), (180, -89), (270, -89)], 24_952_305_678.0, 631_819.8745, 1, 1e-4, KARNEY),
    ([(-1, 0), (0, -1), (1, 0), (0, 1)], 24_619_419_146.0, 627_598.2731, 1, 1e-4, KARNEY),
    ([(0, 90), (0, 0), (90, 0)], 63_758_202_715_511.0, 30_022_685, 1, 1, KARNEY),
    ([(0.1, 89), (90.1, 89), (-179.9, 89)], 12_476_152_838.5, 539_297, 1, 1, KARNEY),
    ([(0, 0), (1, 0), (1, 1), (0, 1)], 12_308_778_361.469452, 443_770.917248302, 1e-3, 1e-6, UNIT_SQUARE),
    (SHORE, 13_376_856_682_207.4, 14_710_425.4, 0.1, 0.1, ANTARCTICA),
]


@pytest.mark.parametrize(("ring", "area", "around", "within_m2", "within_m", "source"), RINGS)
def test_geodesic_rings(
    ring: list[Point], area: float, around: float, within_m2: float, within_m: float, source: str
) -> None:
    assert source
    for corners in (ring, ring[::-1]):
        found = ring_m2_and_m(corners)
        assert found == (pytest.approx(area, abs=within_m2), pytest.approx(around, abs=within_m))


def test_a_hole_is_taken_off() -> None:
    """944,373,881,400 m², outer edge 3,979,008 m. Source: pyproj, `Geod.geometry_area_perimeter`."""
    shell, hole = [(1, 1), (10, 1), (10, 10), (1, 10)], [(1, 2), (3, 4), (5, 2)]
    found = measure(mend([[shell, hole]])[0])
    assert (round(found.area_m2), round(found.perimeter_m)) == (944_373_881_400, 3_979_008)


def test_a_farm() -> None:
    """192,812.52 m², 47.645 acres, 1,756.527 m. Source: computed with geographiclib 2.1, not printed."""
    ring = [(-92.22, 38.82), (-92.215, 38.82), (-92.215, 38.824), (-92.22, 38.824), (-92.22, 38.82)]
    found = measure(mend([[ring]])[0])
    assert found.area_m2 == pytest.approx(192_812.52, abs=0.01)
    assert found.acres == pytest.approx(47.645, abs=0.001)
    assert found.perimeter_m == pytest.approx(1_756.527, abs=0.001)
    asked = json.dumps({"geojson": {"type": "Polygon", "coordinates": [ring]}})
    assert reckon("polygon_acres", asked, EVERY)["value"] == pytest.approx(47.645, abs=0.001)


@pytest.mark.parametrize(("side_ft", "acres"), [(5280, 640), (2640, 160), (1320, 40), (660, 10)])
@pytest.mark.parametrize("latitude", [30.0, 38.8, 47.0])
def test_public_land(side_ft: float, acres: float, latitude: float) -> None:
    """A section is a mile on a side and holds 640 acres, a quarter 160, a quarter of that 40.

    Built about its middle from diagonals of the right length. Source: Manual of Surveying Instructions
    [from memory].
    """
    geod = Geod(ellps="WGS84")
    reach_m = side_ft * M_PER_FT / math.sqrt(2)
    ring = [geod.fwd(-93.0, latitude, azimuth, reach_m)[:2] for azimuth in (45, 315, 225, 135)]
    found = measure(mend([[ring]])[0])
    assert found.acres == pytest.approx(acres, rel=1e-7)
    assert found.perimeter_ft == pytest.approx(4 * side_ft, rel=1e-7)


def test_a_thousand_metres_each_way() -> None:
    """1,000 m east, north, west and back hold 1,000,000 m² = 247.105 acres. Source: geometry."""
    geod = Geod(ellps="WGS84")
    at, corners = (0.0, 0.0), [(0.0, 0.0)]
    for azimuth in (90, 0, 270):
        longitude, latitude, _ = geod.fwd(*at, azimuth, 1000)
        at = (longitude, latitude)
        corners.append(at)
    found = measure(mend([[corners]])[0])
    assert found.area_m2 == pytest.approx(1_000_000, abs=0.01)
    assert found.acres == pytest.approx(247.105, abs=0.0005)


def test_units() -> None:
    """1 acre = 43,560 ft²; 1 ft = 0.3048 m; 1 mile = 1,609.344 m. Source: NIST SP 811 [from memory]."""
    assert M2_PER_ACRE == pytest.approx(SQFT_PER_ACRE * M_PER_FT**2, rel=1e-15)
    assert M_PER_MILE == pytest.approx(1609.344, rel=1e-15)
    assert M2_PER_ACRE == pytest.approx(4046.873, abs=0.02)


def test_a_quarter_of_the_meridian() -> None:
    """10,001,965.729 m from equator to pole, WGS 84. Source: Karney 2013 [from memory]."""
    assert distance_m((0, 0), (0, 90)) == pytest.approx(10_001_965.729, abs=0.001)


def test_the_middle_of_a_utm_zone() -> None:
    """Zone 15 has 93° W at 500,000 m. Source: Snyder 1987, USGS Paper 1395, chapter 8 [from memory]."""
    (found,) = projection_of("EPSG:32615").to_degrees(np.array([[500_000.0, 0.0]]))
    assert found == pytest.approx((-93, 0), abs=1e-9)


def test_the_slope_of_a_printed_grid() -> None:
    """50 45 50, 30 30 30, 8 10 10 on cells of 5 give 0.05 and −3.8, 75.26 degrees.

    Source: the worked example of a common handbook of geographic information systems [from memory].
    """
    heights = np.array([[50.0, 45, 50], [30, 30, 30], [8, 10, 10]])
    east, north = (float(part[0, 0]) for part in horn(heights, 5, 5))
    assert (east, -north) == (pytest.approx(0.05), pytest.approx(-3.8))
    assert math.degrees(math.atan(math.hypot(east, north))) == pytest.approx(75.26, abs=0.005)


def test_percent_and_degrees() -> None:
    """15 % is 8.5 degrees. Source: geometry; posted worked notes give 17 % as 9.6 degrees."""
    assert from_rise(15, 100).degrees == pytest.approx(8.53, abs=0.005)
    assert from_rise(17, 100).degrees == pytest.approx(9.648, abs=0.001)
