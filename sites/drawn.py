"""From rows to the dataclasses of the ground and back."""

from __future__ import annotations

from typing import Any

from shapely.geometry import mapping, shape

from sites import models
from sites.ground.exclusions import Exclusion, Left, left_for
from sites.ground.found import Feature
from sites.ground.measuring import Measured, measure
from sites.ground.outline import Outline, from_geometry, to_geometry


def outline_of(field: models.Field) -> Outline | None:
    return from_geometry(shape(field.outline)) if field.outline else None


def outline_json(outline: Outline) -> dict[str, Any]:
    """A GeoJSON MultiPolygon with lists in place of tuples, as a database gives it back."""
    return geometry_json(to_geometry(outline))


def geometry_json(geometry: Any) -> dict[str, Any]:
    def lists(part: Any) -> Any:
        return [lists(one) for one in part] if isinstance(part, tuple | list) else part

    told = mapping(geometry)
    return {"type": told["type"], "coordinates": lists(told["coordinates"])}


def measured(field: models.Field) -> Measured | None:
    outline = outline_of(field)
    return measure(outline) if outline else None


def landmark_shape(landmark: models.Landmark) -> Feature:
    drawn = shape(landmark.shape)
    if drawn.geom_type in ("Polygon", "MultiPolygon"):
        return Feature(str(landmark), "polygon", outline=from_geometry(drawn))
    kind = "point" if drawn.geom_type == "Point" else "line"
    return Feature(str(landmark), kind, points=tuple((x, y) for x, y, *_ in drawn.coords))  # type: ignore[arg-type]


def exclusion_of(row: models.Exclusion) -> Exclusion:
    return Exclusion(
        name=str(row.landmark),
        reason=row.reason,
        distance_ft=row.distance_ft,
        work=frozenset(row.work),
        shape=landmark_shape(row.landmark),
    )


def left_of(field: models.Field, work: str) -> Left | None:
    """What is left of a field for a kind of work; None without an outline. Raises GroundError."""
    outline = outline_of(field)
    if outline is None:
        return None
    rows = field.exclusions.select_related("landmark")
    return left_for(outline, work, [exclusion_of(row) for row in rows])
