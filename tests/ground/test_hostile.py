"""Files made to harm, or broken: each ends in one clear sentence, and no other error ever comes."""

from __future__ import annotations

import io
import json
import random
import re
import struct
import zipfile
from collections.abc import Callable
from typing import Any

import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

from sites.ground.bring_in import bring_in
from sites.ground.errors import GroundFileError
from sites.ground.found import MOST_BYTES, MOST_CORNERS
from tests.ground import make
from tests.ground.make import FIELD

GOOD_KML = make.kml(make.placemark())
GOOD_SHAPES = make.shapes([FIELD])


def members(data: bytes = GOOD_SHAPES) -> dict[str, bytes]:
    with zipfile.ZipFile(io.BytesIO(data)) as archive:
        return {name: archive.read(name) for name in archive.namelist()}


def zipped(name: str, data: bytes = b"x", **attributes: Any) -> bytes:
    """An archive whose one member says of itself what `attributes` hold."""
    out = io.BytesIO()
    info = zipfile.ZipInfo(name)
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr(info, data, zipfile.ZIP_DEFLATED)
    raw = bytearray(out.getvalue())
    central = raw.rindex(b"PK\x01\x02")
    if "flags" in attributes:
        raw[central + 8 : central + 10] = struct.pack("<H", attributes["flags"])
    if "method" in attributes:
        raw[central + 10 : central + 12] = struct.pack("<H", attributes["method"])
    if "mode" in attributes:
        raw[central + 38 : central + 42] = struct.pack("<I", attributes["mode"] << 16)
    if "size" in attributes:
        raw[central + 24 : central + 28] = struct.pack("<I", attributes["size"])
    return bytes(raw)


def with_shp(change: Callable[[bytes], bytes]) -> bytes:
    found = members()
    return make.packed(found | {"field.shp": change(found["field.shp"])})


def with_bytes(at: int, put: bytes) -> bytes:
    return with_shp(lambda shp: shp[:at] + put + shp[at + len(put) :])


def entities(depth: int) -> bytes:
    lines = "".join(f'<!ENTITY a{n} "{f"&a{n - 1};" * 10}">' for n in range(1, depth))
    return f'<!DOCTYPE kml [<!ENTITY a0 "ha">{lines}]><kml>&a{depth - 1};</kml>'.encode()


def polygon(*coordinates: Any) -> bytes:
    return json.dumps({"type": "Polygon", "coordinates": list(coordinates)}).encode()


def circle(corners: int) -> list[tuple[float, float]]:
    return [(-92 + 1e-6 * at, 38 + (at % 2) * 0.01) for at in range(corners)]


def scatter(corners: int) -> list[tuple[float, float]]:
    """Corners all over the field, so that most edges cross most others."""
    chance = random.Random(3)
    return [(-92.22 + chance.random() / 200, 38.82 + chance.random() / 250) for _ in range(corners)]


