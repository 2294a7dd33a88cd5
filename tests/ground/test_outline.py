"""Outlines: mended with words, measured the same however they are drawn, refused where in doubt."""

from __future__ import annotations

import math
import random

import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

from sites.ground.errors import GroundError
from sites.ground.measuring import measure, miles_between
from sites.ground.mending import mend
from sites.ground.outline import Point
from sites.ground.shaping import cut_hole, draw_to, split, union
from tests.ground.make import FIELD, HERE, POND, off, outline, square, stars


@settings(max_examples=150, deadline=None)
@given(stars(), st.integers(0, 23), st.booleans())
def test_area_depends_neither_on_the_first_corner_nor_on_the_direction(
    ring: list[Point], start: int, backwards: bool
) -> None:
    turned = ring[start % len(ring) :] + ring[: start % len(ring)]
    other = outline(turned[::-1] if backwards else turned)
    assert measure(other).acres == pytest.approx(measure(outline(ring)).acres, rel=1e-9)
    assert measure(other).acres > 0


@settings(max_examples=100, deadline=None)
@given(stars(), st.floats(0, math.pi))
def test_parts_of_a_split_add_up(ring: list[Point], turn: float) -> None:
    whole = outline(ring)
    east, north = 9000 * math.cos(turn), 9000 * math.sin(turn)
    parts = split(whole, [off(-east, -north, whole.middle), off(east, north, whole.middle)])
    assert len(parts) >= 2
    assert sum(measure(part).acres for part in parts) == pytest.approx(
        measure(whole).acres, rel=1e-8, abs=1e-6
    )


def test_parts_of_a_split_section_add_up() -> None:
    whole = outline(square(5280))
    parts = split(whole, [off(1000, -4000), off(900, 4000)])
    assert sum(measure(part).acres for part in parts) == pytest.approx(measure(whole).acres, abs=1e-5)


@pytest.mark.parametrize("hole", [POND, POND[::-1]])
@pytest.mark.parametrize("shell", [FIELD, FIELD[::-1]])
def test_holes_are_taken_off_however_they_are_wound(shell: list[Point], hole: list[Point]) -> None:
    whole, pond = measure(outline(FIELD)).acres, measure(outline(POND)).acres
    found = measure(outline(shell, hole))
    assert found.acres == pytest.approx(whole - pond, rel=1e-12)
    assert found.steps[1].startswith("less hole 1 of 4 corners")
    assert found.steps[-1].endswith(f"{found.acres:,.4f} acres")


def test_the_area_of_a_map_projection_would_be_too_large() -> None:
    """Web map at 38.8°: 1 / cos² = 1.65 times the ground."""
    stretched = [
        (math.radians(x) * 6378137, 6378137 * math.asinh(math.tan(math.radians(y)))) for x, y in FIELD
    ]
    plane = abs(sum(a[0] * b[1] - b[0] * a[1] for a, b in zip(stretched, stretched[1:], strict=False))) / 2
    assert plane / measure(outline(FIELD)).area_m2 == pytest.approx(1.65, abs=0.01)


@pytest.mark.parametrize(
    ("polygons", "said"),
    [
        ([[FIELD[:-1]]], "1 ring was not closed"),
        ([[FIELD[:2] + FIELD[1:]]], "1 doubled corner was dropped"),
        ([[FIELD], [POND]], "Parts lie over each other"),
        ([[square(600)], [square(600, off(600, 0))]], "Parts that share an edge were joined"),
        ([[FIELD, square(400, FIELD[0])]], "acres of holes lie outside"),
        ([[FIELD], [square(2, off(9000, 0))]], "1 sliver was dropped"),
        ([[square(600) + [off(-300, 0), off(-305, 0), off(-300, 2)]]], "small loops were taken off"),
    ],
)
def test_what_was_mended_is_said(polygons: list[list[list[Point]]], said: str) -> None:
    found, repairs = mend(polygons)
    assert any(said in repair for repair in repairs), repairs
    assert measure(found).acres > 0


