"""A zipped shapefile: .shp with its .prj, and names from its .dbf. The .shx says nothing that is needed.

Source: Shapefile Technical Description, white paper of July 1998 [from memory].
"""

from __future__ import annotations

import io
import struct
from collections.abc import Iterator, Mapping
from pathlib import PurePosixPath
from typing import Any

import shapefile

from sites.ground.errors import GroundError
from sites.ground.found import MOST_FEATURES, Position, Raw, Reading, check_corners
from sites.ground.rings import nested

HEADER_BYTES = 100
UNSOUND = "The .shp is damaged or cut off. Export the shapefile again."
BROKEN = (
    shapefile.ShapefileException,
    struct.error,
    ValueError,
    KeyError,
    IndexError,
    TypeError,
    AttributeError,
    AssertionError,
    OverflowError,
    EOFError,
)
"""What the library raises for a file that is not as it should be."""
NULL, MULTIPATCH = shapefile.NULL, shapefile.MULTIPATCH
POINTS = {shapefile.POINT, shapefile.POINTM, shapefile.POINTZ}
MULTIPOINTS = {shapefile.MULTIPOINT, shapefile.MULTIPOINTM, shapefile.MULTIPOINTZ}
LINES = {shapefile.POLYLINE, shapefile.POLYLINEM, shapefile.POLYLINEZ}


def read_shapefile(members: Mapping[str, bytes], projection: str = "") -> Reading:
    """`members` by name, as `archive.unpack` gives them; `projection` stands in for a missing .prj.

    Raises GroundError, which asks for `projection` where neither is given.
    """
    layers = [name for name in members if name.lower().endswith(".shp")]
    if len(layers) != 1:
        raise GroundError(f"It holds {len(layers)} shapefiles. Pack each in a zip archive of its own.")
    stem = layers[0][:-4].lower()
    beside = {
        PurePosixPath(name).suffix.lower(): data
        for name, data in members.items()
        if name[:-4].lower() == stem
    }
    shp = beside[".shp"]
    _check_records(shp)
    names = _Names(beside.get(".dbf"), beside.get(".cpg", b""))
    found: list[Raw] = []
    corners = 0
    problems: list[GroundError] = []
    for number, shape in enumerate(_shapes(shp), start=1):
        place = f"shape {number}"
        corners += len(getattr(shape, "points", ()))
        check_corners(corners)
        try:
            found += _features(shape, place, names.of(number - 1))
        except GroundError as error:
            problems.append(GroundError(error.words, place))
    projection = beside.get(".prj", b"").decode("utf-8-sig", "replace").strip() or projection
    if not projection:
        raise GroundError(
            "It has no .prj, so its projection is not known. Pack the .prj with it, or say which it has.",
            asks="projection",
        )
    return Reading("Shapefile", tuple(found), projection, problems=tuple(problems))


def _check_records(shp: bytes) -> None:
    """Raises GroundError unless each record ends inside the file: the library would loop on others."""
    if len(shp) < HEADER_BYTES or shp[:4] != b"\x00\x00\x27\x0a":
        raise GroundError("The .shp is no shapefile. Export it again.")
    at, count = HEADER_BYTES, 0
    while at < len(shp):
        if len(shp) < at + 8:
            raise GroundError(UNSOUND)
        (words,) = struct.unpack_from(">i", shp, at + 4)
        at, count = at + 8 + 2 * words, count + 1
        if words < 2 or at > len(shp):
            raise GroundError(UNSOUND)
        if count > MOST_FEATURES:
            raise GroundError(f"It holds more than {MOST_FEATURES:,} shapes. Export only those of the farm.")
    if not count:
        raise GroundError("It holds no shape. Export the field's outline again.")


def _shapes(shp: bytes) -> Iterator[Any]:
    sound = shp[:24] + struct.pack(">i", len(shp) // 2) + shp[28:]
    try:
        with shapefile.Reader(shp=io.BytesIO(sound)) as reader:
            yield from reader.iterShapes()
    except BROKEN:
        raise GroundError(UNSOUND) from None


class _Names:
    """Names of shapes from the table beside them; none where it cannot be read."""

    def __init__(self, dbf: bytes | None, code_page: bytes) -> None:
        self._reader: Any = None
        if dbf is None:
            return
        encoding = code_page.decode("ascii", "ignore").strip() or "utf-8"
        try:
            "".encode(encoding)
        except LookupError:
            encoding = "utf-8"
        try:
            self._reader = shapefile.Reader(dbf=io.BytesIO(dbf), encoding=encoding, encodingErrors="replace")
            fields = [field[0] for field in self._reader.fields[1:] if field[1] == "C"]
            named = [field for field in fields if "name" in field.lower()]
            self._field = next(iter(named or fields), None)
        except BROKEN:
            self._reader = None

    def of(self, index: int) -> str:
        if self._reader is None or self._field is None:
            return ""
        try:
            record = self._reader.record(index)
            return "" if record is None else str(record[self._field] or "").strip()
        except BROKEN:
            return ""


def _features(shape: Any, place: str, name: str) -> Iterator[Raw]:
    kind = shape.shapeType
    if kind == NULL:
        raise GroundError("It is empty. Draw it, or leave it out.")
    if kind == MULTIPATCH:
        raise GroundError("It is a surface in space. Export the outline as a polygon.")
    positions = _positions(shape)
    if kind in POINTS or kind in MULTIPOINTS:
        for position in positions:
            yield Raw(place, name, "point", positions=(position,))
        return
    starts = [*shape.parts, len(positions)]
    if starts[0] or any(a >= b for a, b in zip(starts, starts[1:], strict=False)):
        raise GroundError(UNSOUND)
    pieces = [positions[a:b] for a, b in zip(starts, starts[1:], strict=False)]
    if kind in LINES:
        for piece in pieces:
            yield Raw(place, name, "line", positions=piece)
        return
    polygons, alike = nested(pieces)
    said = (f"Holes that were wound like their outer edge were taken off: {alike}.",) if alike else ()
    yield Raw(place, name, "polygon", polygons=polygons, repairs=said)


def _positions(shape: Any) -> tuple[Position, ...]:
    """Without heights: a shapefile does not state their unit."""
    return tuple((x, y, None) for x, y, *_ in shape.points)
