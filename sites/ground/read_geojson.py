"""GeoJSON: RFC 7946, and the older form with a projection in its `crs` member."""

from __future__ import annotations

import json
from collections.abc import Iterator, Mapping
from typing import Any, NoReturn

from sites.ground.errors import GroundError
from sites.ground.found import MOST_FEATURES, Kind, Position, Raw, Reading

MOST_DIGITS = 30
DEEPEST = 8
"""Collections inside collections."""
NAMES = ("name", "Name", "NAME", "title", "label", "id")
PLAIN = {"urn:ogc:def:crs:OGC:1.3:CRS84", "urn:ogc:def:crs:OGC::CRS84", "OGC:CRS84", "EPSG:4326"}
"""Names of the degrees that GeoJSON has anyway."""
NUMBERS = frozenset({int, float})
"""By exact type: true and false are none."""
POLYGONS = {"Polygon", "MultiPolygon"}
KINDS: Mapping[str, Kind] = {
    "Point": "point",
    "MultiPoint": "point",
    "LineString": "line",
    "MultiLineString": "line",
}


def read_geojson(data: bytes) -> Reading:
    """Raises GroundError."""
    try:
        document = json.loads(data.decode("utf-8-sig"), parse_int=_whole, parse_constant=_no_constant)
    except UnicodeDecodeError:
        raise GroundError("It is not UTF-8 text. Export it again as GeoJSON.") from None
    except RecursionError:
        raise GroundError("It is nested too deep. Export it again as GeoJSON.") from None
    except json.JSONDecodeError as error:
        raise GroundError(
            "It is no sound JSON here; it may be cut off. Export it again as GeoJSON.",
            f"line {error.lineno}, column {error.colno}",
        ) from None
    except ValueError as error:
        raise GroundError(f"{error} Export it again as GeoJSON.") from None
    return geojson_document(document)


def geojson_document(document: Any) -> Reading:
    """The same of JSON that was read already. Raises GroundError."""
    if not isinstance(document, dict):
        raise GroundError("It is JSON but no GeoJSON, which is an object with a type. Export it as GeoJSON.")
    kind = document.get("type")
    if kind == "Topology":
        raise GroundError("It is TopoJSON, which is not read here. Export it as GeoJSON.")
    features = document.get("features") if kind == "FeatureCollection" else [document]
    if not isinstance(features, list):
        raise GroundError("Its features must be a list. Export it again as GeoJSON.")
    if len(features) > MOST_FEATURES:
        raise GroundError(f"It holds more than {MOST_FEATURES:,} features. Export only those of the farm.")
    found: list[Raw] = []
    problems: list[GroundError] = []
    for number, feature in enumerate(features, start=1):
        place = f"feature {number}" if kind == "FeatureCollection" else ""
        try:
            found += _feature(feature, place)
        except GroundError as error:
            problems.append(error)
    return Reading("GeoJSON", tuple(found), _projection(document.get("crs")), problems=tuple(problems))


def _whole(text: str) -> int | float:
    """A number of so many digits is no coordinate; as a float it ends at infinity."""
    return int(text) if len(text) < MOST_DIGITS else float(text)


def _no_constant(name: str) -> NoReturn:
    raise ValueError(f"It holds {name}, which is no number.")


def _projection(crs: Any) -> str:
    """Empty for the degrees of WGS 84. Raises GroundError for one that is not named."""
    if crs is None:
        return ""
    properties = crs.get("properties") if isinstance(crs, dict) else None
    name = properties.get("name") if isinstance(properties, dict) else None
    if not isinstance(name, str) or not 0 < len(name) <= 200:
        raise GroundError(
            "It has a crs that does not name its projection. Say which it is, or export it in WGS 84.",
            asks="projection",
        )
    plain = name if name in PLAIN else name.replace("urn:ogc:def:crs:EPSG::", "EPSG:")
    return "" if plain in PLAIN else plain


def _feature(feature: Any, place: str) -> Iterator[Raw]:
    if not isinstance(feature, dict):
        raise GroundError("It is no feature. Export it again as GeoJSON.", place)
    if feature.get("type") != "Feature":
        yield from _geometry(feature, place, "", 0)
        return
    properties = feature.get("properties")
    named = {**(properties if isinstance(properties, dict) else {}), "id": feature.get("id")}
    name = next((str(named[key]) for key in NAMES if isinstance(named.get(key), str | int)), "")
    if feature.get("geometry") is None:
        raise GroundError("It has no geometry. Draw its outline, or leave it out.", place)
    yield from _geometry(feature["geometry"], place, name, 0)


def _geometry(geometry: Any, place: str, name: str, depth: int) -> Iterator[Raw]:
    if not isinstance(geometry, dict):
        raise GroundError("Its geometry is no object. Export it again as GeoJSON.", place)
    kind = str(geometry.get("type", "no type"))
    if kind == "GeometryCollection":
        if depth >= DEEPEST:
            raise GroundError("Collections are nested too deep. Export it again as GeoJSON.", place)
        for part in _list(geometry.get("geometries"), place, "geometries"):
            yield from _geometry(part, place, name, depth + 1)
        return
    coordinates = geometry.get("coordinates")
    if kind in POLYGONS:
        polygons = [coordinates] if kind == "Polygon" else _list(coordinates, place)
        read = tuple(tuple(_positions(ring, place) for ring in _list(polygon, place)) for polygon in polygons)
        yield Raw(place, name, "polygon", polygons=read)
    elif kind in KINDS:
        several = _list(coordinates, place) if kind.startswith("Multi") else [coordinates]
        for one in several:
            positions = _positions([one] if KINDS[kind] == "point" else one, place)
            yield Raw(place, name, KINDS[kind], positions=positions)
    else:
        raise GroundError(f"“{kind[:40]}” is no geometry of GeoJSON. Export it again as GeoJSON.", place)


def _list(value: Any, place: str, name: str = "coordinates") -> list[Any]:
    if not isinstance(value, list):
        raise GroundError(f"Its {name} must be a list. Export it again as GeoJSON.", place)
    return value


def _positions(value: Any, place: str) -> tuple[Position, ...]:
    return tuple(_position(item, place) for item in _list(value, place))


def _position(value: Any, place: str) -> Position:
    if isinstance(value, list) and len(value) > 1 and NUMBERS.issuperset(map(type, value[:3])):
        return float(value[0]), float(value[1]), float(value[2]) if len(value) > 2 else None
    shown = json.dumps(value, default=str)[:40]
    raise GroundError(f"A position cannot be {shown}. Give longitude and latitude as numbers.", place)
