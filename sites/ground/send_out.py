"""Outlines, lines and points as GeoJSON, KML and GPX; what `bring_in` reads back with the same acres.

Coordinates are written in full, so nothing is rounded on the way. Names are text, never markup.
"""

from __future__ import annotations

import json
import re
from collections.abc import Iterable, Iterator, Sequence
from typing import Any
from xml.etree.ElementTree import Element, SubElement, register_namespace, tostring

from shapely import MultiPolygon, box
from shapely.affinity import translate

from sites.ground.found import Feature
from sites.ground.outline import Outline, Part, Point, Ring, from_geometry, polygons_of, to_geometry

KML = "http://www.opengis.net/kml/2.2"
GPX = "http://www.topografix.com/GPX/1/1"
NOT_XML = re.compile("[^\t\n\r\x20-\ud7ff\ue000-\ufffd\U00010000-\U0010ffff]")
"""Characters that neither XML nor UTF-8 can hold."""
register_namespace("kml", KML)
register_namespace("gpx", GPX)


def to_geojson(features: Iterable[Feature]) -> bytes:
    """A FeatureCollection after RFC 7946: outer rings counter-clockwise, holes clockwise, cut at 180°."""
    collection = {"type": "FeatureCollection", "features": [_feature(feature) for feature in features]}
    return json.dumps(collection, ensure_ascii=False, allow_nan=False).encode()


def to_kml(features: Iterable[Feature]) -> bytes:
    """A document with one placemark each."""
    root = Element(f"{{{KML}}}kml")
    document = SubElement(root, f"{{{KML}}}Document")
    for feature in features:
        placemark = _child(document, KML, "Placemark")
        _child(placemark, KML, "name", feature.name)
        if feature.outline is not None:
            parts = _cut(feature.outline).parts
            home = _child(placemark, KML, "MultiGeometry") if len(parts) > 1 else placemark
            for part in parts:
                _kml_polygon(home, part)
        else:
            shape = _child(placemark, KML, "LineString" if feature.kind == "line" else "Point")
            _child(shape, KML, "coordinates", _kml_coordinates(feature.points, feature.heights_m))
    return bytes(tostring(root, encoding="UTF-8", xml_declaration=True))


def to_gpx(features: Iterable[Feature]) -> bytes:
    """A track for each outline, its rings as closed pieces, outer rings first; points as marks."""
    root = Element(f"{{{GPX}}}gpx", {"version": "1.1", "creator": "Coverstead"})
    chosen = list(features)
    for feature in chosen:
        if feature.kind == "point":
            _gpx_points(root, "wpt", feature.points, feature.heights_m, feature.name)
    for feature in chosen:
        if feature.kind == "point":
            continue
        rings: list[Sequence[Point]] = [feature.points]
        if feature.outline is not None:
            rings = [ring for part in _cut(feature.outline).parts for ring in (part.shell, *part.holes)]
        track = _child(root, GPX, "trk")
        _child(track, GPX, "name", feature.name)
        for ring in rings:
            heights = feature.heights_m if feature.outline is None else ()
            _gpx_points(_child(track, GPX, "trkseg"), "trkpt", ring, heights)
    return bytes(tostring(root, encoding="UTF-8", xml_declaration=True))


def _cut(outline: Outline) -> Outline:
    """Cut at the 180th meridian where it lies over it: all longitudes from −180 to 180. RFC 7946, 3.1.9."""
    west, _, east, _ = outline.bounds
    if -180 <= west and east <= 180:
        return outline
    geometry = to_geometry(outline)
    inside = geometry.intersection(box(-180, -90, 180, 90))
    over = [
        translate(geometry.intersection(box(edge, -90, edge + 360, 90)), xoff=turn)
        for edge, turn in ((-540, 360), (180, -360))
    ]
    pieces = [polygon for part in (inside, *over) for polygon in polygons_of(part)]
    return from_geometry(MultiPolygon(pieces)) or outline


def _feature(feature: Feature) -> dict[str, Any]:
    geometry: dict[str, Any]
    if feature.outline is not None:
        parts = [
            [[list(point) for point in ring] for ring in (part.shell, *part.holes)]
            for part in _cut(feature.outline).parts
        ]
        geometry = {"type": "Polygon", "coordinates": parts[0]}
        if len(parts) > 1:
            geometry = {"type": "MultiPolygon", "coordinates": parts}
    else:
        positions = [list(position) for position in _positions(feature.points, feature.heights_m)]
        geometry = {"type": "LineString", "coordinates": positions}
        if feature.kind == "point":
            geometry = {"type": "Point", "coordinates": positions[0]}
    return {"type": "Feature", "properties": {"name": _text(feature.name)}, "geometry": geometry}


def _positions(points: Sequence[Point], heights_m: Sequence[float | None]) -> Iterator[tuple[float, ...]]:
    for at, point in enumerate(points):
        height = heights_m[at] if at < len(heights_m) else None
        yield point if height is None else (*point, height)


def _text(name: str) -> str:
    return NOT_XML.sub(" ", name)


def _child(parent: Element, space: str, name: str, text: str | None = None) -> Element:
    made = SubElement(parent, f"{{{space}}}{name}")
    if text is not None:
        made.text = _text(text)
    return made


def _kml_polygon(home: Element, part: Part) -> None:
    polygon = _child(home, KML, "Polygon")

    def ring(side: str, corners: Ring) -> None:
        linear = _child(_child(polygon, KML, side), KML, "LinearRing")
        _child(linear, KML, "coordinates", _kml_coordinates(corners, ()))

    ring("outerBoundaryIs", part.shell)
    for hole in part.holes:
        ring("innerBoundaryIs", hole)


def _kml_coordinates(points: Sequence[Point], heights_m: Sequence[float | None]) -> str:
    return " ".join(",".join(map(repr, position)) for position in _positions(points, heights_m))


def _gpx_points(
    home: Element,
    name: str,
    points: Sequence[Point],
    heights_m: Sequence[float | None],
    title: str | None = None,
) -> None:
    for longitude, latitude, *height in _positions(points, heights_m):
        made = _child(home, GPX, name)
        made.set("lat", repr(latitude))
        made.set("lon", repr(longitude))
        if height:
            _child(made, GPX, "ele", repr(height[0]))
        if title is not None:
            _child(made, GPX, "name", title)
