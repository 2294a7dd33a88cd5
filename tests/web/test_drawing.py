"""Drawing a field by typed corners, the script's questions, tiles, and two people at one field."""

from __future__ import annotations

from typing import Any

import pytest
from django.test import Client as Browser
from django_scopes import scope

from sites.models import Exclusion, Farm, Field, Landmark
from tests.conftest import Cast
from tests.drawn_factories import SOUTH, WEST, make_landmark, outlined, square, typed
from tests.factories import DETAILS, make_client, make_farm, make_field
from tests.plan_factories import make_agreed, make_ready_plan
from tests.web.queries import count

pytestmark = pytest.mark.django_db
ACRES = 28.5
BOWTIE = [square()[at] for at in (0, 2, 1, 3, 0)]
TILES = "https://tiles.example.org/air/{z}/{x}/{y}.png"


@pytest.fixture
def farm(cast: Cast) -> Farm:
    return make_farm(make_client(cast.practice), latitude=38.95, longitude=-92.33)


@pytest.fixture
def field(farm: Farm) -> Field:
    return make_field(farm, name="Barn Hill")


@pytest.fixture
def planner(cast: Cast) -> Browser:
    return cast.browser(cast.planner)


def corners(text: str, **more: str) -> dict[str, str]:
    return {"order": "latitude", "corners": text, "seen": "", **more}


def seen(planner: Browser, url: str) -> str:
    return planner.get(url).context["form" if "landmarks" in url else "outline_form"]["seen"].value()


def now(row: Any) -> Any:
    row.refresh_from_db()
    return row


def test_typed_corners_become_an_outline_and_its_acres(cast: Cast, planner: Browser, field: Field) -> None:
    url = cast.url(f"fields/{field.pk}/draw/")
    page = planner.post(url, corners(typed(square()), seen=seen(planner, url)), follow=True)
    assert now(field).acres == pytest.approx(ACRES, abs=0.2)
    assert field.outline_from == f"Drawn or typed by {cast.planner}" and field.outline_on
    html = page.content.decode()
    assert 'class="field-plan"' in html and f"{field.acres:g} acres" in html
    assert "38.953, -92.326" in planner.get(url).content.decode(), "its corners can be changed by keyboard"


def test_longitude_first_degrees_minutes_and_a_hole(cast: Cast, planner: Browser, field: Field) -> None:
    url = cast.url(f"fields/{field.pk}/draw/")
    text = (
        "92 19 48 W, 38 57 00 N\n92 19 33.6 W, 38 57 00 N\n"
        "92 19 33.6 W, 38 57 10.8 N\n92 19 48 W, 38 57 10.8 N"
        "\n\n-92.329, 38.951\n-92.328, 38.951\n-92.328, 38.952\n-92.329, 38.952"
    )
    planner.post(url, corners(text, order="longitude", seen=seen(planner, url)))
    assert len(now(field).outline["coordinates"][0]) == 2
    assert field.acres == pytest.approx(ACRES * (1 - 1 / 12), abs=0.2)


@pytest.mark.parametrize(
    ("text", "more", "said"),
    [
        ("", {}, "Corners is missing. Fill it in."),
        ("somewhere", {}, "line 1: “somewhere” is no corner."),
        ("38.95, -92.33\n38.95, -92.32", {}, "fewer than three corners"),
        (typed(square()), {"order": "longitude"}, "If latitude stands first, choose that order."),
        (typed(square()), {"order": ""}, "Order of the two numbers is missing."),
        (typed(BOWTIE), {}, "The edge crosses itself"),
        ("38.95, 92.33\n38.96, 92.33\n38.96, 92.34", {}, "Put a minus or a W to it."),
        ("\x00", {}, "holds a character that cannot be kept"),
    ],
)
def test_bad_corners_are_refused_in_a_sentence_and_stay(
    cast: Cast, planner: Browser, field: Field, text: str, more: dict[str, str], said: str
) -> None:
    response = planner.post(cast.url(f"fields/{field.pk}/draw/"), corners(text, **more))
    html = response.content.decode()
    assert response.status_code == 422 and html.count(said) == 2
    assert text.strip("\x00") in html
    assert now(field).outline is None


