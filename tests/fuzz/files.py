"""Files as somebody may send them: sound ones of every kind, broken ones, and names made to harm."""

from __future__ import annotations

import io
import struct
import zlib
from dataclasses import dataclass
from pathlib import Path

from openpyxl import Workbook
from openpyxl.cell.cell import ILLEGAL_CHARACTERS_RE
from PIL import Image

from tests.fuzz.hostile import HEADER, MARK
from tests.ground import make

HEIC = Path(__file__).parents[1] / "web" / "pictures" / "field.heic"


@dataclass(frozen=True)
class File:
    name: str
    kind: str
    data: bytes


def picture(kind: str, size: tuple[int, int] = (6, 4), mode: str = "RGB") -> bytes:
    out = io.BytesIO()
    Image.new(mode, size).save(out, kind)
    return out.getvalue()


def _chunk(name: bytes, data: bytes) -> bytes:
    return struct.pack(">I", len(data)) + name + data + struct.pack(">I", zlib.crc32(name + data))


def _endless_png(side: int) -> bytes:
    """Says of itself that it is `side` × `side`, in a few bytes."""
    head = struct.pack(">IIBBBBB", side, side, 8, 6, 0, 0, 0)
    return (
        b"\x89PNG\r\n\x1a\n"
        + _chunk(b"IHDR", head)
        + _chunk(b"IDAT", zlib.compress(b"\0" * 99))
        + _chunk(b"IEND", b"")
    )


def workbook(rows: list[list[object]]) -> bytes:
    book, out = Workbook(), io.BytesIO()
    for row in rows:
        # What a workbook cannot hold, nobody can send in one.
        book.active.append(
            [ILLEGAL_CHARACTERS_RE.sub("", cell) if isinstance(cell, str) else cell for cell in row]
        )
    book.save(out)
    return out.getvalue()


PDF = (
    b"%PDF-1.4\n1 0 obj<</Type/Catalog/Pages 2 0 R>>endobj\n"
    b"2 0 obj<</Type/Pages/Kids[3 0 R]/Count 1>>endobj\n"
    b"3 0 obj<</Type/Page/Parent 2 0 R/MediaBox[0 0 72 72]>>endobj\ntrailer<</Root 1 0 R>>\n%%EOF"
)
CSV = b"Name,Phone\nAda Ash,=1+1\n"
FILES: tuple[File, ...] = (
    File("x.png", "image/png", picture("PNG")),
    File("empty.csv", "text/csv", b""),
    File("../../x.jpg", "image/jpeg", picture("JPEG")),
    File(f"a\r\n{HEADER}: yes.csv", "text/csv", CSV),
    File(f'"><b {MARK}>.geojson', "application/json", make.geojson([make.FIELD])),
    File("field.kml", "text/xml", make.kml(make.placemark(name=f"&lt;b {MARK}&gt;"))),
    File("walk.gpx", "text/xml", make.gpx([(-92.22, 38.82), (-92.21, 38.82), (-92.21, 38.83)])),
    File("field.zip", "application/zip", make.shapes([make.FIELD])),
    File("field.kmz", "application/zip", make.packed({"doc.kml": make.kml(make.placemark())})),
    File("up.zip", "application/zip", make.packed({"../../up.shp": b"x", "/etc/x.dbf": b"x"})),
    File("list.xlsx", "application/zip", workbook([["Name", "Phone"], ["Ada", "=1+1"], [None, 1e300]])),
    File("a" * 400 + ".png", "image/png", picture("PNG", mode="P")),
    File("\u202egnp.exe", "", picture("GIF")),
    File("con\x00.webp", "image/webp", picture("WEBP")),
    File("scan.pdf", "application/pdf", PDF),
    File("cut.pdf", "application/pdf", PDF[:60]),
    File("cut.jpg", "image/jpeg", picture("JPEG", (60, 40))[:300]),
    File("big.png", "image/png", _endless_png(60_000)),
    File("field.heic", "image/heic", HEIC.read_bytes()[:2000]),
    File(
        "drawing.svg", "image/svg+xml", f"<svg xmlns='http://www.w3.org/2000/svg'><a {MARK}/></svg>".encode()
    ),
    File("heights.tif", "image/tiff", b"II*\x00" + b"\x08\0\0\0" + b"\xff" * 60),
    File("noise.bin", 'x/y; z="', bytes(range(256)) * 9),
    File("text.csv", "text/csv; charset=nothing", "Name;Preis\nä;1,5\n".encode("utf-16")),
    File("words.csv", "text/csv", b'"Name","\x00\n' + b"x," * 500),
)
