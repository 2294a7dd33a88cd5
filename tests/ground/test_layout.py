"""Acres by kind, a layout against what is asked, and what lies downwind of a stand."""

from __future__ import annotations

import math

import pytest
from pyproj import Geod

from sites.ground.downwind import bearing_deg, clear_winds, cone, downwind
from sites.ground.errors import GroundError
from sites.ground.found import Feature
from sites.ground.layout import Asked, Piece, against, lay_out
from sites.ground.outline import Outline, Part, Point
from sites.ground.slope import WINDS

MIDDLE: Point = (-92.48, 38.91)
GEOD = Geod(ellps="WGS84")
ACRE_FT = math.sqrt(43_560)
HALF_ANGLE_DEG, REACH_FT = 22.5, 1320.0


def off(east_ft: float, north_ft: float) -> Point:
    """The point so far from the middle, measured on the ellipsoid."""
    azimuth = math.degrees(math.atan2(east_ft, north_ft))
    longitude, latitude, _ = GEOD.fwd(*MIDDLE, azimuth, math.hypot(east_ft, north_ft) * 0.3048)
    return longitude, latitude


def square(east_ft: float, north_ft: float, side_ft: float = ACRE_FT) -> Outline:
    h = side_ft / 2
    ring = [off(east_ft + x, north_ft + y) for x, y in ((-h, -h), (h, -h), (h, h), (-h, h), (-h, -h))]
    return Outline((Part(tuple(ring)),))


def place(name: str, east_ft: float, north_ft: float, side_ft: float = ACRE_FT) -> Feature:
    return Feature(name, "polygon", outline=square(east_ft, north_ft, side_ft))


STAND = Feature("Oak", "point", points=(MIDDLE,))


def test_acres_by_kind_count_overlaps_once_and_add_up() -> None:
    pieces = [
        Piece("plot", "Inside", square(0, 0)),
        Piece("plot", "On top of it", square(0, 0)),
        Piece("bedding", "Beside", square(5000, 0)),
        Piece("stand", "Oak", None),
    ]
    layout = lay_out([square(0, 0, 4 * ACRE_FT)], 3.0, pieces)
    assert layout.whole_acres == pytest.approx(16 + 3 + 1, rel=1e-4)
    assert layout.free_acres == pytest.approx(15 + 3, rel=1e-4)
    plot, bedding, oak = layout.kinds
    assert (plot.drawn, plot.outlined) == (2, 2) and plot.acres == pytest.approx(1, rel=1e-4)
    assert plot.share_pct == pytest.approx(5, rel=1e-4)
    assert "less 1.00 acres that lie in two of them" in plot.steps
    assert bedding.acres == pytest.approx(1, rel=1e-3)
    assert (oak.drawn, oak.outlined, oak.acres) == (1, 0, 0)
    assert layout.steps[-1] == "together 20.00 acres"


def test_a_farm_without_anything_is_empty() -> None:
    layout = lay_out([], 0, [])
    assert (layout.whole_acres, layout.kinds) == (0, ())
    assert against(layout, Asked(("plot",), 1, 5)).short_acres == 0


@pytest.mark.parametrize(
    ("low", "high", "short", "over"), [(1, 5, 0, 0), (10, 20, 1, 0), (0, 2.5, 0, 0.5), (4.9, 5.1, 0, 0)]
)
def test_what_is_short_or_too_much(low: float, high: float, short: float, over: float) -> None:
    layout = lay_out([square(0, 0, math.sqrt(20) * ACRE_FT)], 0, [Piece("plot", "One", square(0, 0))])
    found = against(layout, Asked(("plot", "trees"), low, high))
    assert found.short_acres == pytest.approx(short, abs=1e-3)
    assert found.over_acres == pytest.approx(over, abs=1e-3)


@pytest.mark.parametrize(("comes_from", "blows_deg"), [("north", 180), ("northwest", 135), ("south", 0)])
def test_a_wind_blows_away_from_where_it_comes(comes_from: str, blows_deg: float) -> None:
    assert bearing_deg(comes_from) == blows_deg


@pytest.mark.parametrize("comes_from", WINDS)
def test_scent_goes_downwind_and_nowhere_else(comes_from: str) -> None:
    places = []
    for number, name in enumerate(WINDS):
        angle = math.radians(45 * number)
        places.append(place(name, 700 * math.sin(angle), 700 * math.cos(angle), 30))
    reached = downwind(STAND, comes_from, places, HALF_ANGLE_DEG, REACH_FT).reached
    assert [row.name for row in reached] == [WINDS[(WINDS.index(comes_from) + 4) % 8]]
    assert reached[0].share_pct == pytest.approx(100)
    assert 675 < reached[0].nearest_ft < 690


def test_a_place_beyond_the_reach_is_clear_and_one_across_its_end_is_reached_in_part() -> None:
    south = [place("far", 0, -1500), place("across", 0, -1320), place("near", 0, -300, 50)]
    found = downwind(STAND, "north", south, HALF_ANGLE_DEG, REACH_FT)
    assert [row.name for row in found.reached] == ["near", "across"]
    assert found.reached[1].share_pct == pytest.approx(50, abs=2)
    assert any("near" in step and "acres" in step for step in found.steps)


def test_the_cone_has_the_area_of_its_sector() -> None:
    sector = cone((0, 0), 180, HALF_ANGLE_DEG, 400)
    assert sector.area == pytest.approx(math.pi * 400**2 * 45 / 360, rel=1e-3)
    assert sector.area >= math.pi * 400**2 * 45 / 360


def test_the_winds_that_keep_a_stand_clear() -> None:
    clear = clear_winds(STAND, [place("bedding", 0, -400, 60)], HALF_ANGLE_DEG, REACH_FT)
    assert clear == tuple(wind for wind in WINDS if wind != "north")
    assert clear_winds(STAND, [], HALF_ANGLE_DEG, REACH_FT) == WINDS


def test_a_way_leaves_scent_all_along_it() -> None:
    bedding = [place("bedding", 1000, -600, 100)]
    assert not downwind(STAND, "north", bedding, HALF_ANGLE_DEG, REACH_FT).reached
    way = Feature("Path", "line", points=(MIDDLE, off(2000, 0)))
    (reached,) = downwind(way, "north", bedding, HALF_ANGLE_DEG, REACH_FT).reached
    assert reached.share_pct == pytest.approx(100)
    assert reached.nearest_ft == pytest.approx(550, abs=5)


def test_what_cannot_be_is_refused_in_words() -> None:
    with pytest.raises(GroundError, match="A stand is a point"):
        downwind(place("Oak", 0, 0), "north", [], HALF_ANGLE_DEG, REACH_FT)
    with pytest.raises(GroundError, match="60 miles"):
        downwind(STAND, "north", [place("abroad", 5e6, 0)], HALF_ANGLE_DEG, REACH_FT)
    with pytest.raises(GroundError, match="opens"):
        cone((0, 0), 0, 0, 400)
