"""Outlines, landmarks and files in an invented place, each changeable."""

from __future__ import annotations

import json
from typing import Any

from django_scopes import scope

from consulting.models import User
from sites.models import Farm, Field, Landmark, MapUpload
from tests.factories import make

WEST, SOUTH = -92.33, 38.95


def square(west: float = WEST, south: float = SOUTH, wide: float = 0.004, high: float = 0.003) -> list[Any]:
    """A closed ring, counter-clockwise: about 346 by 333 m, 28.5 acres."""
    east, north = west + wide, south + high
    return [[west, south], [east, south], [east, north], [west, north], [west, south]]


def typed(ring: list[Any]) -> str:
    """A ring as a person types it, latitude first."""
    return "\n".join(f"{latitude}, {longitude}" for longitude, latitude in ring[:-1])


def outlined(field: Field, *rings: list[Any]) -> Field:
    field.outline = {"type": "MultiPolygon", "coordinates": [list(rings) or [square()]]}
    with scope(practice=field.practice):
        field.save()
    return field


def make_landmark(farm: Farm, kind: str = "water", **values: Any) -> Landmark:
    point = {"type": "Point", "coordinates": [WEST + 0.001, SOUTH + 0.001]}
    return make(Landmark, values, practice=farm.practice, farm=farm, kind=kind, name="Pond", shape=point)


def geojson(*features: tuple[str, dict[str, Any]]) -> bytes:
    """A collection of named geometries."""
    made = [
        {"type": "Feature", "properties": {"name": name}, "geometry": geometry} for name, geometry in features
    ]
    return json.dumps({"type": "FeatureCollection", "features": made}).encode()


def polygon(*rings: list[Any]) -> dict[str, Any]:
    return {"type": "Polygon", "coordinates": list(rings) or [square()]}


def make_upload(farm: Farm, by: User, data: bytes = b"", **values: Any) -> MapUpload:
    held = data or geojson(("From a file", polygon()))
    return make(MapUpload, values, practice=farm.practice, farm=farm, by=by, name="map.geojson", data=held)
