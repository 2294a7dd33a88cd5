"""A map file brought in: shown first, kept all or nothing, refused in a sentence; and sent out again."""

from __future__ import annotations

import io
import json
import zipfile
from datetime import timedelta
from typing import Any

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.core.management import call_command
from django.test import Client as Browser
from django.utils import timezone
from django_scopes import scope, scopes_disabled

from sites.models import Farm, Field, Landmark, MapUpload
from tests.conftest import Cast
from tests.drawn_factories import SOUTH, WEST, geojson, make_landmark, make_upload, outlined, polygon, square
from tests.factories import make_client, make_farm, make_field
from tests.web.queries import count

pytestmark = pytest.mark.django_db
LINE = {"type": "LineString", "coordinates": [[WEST, SOUTH], [WEST + 0.01, SOUTH]]}
POINT = {"type": "Point", "coordinates": [WEST, SOUTH]}
SWAPPED = polygon([[up, across] for across, up in square()])
UTM = polygon([[557000, 4311000], [557300, 4311000], [557300, 4311300], [557000, 4311000]])
"""Metres of zone 15 north, near the farm."""
GPX = (
    '<gpx xmlns="http://www.topografix.com/GPX/1/1" version="1.1"><trk><name>Walk</name><trkseg>'
    + "".join(f'<trkpt lat="{up}" lon="{across}"/>' for across, up in square())
    + "</trkseg></trk></gpx>"
).encode()


@pytest.fixture
def farm(cast: Cast) -> Farm:
    return make_farm(make_client(cast.practice), latitude=38.95, longitude=-92.33)


@pytest.fixture
def field(farm: Farm) -> Field:
    return make_field(farm, name="Barn Hill")


@pytest.fixture
def planner(cast: Cast) -> Browser:
    return cast.browser(cast.planner)


def send(
    planner: Browser, cast: Cast, farm: Farm, data: bytes, name: str = "map.geojson", **more: Any
) -> Any:
    form = {"file": SimpleUploadedFile(name, data), **more}
    return planner.post(cast.url(f"farms/{farm.pk}/bring-in/"), form, follow=True)


def kept(cast: Cast) -> tuple[int, int, int]:
    """Outlines, landmarks and files."""
    with scope(practice=cast.practice):
        outlines = Field.objects.filter(outline__isnull=False).count()
        return outlines, Landmark.objects.count(), MapUpload.objects.count()


def sorted_out(page: Any, **goes: str) -> dict[str, str]:
    """The form as it is shown, with these answers changed."""
    form = page.context["form"]
    return {name: form[name].value() or "" for name in form.fields} | {"sure": ""} | goes


def test_nothing_is_kept_before_each_part_is_told_where_it_goes(
    cast: Cast, planner: Browser, farm: Farm, field: Field
) -> None:
    data = geojson(
        ("Barn Hill", polygon()), ("Strip <b>", polygon(square(WEST + 0.01))), ("Line", LINE), ("Gate", POINT)
    )
    page = send(planner, cast, farm, data)
    html = page.content.decode()
    assert "Nothing is kept of it yet." in html and "4 parts, 57.0" in html and "Strip &lt;b&gt;" in html
    assert kept(cast) == (0, 0, 1)
    url = page.request["PATH_INFO"]
    answers = sorted_out(page, cover="annual weeds", where_2="landmark-power line", where_3="landmark-gate")
    assert answers["where_0"] == f"outline-{field.pk}" and answers["where_1"] == "new"
    done = planner.post(url, answers, follow=True)
    assert "Brought in: Barn Hill, 28.5" in done.content.decode()
    assert kept(cast) == (2, 2, 0)
    with scope(practice=cast.practice):
        assert Field.objects.get(name="Strip <b>").cover == "annual weeds"
        assert {row.kind: row.shape["type"] for row in Landmark.objects.all()} == {
            "power line": "LineString",
            "gate": "Point",
        }
    field.refresh_from_db()
    assert field.outline_from == f"Brought in from map.geojson (GeoJSON) by {cast.planner}"


def test_a_walk_brought_in_for_a_field_is_offered_as_its_outline(
    cast: Cast, planner: Browser, farm: Farm, field: Field
) -> None:
    page = send(planner, cast, farm, GPX, "walk.gpx", field=str(field.pk))
    done = planner.post(page.request["PATH_INFO"], sorted_out(page))
    assert done.headers["Location"] == cast.url(f"fields/{field.pk}/")
    field.refresh_from_db()
    assert field.acres == pytest.approx(28.5, abs=0.2)


