"""Outlines, lines and points from a file, of whatever kind it is, with every doubt said in a sentence."""

from __future__ import annotations

import math
import re
from collections.abc import Iterable, Mapping, Sequence
from pathlib import PurePosixPath
from typing import Any

import numpy as np

from sites.ground.archive import unpack
from sites.ground.errors import GroundError, GroundFileError
from sites.ground.found import MOST_BYTES, Feature, Found, Position, Question, Raw, Reading, check_corners
from sites.ground.measuring import measure, miles_between
from sites.ground.mending import mend
from sites.ground.outline import Point
from sites.ground.projection import Projection, projection_of
from sites.ground.read_geojson import geojson_document, read_geojson
from sites.ground.read_gpx import read_gpx
from sites.ground.read_kml import read_kml
from sites.ground.read_shapefile import read_shapefile
from sites.ground.tangles import refuse_tangles
from sites.ground.xml_tree import local, read_xml

FAR_MILES = 50.0
"""An outline farther than this from where it is looked for is asked about."""
LARGEST_ACRES = 100_000.0
LONGEST_NAME = 200
SHAPEFILE = frozenset({".shp", ".dbf", ".prj", ".cpg"})
ENDINGS = {
    "GeoJSON": {".geojson", ".json"},
    "KML": {".kml"},
    "KMZ": {".kmz"},
    "GPX": {".gpx"},
    "Shapefile": {".zip"},
}
READABLE = "Bring in GeoJSON, KML, KMZ, GPX, or a shapefile packed as zip."


def bring_in(
    name: str,
    data: bytes,
    *,
    expected: Point | None = None,
    projection: str = "",
    latitude_first: bool = False,
) -> Found:
    """What a file holds, by its content and not its name.

    `expected` is where the farm lies; what lies far from it is asked about. `projection` (`EPSG:26915`) and
    `latitude_first` answer what an error or a question asked; a stated projection goes before the given one.
    Raises GroundFileError, and nothing else, with one sentence and the way to mend it.
    """
    shown = re.sub(r"[\x00-\x1f\x7f]", "?", name)[:80] or "The file"
    try:
        if len(data) > MOST_BYTES:
            raise GroundError("It is larger than 10 MB. Export only the outlines of the farm.")
        reading = _read(data, projection)
        found = _found(reading, expected, projection, latitude_first)
    except GroundError as error:
        raise GroundFileError(shown, error.words, error.place, error.asks) from None
    ending = PurePosixPath(name).suffix.lower()
    if ending in ENDINGS[found.format]:
        return found
    said = f"The name ends in {ending or 'nothing'}, but the file holds {found.format}; it was read as that."
    return _with_repair(found, said)


def from_geojson(document: Mapping[str, Any]) -> Found:
    """The same of GeoJSON that was read already. Raises GroundError."""
    return _found(geojson_document(document), None, "", False)


def _with_repair(found: Found, said: str) -> Found:
    return Found(
        found.format,
        found.projection,
        found.features,
        (said, *found.repairs),
        found.problems,
        found.questions,
    )


def _read(data: bytes, projection: str) -> Reading:
    start = data[:200].removeprefix(b"\xef\xbb\xbf").lstrip()
    if data.startswith(b"PK\x03\x04"):
        return _read_archive(data, projection)
    if start.startswith((b"{", b"[")):
        return read_geojson(data)
    if start.startswith((b"<", b"\xff\xfe<", b"\xfe\xff\x00<")):
        return _read_xml(data)
    if not data.strip():
        raise GroundError("It is empty. Export it again.")
    if data.startswith(b"\x00\x00\x27\x0a"):
        raise GroundError("It is a .shp by itself. Pack it as zip with its .dbf and .prj.")
    if data.startswith((b"II*\x00", b"MM\x00*")):
        raise GroundError(f"It is a picture or a grid of heights, not an outline. {READABLE}")
    raise GroundError(f"It is no map file that is read here. {READABLE}")


def _read_xml(data: bytes) -> Reading:
    root = read_xml(data)
    kind = local(root)
    if kind == "kml":
        return read_kml(root)
    if kind == "gpx":
        return read_gpx(root)
    raise GroundError(f"It is XML of another kind, “{kind[:40]}”. {READABLE}")


def _read_archive(data: bytes, projection: str) -> Reading:
    members = unpack(data, SHAPEFILE | {".kml"})
    documents = sorted(
        (member for member in members if member.lower().endswith(".kml")),
        key=lambda member: (member.count("/"), member != "doc.kml", member),
    )
    if any(member.lower().endswith(".shp") for member in members):
        return read_shapefile(members, projection)
    if documents:
        reading = read_kml(_kml_root(members[documents[0]]))
        return Reading("KMZ", reading.features, problems=reading.problems)
    raise GroundError(f"The zip archive holds no .shp and no .kml. {READABLE}")


