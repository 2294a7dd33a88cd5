"""An outline of 50,000 corners brought in from each format, beside pyproj alone on the same corners."""

from __future__ import annotations

import json
import math
from xml.etree import ElementTree

from pyproj import Geod

from sites.ground.bring_in import bring_in
from sites.ground.exclusions import Exclusion, left_for
from sites.ground.found import MOST_CORNERS, Feature
from sites.ground.measuring import measure
from sites.ground.mending import mend
from sites.ground.outline import Point
from sites.ground.send_out import to_geojson, to_gpx, to_kml
from sites.ground.units import M2_PER_ACRE
from tests.bench.timing import floor, measured, median, said, verdict

MIDDLE: Point = (-92.2, 38.8)
CORNERS = MOST_CORNERS - 1


def wavy(corners: int) -> list[Point]:
    """A sound ring of that many corners, about a mile across."""
    ring = []
    for at in range(corners):
        turn = 2 * math.pi * at / corners
        reach = 0.006 + 0.001 * math.sin(40 * turn)
        ring.append((MIDDLE[0] + reach * math.cos(turn), MIDDLE[1] + reach * math.sin(turn)))
    return ring


def run() -> None:
    ring = wavy(CORNERS)
    outline, _ = mend([[ring]])
    feature = Feature("Field", "polygon", outline, measure(outline))
    geod = Geod(ellps="WGS84")
    longitudes, latitudes = zip(*ring, strict=True)

    def by_pyproj() -> float:
        return abs(geod.polygon_area_perimeter(longitudes, latitudes)[0]) / M2_PER_ACRE

    bare = median(by_pyproj, 15)
    for name, data, parse in (
        ("field.geojson", to_geojson([feature]), json.loads),
        ("field.kml", to_kml([feature]), ElementTree.fromstring),
        ("field.gpx", to_gpx([feature]), ElementTree.fromstring),
    ):
        took = median(lambda name=name, data=data: bring_in(name, data, expected=MIDDLE), 7)
        target = f"target: under 30 times pyproj: {verdict(took < 30 * bare)}"
        measured(f"{name} of {CORNERS:,} corners, {len(data) / 1e6:.1f} MB", took, target)
        floor("pyproj alone on the same corners", bare, took)
        floor("the same, and the bare parser of the file", bare + median(lambda: parse(data), 7), took)  # noqa: B023
        apart = abs(bring_in(name, data).acres - by_pyproj())
        said(f"its area and that of pyproj: {apart:.0e} of {by_pyproj():,.1f} acres apart")
    small = mend([[wavy(200)]])[0]
    line = Feature("", "line", points=tuple(wavy(200)))
    creek = Exclusion("creek", "water", 100, frozenset({"spray"}), line)
    took = median(lambda: left_for(small, "spray", [creek]), 15)
    measured("A field of 200 corners kept 100 ft off a creek", took)
    floor("its area alone", median(lambda: measure(small), 15), took)
