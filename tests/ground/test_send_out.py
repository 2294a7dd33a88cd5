"""What is sent out comes back with the same acres, and its names stay text."""

from __future__ import annotations

import json
from collections.abc import Callable
from xml.etree import ElementTree

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from sites.ground.bring_in import bring_in
from sites.ground.found import Feature
from sites.ground.mending import mend
from sites.ground.outline import Point
from sites.ground.send_out import to_geojson, to_gpx, to_kml
from sites.ground.shaping import cut_hole
from tests.ground.make import FIELD, POND, feature, off, outline, square, stars

WAYS = {"a.geojson": to_geojson, "a.kml": to_kml, "a.gpx": to_gpx}
Way = Callable[[list[Feature]], bytes]


@pytest.mark.parametrize("way", WAYS.values(), ids=WAYS)
@settings(max_examples=60, deadline=None)
@given(ring=stars(), name=st.text(max_size=20))
def test_the_acres_come_back(way: Way, ring: list[Point], name: str) -> None:
    sent = feature(outline(ring), name)
    (found,) = bring_in("a", way([sent])).features
    assert found.acres == pytest.approx(sent.acres, rel=1e-9)


@pytest.mark.parametrize(("name", "way"), WAYS.items())
def test_holes_and_parts_come_back(name: str, way: Way) -> None:
    two = mend([[FIELD, POND], [square(600, off(9000, 0))]])[0]
    sent = feature(cut_hole(two, outline(square(100, off(9000, 0)))))
    found = bring_in(name, way([sent]))
    assert found.acres == pytest.approx(sent.acres, rel=1e-9)
    assert [(item.kind, item.name, len(item.outline.parts)) for item in found.features if item.outline] == [
        ("polygon", "North field", 2)
    ]
    assert not found.repairs and not found.features[0].repairs and not found.problems


@pytest.mark.parametrize(("name", "way"), WAYS.items())
def test_lines_and_points_come_back(name: str, way: Way) -> None:
    lane = Feature("Lane", "line", points=((-92.0, 38.0), (-92.1, 38.1)), heights_m=(200.5, None))
    well = Feature("Well", "point", points=((-92.0, 38.5),), heights_m=(210.0,))
    found = bring_in(name, way([lane, well]))
    assert sorted(found.features, key=lambda item: item.name) == [lane, well]


@pytest.mark.parametrize(("name", "way"), WAYS.items())
def test_a_field_over_the_180th_meridian_is_cut_and_comes_back(name: str, way: Way) -> None:
    sent = feature(outline(square(2640, (180, 52))))
    data = way([sent])
    found = bring_in(name, data)
    assert found.acres == pytest.approx(sent.acres, rel=1e-7)
    if name.endswith("geojson"):
        parts = json.loads(data)["features"][0]["geometry"]["coordinates"]
        assert len(parts) == 2
        assert all(-180 <= x <= 180 for part in parts for ring in part for x, _ in ring)


def test_geojson_is_wound_as_the_rule_says() -> None:
    """RFC 7946, 3.1.6: outer rings counter-clockwise, holes clockwise, the first corner again at the end."""
    data = json.loads(to_geojson([feature(outline(FIELD[::-1], POND))]))
    shell, hole = data["features"][0]["geometry"]["coordinates"]

    def twice_area(ring: list[Point]) -> float:
        return sum(a[0] * b[1] - b[0] * a[1] for a, b in zip(ring, ring[1:], strict=False))

    assert twice_area(shell) > 0 > twice_area(hole)
    assert shell[0] == shell[-1] and hole[0] == hole[-1]


@pytest.mark.parametrize("way", WAYS.values(), ids=WAYS)
@pytest.mark.parametrize("name", ["A & B <b>", '"><script>x</script>', "]]>", "王\x00\x1b\ud800"])
def test_names_are_text(way: Way, name: str) -> None:
    (found,) = bring_in("a", way([feature(outline(FIELD), name)])).features
    assert found.name == name.rstrip("\x00\x1b\ud800")


@pytest.mark.parametrize("way", [to_kml, to_gpx])
def test_xml_is_declared_and_in_its_namespace(way: Way) -> None:
    data = way([feature(outline(FIELD))])
    assert data.startswith(b"<?xml version='1.0' encoding='UTF-8'?>")
    assert ElementTree.fromstring(data).tag in (
        "{http://www.opengis.net/kml/2.2}kml",
        "{http://www.topografix.com/GPX/1/1}gpx",
    )
