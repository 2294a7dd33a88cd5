"""What a drawing page starts from: what was seen there, what lies around, and where it lies."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Iterable
from typing import Any

from consulting.models import Practice
from consulting.tiles import allowed_address, host_of
from sites.drawn import landmark_shape, outline_json, outline_of
from sites.ground.measuring import measure
from sites.ground.outline import Outline, Point
from sites.ground.typed import rings_of, written
from sites.models import Farm, Field, Landmark
from sites.pictures import look_of

MAP_MIDDLE: Point = (-98.35, 39.5)
"""The middle of the United States, where a map opens that knows no farm."""


def stamp(*what: Any) -> str:
    """A short name of values as someone saw them; another one as soon as they differ."""
    return hashlib.sha256(json.dumps(what, sort_keys=True).encode()).hexdigest()[:16]


def stamp_of_field(field: Field) -> str:
    return stamp(field.outline, field.acres if not field.outline else None)


def stamp_of_landmark(landmark: Landmark) -> str:
    return stamp(landmark.kind, landmark.name, landmark.notes, landmark.shape)


def place_of(farm: Farm, outlines: Iterable[Outline] = ()) -> Point | None:
    """Where a farm lies: its coordinates, else the middle of one of its outlines."""
    if farm.latitude is not None and farm.longitude is not None:
        return farm.longitude, farm.latitude
    return next((outline.middle for outline in outlines), None)


def fields_with_outlines(farm: Farm, without: Field | None = None) -> list[tuple[Field, Outline]]:
    """Fields of the farm that have an outline, `without` one of them."""
    rows = farm.fields.filter(outline__isnull=False)
    return [(row, outline) for row in rows if row != without and (outline := outline_of(row))]


def map_data(
    practice: Practice,
    farm: Farm,
    *,
    draws: str,
    without: Field | Landmark | None = None,
    divides: Field | None = None,
) -> dict[str, Any]:
    """What the map's script is told: what to draw, what lies there already, where, on which tiles.

    `draws` is `outline`, `line`, `landmark` or empty for a map that is only looked at.
    """
    fields = fields_with_outlines(farm, without if isinstance(without, Field) else None)
    landmarks = [row for row in farm.landmarks.all() if row != without]
    around = [
        {"pk": row.pk, "what": "field", "name": row.name, "geometry": row.outline} for row, _ in fields
    ] + [{"pk": row.pk, "what": look_of(row), "name": str(row), "geometry": row.shape} for row in landmarks]
    place = place_of(farm, [outline for _, outline in fields])
    return {
        "draws": draws,
        "divides": divides.pk if divides else None,
        "around": around,
        "middle": place or MAP_MIDDLE,
        "placed": place is not None,
        "tiles": allowed_address(practice.tile_address),
    }


def as_answer(outline: Outline, said: Iterable[str] = ()) -> dict[str, Any]:
    """An outline measured, as the map's script is answered."""
    found = measure(outline)
    return {
        "corners": written(rings_of(outline), latitude_first=True),
        "geometry": outline_json(outline),
        "acres": round(found.acres, 2),
        "perimeter_ft": round(found.perimeter_ft),
        "said": list(said),
    }


def tile_host(practice: Practice) -> str:
    """The one other host that a drawing page may fetch pictures from, as `https://…`; empty without tiles."""
    return host_of(allowed_address(practice.tile_address))


def typed_landmark(landmark: Landmark) -> dict[str, str]:
    """What a landmark's form begins with."""
    feature = landmark_shape(landmark)
    rings = rings_of(feature.outline) if feature.outline else [feature.points]
    return {
        "kind": landmark.kind,
        "name": landmark.name,
        "notes": landmark.notes,
        "made_of": "area" if feature.outline else feature.kind,
        "corners": written(rings, latitude_first=True),
        "seen": stamp_of_landmark(landmark),
    }
