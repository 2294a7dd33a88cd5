"""Corners as a person types them: read, refused with the line, and written so that they read back."""

from __future__ import annotations

import pytest

from sites.ground.errors import GroundError
from sites.ground.measuring import measure
from sites.ground.typed import doubt_of_place, outline_of_rings, read_corners, rings_of, written

HERE = (-92.3341, 38.9512)


@pytest.mark.parametrize(
    "line",
    [
        "38.9512, -92.3341",
        "38.9512 -92.3341",
        "38.9512 N, 92.3341 W",
        "N38.9512 W92.3341",
        "38° 57.072′ N  92° 20.046′ W",
        "38 57 04.32 N, 92 20 02.76 W",
        "38°57'04.32\"n; 92°20'02.76\"w",
        "38 57 4.32, −92 20 2.76",
    ],
)
def test_one_corner_in_every_way_of_writing_it(line: str) -> None:
    ((corner,),) = read_corners(line, latitude_first=True)
    assert corner == pytest.approx(HERE, abs=1e-9)


def test_the_order_is_the_one_that_was_stated() -> None:
    assert read_corners("-92.3341, 38.9512", latitude_first=False) == ((HERE,),)
    assert read_corners("92.3341 W, 38.9512 N", latitude_first=False) == ((HERE,),)


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("", "No corner is given"),
        ("38.9, -92.3\nby the old oak", "line 2: “by the old oak” is no corner"),
        ("38.9", "line 1: It holds 1 numbers"),
        ("38.9, -92.3, 120", "It holds 3 numbers"),
        ("-92.3, 38.9", "A latitude of -92.3 cannot be. If longitude stands first, choose that order."),
        ("38.9, -192.3", "A longitude of -192.3 cannot be"),
        ("38 61 00 N, 92 00 00 W", "61 cannot be minutes"),
        ("38.5 30 N, 92 00 W", "Only the last part of an angle may have decimals"),
        ("38.9 N, 92.3 N", "N or S to the one angle and E or W to the other"),
        ("-38.9 S, 92.3 W", "a letter and a minus"),
        ("92.3 W, 38.9 N", "By its letters longitude stands first"),
    ],
)
def test_what_cannot_be_read_is_named_with_its_line(text: str, said: str) -> None:
    with pytest.raises(GroundError) as refused:
        read_corners(text, latitude_first=True)
    assert said in str(refused.value)


def test_an_empty_line_begins_a_hole_and_an_outline_reads_back_as_it_was() -> None:
    text = "0,0\n0,0.01\n0.01,0.01\n0.01,0\n\n0.002,0.002\n0.002,0.004\n0.004,0.004\n0.004,0.002"
    outline, mended = outline_of_rings(read_corners(text, latitude_first=True))
    assert mended == () and len(outline.parts[0].holes) == 1
    for first in (True, False):
        again = read_corners(written(rings_of(outline), latitude_first=first), latitude_first=first)
        assert outline_of_rings(again)[0] == outline
    with pytest.raises(GroundError, match="fewer than three corners"):
        outline_of_rings(read_corners("0,0\n0,1", latitude_first=True))


def test_a_drawing_loses_no_acres_on_its_way_through_text() -> None:
    """Nine decimals are a tenth of a millimetre: less than a hundredth of a square foot on 40 acres."""
    ring = tuple((-92.3 + 0.0040123456789 * x, 38.9 + 0.0036987654321 * y) for x, y in
                 ((0.11, 0.03), (1.07, -0.04), (0.93, 1.01), (0.02, 0.98)))  # fmt: skip
    exact, _ = outline_of_rings([ring])
    typed, _ = outline_of_rings(read_corners(written([ring], latitude_first=True), latitude_first=True))
    assert measure(typed).area_m2 == pytest.approx(measure(exact).area_m2, abs=0.1)


@pytest.mark.parametrize(
    ("point", "said"),
    [
        (HERE, ""),
        ((38.9512, -92.3341 + 90), "miles from the farm"),
        ((92.3341, 38.9512), "with the longitude west"),
        ((-93.6, 38.95), "miles from the farm"),
    ],
)
def test_what_lies_far_from_the_farm_is_doubted(point: tuple[float, float], said: str) -> None:
    found = doubt_of_place(point, (-92.3, 38.9))
    assert said in found and bool(said) == bool(found)
    assert doubt_of_place(point, None) == ""


def test_swapped_numbers_are_recognised_by_where_the_farm_lies() -> None:
    assert "other order" in doubt_of_place((38.9, -80.0), (-80.0, 38.9))
