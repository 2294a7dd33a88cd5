"""What lies downwind of a stand or of the way to it: where the scent of a person goes.

A cone on the flat map about the stand: it opens away from where the wind comes from, by half an angle on
each side, and ends at a reach. Both are of the trade and are said with the answer; hollows, trees and the
cooling of the evening bend the true one.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from shapely import LineString, Point, Polygon, intersection, unary_union
from shapely.geometry.base import BaseGeometry

from sites.ground.errors import GroundError
from sites.ground.found import Feature, geometry_of
from sites.ground.local import GRID_M, LocalPlane
from sites.ground.measuring import acres_of
from sites.ground.outline import areal
from sites.ground.slope import WINDS, wind
from sites.ground.units import M_PER_FT

ARC_STEPS = 24
"""Chords of the far edge of a cone."""
STRIDE_FT = 100.0
"""A way is walked in steps of this; each leaves its own cone."""
METHOD = "a cone on an azimuthal equidistant map about the stand"


@dataclass(frozen=True, slots=True)
class Reached:
    """A place that the scent reaches: how much of it [acres, % of it], and how near it begins [ft]."""

    name: str
    acres: float
    share_pct: float
    nearest_ft: float


@dataclass(frozen=True, slots=True)
class Downwind:
    """A stand or way under one wind: what is reached, the nearest first, and the working."""

    name: str
    comes_from: str
    reached: tuple[Reached, ...]
    steps: tuple[str, ...]


def bearing_deg(comes_from: str) -> float:
    """The way a wind blows, clockwise from north [degrees]: from the north it blows south, 180."""
    return (WINDS.index(comes_from) * 45 + 180) % 360


def cone(point: tuple[float, float], blows_deg: float, half_angle_deg: float, reach_m: float) -> Polygon:
    """The sector downwind of a point [m east, m north]. Raises GroundError. Source: geometry."""
    if not 0 < half_angle_deg < 180 or not 0 < reach_m:
        raise GroundError("A cone opens by 0 to 180 degrees on each side, and reaches farther than 0.")
    east, north = point
    angles = [
        math.radians(blows_deg + half_angle_deg * (2 * step / ARC_STEPS - 1)) for step in range(ARC_STEPS + 1)
    ]
    # Out to where the chords touch the arc, so that what lies at the reach is never left out.
    radius = reach_m / math.cos(math.radians(half_angle_deg / ARC_STEPS))
    far = [(east + radius * math.sin(angle), north + radius * math.cos(angle)) for angle in angles]
    return Polygon([point, *far])


def downwind(
    stand: Feature,
    comes_from: str,
    places: Sequence[Feature],
    half_angle_deg: float,
    reach_ft: float,
) -> Downwind:
    """Which of `places` lie in the scent of a stand (a point) or of a way to it (a line).

    Raises GroundError for a stand with an outline, or a place too far off to be drawn on one map.
    Source: geometry; `half_angle_deg` and `reach_ft` are the caller's.
    """
    plane = _plane_about(stand)
    blows_deg = bearing_deg(comes_from)
    scent = _scent(stand, plane, blows_deg, half_angle_deg, reach_ft)
    source = _line(stand, plane)
    reached = []
    for place in places:
        ground = plane.to_plane(geometry_of(place))
        inside = intersection(ground, scent, grid_size=GRID_M)
        if inside.is_empty:
            continue
        there, whole = (acres_of(plane.to_earth(areal(part))) for part in (inside, ground))
        share_pct = 100 * there / whole if whole else 100.0
        reached.append(Reached(place.name, there, share_pct, source.distance(inside) / M_PER_FT))
    reached.sort(key=lambda row: (row.nearest_ft, row.name))
    steps = (
        f"A wind from the {comes_from} blows to the {wind(blows_deg)}, {blows_deg:.0f}° from north",
        f"the cone opens by {half_angle_deg:g}° on each side and reaches {reach_ft:,.0f} ft",
        *(
            f"{row.name}: {row.acres:,.2f} acres of it in the cone, {row.share_pct:.0f} %, from "
            f"{row.nearest_ft:,.0f} ft on"
            for row in reached
        ),
    )
    return Downwind(stand.name, comes_from, tuple(reached), steps)


def clear_winds(
    stand: Feature, places: Sequence[Feature], half_angle_deg: float, reach_ft: float
) -> tuple[str, ...]:
    """The winds, of eight, under which a stand or way reaches none of `places`. Raises GroundError."""
    plane = _plane_about(stand)
    grounds = unary_union([plane.to_plane(geometry_of(place)) for place in places])
    return tuple(
        comes_from
        for comes_from in WINDS
        if not _scent(stand, plane, bearing_deg(comes_from), half_angle_deg, reach_ft).intersects(grounds)
    )


def _plane_about(stand: Feature) -> LocalPlane:
    if not stand.points:
        raise GroundError("A stand is a point and a way to it a line. Draw it so.", stand.name)
    return LocalPlane(stand.points[0])


def _scent(
    stand: Feature, plane: LocalPlane, blows_deg: float, half_angle_deg: float, reach_ft: float
) -> BaseGeometry:
    """The ground that the scent reaches [m on `plane`]."""
    reach_m = reach_ft * M_PER_FT
    return unary_union([cone(point, blows_deg, half_angle_deg, reach_m) for point in _stations(stand, plane)])


def _stations(stand: Feature, plane: LocalPlane) -> list[tuple[float, float]]:
    """Where the scent starts [m]: the point, or the way in steps."""
    line = _line(stand, plane)
    if line.length == 0:
        return [(line.centroid.x, line.centroid.y)]
    strides = max(1, math.ceil(line.length / (STRIDE_FT * M_PER_FT)))
    points = [line.interpolate(step / strides, normalized=True) for step in range(strides + 1)]
    return [(point.x, point.y) for point in points]


def _line(stand: Feature, plane: LocalPlane) -> BaseGeometry:
    metres = plane.metres(stand.points)
    return Point(metres[0]) if len(metres) == 1 else LineString(metres)