def test_an_edge_that_touches_itself_keeps_its_area() -> None:
    """A shell that runs in to a hole and back at one corner, as shapefiles often have it."""
    ring = square(600)[:4]
    inner = [off(-300, -300), off(-100, 100), off(100, 100), off(100, -100)]
    found, repairs = mend([[[*ring, *inner]]])
    expected = measure(outline(ring)).acres - measure(outline(inner)).acres
    assert measure(found).acres == pytest.approx(expected, rel=1e-6)
    assert "touches itself" in " ".join(repairs)


BOW_TIE = [FIELD[0], FIELD[2], FIELD[1], FIELD[3]]


@pytest.mark.parametrize(
    ("polygons", "said"),
    [
        ([[BOW_TIE]], "crosses itself near 38.822000, -92.217500 and leaves 11.91 and 11.91 acres in doubt"),
        ([], "It holds no ring"),
        ([[]], "It holds no ring"),
        ([[[]]], "fewer than three corners"),
        ([[FIELD[:2]]], "fewer than three corners"),
        ([[[HERE, off(100, 0), HERE, off(100, 0)]]], "fewer than three corners|runs back over itself"),
        ([[[HERE, off(100, 0), off(200, 0)]]], "runs back over itself|less than a square metre"),
        ([[square(2)]], "less than a square metre"),
        ([[[(0, 0), (1, 0), (math.nan, 1)]]], "not a number"),
        ([[[(0, 0), (1, 0), (1, math.inf)]]], "not a number"),
        ([[[(y, x) for x, y in FIELD]]], "A latitude of -92.22 cannot be"),
        ([[[(0, 85), (90, 85), (180, 85), (270, 85)]]], "It goes round a pole"),
        ([[[(0, 89.5), (1, 89.5), (1, 89.9)]]], "It lies at a pole"),
        ([[[(400, 10), (401, 10), (401, 11)]]], "beyond 360 degrees"),
    ],
)
def test_what_is_in_doubt_is_refused(polygons: list[list[list[Point]]], said: str) -> None:
    with pytest.raises(GroundError, match=said.replace("(", r"\(")):
        mend(polygons)


def test_a_field_over_the_180th_meridian_is_whole() -> None:
    here = square(2640, (180, 52))
    there = square(2640, (0, 52))
    assert {math.copysign(1, x) for x, _ in here} == {-1, 1}
    assert measure(outline(here)).acres == pytest.approx(measure(outline(there)).acres, rel=1e-9)
    west, _, east, _ = outline(here).bounds
    assert east - west < 0.1
    parts = split(outline(here), [off(-5000, 0, (180, 52)), off(5000, 0, (180, 52))])
    assert sum(measure(part).acres for part in parts) == pytest.approx(160, rel=1e-3)


def test_two_halves_at_the_180th_meridian_are_one_field() -> None:
    west = [(179.99, 10), (180, 10), (180, 10.01), (179.99, 10.01)]
    east = [(-180, 10), (-179.99, 10), (-179.99, 10.01), (-180, 10.01)]
    found, _ = mend([[west], [east]])
    assert len(found.parts) == 1
    assert measure(found).acres == pytest.approx(2 * measure(outline(west)).acres, rel=1e-9)


CHANCE = random.Random(5)


@pytest.mark.parametrize(
    ("cut", "said"),
    [
        ([off(-9000, 0)], "two points"),
        ([off(-9000, 0), off(0, 0)], "divides nothing"),
        ([off(0, 0), off(0, 0)], "divides nothing"),
        ([off(0, 0), (math.nan, 0.0)], "60 miles"),
        ([off(CHANCE.random() * 1000, CHANCE.random() * 1000) for _ in range(600)], "cross all over"),
        ([off(-9000, 5000), off(9000, 5000)], "divides nothing"),
        ([off(-9000, 0), (90.0, 0.0)], "60 miles"),
    ],
)
def test_a_line_that_divides_nothing_is_refused(cut: list[Point], said: str) -> None:
    with pytest.raises(GroundError, match=said):
        split(outline(square(1000)), cut)


