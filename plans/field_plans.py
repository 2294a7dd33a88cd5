"""The field plan from outlines on the earth: what `documents.field_plan` draws, in feet about the field."""

from __future__ import annotations

import math
from collections.abc import Sequence

from shapely import LineString, MultiPoint, Point, get_coordinates
from shapely.geometry.base import BaseGeometry

from plans.documents.field_plan import Beside, Corner, Fall, FieldPlan, KeptFree, Shape
from sites.ground.exclusions import Left
from sites.ground.found import Feature
from sites.ground.local import LocalPlane
from sites.ground.outline import Outline, polygons_of, to_geometry
from sites.ground.outline import Point as Place
from sites.ground.slope import WINDS, Slope
from sites.ground.units import M_PER_FT


def field_plan_of(
    name: str,
    outline: Outline,
    left: Left,
    *,
    beside: Sequence[Beside] = (),
    steepest: Slope | None = None,
    faces: str = "",
    access: Place | None = None,
) -> FieldPlan:
    """A field and what is left of it for one kind of work. `faces` is the side it falls to, as in `WINDS`."""
    feet = _Feet(outline)
    field = feet.polygons(outline)
    # Northwest, unless the way in is known: then far from it, so that neither hides the other.
    corner = max(outline.parts[0].shell, key=lambda at: math.dist(at, access) if access else at[1] - at[0])
    fall = Fall(str(steepest), 45.0 * WINDS.index(faces)) if steepest and faces in WINDS else None
    return FieldPlan(
        name,
        left.work,
        left.whole_acres,
        left.left_acres,
        field,
        Corner(feet.point(corner), (corner[0] + 180) % 360 - 180, corner[1]),
        tuple(
            KeptFree(
                taken.exclusion.name,
                taken.exclusion.reason,
                taken.exclusion.distance_ft,
                taken.acres,
                feet.thing(taken.exclusion.shape),
                feet.polygons(taken.outline) if taken.outline else None,
            )
            for taken in left.taken
        ),
        tuple(beside),
        fall,
        feet.point(access) if access else None,
    )


class _Feet:
    """Feet east and north of the middle of the field."""

    def __init__(self, outline: Outline) -> None:
        self.plane = LocalPlane.of(outline)

    def rows(self, geometry: BaseGeometry) -> tuple[Place, ...]:
        flat = get_coordinates(self.plane.to_plane(geometry)) / M_PER_FT
        return tuple((float(x), float(y)) for x, y in flat)

    def point(self, at: Place) -> Place:
        return self.rows(Point(at))[0]

    def polygons(self, outline: Outline) -> Shape:
        return Shape(
            "polygon",
            tuple(
                tuple(self.rows(ring) for ring in (part.exterior, *part.interiors))
                for part in polygons_of(to_geometry(outline))
            ),
        )

    def thing(self, feature: Feature) -> Shape:
        if feature.outline is not None:
            return self.polygons(feature.outline)
        if feature.kind == "line":
            return Shape("line", ((self.rows(LineString(feature.points)),),))
        return Shape("point", tuple((self.rows(at),) for at in MultiPoint(feature.points).geoms))
