"""Outlines and files of them, as the tests need them."""

from __future__ import annotations

import io
import json
import math
import zipfile
from collections.abc import Mapping, Sequence
from typing import Any

import shapefile
from hypothesis import strategies as st
from pyproj import CRS, Geod, Transformer

from sites.ground.found import Feature
from sites.ground.measuring import measure
from sites.ground.mending import mend
from sites.ground.outline import Outline, Point

GEOD = Geod(ellps="WGS84")
HERE: Point = (-92.22, 38.82)
FIELD = [(-92.22, 38.82), (-92.215, 38.82), (-92.215, 38.824), (-92.22, 38.824), (-92.22, 38.82)]
"""Ground of 47.645 acres."""
POND = [(-92.218, 38.821), (-92.218, 38.823), (-92.217, 38.823), (-92.217, 38.821), (-92.218, 38.821)]


def off(east_ft: float, north_ft: float, start: Point = HERE) -> Point:
    """The point so far from `start`, measured on the ellipsoid."""
    azimuth = math.degrees(math.atan2(east_ft, north_ft))
    longitude, latitude, _ = GEOD.fwd(*start, azimuth, math.hypot(east_ft, north_ft) * 0.3048)
    return longitude, latitude


def square(side_ft: float, start: Point = HERE) -> list[Point]:
    """A closed ring about its middle, so that corners lie at equal distance from `start`."""
    h = side_ft / 2
    return [off(x, y, start) for x, y in ((-h, -h), (h, -h), (h, h), (-h, h), (-h, -h))]


def outline(*rings: Sequence[Point]) -> Outline:
    return mend([list(rings)])[0]


def feature(made: Outline, name: str = "North field") -> Feature:
    return Feature(name, "polygon", made, measure(made))


def line(*points: Point) -> Feature:
    return Feature("", "line", points=points)


def point(at: Point) -> Feature:
    return Feature("", "point", points=(at,))


def geojson(*polygons: Any, kind: str = "Polygon", **more: Any) -> bytes:
    """A collection with one feature for each list of rings."""
    features = [
        {"type": "Feature", "properties": {}, "geometry": {"type": kind, "coordinates": rings}}
        for rings in polygons
    ]
    return json.dumps({"type": "FeatureCollection", "features": features, **more}).encode()


def kml(*inside: str) -> bytes:
    return (
        f'<kml xmlns="http://www.opengis.net/kml/2.2"><Document>{"".join(inside)}</Document></kml>'.encode()
    )


def placemark(ring: Sequence[Point] = FIELD, name: str = "North field") -> str:
    corners = " ".join(f"{x},{y},0" for x, y in ring)
    return (
        f"<Placemark><name>{name}</name><Polygon><outerBoundaryIs><LinearRing><coordinates>{corners}"
        "</coordinates></LinearRing></outerBoundaryIs></Polygon></Placemark>"
    )


def gpx(*pieces: Sequence[tuple[float, ...]], kind: str = "trk") -> bytes:
    """One track of these pieces, each of longitude, latitude and perhaps height."""
    inside = ""
    for piece in pieces:
        points = "".join(
            f'<{kind}pt lat="{y}" lon="{x}">{f"<ele>{height[0]}</ele>" if height else ""}</{kind}pt>'
            for x, y, *height in piece
        )
        inside += f"<trkseg>{points}</trkseg>" if kind == "trk" else points
    return f'<gpx version="1.1"><{kind}><name>Walk</name>{inside}</{kind}></gpx>'.encode()


def packed(members: Mapping[str, bytes], method: int = zipfile.ZIP_DEFLATED) -> bytes:
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", method) as archive:
        for name, data in members.items():
            archive.writestr(name, data)
    return out.getvalue()


def shapes(*polygons: Sequence[Sequence[Point]], epsg: int | None = 4326, name: str = "North") -> bytes:
    """A zipped shapefile; coordinates are given in degrees and written in the projection."""
    shp, shx, dbf = io.BytesIO(), io.BytesIO(), io.BytesIO()
    to = Transformer.from_crs("OGC:CRS84", f"EPSG:{epsg or 4326}", always_xy=True)
    with shapefile.Writer(shp=shp, shx=shx, dbf=dbf, shapeType=shapefile.POLYGON) as writer:
        writer.field("NAME", "C", 40)
        for rings in polygons:
            writer.poly([[list(to.transform(*corner)) for corner in ring] for ring in rings])
            writer.record(name)
    members = {"field.shp": shp.getvalue(), "field.shx": shx.getvalue(), "field.dbf": dbf.getvalue()}
    if epsg:
        members["field.prj"] = CRS.from_epsg(epsg).to_wkt("WKT1_ESRI").encode()
    return packed(members)


@st.composite
def stars(draw: st.DrawFn) -> list[Point]:
    """An open ring that sees its middle from every corner: valid, often hollow, anywhere farms lie."""
    middle = draw(st.tuples(st.floats(-179.9, 179.9), st.floats(-65, 65)))
    reaches = draw(st.lists(st.floats(50, 4000), min_size=3, max_size=24))
    turn = 2 * math.pi / len(reaches)
    return [
        off(reach * math.cos(at * turn), reach * math.sin(at * turn), middle)
        for at, reach in enumerate(reaches)
    ]
