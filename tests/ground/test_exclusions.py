"""Ground kept free: the right distance, counted once, adding up to the field."""

from __future__ import annotations

import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely import Point as ShapelyPoint

from sites.ground.errors import GroundError
from sites.ground.exclusions import Exclusion, kept_free, left_for
from sites.ground.found import Feature
from sites.ground.local import LocalPlane
from sites.ground.measuring import distance_m, measure
from sites.ground.outline import Point
from tests.ground.make import HERE, feature, line, off, outline, point, square, stars

FIELD = outline(square(1320))


def keep(shape: Feature, distance_ft: float, work: str = "spray", name: str = "the creek") -> Exclusion:
    return Exclusion(name, "water", distance_ft, frozenset({work}), shape)


def test_a_well_takes_a_circle() -> None:
    found = left_for(FIELD, "spray", [keep(point(HERE), 100, name="the well")])
    circle = math.pi * 100**2 / 43_560
    assert found.taken[0].acres == pytest.approx(circle, rel=1e-3)
    assert found.taken[0].acres >= circle
    assert found.left_acres == pytest.approx(40 - circle, rel=1e-3)
    assert found.steps[1:] == (
        f"less {found.taken[0].acres:,.3f} acres within 100 ft of the well",
        f"leaves {found.left_acres:,.3f} acres to spray",
    )


def test_a_creek_along_the_edge_takes_a_strip() -> None:
    creek = line(off(-2000, -660), off(2000, -660))
    found = left_for(FIELD, "spray", [keep(creek, 66)])
    assert found.taken[0].acres == pytest.approx(2, rel=1e-3)


def test_a_neighbours_crop_takes_what_lies_near_it_and_over_it() -> None:
    crop = feature(outline(square(1320, off(1320, 0))))
    assert left_for(FIELD, "spray", [keep(crop, 33)]).taken[0].acres == pytest.approx(1, rel=1e-3)
    assert left_for(FIELD, "spray", [keep(crop, 0)]).taken[0].acres == pytest.approx(0, abs=1e-3)
    inside = feature(outline(square(660)))
    assert left_for(FIELD, "spray", [keep(inside, 0)]).taken[0].acres == pytest.approx(10, rel=1e-4)


def test_each_kind_of_work_has_its_own_ground() -> None:
    exclusions = [keep(point(HERE), 100, "spray"), keep(point(HERE), 300, "burn")]
    spray, burn, drill = (left_for(FIELD, work, exclusions) for work in ("spray", "burn", "drill"))
    assert burn.left_acres < spray.left_acres < drill.left_acres
    assert (len(spray.taken), len(drill.taken)) == (1, 0)
    assert drill.left_acres == pytest.approx(drill.whole_acres, rel=1e-9)


@settings(max_examples=100, deadline=None)
@given(
    stars(),
    st.lists(
        st.tuples(st.floats(-3000, 3000), st.floats(-3000, 3000), st.floats(0, 1500), st.booleans()),
        max_size=5,
    ),
)
def test_parts_add_up_to_the_field(ring: list[Point], things: list[tuple[float, float, float, bool]]) -> None:
    field = outline(ring)
    exclusions = []
    for east, north, distance_ft, long in things:
        at = off(east, north, field.middle)
        shape = line(at, off(2000, 500, at)) if long else point(at)
        exclusions.append(keep(shape, distance_ft))
    found = left_for(field, "spray", exclusions)
    assert found.left_acres + sum(taken.acres for taken in found.taken) == pytest.approx(
        measure(field).acres, rel=1e-8, abs=1e-6
    )


def test_ground_in_two_exclusions_counts_once() -> None:
    twice = left_for(FIELD, "spray", [keep(point(HERE), 100), keep(point(HERE), 100)])
    assert twice.taken[1].acres == pytest.approx(0, abs=1e-9)
    assert twice.taken[1].outline is None


def test_nothing_is_left_of_a_field_by_the_water() -> None:
    found = left_for(FIELD, "spray", [keep(point(HERE), 2000)])
    assert found.left is None
    assert found.left_acres == 0


def test_no_ground_nearer_than_the_distance_is_left() -> None:
    plane = LocalPlane.of(FIELD)
    free = kept_free(keep(point(HERE), 500), plane)
    for degrees in range(360):
        turn = math.radians(degrees)
        at = off(499.99 * math.sin(turn), 499.99 * math.cos(turn))
        assert free.contains(plane.to_plane(ShapelyPoint(at))), degrees


@pytest.mark.parametrize(
    ("exclusion", "said"),
    [
        (keep(point(HERE), -1), "the creek: The distance must be from 0 to 26,400 ft"),
        (keep(point(HERE), math.nan), "the creek: The distance"),
        (keep(point((0.0, 0.0)), 10), "the creek: It lies more than 60 miles"),
        (keep(line(HERE, (87.0, -38.0)), 10), "the creek: It lies more than 60 miles"),
    ],
)
def test_an_exclusion_that_cannot_be_is_named(exclusion: Exclusion, said: str) -> None:
    with pytest.raises(GroundError, match=said):
        left_for(FIELD, "spray", [exclusion])


def test_the_flat_map_is_as_exact_as_it_says() -> None:
    plane = LocalPlane(HERE)
    for reach_ft in (1_000, 10_000, 100_000):
        across = [off(reach_ft, north) for north in (-500, 500)]
        flat = [plane.to_plane(ShapelyPoint(at)) for at in across]
        error = flat[0].distance(flat[1]) / distance_m(*across) - 1
        said = plane.error_mm_per_km(reach_ft * 0.3048) / 1e6
        assert 0 <= error + 1e-9
        assert error == pytest.approx(said, rel=0.05, abs=1e-9)
