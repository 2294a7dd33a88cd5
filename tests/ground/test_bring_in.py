"""Files that are as they should be, or nearly: what is found, what is mended, what is asked."""

from __future__ import annotations

import json
import math

import pytest

from sites.ground.bring_in import bring_in
from sites.ground.errors import GroundFileError
from sites.ground.measuring import measure
from sites.ground.outline import Point
from sites.ground.send_out import to_geojson
from tests.ground import make
from tests.ground.make import FIELD, HERE, POND, off, outline, square

ACRES = measure(outline(FIELD)).acres
LESS_POND = ACRES - measure(outline(POND)).acres
UTM_15N = 26915


@pytest.mark.parametrize(
    ("name", "data", "acres"),
    [
        ("a.geojson", make.geojson([FIELD]), ACRES),
        ("a.geojson", make.geojson([FIELD, POND]), LESS_POND),
        ("a.geojson", make.geojson([FIELD, POND[::-1]]), LESS_POND),
        ("a.json", json.dumps({"type": "Polygon", "coordinates": [FIELD]}).encode(), ACRES),
        ("a.json", b"\xef\xbb\xbf" + make.geojson([[FIELD]], kind="MultiPolygon"), ACRES),
        ("a.kml", make.kml(make.placemark()), ACRES),
        ("a.kml", make.kml(f"<Folder><Folder>{make.placemark()}</Folder></Folder>"), ACRES),
        ("a.kml", make.kml(make.placemark()).replace(b",38", b" , 38"), ACRES),
        ("a.kml", make.kml(make.placemark()).replace(b' xmlns="http://www.opengis.net/kml/2.2"', b""), ACRES),
        ("a.kml", make.kml(make.placemark()).decode().encode("utf-16"), ACRES),
        ("a.kmz", make.packed({"doc.kml": make.kml(make.placemark()), "files/icon.png": b"x"}), ACRES),
        ("a.gpx", make.gpx(FIELD), ACRES),
        ("a.gpx", make.gpx(FIELD, kind="rte"), ACRES),
        ("a.gpx", make.gpx(FIELD[:2], FIELD[2:]), ACRES),
        ("a.zip", make.shapes([FIELD]), ACRES),
        ("a.zip", make.shapes([FIELD], epsg=UTM_15N), ACRES),
        ("a.zip", make.shapes([FIELD, POND], epsg=UTM_15N), LESS_POND),
        ("a.zip", make.shapes([FIELD, POND[::-1]]), LESS_POND),
    ],
)
def test_acres_of_a_file(name: str, data: bytes, acres: float) -> None:
    found = bring_in(name, data, expected=HERE)
    assert found.acres == pytest.approx(acres, rel=1e-6)
    assert not found.problems and not found.questions
    assert [feature.kind for feature in found.features] == ["polygon"]


def test_a_projection_in_feet_is_brought_to_degrees() -> None:
    illinois_west_ft = 3436
    found = bring_in("a.zip", make.shapes([FIELD], epsg=illinois_west_ft))
    assert found.acres == pytest.approx(ACRES, rel=1e-6)
    assert "ftUS" in found.projection


def test_the_projection_is_named_with_what_it_is_exact_to() -> None:
    words = bring_in("a.zip", make.shapes([FIELD], epsg=UTM_15N)).projection
    assert words.startswith("NAD83 / UTM zone 15N (EPSG:26915), brought to WGS 84")
    assert "exact to about" in words
    assert bring_in("a.geojson", make.geojson([FIELD])).projection == "WGS 84 longitude and latitude"


def test_a_missing_projection_is_asked_for_and_never_guessed() -> None:
    for data in (make.shapes([FIELD], epsg=None), make.geojson([[[x * 1e4, y * 1e5] for x, y in FIELD]])):
        with pytest.raises(GroundFileError, match="projection") as refused:
            bring_in("a", data)
        assert refused.value.asks == "projection"
    assert bring_in("a.zip", make.shapes([FIELD], epsg=None), projection="EPSG:4326").acres == pytest.approx(
        ACRES
    )


@pytest.mark.parametrize(
    "answer", ["EPSG:1", "north", "+proj=utm +zone=15", "+init=/etc/passwd:x", "EPSG:5703"]
)
def test_an_answer_that_is_no_projection_is_asked_again(answer: str) -> None:
    with pytest.raises(GroundFileError, match="is not known. Say which it is") as refused:
        bring_in("a.zip", make.shapes([FIELD], epsg=None), projection=answer)
    assert refused.value.asks == "projection"


def test_the_older_geojson_states_its_projection() -> None:
    east, north = 567_000.0, 4_297_000.0
    ring = [
        [east, north],
        [east + 402.336, north],
        [east + 402.336, north + 402.336],
        [east, north + 402.336],
    ]
    named = {"type": "name", "properties": {"name": "urn:ogc:def:crs:EPSG::26915"}}
    found = bring_in("a.geojson", make.geojson([ring], crs=named))
    assert found.acres == pytest.approx(40, rel=1e-3)  # the zone's scale at its middle is 0.9996
    plain = {"type": "name", "properties": {"name": "urn:ogc:def:crs:OGC:1.3:CRS84"}}
    assert bring_in("a.geojson", make.geojson([FIELD], crs=plain)).acres == pytest.approx(ACRES)
    with pytest.raises(GroundFileError, match="does not name its projection"):
        bring_in("a.geojson", make.geojson([FIELD], crs={"type": "link"}))


def swapped(ring: list[Point]) -> list[Point]:
    return [(y, x) for x, y in ring]


