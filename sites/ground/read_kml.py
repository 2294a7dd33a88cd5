"""KML: placemarks with polygons, lines, points and tracks, however deep their folders lie.

Source: Open Geospatial Consortium, KML 2.3, OGC 12-007r2 [from memory]: longitude, latitude, altitude in
WGS 84.
"""

from __future__ import annotations

from collections.abc import Iterator
from xml.etree.ElementTree import Element

from sites.ground.errors import GroundError
from sites.ground.found import MOST_FEATURES, Position, Raw, Reading
from sites.ground.xml_tree import children, local, number, text_of

Ring = tuple[Position, ...]


def read_kml(root: Element) -> Reading:
    """Raises GroundError."""
    found: list[Raw] = []
    problems: list[GroundError] = []
    for element in root.iter():
        if local(element) == "NetworkLink":
            problems.append(
                GroundError("A link to another file is not followed. Save that file and bring it in itself.")
            )
    placemarks = [element for element in root.iter() if local(element) == "Placemark"]
    if len(placemarks) > MOST_FEATURES:
        raise GroundError(f"It holds more than {MOST_FEATURES:,} placemarks. Export only those of the farm.")
    for count, placemark in enumerate(placemarks, start=1):
        place, name = f"placemark {count}", text_of(placemark, "name")
        try:
            of_placemark = [raw for child in placemark for raw in _geometry(child, place, name)]
            if not of_placemark:
                raise GroundError("It has no outline, line or point. Draw one, or leave it out.", place)
            found += of_placemark
        except GroundError as error:
            problems.append(error)
    return Reading("KML", tuple(found), problems=tuple(problems))


def _geometry(element: Element, place: str, name: str) -> Iterator[Raw]:
    kind = local(element)
    if kind == "Polygon":
        yield Raw(place, name, "polygon", polygons=(_polygon(element, place),))
    elif kind == "MultiGeometry":
        parts = list(element)
        polygons = tuple(_polygon(part, place) for part in parts if local(part) == "Polygon")
        if polygons:
            yield Raw(place, name, "polygon", polygons=polygons)
        for part in parts:
            if local(part) != "Polygon":
                yield from _geometry(part, place, name)
    elif kind == "LinearRing":
        yield Raw(place, name, "polygon", polygons=((_coordinates(element, place),),))
    elif kind == "LineString":
        yield Raw(place, name, "line", positions=_coordinates(element, place))
    elif kind == "Point":
        yield Raw(place, name, "point", positions=_coordinates(element, place))
    elif kind == "MultiTrack":
        for part in children(element, "Track"):
            yield from _geometry(part, place, name)
    elif kind == "Track":
        texts = [",".join((child.text or "").split()) for child in children(element, "coord")]
        yield Raw(place, name, "line", positions=tuple(_position(text, place) for text in texts))


def _polygon(element: Element, place: str) -> tuple[Ring, ...]:
    rings = [
        [
            _coordinates(ring, place)
            for edge in children(element, side)
            for ring in children(edge, "LinearRing")
        ]
        for side in ("outerBoundaryIs", "innerBoundaryIs")
    ]
    outer, inner = rings
    if len(outer) != 1:
        raise GroundError("A polygon must have one outer edge. Draw it again.", place)
    return (outer[0], *inner)


def _coordinates(element: Element, place: str) -> Ring:
    text = ",".join(cell.strip() for cell in text_of(element, "coordinates").split(","))
    return tuple(_position(part, place) for part in text.split())


def _position(text: str, place: str) -> Position:
    cells = text.rstrip(",").split(",")
    if len(cells) not in (2, 3):
        raise GroundError(f"“{text[:40]}” is no position. Give longitude,latitude.", place)
    across, up, *height = (number(cell, place) for cell in cells)
    return across, up, height[0] if height else None