def _kml_root(data: bytes) -> Any:
    root = read_xml(data)
    if local(root) != "kml":
        raise GroundError("Its .kml holds no KML. Export it again.")
    return root


def _found(reading: Reading, expected: Point | None, projection: str, latitude_first: bool) -> Found:
    check_corners(sum(raw.corners for raw in reading.features))
    used = projection_of(reading.projection or projection)
    features: list[Feature] = []
    problems = list(reading.problems)
    for raw in reading.features:
        try:
            features.append(_feature(raw, used, latitude_first))
        except GroundError as error:
            if error.asks:
                raise
            problems.append(GroundError(error.words, error.place or raw.place))
    if not features:
        raise problems[0] if problems else GroundError("It holds no outline, line or point. Export it again.")
    acres = sum(feature.acres for feature in features)
    if acres > LARGEST_ACRES:
        problems.append(GroundError(f"It holds {acres:,.0f} acres, more than a farm. Check the projection."))
    return Found(
        reading.format,
        used.words,
        tuple(features),
        problems=tuple(map(str, problems)),
        questions=tuple(_questions(features, expected)),
    )


def _feature(raw: Raw, projection: Projection, latitude_first: bool) -> Feature:
    name = re.sub(r"[\x00-\x1f\x7f\ud800-\udfff]+", " ", raw.name).strip()[:LONGEST_NAME]
    points = _degrees(raw.positions, projection, latitude_first)
    heights = tuple(
        height if height is not None and math.isfinite(height) else None for _, _, height in raw.positions
    )
    if not any(heights):
        heights = ()  # zero everywhere is how a height is left out
    if raw.kind != "polygon":
        if not points:
            raise GroundError("It has no position. Draw it, or leave it out.")
        refuse_tangles([np.array(points)])
        return Feature(name, raw.kind, points=points, heights_m=heights, repairs=raw.repairs)
    outline, mended = mend(
        [[_degrees(ring, projection, latitude_first) for ring in rings] for rings in raw.polygons]
    )
    walked = points if heights else ()
    return Feature(
        name, "polygon", outline, measure(outline), walked, heights, repairs=(*raw.repairs, *mended)
    )


def _degrees(
    positions: Sequence[Position], projection: Projection, latitude_first: bool
) -> tuple[Point, ...]:
    """Longitude and latitude. Raises GroundError, which may ask, for what lies off the earth."""
    if not positions:
        return ()
    given = np.array([position[:2] for position in positions], dtype=float)
    if not np.isfinite(given).all():
        raise GroundError("A coordinate is not a number. Export it again.")
    if latitude_first:
        given = given[:, ::-1]
    degrees = projection.to_degrees(given)
    if not np.isfinite(degrees).all():
        raise GroundError("It lies outside its projection. Say which projection it has.", asks="projection")
    across, up = np.abs(degrees).max(axis=0)
    if across <= 360 and up <= 90:
        return tuple(map(tuple, degrees.tolist()))
    if across <= 90 and up <= 360:
        worst = degrees[np.abs(degrees[:, 1]).argmax(), 1]
        raise GroundError(
            f"A latitude of {worst:g} cannot be. It seems that latitude stands first, where longitude must. "
            "Say that latitude comes first, or export it again.",
            asks="latitude_first",
        )
    raise GroundError(
        f"Numbers such as {max(across, up):.7g} are no degrees but meters or feet of a projection. "
        "Say which projection it has, or export it in WGS 84.",
        asks="projection",
    )


def _middle(feature: Feature) -> Point:
    return feature.outline.middle if feature.outline else feature.points[0]


def _questions(features: Iterable[Feature], expected: Point | None) -> list[Question]:
    """Whether the first feature that lies in an unlikely place is meant."""
    for feature in features:
        longitude, latitude = _middle(feature)
        if expected is None:
            if latitude < -60:
                words = "It lies in Antarctica. Does latitude stand first, where longitude must?"
                return [Question("latitude_first", words)]
            continue
        miles = miles_between(expected, (longitude, latitude))
        if miles <= FAR_MILES:
            continue
        if abs(longitude) <= 90 and miles_between(expected, (latitude, longitude)) <= FAR_MILES:
            words = "It lies at the farm if latitude stands first. Does it?"
            return [Question("latitude_first", words)]
        words = f"It lies {miles:,.0f} miles from the farm. Is it the right file, and the right projection?"
        return [Question("place", words)]
    return []