def test_a_place_far_from_the_farm_is_kept_once_it_is_said_to_be_meant(
    cast: Cast, planner: Browser, field: Field
) -> None:
    url, text = cast.url(f"fields/{field.pk}/draw/"), typed(square(-88.0))
    refused = planner.post(url, corners(text, seen=seen(planner, url)))
    assert refused.status_code == 422 and "miles from the farm" in refused.content.decode()
    assert 'type="checkbox" name="lies_there"' in refused.content.decode()
    assert planner.post(url, corners(text, seen=seen(planner, url), lies_there="on")).status_code == 302
    assert now(field).outline


def test_nobody_overwrites_what_someone_else_drew_meanwhile(
    cast: Cast, planner: Browser, field: Field
) -> None:
    url = cast.url(f"fields/{field.pk}/draw/")
    before = seen(planner, url)
    planner.post(url, corners(typed(square()), seen=before))
    theirs = now(field).acres
    mine = corners(typed(square(wide=0.002)), seen=before)
    refused = planner.post(url, mine)
    html = refused.content.decode()
    assert refused.status_code == 422 and "Someone changed it while this page was open" in html
    assert (
        f"{theirs:g} acres" in html and f"Yours: {theirs / 2:.2f} acres" in html and 'class="other"' in html
    )
    assert now(field).acres == theirs
    again = mine | {"seen": refused.context["outline_form"]["seen"].value()}
    assert planner.post(url, again).status_code == 302
    assert now(field).acres == pytest.approx(theirs / 2, abs=0.02)


def test_acres_alone_take_an_outline_off_but_not_one_that_is_new(
    cast: Cast, planner: Browser, field: Field
) -> None:
    draw, url = cast.url(f"fields/{field.pk}/draw/"), cast.url(f"fields/{field.pk}/acres/")
    before = seen(planner, draw)
    assert "must be 0.01 or more" in planner.post(url, {"acres": "0", "seen": before}).content.decode()
    planner.post(draw, corners(typed(square()), seen=before))
    assert planner.post(url, {"acres": "27", "seen": before}).status_code == 422
    assert now(field).outline
    planner.post(url, {"acres": "27", "seen": seen(planner, draw)})
    assert (now(field).acres, field.outline, field.outline_from) == (27, None, "")


def test_a_new_field_is_drawn_with_its_name(cast: Cast, planner: Browser, farm: Farm, field: Field) -> None:
    url = cast.url(f"farms/{farm.pk}/fields/draw/")
    taken = planner.post(url, corners(typed(square()), name="Barn Hill", cover="annual weeds"))
    assert taken.status_code == 422 and "has a field of that name already" in taken.content.decode()
    planner.post(url, corners(typed(square()), name="Long <b>Strip</b>", cover="annual weeds"))
    with scope(practice=cast.practice):
        made = Field.objects.get(name="Long <b>Strip</b>")
    assert made.acres == pytest.approx(ACRES, abs=0.2)
    for page in (f"fields/{made.pk}/", f"farms/{farm.pk}/", f"farms/{farm.pk}/map/"):
        html = planner.get(cast.url(page)).content.decode()
        assert "Long &lt;b&gt;Strip&lt;/b&gt;" in html and "<b>Strip" not in html


def reckon(planner: Browser, cast: Cast, farm: Farm, **asked: Any) -> tuple[int, dict[str, Any]]:
    answer = planner.post(cast.url(f"farms/{farm.pk}/reckon/"), asked)
    return answer.status_code, answer.json()


def test_the_script_is_answered_with_the_same_acres_that_are_kept(
    cast: Cast, planner: Browser, farm: Farm, field: Field
) -> None:
    status, answer = reckon(planner, cast, farm, act="measure", corners=typed(square()))
    url = cast.url(f"fields/{field.pk}/draw/")
    planner.post(url, corners(answer["corners"], seen=seen(planner, url)))
    assert (status, answer["acres"]) == (200, now(field).acres)


