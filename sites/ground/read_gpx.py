"""GPX: a walk round the field as track or route, closed where it ends near its beginning; marks as points.

Source: GPX 1.1 schema [from memory]: latitude and longitude in WGS 84, elevation in metres.
"""

from __future__ import annotations

from collections.abc import Sequence
from xml.etree.ElementTree import Element

from sites.ground.errors import GroundError
from sites.ground.found import MOST_FEATURES, Position, Raw, Reading, check_corners
from sites.ground.measuring import distances_m
from sites.ground.outline import Point
from sites.ground.rings import nested
from sites.ground.units import M_PER_FT
from sites.ground.xml_tree import children, local, number, text_of

END_SHARE = 0.05
"""A walk that ends within this share of its length from its beginning went round a field."""


def read_gpx(root: Element) -> Reading:
    """Raises GroundError."""
    found: list[Raw] = []
    problems: list[GroundError] = []
    items = [(kind, item) for kind in ("trk", "rte", "wpt") for item in children(root, kind)]
    if len(items) > MOST_FEATURES:
        raise GroundError(f"It holds more than {MOST_FEATURES:,} tracks and marks. Export only the farm's.")
    check_corners(sum(1 for element in root.iter() if local(element) in ("trkpt", "rtept")))
    for count, (kind, item) in enumerate(items, start=1):
        place, name = f"{WORDS[kind]} {count}", text_of(item, "name")
        try:
            if kind == "wpt":
                found.append(Raw(place, name, "point", positions=(_position(item, place),)))
            elif kind == "rte":
                found.append(_walk([_positions(item, "rtept", place)], place, name))
            else:
                pieces = [_positions(piece, "trkpt", place) for piece in children(item, "trkseg")]
                found.append(_walk(pieces, place, name))
        except GroundError as error:
            problems.append(error)
    return Reading("GPX", tuple(found), problems=tuple(problems))


WORDS = {"trk": "track", "rte": "route", "wpt": "mark"}


def _positions(element: Element, name: str, place: str) -> tuple[Position, ...]:
    return tuple(_position(point, place) for point in children(element, name))


def _position(element: Element, place: str) -> Position:
    height = text_of(element, "ele")
    return (
        number(element.get("lon", ""), place),
        number(element.get("lat", ""), place),
        number(height, place) if height else None,
    )


def _walk(pieces: Sequence[tuple[Position, ...]], place: str, name: str) -> Raw:
    """Pieces that are each closed are an outline with holes; others follow one another."""
    pieces = [piece for piece in pieces if piece]
    if pieces and all(len(piece) > 3 and piece[0][:2] == piece[-1][:2] for piece in pieces):
        polygons, _ = nested(pieces)
        return Raw(place, name, "polygon", polygons=polygons, positions=pieces[0])
    walked = tuple(position for piece in pieces for position in piece)
    joined = (f"{len(pieces)} pieces of the walk were joined in order.",) if len(pieces) > 1 else ()
    if len(walked) < 2:
        raise GroundError("It has fewer than two points. Walk it again, or leave it out.", place)
    way = [(x, y) for x, y, _ in walked]
    if not all(map(on_earth, way)):
        raise GroundError("A point lies off the earth. Export the track again.", place)
    length, gap = distances_m(way)[-1], distances_m([way[-1], way[0]])[-1]
    if len(walked) < 4 or gap > END_SHARE * length:
        return Raw(place, name, "line", positions=walked, repairs=joined)
    said = f"The walk ended {gap / M_PER_FT:,.0f} ft from where it began; it was closed."
    closed = (said,) if gap else ()
    return Raw(place, name, "polygon", polygons=((walked,),), positions=walked, repairs=(*joined, *closed))


def on_earth(point: Point) -> bool:
    return abs(point[0]) <= 360 and abs(point[1]) <= 90