def test_latitude_first_is_asked_and_taken_as_answered() -> None:
    data = make.geojson([swapped(FIELD)])
    with pytest.raises(
        GroundFileError, match="latitude of -92.22 cannot be.*latitude stands first"
    ) as refused:
        bring_in("a.geojson", data)
    assert refused.value.asks == "latitude_first"
    assert bring_in("a.geojson", data, latitude_first=True).acres == pytest.approx(ACRES)


def test_latitude_first_is_seen_where_both_could_be_degrees() -> None:
    """Ohio: 83° west and 40° north are a place in Antarctica when swapped."""
    ohio = (-83.0, 40.0)
    data = make.geojson([swapped(square(1320, ohio))])
    (question,) = bring_in("a.geojson", data, expected=ohio).questions
    assert question.asks == "latitude_first" and "at the farm if latitude stands first" in question.words
    (question,) = bring_in("a.geojson", data).questions
    assert question.asks == "latitude_first" and "Antarctica" in question.words


def test_a_file_of_another_place_is_asked_about() -> None:
    (question,) = bring_in("a.geojson", make.geojson([FIELD]), expected=(-83.0, 40.0)).questions
    assert question.asks == "place"
    assert "miles from the farm" in question.words


def test_a_walk_with_heights_round_the_field_is_closed() -> None:
    walk = [(*off(x, y), 200 + x / 100) for x, y in ((0, 0), (1000, 0), (1000, 1000), (0, 1000), (0, 60))]
    (feature,) = bring_in("walk.gpx", make.gpx(walk)).features
    assert feature.kind == "polygon" and feature.name == "Walk"
    assert feature.acres == pytest.approx(1_000_000 / 43_560, rel=1e-3)
    assert "The walk ended 60 ft from where it began; it was closed." in feature.repairs
    assert feature.heights_m == tuple(height for *_, height in walk)
    assert len(feature.points) == len(walk)


def test_a_height_that_is_no_number_is_left_out() -> None:
    walk = [(*off(0, 0), 200.0), (*off(100, 0), math.nan), (*off(200, 0), math.inf)]
    found = bring_in("walk.gpx", make.gpx(walk))
    assert found.features[0].heights_m == (200.0, None, None)
    assert bring_in("a.json", to_geojson(found.features)).features[0].points == found.features[0].points


def test_a_walk_that_ends_elsewhere_is_a_line() -> None:
    walk = [off(0, 0), off(1000, 0), off(1000, 1000), off(0, 1000)]
    (feature,) = bring_in("walk.gpx", make.gpx(walk)).features
    assert (feature.kind, feature.acres) == ("line", 0)


def test_lines_and_points_come_along() -> None:
    well = "<Placemark><name>Well</name><Point><coordinates>-92.2,38.8</coordinates></Point></Placemark>"
    lane = (
        "<Placemark><MultiGeometry><LineString><coordinates>-92.2,38.8,100 -92.3,38.9,101</coordinates>"
        "</LineString></MultiGeometry></Placemark>"
    )
    found = bring_in("a.kml", make.kml(well, lane, make.placemark()))
    assert [(feature.kind, feature.name) for feature in found.features] == [
        ("point", "Well"),
        ("line", ""),
        ("polygon", "North field"),
    ]
    assert found.features[1].heights_m == (100, 101)


def test_names_come_along_as_text() -> None:
    name = "A & B <b>\x07\n=1+1"
    assert bring_in("a.zip", make.shapes([FIELD], name="Nördlich")).features[0].name == "Nördlich"
    feature = {
        "type": "Feature",
        "properties": {"name": name},
        "geometry": {"type": "Point", "coordinates": [1, 2]},
    }
    assert bring_in("a.json", json.dumps(feature).encode()).features[0].name == "A & B <b> =1+1"
    numbered = feature | {"properties": None, "id": 7}
    assert bring_in("a.json", json.dumps(numbered).encode()).features[0].name == "7"


def test_what_cannot_be_used_is_named_beside_what_can() -> None:
    bow_tie = [FIELD[0], FIELD[2], FIELD[1], FIELD[3], FIELD[0]]
    found = bring_in("a.geojson", make.geojson([FIELD], [bow_tie], None))
    assert found.acres == pytest.approx(ACRES)
    assert [problem.split(":")[0] for problem in found.problems] == ["feature 3", "feature 2"]
    assert "crosses itself" in found.problems[1]


def test_a_link_to_another_file_is_not_followed() -> None:
    link = "<NetworkLink><Link><href>http://example.org/a.kml</href></Link></NetworkLink>"
    (problem,) = bring_in("a.kml", make.kml(link, make.placemark())).problems
    assert "not followed" in problem


def test_the_content_counts_and_not_the_name() -> None:
    (said, *_) = bring_in("field.kml", make.geojson([FIELD])).repairs
    assert said == "The name ends in .kml, but the file holds GeoJSON; it was read as that."


def test_more_acres_than_a_farm_are_a_problem() -> None:
    (problem,) = bring_in("a.json", make.geojson([[(-94, 38), (-93, 38), (-93, 39)]])).problems
    assert "more than a farm" in problem


def test_holes_wound_like_their_edge_are_said() -> None:
    found = bring_in("a.zip", make.shapes([FIELD, POND]))
    said = " ".join(found.features[0].repairs)
    wound_alike = bring_in("a.zip", make.shapes([FIELD, POND[::-1]]))
    assert ("taken off" in said) != ("taken off" in " ".join(wound_alike.features[0].repairs))
    assert math.isclose(found.acres, wound_alike.acres)