def test_the_script_can_cut_join_draw_to_a_neighbour_and_divide(
    cast: Cast, planner: Browser, farm: Farm, field: Field
) -> None:
    whole = reckon(planner, cast, farm, corners=typed(square()))[1]["acres"]
    hole = typed(square(WEST + 0.001, SOUTH + 0.001, 0.001, 0.001))
    cut = reckon(planner, cast, farm, act="cut", corners=typed(square()), other=hole)[1]
    assert cut["acres"] == pytest.approx(whole * 11 / 12, abs=0.02) and "\n\n" in cut["corners"]
    beside = typed(square(WEST + 0.004))
    assert reckon(planner, cast, farm, act="add", corners=typed(square()), other=beside)[1][
        "acres"
    ] == pytest.approx(2 * whole, abs=0.02)
    outlined(field)
    near = typed(square(WEST + 0.00405))
    laid = reckon(planner, cast, farm, act="draw_to", corners=near, field=field.pk, within_ft="30")[1]
    assert "moved, 14.2 ft at most" in laid["said"][0] and "-92.326\n" in laid["corners"]
    line = f"38.9, {WEST + 0.001}\n39.0, {WEST + 0.001}"
    pieces = reckon(planner, cast, farm, act="divide", corners=line, field=field.pk)[1]["pieces"]
    assert sum(pieces) == pytest.approx(whole, abs=0.02) and pieces[1] == pytest.approx(
        3 * pieces[0], abs=0.05
    )


@pytest.mark.parametrize(
    "asked",
    [
        {},
        {"act": "conjure", "corners": typed(square())},
        {"corners": "1e999, 2"},
        {"corners": typed(BOWTIE)},
        {"act": "cut", "corners": typed(square()), "other": "nothing"},
        {"act": "draw_to", "corners": typed(square()), "field": "9" * 40, "within_ft": "30"},
        {"act": "draw_to", "corners": typed(square()), "field": "1", "within_ft": "nan"},
        {"act": "divide", "corners": "1,1", "field": "x"},
    ],
)
def test_what_the_script_cannot_be_told_is_said_in_a_sentence(
    cast: Cast, planner: Browser, farm: Farm, asked: dict[str, str]
) -> None:
    status, answer = reckon(planner, cast, farm, **asked)
    assert status == 422 and answer["error"].endswith(".")


def test_a_landmark_is_drawn_changed_and_removed(
    cast: Cast, planner: Browser, farm: Farm, field: Field
) -> None:
    new = cast.url(f"farms/{farm.pk}/landmarks/new/")
    made_of = {"kind": "water", "name": "Pond", "notes": "", "made_of": "area"}
    assert planner.post(new, corners(typed(square()), **made_of)).status_code == 302
    with scope(practice=cast.practice):
        pond = Landmark.objects.get()
        assert pond.shape["type"] in ("Polygon", "MultiPolygon")
        Exclusion.objects.create(
            practice=cast.practice, field=field, landmark=pond, distance_ft=50, work=["spray"], reason="label"
        )
    url = cast.url(f"landmarks/{pond.pk}/")
    before = seen(planner, url)
    point = corners("38.951, -92.329", seen=before, **made_of | {"made_of": "point", "name": "Spring"})
    planner.post(url, point)
    assert (now(pond).name, pond.shape) == ("Spring", {"type": "Point", "coordinates": [-92.329, 38.951]})
    late = planner.post(url, point | {"name": "Seep"})
    assert late.status_code == 422 and "Someone changed it" in late.content.decode()
    remove = cast.url(f"landmarks/{pond.pk}/remove/")
    assert "1 of the fields keep" in planner.get(remove).content.decode()
    assert planner.post(remove).status_code == 302
    with scope(practice=cast.practice):
        assert not Landmark.objects.exists() and not Exclusion.objects.exists()


@pytest.mark.parametrize(
    ("made_of", "text", "said"),
    [
        ("point", "38.95, -92.33\n38.96, -92.33", "A point is one corner."),
        ("line", "38.95, -92.33", "A line needs two corners at least."),
        ("line", "38.95, -92.33\n38.95, -92.33", "This is no shape that can be drawn."),
        ("line", "38.95, -92.33\n\n38.96, -92.33", "Only an area may have several rings."),
        ("area", "38.95, -92.33\n38.96, -92.33", "fewer than three corners"),
        ("", "38.95, -92.33", "Drawn as is missing."),
    ],
)
def test_corners_that_make_no_such_landmark_are_refused(
    cast: Cast, planner: Browser, farm: Farm, made_of: str, text: str, said: str
) -> None:
    form = corners(text, kind="lane", name="", notes="", made_of=made_of)
    response = planner.post(cast.url(f"farms/{farm.pk}/landmarks/new/"), form)
    assert response.status_code == 422 and said in response.content.decode()