TRIANGLES = [[scatter(1500)[at : at + 3]] for at in range(0, 1500, 3)]
RINGS_IN_RINGS = [
    [(-92 - n, 38 - n), (-92 + n, 38 - n), (-92, 38 + n)] for n in (k * 1e-6 for k in range(1, 600))
]
BOW_TIE = [FIELD[0], FIELD[2], FIELD[1], FIELD[3], FIELD[0]]
HOSTILE = {
    "nothing": (b"", "It is empty"),
    "blank": (b" \n\t ", "It is empty"),
    "noise": (b"\x00\x01\x02\x03" * 20, "no map file"),
    "words": (b"North field, 40 acres", "no map file"),
    "a picture": (b"\x89PNG\r\n\x1a\n" + b"\x00" * 40, "no map file"),
    "heights": (b"II*\x00" + b"\x00" * 40, "grid of heights"),
    "a PDF in front of an archive": (b"%PDF-1.7\n" + GOOD_SHAPES, "no map file"),
    "too large": (b" " * (MOST_BYTES + 1), "larger than 10 MB"),
    "a web page": (b"<html><body>no</body></html>", "XML of another kind, “html”"),
    "a drawing": (b"<svg xmlns='http://www.w3.org/2000/svg'/>", "XML of another kind"),
    "a shape by itself": (members()["field.shp"], "Pack it as zip"),
    # JSON
    "cut JSON": (make.geojson([FIELD])[:-20], "cut off"),
    "deep JSON": (b"[" * 200_000, "nested too deep"),
    "deep object": (b'{"a":' * 100_000 + b"1" + b"}" * 100_000, "nested too deep|no geometry"),
    "JSON of numbers": (b"[1, 2]", "no GeoJSON"),
    "JSON in Latin": (b'{"type": "\xe9"}', "not UTF-8"),
    "other JSON": (b'{"acres": 40}', "no geometry of GeoJSON"),
    "TopoJSON": (b'{"type": "Topology"}', "TopoJSON"),
    "no features": (b'{"type": "FeatureCollection", "features": []}', "It holds no outline"),
    "features of another kind": (b'{"type": "FeatureCollection", "features": {}}', "must be a list"),
    "a null": (b'{"type": "FeatureCollection", "features": [null]}', "It is no feature"),
    "no geometry": (b'{"type": "Feature", "geometry": null}', "It has no geometry"),
    "NaN": (polygon(FIELD).replace(b"38.82]", b"NaN]"), "no number"),
    "infinite": (polygon(FIELD).replace(b"38.82]", b"1e999]"), "not a number"),
    "very long number": (
        polygon(FIELD).replace(b"38.82]", b"9" * 5000 + b"]"),
        "not a number",
    ),
    "too large an integer": (polygon(FIELD).replace(b"38.82]", b"9" * 400 + b"]"), "not a number"),
    "true": (polygon([[True, True], [0, 1], [1, 1]]), "position cannot be"),
    "text for a number": (polygon([["1", "2"], [0, 1], [1, 1]]), "position cannot be"),
    "half a position": (polygon([[1], [0, 1], [1, 1]]), "position cannot be"),
    "flat coordinates": (polygon(1, 2, 3), "must be a list"),
    "empty polygon": (polygon(), "It holds no ring"),
    "empty ring": (polygon([]), "fewer than three"),
    "two corners": (polygon(FIELD[:2]), "fewer than three"),
    "bow tie": (polygon(BOW_TIE), "crosses itself"),
    "a tangle": (polygon(scatter(600)), "cross all over"),
    "a tangled hole": (polygon(FIELD, scatter(600)), "cross all over"),
    "a tangled line": (
        json.dumps({"type": "LineString", "coordinates": scatter(600)}).encode(),
        "cross all over",
    ),
    "a tangle of parts": (
        json.dumps({"type": "MultiPolygon", "coordinates": TRIANGLES}).encode(),
        "cross all over",
    ),
    "spaces without end": (
        make.kml(f"<Placemark><Point><coordinates>1{' ' * 900_000}2</coordinates></Point></Placemark>"),
        "is no position",
    ),
    "rings in rings": (make.shapes(RINGS_IN_RINGS), "more than 500 rings"),
    "too many corners in a shape": (make.shapes([circle(MOST_CORNERS + 1)]), "more than 50,000 corners"),
    "too many steps of a walk": (make.gpx(circle(MOST_CORNERS + 1)), "more than 50,000 corners"),
    "swapped": (polygon([(y, x) for x, y in FIELD]), "latitude stands first"),
    "metres": (polygon([(x * 1e4, y * 1e5) for x, y in FIELD]), "meters or feet of a projection"),
    "huge": (polygon([[1e300, 1e300], [-1e300, 1], [0, 2]]), "meters or feet"),
    "round the pole": (polygon([[0, 80], [120, 80], [-120, 80]]), "round a pole"),
    "too many corners": (polygon(circle(MOST_CORNERS + 1)), "more than 50,000 corners"),
    "too many features": (make.geojson(*[[FIELD]] * 2001), "more than 2,000"),
    "deep collections": (
        b'{"type":"GeometryCollection","geometries":[' * 20 + b"]}" * 20,
        "nested too deep",
    ),
    "a crs from outside": (
        make.geojson([FIELD], crs={"type": "name", "properties": {"name": "http://example.org/crs"}}),
        "is not known",
    ),
    # XML
    "a billion laughs": (entities(10), "document type or entities"),
    "one entity": (entities(1), "document type or entities"),
    "a file of the machine": (
        b'<!DOCTYPE kml [<!ENTITY a SYSTEM "file:///etc/passwd">]><kml>&a;</kml>',
        "document type or entities",
    ),
    "another file as type": (b'<!DOCTYPE kml SYSTEM "http://example.org/a.dtd"><kml/>', "document type"),
    "an entity never made": (b"<kml>&a;</kml>", "no sound XML"),
    "deep XML": (b"<kml>" + b"<a>" * 50_000, "nested too deep"),
    "cut XML": (GOOD_KML[:-30], "no sound XML"),
    "XML in an odd encoding": (b'<?xml version="1.0" encoding="klingon"?><kml/>', "encoding|no sound XML"),
    "bare KML": (b"<kml/>", "It holds no outline"),
    "a placemark of nothing": (make.kml("<Placemark/>"), "no outline, line or point"),
    "KML of words": (GOOD_KML.replace(b"-92.22,38.82", b"here,there"), "“here” is no number"),
    "KML of NaN": (GOOD_KML.replace(b"-92.22,38.82", b"nan,38.82"), "not a number"),
    "KML with half a position": (GOOD_KML.replace(b"-92.22,38.82,0", b"-92.22"), "is no position"),
    "KML without an edge": (make.kml("<Placemark><Polygon/></Placemark>"), "one outer edge"),
    "bare GPX": (b"<gpx/>", "It holds no outline"),
    "a track of nothing": (make.gpx([]), "fewer than two points"),
    "a track without places": (b"<gpx><trk><trkseg><trkpt/></trkseg></trk></gpx>", "“” is no number"),
    "a track off the earth": (make.gpx([(1e9, 1e9), (1, 1)]), "off the earth"),
    "a track of NaN": (make.gpx([(float("nan"), 1.0), (1, 1)]), "off the earth"),
    "a ring in two": (make.gpx(FIELD, BOW_TIE), "crosses itself|lie over"),
    # archives
    "cut archive": (GOOD_SHAPES[:-40], "damaged or cut off"),
    "half an archive": (GOOD_SHAPES[: len(GOOD_SHAPES) // 2], "damaged or cut off"),
    "empty archive": (b"PK\x05\x06" + b"\x00" * 18, "no map file"),
    "an archive of words": (make.packed({"a.txt": b"x"}), "no .shp and no .kml"),
    "a climb": (make.packed({"../../etc/field.shp": b"x"}), "leads out of"),
    "from the root": (make.packed({"/etc/field.shp": b"x"}), "leads out of"),
    "from a drive": (make.packed({"C:field.shp": b"x"}), "leads out of"),
    "backslashes": (zipped("..\\field.shp"), "leads out of"),
    "an archive in an archive": (make.packed({"more.zip": GOOD_SHAPES}), "archive inside the archive"),
    "a map archive in an archive": (make.packed({"more.kmz": b"x"}), "archive inside the archive"),
    "a bomb": (make.packed({"field.shp": b"\x00" * 9_000_000}), "far more than a map"),
    "many small bombs": (make.packed({f"{n}.shp": b"\x00" * 300_000 for n in range(90)}), "20 MB"),
    "a bomb that lies": (zipped("field.shp", b"\x00" * 12_000_000, size=1000), "damaged or cut off"),
    "a member without a name": (zipped("\x00a"), "damaged or cut off"),
    "too many members": (make.packed({f"{n}.txt": b"" for n in range(101)}), "more than 100 files"),
    "one name twice": (make.packed({"a.shp": b"x", "A.SHP": b"y"}), "one name twice"),
    "locked": (zipped("field.shp", flags=1), "password"),
    "a link": (zipped("field.shp", b"/etc/passwd", mode=0o120777), "It is a link"),
    "an odd packing": (zipped("field.shp", method=14), "packed in a way"),
    "a KMZ of lies": (make.packed({"doc.kml": b"<gpx/>"}), "holds no KML"),
    "a KMZ of laughs": (make.packed({"doc.kml": entities(10)}), "document type or entities"),
    "a KMZ cut": (make.packed({"doc.kml": GOOD_KML[:-30]}), "no sound XML"),
    # shapefiles
    "two shapefiles": (make.packed({"a.shp": b"", "b.shp": b""}), "2 shapefiles"),
    "no shapefile": (make.packed({"a.shp": b"x" * 200}), "is no shapefile"),
    "cut shapefile": (with_shp(lambda shp: shp[:-10]), "damaged or cut off"),
    "only a header": (with_shp(lambda shp: shp[:100]), "It holds no shape"),
    "records without end": (with_bytes(104, struct.pack(">i", -4)), "damaged or cut off"),
    "records of nothing": (with_bytes(104, struct.pack(">i", 0)), "damaged or cut off"),
    "a billion parts": (with_bytes(144, struct.pack("<i", 1_000_000_000)), "damaged or cut off"),
    "a billion points": (with_bytes(148, struct.pack("<i", 1_000_000_000)), "damaged or cut off"),
    "fewer than no points": (with_bytes(148, struct.pack("<i", -1)), "damaged or cut off"),
    "parts out of order": (with_bytes(152, struct.pack("<i", 3)), "damaged or cut off"),
    "a shape of no kind": (with_bytes(108, struct.pack("<i", 77)), "damaged or cut off"),
    "an empty shape": (with_bytes(108, struct.pack("<i", 0)), "It is empty"),
    "a corner of NaN": (with_bytes(156, struct.pack("<d", float("nan"))), "not a number"),
    "no projection": (make.shapes([FIELD], epsg=None), "It has no .prj"),
    "a projection of words": (make.packed(members() | {"field.prj": b"UTM 15 north"}), "is not known"),
    "a projection without end": (make.packed(members() | {"field.prj": b"GEOGCS[" * 9000}), "is not known"),
}


@pytest.mark.parametrize(("data", "said"), HOSTILE.values(), ids=HOSTILE)
def test_a_hostile_file_ends_in_a_sentence(data: bytes, said: str) -> None:
    with pytest.raises(GroundFileError, match=said) as refused:
        bring_in("field.geojson", data)
    assert str(refused.value).startswith("field.geojson")
    words = refused.value.words
    assert words[0].isupper() or words[0] in "“1234567890", words
    assert words.endswith((".", "?")) and len(words) < 400, words
    assert not re.search(r"[\x00-\x1f]", words)


def test_a_table_of_names_that_is_broken_costs_the_names_only() -> None:
    for dbf in (b"", b"x" * 500, members()["field.dbf"][:40]):
        found = bring_in("a.zip", make.packed(members() | {"field.dbf": dbf}))
        assert [feature.name for feature in found.features] == [""]
    odd = make.packed(members() | {"field.cpg": b"klingon"})
    assert bring_in("a.zip", odd).features[0].name == "North"


def test_the_name_of_a_file_is_text() -> None:
    with pytest.raises(GroundFileError) as refused:
        bring_in("a\r\nb" + "x" * 500, b"")
    assert refused.value.file == "a??b" + "x" * 76


GOOD = [
    make.geojson([FIELD]),
    GOOD_KML,
    make.gpx([(x, y, 200.0) for x, y in FIELD]),
    make.packed({"doc.kml": GOOD_KML}, zipfile.ZIP_STORED),
    make.packed(members(), zipfile.ZIP_STORED),
    GOOD_SHAPES,
]
STARTS = [b"", b"{", b"[", b"<kml>", b"<gpx>", b"PK\x03\x04", b'{"type":"Polygon","coordinates":']


def only_says_no(data: bytes) -> None:
    try:
        found = bring_in("field", data, expected=make.HERE)
    except GroundFileError as refused:
        assert refused.words
    else:
        assert found.features


@settings(max_examples=300, deadline=None)
@given(st.sampled_from(STARTS), st.binary(max_size=300))
def test_any_bytes_give_features_or_a_sentence(start: bytes, rest: bytes) -> None:
    only_says_no(start + rest)


@settings(max_examples=600, deadline=None)
@given(
    st.sampled_from(GOOD),
    st.lists(st.tuples(st.floats(0, 0.999), st.binary(min_size=1, max_size=8)), min_size=1, max_size=4),
    st.floats(0, 1),
)
def test_a_damaged_good_file_gives_features_or_a_sentence(
    good: bytes, changes: list[tuple[float, bytes]], cut: float
) -> None:
    data = bytearray(good)
    for where, put in changes:
        at = int(where * len(data))
        data[at : at + len(put)] = put
    only_says_no(bytes(data))
    only_says_no(bytes(data[: int(cut * len(data))]))


KEYS = st.sampled_from("type features geometry geometries coordinates properties crs name".split())
KINDS = "FeatureCollection Feature Polygon MultiPolygon Point LineString GeometryCollection".split()
JSON = st.recursive(
    st.none() | st.booleans() | st.floats() | st.integers() | st.text(max_size=5),
    lambda inner: st.lists(inner, max_size=5) | st.dictionaries(KEYS, inner, max_size=5),
    max_leaves=40,
)


@settings(max_examples=200, deadline=None)
@example("Polygon", {"coordinates": [[[0, 0], [1, 0], [1, 1], [0, 0], [1, 1]]]})
@given(st.sampled_from(KINDS), st.dictionaries(KEYS, JSON, max_size=4))
def test_any_json_gives_features_or_a_sentence(kind: str, document: dict[str, Any]) -> None:
    only_says_no(json.dumps(document | {"type": kind}).encode())


@settings(max_examples=300, deadline=None)
@given(st.lists(st.lists(st.tuples(st.floats(-100, 100), st.floats(-95, 95)), max_size=8), max_size=4))
def test_any_rings_give_an_outline_or_a_sentence(rings: list[list[tuple[float, float]]]) -> None:
    only_says_no(json.dumps({"type": "Polygon", "coordinates": rings}).encode())
    only_says_no(json.dumps({"type": "MultiPolygon", "coordinates": [[ring] for ring in rings]}).encode())
    only_says_no(make.gpx(*rings))


SMALL = st.integers(0, 3)


@settings(max_examples=100, deadline=None)
@given(st.lists(st.lists(st.tuples(SMALL, SMALL), min_size=3, max_size=9), min_size=1, max_size=4))
def test_rings_that_meet_in_every_way_give_an_outline_or_a_sentence(
    rings: list[list[tuple[int, int]]],
) -> None:
    near = [[(-92 + x / 1000, 38 + y / 1000) for x, y in ring] for ring in rings]
    only_says_no(json.dumps({"type": "Polygon", "coordinates": near}).encode())
    only_says_no(json.dumps({"type": "MultiPolygon", "coordinates": [[ring] for ring in near]}).encode())
    only_says_no(make.shapes(near))
