"""From rows to the dataclasses of the ground and back."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

from shapely.geometry import mapping, shape

from sites import models
from sites.climate import Near, nearest
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


def place_of(farm: models.Farm) -> tuple[float | None, float | None]:
    """Latitude and longitude of a farm [degrees]: as typed, else of a field that has an outline."""
    if farm.latitude is not None and farm.longitude is not None:
        return farm.latitude, farm.longitude
    drawn = farm.fields.filter(outline__isnull=False).first()
    outline = outline_of(drawn) if drawn else None
    return (outline.middle[1], outline.middle[0]) if outline else (None, None)


def stations_near(farm: models.Farm) -> list[Near]:
    """The weather stations nearest to a farm; none where nobody knows where it lies."""
    latitude, longitude = place_of(farm)
    if latitude is None or longitude is None:
        return []
    return nearest(latitude, longitude, farm.elevation_ft)


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
    return left_by_work(field, [work]).get(work)


def left_by_work(field: models.Field, works: Iterable[str]) -> dict[str, Left]:
    """What is left of a field for each kind of work; empty without an outline. Raises GroundError.

    Asks nothing where `exclusions__landmark` was prefetched.
    """
    outline = outline_of(field)
    if outline is None:
        return {}
    exclusions = [exclusion_of(row) for row in field.exclusions.all()]
    return {work: left_for(outline, work, exclusions) for work in works}