def test_tiles_come_from_the_practices_host_and_on_drawing_pages_alone(
    cast: Cast, planner: Browser, farm: Farm, field: Field
) -> None:
    draw = cast.url(f"fields/{field.pk}/draw/")
    assert "tiles.example.org" not in planner.get(draw).headers["Content-Security-Policy"]
    cast.practice.tile_address, cast.practice.tile_attribution = TILES, "<i>County</i> air photographs"
    cast.practice.save()
    page = planner.get(draw)
    policy = dict(part.strip().split(" ", 1) for part in page.headers["Content-Security-Policy"].split(";"))
    assert policy["img-src"] == "'self' https://tiles.example.org"
    assert policy["connect-src"] == policy["script-src"] == "'self'" and policy["default-src"] == "'none'"
    assert "&lt;i&gt;County&lt;/i&gt; air photographs" in page.content.decode()
    elsewhere = planner.get(cast.url(f"fields/{field.pk}/")).headers["Content-Security-Policy"]
    assert "tiles.example.org" not in elsewhere


@pytest.mark.parametrize(
    "address",
    [
        "http://tiles.example.org/{z}/{x}/{y}.png",
        "https://tiles.example.org/{z}/{x}.png",
        "https://{s}.example.org/{z}/{x}/{y}.png",
        "https://tiles.example.org;script-src */{z}/{x}/{y}",
        "https://tiles.example.org/{z}/{x}/{y} https://evil.example.org",
        "https://*.example.org/{z}/{x}/{y}",
        "https://user@tiles.example.org/{z}/{x}/{y}",
        "https:///{z}/{x}/{y}",
        "javascript:alert({z}{x}{y})",
    ],
)
def test_a_tile_address_that_a_policy_could_misread_is_refused(cast: Cast, address: str) -> None:
    form = {**DETAILS, "tile_address": address}
    response = cast.browser(cast.owner).post(cast.url("practice/"), form)
    assert response.status_code == 422 and 'id="id_tile_address_error"' in response.content.decode()
    cast.practice.refresh_from_db()
    assert cast.practice.tile_address == ""


def test_a_good_tile_address_is_kept(cast: Cast) -> None:
    form = {**DETAILS, "tile_address": TILES}
    assert cast.browser(cast.owner).post(cast.url("practice/"), form).status_code == 302
    cast.practice.refresh_from_db()
    assert cast.practice.tile_address == TILES


def test_crew_see_the_map_and_no_way_to_change_it(cast: Cast, farm: Farm, field: Field) -> None:
    outlined(field)
    make_landmark(farm)
    crew = cast.browser(cast.crew)
    for page in (f"fields/{field.pk}/", f"farms/{farm.pk}/map/", f"farms/{farm.pk}/"):
        html = crew.get(cast.url(page)).content.decode()
        assert "field-plan" in html or 'id="map-data"' in html
        for way in ("/draw/", "/divide/", "/bring-in/", "/landmarks/"):
            assert way not in html


@pytest.mark.parametrize("page", ["farms/{farm}/", "farms/{farm}/map/", "fields/{field}/draw/"])
def test_a_page_asks_as_often_for_many_outlines_as_for_one(
    cast: Cast, planner: Browser, farm: Farm, field: Field, page: str
) -> None:
    url = cast.url(page.format(farm=farm.pk, field=field.pk))
    outlined(field)
    make_landmark(farm)
    once = count(lambda: planner.get(url))
    for at in range(8):
        outlined(make_field(farm), square(WEST + 0.01 * at))
        make_landmark(farm)
    assert count(lambda: planner.get(url)) == once <= 12


@pytest.mark.parametrize("page", ["draw", "edit"])
def test_before_acres_change_the_page_says_which_signed_work_keeps_its_own(cast: Cast, page: str) -> None:
    draft = make_ready_plan(cast.practice, name="Barn Hill", acres=11.2)
    with scope(practice=cast.practice):
        field = Field.objects.get()
    url, browser = cast.url(f"fields/{field.pk}/{page}/"), cast.browser(cast.planner)
    assert "keeps 11.20 acres" not in browser.get(url).content.decode()
    make_agreed(draft, cast.owner)
    field.acres = 12.0
    with scope(practice=cast.practice):
        field.save()
    html = browser.get(url).content.decode()
    assert "its proposal keeps 11.20 acres for Barn Hill" in html and "takes a new revision" in html
