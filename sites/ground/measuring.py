"""Area, perimeter and distance on the WGS 84 ellipsoid.

Edges are geodesics. Between the corners of a field they lie within centimetres of a map's straight lines.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from pyproj import Geod
from shapely.geometry.base import BaseGeometry

from sites.ground.outline import Outline, Part, Point, polygons_of
from sites.ground.units import M2_PER_ACRE, M_PER_FT, M_PER_MILE

SOURCE = "Karney 2013, Algorithms for geodesics, Journal of Geodesy 87:43-55, on the WGS 84 ellipsoid"
HOLES_NAMED = 6
"""A working names each hole up to this many, and sums them beyond."""
_GEOD = Geod(ellps="WGS84")


@dataclass(frozen=True, slots=True)
class Measured:
    """Area [acres, m²] without holes, length of the outer edges [m], and the working line by line."""

    acres: float
    area_m2: float
    perimeter_m: float
    steps: tuple[str, ...]
    source: str = SOURCE

    @property
    def perimeter_ft(self) -> float:
        return self.perimeter_m / M_PER_FT


def ring_m2_and_m(points: Sequence[Point]) -> tuple[float, float]:
    """Area [m²] and perimeter [m] of one ring, the area never negative however the ring is wound."""
    corners = np.asarray(points, dtype=float)
    area, perimeter = _GEOD.polygon_area_perimeter(corners[:, 0], corners[:, 1])
    return abs(area), perimeter


def acres_of(geometry: BaseGeometry) -> float:
    """Geodesic acres of a valid geometry in longitude and latitude; zero where it has no area."""
    square_metres = 0.0
    for polygon in polygons_of(geometry):
        holes = sum(ring_m2_and_m(hole.coords)[0] for hole in polygon.interiors)
        square_metres += ring_m2_and_m(polygon.exterior.coords)[0] - holes
    return square_metres / M2_PER_ACRE


def measure(outline: Outline) -> Measured:
    """Every outer ring less its holes, whichever way they are wound. Source: Karney 2013."""
    square_metres = perimeter_m = 0.0
    steps: list[str] = []
    for number, part in enumerate(outline.parts, start=1):
        name = f"Part {number}" if len(outline.parts) > 1 else "The outline"
        area, around = ring_m2_and_m(part.shell)
        steps.append(f"{name}: {len(part.shell) - 1:,} corners hold {area:,.1f} m²")
        holes = [ring_m2_and_m(hole)[0] for hole in part.holes]
        steps += _holes(part, holes)
        square_metres += area - sum(holes)
        perimeter_m += around
    acres = square_metres / M2_PER_ACRE
    steps.append(f"{square_metres:,.1f} m² / {M2_PER_ACRE:,} m² an acre = {acres:,.4f} acres")
    return Measured(acres, square_metres, perimeter_m, tuple(steps))


def _holes(part: Part, areas_m2: Sequence[float]) -> list[str]:
    if len(areas_m2) > HOLES_NAMED:
        return [f"less {len(areas_m2)} holes, together {sum(areas_m2):,.1f} m²"]
    return [
        f"less hole {number} of {len(hole) - 1:,} corners, {area:,.1f} m²"
        for number, (hole, area) in enumerate(zip(part.holes, areas_m2, strict=True), start=1)
    ]


def distance_m(start: Point, end: Point) -> float:
    """Geodesic distance of two points [m]. Source: Karney 2013."""
    return float(_GEOD.inv(*start, *end)[2])


def miles_between(start: Point, end: Point) -> float:
    return distance_m(start, end) / M_PER_MILE


def azimuth_deg(start: Point, end: Point) -> float:
    """The way from one point to another, clockwise from north [degrees, 0 to 360]. Source: Karney 2013."""
    return float(_GEOD.inv(*start, *end)[0]) % 360


def distances_m(points: Sequence[Point]) -> list[float]:
    """How far each point lies along a walk from the first [m]. Source: Karney 2013."""
    walked = [0.0]
    if len(points) > 1:
        longitudes, latitudes = zip(*points, strict=True)
        for length in _GEOD.line_lengths(longitudes, latitudes):
            walked.append(walked[-1] + length)
    return walked
