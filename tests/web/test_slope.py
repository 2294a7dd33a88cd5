"""How steep a field is: four ways of finding out, nothing kept until it is taken."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django_scopes import scope
from rasterio.io import MemoryFile
from rasterio.transform import from_origin

from sites.ground import elevation
from sites.models import Field
from tests.conftest import Cast
from tests.factories import make_client, make_farm, make_field
from tests.ground_factories import NORTH, SOUTH, WEST, make_drawn_field

pytestmark = pytest.mark.django_db

M_PER_DEGREE_NORTH = 111_000.0


def gpx(heights: bool = True, rise_per_point_m: float = 0.55, zigzag: float = 0.0) -> bytes:
    """Due north for some 730 ft, a point every 18 ft, at about a tenth uphill; or to and fro on the way."""
    points = "".join(
        f'<trkpt lat="{SOUTH + at * 5e-5:.6f}" lon="{WEST + zigzag * abs(at % 20 - 10) / 10:.6f}">'
        + (f"<ele>{200 + at * rise_per_point_m:.2f}</ele>" if heights else "")
        + "</trkpt>"
        for at in range(41)
    )
    return (
        '<?xml version="1.0"?><gpx version="1.1" xmlns="http://www.topografix.com/GPX/1/1"><trk>'
        f"<name>Up the hill</name><trkseg>{points}</trkseg></trk></gpx>"
    ).encode()


def geotiff(rise_pct: float = 12.0, west: float = WEST - 0.001) -> bytes:
    """Heights in meters that fall to the south, in cells of 0.00005 degrees."""
    cell = 5e-5
    rows = np.arange(120)[:, None]
    heights = np.broadcast_to(300 - rows * cell * M_PER_DEGREE_NORTH * rise_pct / 100, (120, 120))
    with MemoryFile() as file:
        with file.open(
            driver="GTiff", width=120, height=120, count=1, dtype="float32", crs="EPSG:4326",
            transform=from_origin(west, NORTH + 0.002, cell, cell),
        ) as grid:  # fmt: skip
            grid.write(heights.astype("float32"), 1)
        return bytes(file.read())


def send(cast: Cast, field: Field, way: str, file: tuple[str, bytes] | None = None, **given: str) -> Any:
    data: dict[str, Any] = {"way": way, **{f"{way}-{name}": value for name, value in given.items()}}
    if file:
        data[f"{way}-file"] = SimpleUploadedFile(*file)
    return cast.browser(cast.planner).post(cast.url(f"fields/{field.pk}/slope/"), data)


def drawn_field(cast: Cast) -> Field:
    return make_drawn_field(make_farm(make_client(cast.practice)), name="Barn Hill")


@pytest.mark.parametrize(
    ("way", "given", "steepest_pct"),
    [
        ("rise", {"rise_ft": "9", "run_ft": "60"}, 15.0),
        ("clinometer", {"reading": "15", "unit": "degrees"}, 26.8),
        ("clinometer", {"reading": "-15", "unit": "percent"}, 15.0),
    ],
)
def test_by_hand_it_is_shown_and_not_kept(
    cast: Cast, way: str, given: dict[str, str], steepest_pct: float
) -> None:
    field = make_field(make_farm(make_client(cast.practice)))
    page = send(cast, field, way, **given)
    assert page.status_code == 200
    assert page.context["lie"].steepest_pct == pytest.approx(steepest_pct, abs=0.05)
    assert "Take it into the field" in page.content.decode()
    with scope(practice=cast.practice):
        assert Field.objects.get().slope_pct == 0


def test_a_walk_says_how_steep_and_how_sure(cast: Cast) -> None:
    page = send(cast, drawn_field(cast), "walk", ("hill.gpx", gpx()))
    lie = page.context["lie"]
    assert lie.steepest.percent == pytest.approx(100 * 0.55 / 5.55, abs=0.2)
    assert lie.faces == "" and "along one line" in page.content.decode()
    html = page.content.decode()
    assert set(lie.walked_above_pct) == set(cast.practice.slope_limits_pct) and "How much of the walk" in html
    assert "Heights scatter by" in html and "ground beside it may be steeper" in html


def test_a_walk_to_and_fro_says_which_side_the_field_faces(cast: Cast) -> None:
    page = send(cast, drawn_field(cast), "walk", ("hill.gpx", gpx(zigzag=0.001)))
    assert page.context["lie"].faces == "south"


def test_a_grid_is_clipped_to_the_field_and_held_to_the_practices_limits(cast: Cast) -> None:
    cast.practice.slope_tillage_pct, cast.practice.slope_machines_pct = 6, 11
    cast.practice.save()
    page = send(cast, drawn_field(cast), "grid", ("heights.tif", geotiff()))
    lie = page.context["lie"]
    assert lie.steepest.percent == pytest.approx(12.0, abs=0.1) and lie.faces == "south"
    assert [(limit, share) for limit, share, _ in page.context["shares"]] == [(6, 100), (11, 100), (27, 0)]
    assert "safe" not in page.content.decode().lower().replace("csrfmiddlewaretoken", "")


@pytest.mark.parametrize(
    ("way", "file", "given", "said"),
    [
        ("rise", None, {"rise_ft": "5", "run_ft": "0"}, "The run must be more than 0."),
        ("rise", None, {"rise_ft": "up", "run_ft": "10"}, "Rise must be a number"),
        ("rise", None, {"rise_ft": "5", "run_ft": ""}, "Level run is missing."),
        ("clinometer", None, {"reading": "95", "unit": "degrees"}, "An angle must be less than 90 degrees."),
        ("clinometer", None, {"reading": "9"}, "Read in is missing. Choose one."),
        ("walk", None, {}, "Track is missing."),
        ("walk", ("walk.gpx", b""), {}, "The file is empty."),
        ("walk", ("<b>.gpx", b"\x00\x01\x02"), {}, "no map file"),
        ("walk", ("flat.gpx", gpx(heights=False)), {}, "no track with heights"),
        ("walk", ("bomb.gpx", b'<!DOCTYPE a [<!ENTITY b "c">]><gpx>&b;</gpx>'), {}, "bomb.gpx"),
        ("walk", ("big.gpx", b"<" * 10_000_001), {}, "Keep it to 10 MB."),
        ("grid", ("heights.tif", b"II*\x00" + b"\x00" * 60), {}, "damaged or cut off"),
        ("grid", ("heights.tif", geotiff()[:900]), {}, "heights.tif"),
        ("grid", ("heights.tif", b"GIF89a"), {}, "no GeoTIFF"),
        ("grid", ("heights.tif", geotiff(west=8.0)), {}, "not cover the field"),
    ],
)
def test_what_cannot_be_read_answers_with_a_sentence(
    cast: Cast, way: str, file: tuple[str, bytes] | None, given: dict[str, str], said: str
) -> None:
    page = send(cast, drawn_field(cast), way, file, **given)
    html = page.content.decode()
    assert page.status_code == 422 and said in html
    assert "<b>.gpx" not in html
    for value in given.values():
        assert value in html


def test_a_grid_needs_an_outline_and_a_way_that_exists(cast: Cast, monkeypatch: pytest.MonkeyPatch) -> None:
    field = make_field(make_farm(make_client(cast.practice)))
    page = send(cast, field, "grid", ("heights.tif", geotiff()))
    assert page.status_code == 422 and "no outline to clip" in page.content.decode()
    page = send(cast, field, "dowsing")
    assert page.status_code == 422 and "Send one of the ways below" in page.content.decode()
    monkeypatch.setattr(elevation, "MOST_BYTES", 1_000_000)
    page = send(cast, field, "grid", ("heights.tif", b"II*\x00" + b"\x00" * 1_000_000))
    assert page.status_code == 422 and "Keep it to 1 MB." in page.content.decode()


def test_taken_it_says_so_and_typing_another_forgets_where_it_was_from(cast: Cast) -> None:
    field = drawn_field(cast)
    browser = cast.browser(cast.planner)
    sent = {
        "slope_pct": "14.2",
        "slope_length_ft": "220",
        "faces": "south",
        "source": "a walk recorded in a.gpx",
    }
    page = browser.post(cast.url(f"fields/{field.pk}/slope/take/"), sent, follow=True)
    html = page.content.decode()
    assert "Taken: 14.2 % at its steepest, faces south." in html and "By a walk recorded in a.gpx" in html
    bad = browser.post(cast.url(f"fields/{field.pk}/slope/take/"), sent | {"slope_pct": "900", "faces": "up"})
    assert bad.status_code == 422 and "Steepest slope must be 200 or less." in bad.content.decode()
    typed = {"name": "Barn Hill", "cover": "cool-season sod", "thatch": "none", "slope_length_ft": "220"}
    browser.post(cast.url(f"fields/{field.pk}/edit/"), typed | {"slope_pct": "14.2", "faces": "south"})
    with scope(practice=cast.practice):
        assert Field.objects.get().slope_from
    browser.post(cast.url(f"fields/{field.pk}/edit/"), typed | {"slope_pct": "9", "faces": "south"})
    with scope(practice=cast.practice):
        kept = Field.objects.get()
    assert (kept.slope_pct, kept.slope_from, kept.slope_on) == (9, "", None)


def test_the_limits_of_a_practice_must_rise(cast: Cast) -> None:
    browser = cast.browser(cast.owner)
    limits = {"slope_tillage_pct": "8", "slope_machines_pct": "12", "slope_across_pct": "20"}
    assert browser.post(cast.url("practice/slopes/"), limits).status_code == 302
    page = browser.post(cast.url("practice/slopes/"), limits | {"slope_machines_pct": "25"})
    assert page.status_code == 422 and "The three limits must rise" in page.content.decode()
    cast.practice.refresh_from_db()
    assert cast.practice.slope_limits_pct == (8, 12, 20)


def test_stations_are_offered_with_distance_and_height(cast: Cast) -> None:
    practice = cast.practice
    farm = make_farm(make_client(practice), latitude=38.9, longitude=-92.2, elevation_ft=700.0)
    html = cast.browser(cast.planner).get(cast.url(f"farms/{farm.pk}/climate/")).content.decode()
    assert "miles away, " in html and "ft higher" in html and "Above the farm" in html
    nowhere = make_farm(make_client(practice))
    html = cast.browser(cast.planner).get(cast.url(f"farms/{nowhere.pk}/climate/")).content.decode()
    assert "Give the farm’s latitude and longitude" in html and "miles away" not in html
    make_drawn_field(nowhere)
    html = cast.browser(cast.planner).get(cast.url(f"farms/{nowhere.pk}/climate/")).content.decode()
    assert "miles away" in html and "ft higher" not in html