@pytest.mark.parametrize(
    ("goes", "said"),
    [
        ({"where_0": "leave", "where_1": "leave"}, "Every part is left out."),
        ({"where_0": "new", "cover": ""}, "What grows on the new fields is missing."),
        (
            {"where_0": "new", "name_0": "", "cover": "annual weeds"},
            "Part 1 becomes a field and needs a name.",
        ),
        (
            {"where_0": "new", "name_0": "Barn Hill", "cover": "annual weeds"},
            "Barn Hill: This farm has a field",
        ),
        ({"where_0": "nowhere"}, "Choose from what is offered."),
        ({"seen": "long ago", "cover": "annual weeds"}, "Someone changed a field of this farm"),
    ],
)
def test_answers_that_do_not_fit_keep_nothing_at_all(
    cast: Cast, planner: Browser, farm: Farm, field: Field, goes: dict[str, str], said: str
) -> None:
    data = geojson(("Second", polygon(square(WEST + 0.01))), ("Barn Hill", polygon()))
    page = send(planner, cast, farm, data)
    refused = planner.post(page.request["PATH_INFO"], sorted_out(page, **goes))
    assert refused.status_code == 422 and said in refused.content.decode()
    assert kept(cast) == (0, 0, 1)


def test_two_parts_cannot_be_one_fields_outline(
    cast: Cast, planner: Browser, farm: Farm, field: Field
) -> None:
    page = send(planner, cast, farm, geojson(("A", polygon()), ("B", polygon(square(WEST + 0.01)))))
    both = {"where_0": f"outline-{field.pk}", "where_1": f"outline-{field.pk}"}
    refused = planner.post(page.request["PATH_INFO"], sorted_out(page, **both))
    assert (
        refused.status_code == 422
        and "Barn Hill has an outline from another part." in refused.content.decode()
    )


def test_a_missing_projection_is_asked_and_never_guessed(cast: Cast, planner: Browser, farm: Farm) -> None:
    page = send(planner, cast, farm, geojson(("A", UTM)))
    url = page.request["PATH_INFO"]
    assert "Say which projection it has" in page.content.decode() and "form" not in page.context
    assert planner.get(url, {"projection": "no such"}).status_code == 422
    still = planner.get(url, {"projection": ""})
    assert still.status_code == 422 and '<p role="alert"><strong>' in still.content.decode()
    placed = planner.get(url, {"projection": "EPSG:26915"})
    assert "11.13 acres" in placed.content.decode() and "UTM zone 15N" in placed.content.decode()
    done = planner.post(f"{url}?projection=EPSG:26915", sorted_out(placed, cover="annual weeds", name_0="A"))
    assert done.status_code == 302 and kept(cast) == (1, 0, 0)


def test_a_swapped_order_is_a_question_that_must_be_answered(
    cast: Cast, planner: Browser, farm: Farm
) -> None:
    page = send(planner, cast, farm, geojson(("A", SWAPPED)))
    assert "latitude stands first" in page.content.decode()
    placed = planner.get(page.request["PATH_INFO"], {"order": "latitude"})
    assert "28.5" in placed.content.decode()


def test_a_file_from_far_away_is_asked_about(cast: Cast, planner: Browser, farm: Farm) -> None:
    page = send(planner, cast, farm, geojson(("A", polygon(square(-85.0)))))
    url = page.request["PATH_INFO"]
    answers = sorted_out(page, cover="annual weeds")
    assert "miles from the farm" in page.content.decode()
    assert planner.post(url, answers).status_code == 422 and kept(cast) == (0, 0, 1)
    assert planner.post(url, answers | {"sure": "on"}).status_code == 302 and kept(cast) == (1, 0, 0)


def zipped(*members: tuple[str, bytes]) -> bytes:
    made = io.BytesIO()
    with zipfile.ZipFile(made, "w", zipfile.ZIP_DEFLATED) as archive:
        for name, data in members:
            archive.writestr(name, data)
    return made.getvalue()


@pytest.mark.parametrize(
    ("data", "said"),
    [
        (b"", "The file is empty."),
        (b"MZ\x90\x00", "no map file that is read here."),
        (b"{" * 5000, "no sound JSON here"),
        (b'<!DOCTYPE k [<!ENTITY a "b">]><kml>&a;</kml>', "document type or entities, which are refused"),
        (b'<kml xmlns="http://www.opengis.net/kml/2.2"><Document>', "no sound XML"),
        (zipped(("../../etc/field.shp", b"x")), "leads out of the zip archive"),
        (zipped(("big.kml", b" " * 9_000_000)), "unpacks to far more than a map would"),
        (b"{}" + b" " * 10_000_001, "Bring in 10 MB at most"),
        (geojson(("A", polygon([[0, 0], [1, 1]]))), "fewer than three corners"),
        (geojson(*[("A", POINT)] * 201), "Export only those of the farm, up to 200."),
    ],
)
def test_a_hostile_or_broken_file_is_refused_in_a_sentence(
    cast: Cast, planner: Browser, farm: Farm, data: bytes, said: str
) -> None:
    response = send(planner, cast, farm, data)
    assert response.status_code == 422 and said in response.content.decode()
    assert kept(cast) == (0, 0, 0)


