"""What reads files from outside, and small files to begin from."""

from __future__ import annotations

import io
import json
from collections.abc import Callable
from dataclasses import dataclass

from django.core.exceptions import ValidationError
from hypothesis import strategies as st

from consulting.images import as_jpeg, as_png
from consulting.scans import as_paper
from plans.in_out.reading import Unreadable, read
from plans.planning.wire import BadInput, read_job_file
from sites.ground.bring_in import bring_in
from sites.ground.errors import GroundFileError
from tests.fuzz import files
from tests.ground import make
from tests.planning.make import EXAMPLE

Seed = tuple[str, bytes]


@dataclass(frozen=True)
class Parser:
    read: Callable[[bytes], object]
    refuses: type[Exception]
    """The one error that it may raise, which says how to mend the file."""
    seeds: tuple[Seed, ...]


def _map() -> tuple[Seed, ...]:
    walk = [(-92.22, 38.82), (-92.21, 38.82), (-92.21, 38.83)]
    field = make.shapes([make.FIELD])
    return (
        ("field.geojson", make.geojson([make.FIELD, make.POND])),
        ("field.kml", make.kml(make.placemark())),
        ("field.kmz", make.packed({"doc.kml": make.kml(make.placemark())})),
        ("walk.gpx", make.gpx(walk)),
        ("field.zip", field),
        ("utm.zip", make.shapes([make.FIELD], epsg=26915)),
        ("line.geojson", json.dumps({"type": "LineString", "coordinates": walk}).encode()),
    )


def _pictures() -> tuple[Seed, ...]:
    kinds = ("PNG", "JPEG", "GIF", "WEBP")
    return tuple((f"x.{kind.lower()}", files.picture(kind, (16, 9))) for kind in kinds)


LISTS: tuple[Seed, ...] = (
    ("a.csv", b"Species,Price\nbig bluestem,14.50\n"),
    ("b.csv", "Name;Preis\nGras;1.234,5\n".encode("utf-16")),
    ("c.xlsx", files.workbook([["Species", "Price"], ["big bluestem", 14.5]])),
)
PARSERS: dict[str, Parser] = {
    "map": Parser(lambda data: bring_in("field.zip", data), GroundFileError, _map()),
    "list": Parser(lambda data: read("list.csv", data), Unreadable, LISTS),
    "job": Parser(read_job_file, BadInput, (("job.json", EXAMPLE.read_bytes()),)),
    "logo": Parser(lambda data: as_png(io.BytesIO(data)), ValidationError, _pictures()),
    "photo": Parser(
        lambda data: as_jpeg(io.BytesIO(data), with_place=True),
        ValidationError,
        (*_pictures(), ("field.heic", files.HEIC.read_bytes())),
    ),
    "paper": Parser(lambda data: as_paper(io.BytesIO(data)), ValidationError, (("scan.pdf", files.PDF),)),
}


def seeds_of(name: str) -> tuple[Seed, ...]:
    return PARSERS[name].seeds


def check(name: str, data: bytes) -> None:
    """Read it; what is refused is refused in words."""
    parser = PARSERS[name]
    try:
        parser.read(data)
    except parser.refuses as refused:
        said = " ".join(refused.messages) if isinstance(refused, ValidationError) else str(refused)
        if len(said.split()) < 4:
            raise AssertionError(f"{name} says only {said!r}") from refused


@st.composite
def mangled(draw: st.DrawFn, data: bytes) -> bytes:
    """The file with bytes changed, cut out, doubled, or put in."""
    out = bytearray(data)
    for _ in range(draw(st.integers(1, 4))):
        at = draw(st.integers(0, max(0, len(out) - 1)))
        how = draw(st.sampled_from(["byte", "cut", "double", "put", "end"]))
        if how == "byte" and out:
            out[at] = draw(st.integers(0, 255))
        elif how == "cut":
            del out[at : at + draw(st.integers(1, 40))]
        elif how == "double":
            out[at:at] = out[at : at + draw(st.integers(1, 200))]
        elif how == "put":
            out[at:at] = draw(st.binary(max_size=8) | st.sampled_from(SIGNS))
        else:
            del out[at:]
    return bytes(out)


SIGNS = tuple(
    text.encode()
    for text in (
        "NaN",
        "1e999",
        "-",
        "99999999999999999999",
        "<",
        "&#0;",
        '"',
        "\x00",
        "\xff\xff",
        "[[[[",
        "}}",
        "\u202e",
    )
)