def test_a_hole_is_cut_and_one_outside_is_refused() -> None:
    field, pond = outline(square(1320)), outline(square(200))
    found = measure(cut_hole(field, pond)).acres
    assert found == pytest.approx(measure(field).acres - measure(pond).acres, abs=1e-6)
    with pytest.raises(GroundError, match="outside the field"):
        cut_hole(field, outline(square(200, off(5000, 0))))
    with pytest.raises(GroundError, match="covers the whole field"):
        cut_hole(pond, field)


def test_neighbours_join_and_ground_in_both_counts_once() -> None:
    left, right = outline(square(1000)), outline(square(1000, off(800, 0)))
    whole = union([left, right])
    assert len(whole.parts) == 1
    assert measure(whole).acres == pytest.approx(1800 * 1000 / 43_560, rel=1e-4)
    with pytest.raises(GroundError, match="no outline to join"):
        union([])


TOUCHING = [
    *((0.005738984210648248, 0.0), (0.001852300964975474, 0.0032299015666920985)),
    *((-0.005220120939424745, 0.009102449858015057), (-0.00013690324929981507, 0.0)),
    *((-0.002610744969604617, -0.004552418541427598), (0.0013668078159800852, -0.0023833355335694277)),
]
"""What is left of it beside its double touches itself once it is laid flat."""


@settings(max_examples=100, deadline=None)
@example(TOUCHING, 0.0, 0.0, 2.0, 0.0)
@given(stars(), st.floats(-1, 1), st.floats(-1, 1), st.floats(0.2, 2), st.floats(0, 60))
def test_joined_cut_and_drawn_outlines_agree(
    ring: list[Point], east: float, north: float, size: float, within_ft: float
) -> None:
    """Together they hold what the second holds and what is left of the first without it."""
    first = outline(ring)
    x, y = ring[0]
    moved = [((px - x) * size + x + east / 100, (py - y) * size + y + north / 100) for px, py in ring]
    second = outline(moved)
    together = measure(union([first, second])).acres
    try:
        left = measure(cut_hole(first, second)).acres
        drawn = draw_to(first, second, within_ft).outline
    except GroundError as refused:
        assert refused.words.startswith(("The hole", "The neighbor covers"))
        return
    assert left + measure(second).acres == pytest.approx(together, rel=1e-6, abs=1e-3)
    if within_ft == 0:
        assert measure(drawn).acres == pytest.approx(left, rel=1e-6, abs=1e-3)
    both = union([drawn, second])
    parts = measure(drawn).acres + measure(second).acres
    assert measure(both).acres == pytest.approx(parts, rel=1e-6, abs=1e-3)


def test_an_outline_is_drawn_to_its_neighbour() -> None:
    """A gap of 6 ft on one end and an overlap of 6 ft on the other, both closed."""
    neighbour = outline(square(1000))
    drawn = outline([off(506, -500), off(1500, -500), off(1500, 500), off(494, 500)])
    found = draw_to(drawn, neighbour, within_ft=10)
    # The other corner lies on the neighbour's edge; what overlaps is cut off.
    assert found.corners == 1
    assert found.farthest_ft == pytest.approx(6, abs=0.01)
    together = union([found.outline, neighbour])
    assert measure(together).acres == pytest.approx(2000 * 1000 / 43_560, rel=1e-4)
    parts = measure(found.outline).acres + measure(neighbour).acres
    assert measure(together).acres == pytest.approx(parts, abs=1e-6)
    assert draw_to(drawn, outline(square(100, off(-9000, 0))), within_ft=10).corners == 0


def test_a_mile_is_a_mile() -> None:
    assert miles_between(HERE, off(5280, 0)) == pytest.approx(1, rel=1e-9)