@pytest.mark.parametrize("name", ["</title><script>x</script>", "\ud800 lone", "\x00 nul", "草" * 300])
def test_names_from_a_file_are_text_and_no_more(cast: Cast, planner: Browser, farm: Farm, name: str) -> None:
    page = send(planner, cast, farm, geojson((name, polygon()), (name, LINE)), name="<b>map</b>.geojson")
    html = page.content.decode()
    assert page.status_code == 200 and "<script>x" not in html and "<b>map" not in html
    answers = sorted_out(page, cover="annual weeds", where_1="landmark-lane")
    assert planner.post(page.request["PATH_INFO"], answers, follow=True).status_code == 200
    assert kept(cast) == (1, 1, 0)


def test_a_file_is_kept_for_a_day_and_goes_when_it_is_left(cast: Cast, planner: Browser, farm: Farm) -> None:
    old = make_upload(farm, cast.owner, at=timezone.now() - timedelta(days=1, minutes=1))
    page = planner.get(cast.url(f"brought/{old.pk}/"), follow=True)
    assert "no longer kept" in page.content.decode()
    new = send(planner, cast, farm, geojson(("A", polygon()))).context["upload"]
    with scope(practice=cast.practice):
        assert [row.pk for row in MapUpload.objects.all()] == [new.pk]
    planner.post(cast.url(f"brought/{new.pk}/drop/"))
    assert kept(cast) == (0, 0, 0)


def test_a_command_removes_old_files_of_all_practices_and_no_other(cast: Cast, farm: Farm) -> None:
    there = make_farm(make_client(cast.other_practice))
    old = timezone.now() - timedelta(days=1, minutes=1)
    make_upload(farm, cast.owner, at=old)
    make_upload(there, cast.owner, at=old)
    new = make_upload(there, cast.owner)
    said = io.StringIO()
    call_command("forget_uploads", stdout=said)
    assert said.getvalue() == "2 map files removed.\n0 sent forms forgotten.\n"
    with scopes_disabled():
        assert [row.pk for row in MapUpload.objects.all()] == [new.pk]


def test_another_practices_field_is_no_place_for_a_file(cast: Cast, planner: Browser, farm: Farm) -> None:
    other = make_field(make_farm(make_client(cast.other_practice)))
    refused = send(planner, cast, farm, geojson(("A", polygon())), field=str(other.pk))
    assert refused.status_code == 422 and kept(cast) == (0, 0, 0)


def test_the_page_asks_the_database_as_often_for_many_parts_as_for_one(
    cast: Cast, planner: Browser, farm: Farm, field: Field
) -> None:
    def asked(parts: int) -> int:
        found = [(f"Part {at}", polygon(square(WEST + 0.005 * at))) for at in range(parts)]
        url = cast.url(f"brought/{make_upload(farm, cast.owner, geojson(*found)).pk}/")
        return count(lambda: planner.get(url))

    assert asked(1) == asked(40) <= 10


@pytest.mark.parametrize("kind", ["geojson", "kml", "gpx"])
def test_what_is_sent_out_comes_back_with_the_same_acres(
    cast: Cast, planner: Browser, farm: Farm, field: Field, kind: str
) -> None:
    outlined(field)
    make_landmark(farm)
    sent = planner.get(cast.url(f"farms/{farm.pk}/map.{kind}"))
    page = send(planner, cast, farm, sent.content, f"map.{kind}")
    assert sorted(feature.kind for feature in page.context["found"].features) == ["point", "polygon"]
    alone = planner.get(cast.url(f"fields/{field.pk}/outline.{kind}"))
    found = send(planner, cast, farm, alone.content, f"field.{kind}").context["found"]
    assert [feature.name for feature in found.features] == ["Barn Hill"]
    assert found.acres == pytest.approx(28.5, abs=0.2)


def test_a_file_name_is_safe_and_what_has_no_outline_is_not_sent(
    cast: Cast, planner: Browser, farm: Farm
) -> None:
    bad = outlined(make_field(farm, name='../"evil"; \r\nX: y'))
    sent = planner.get(cast.url(f"fields/{bad.pk}/outline.geojson"))
    assert sent.headers["Content-Disposition"].endswith('evil-x-y.geojson"') and "X" not in sent.headers
    assert json.loads(sent.content)["features"][0]["properties"]["name"] == bad.name
    assert planner.get(cast.url(f"fields/{make_field(farm).pk}/outline.kml")).status_code == 404
    assert planner.get(cast.url(f"fields/{bad.pk}/outline.exe")).status_code == 404
