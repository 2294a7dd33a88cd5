"""Walk-overs on the field's page: written, corrected by adding, with photographs, and taken into plans."""

from __future__ import annotations

import io
from pathlib import Path
from typing import Any
from uuid import uuid4

import pytest
from django.core.exceptions import ValidationError
from django.core.files.uploadedfile import SimpleUploadedFile
from django_scopes import scope
from PIL import ExifTags, Image
from PIL.TiffImagePlugin import IFDRational

from consulting import images
from consulting.append_only import Recorded
from plans.models import Conversion
from sites.models import Field, WalkOver, WalkPhoto
from tests.conftest import Cast
from tests.factories import make_client, make_farm, make_field, make_walk, make_walk_photo
from tests.plan_factories import make_ready_plan
from tests.web import queries

HEIC = (Path(__file__).parent / "pictures" / "field.heic").read_bytes()
"""64 × 48 pixels of green with an invented place, made for this test."""
PLACE = (-92.48, 38.91)


@pytest.fixture
def field(cast: Cast) -> Field:
    return make_field(make_farm(make_client(cast.practice)), name="Ridge Pasture")


def typed(**changes: str) -> dict[str, str]:
    return {
        "uid": str(uuid4()),
        "on": "2026-06-02",
        "people": "Cass & Perrin",
        "cover0-what": "Tall fescue",
        "cover0-share_pct": "70",
        "cover0-height_in": "9",
        "cover0-stage": "flower",
        "cover1-what": "bermudagrass",
        "cover1-share_pct": "20",
        "bare_pct": "10",
        "weed0-what": "musk thistle",
        "weed0-abundance": "patches",
        "plots": "3",
        "stem0-what": "eastern redcedar",
        "stem0-size": "brush",
        "stem0-stems": "6",
        "thatch_in": "2.5",
        "slope_pct": "7",
        "notes": "<script>wet corner</script>",
    } | changes


def write(cast: Cast, field: Field, user: Any = None, **changes: str) -> Any:
    browser = cast.browser(user or cast.crew)
    return browser.post(cast.url(f"fields/{field.pk}/walks/new/"), typed(**changes))


def text_of(response: Any) -> str:
    return " ".join(response.content.decode().split())


def test_the_crew_writes_a_walk_over_and_the_field_shows_it(cast: Cast, field: Field) -> None:
    response = write(cast, field)
    assert response.status_code == 302
    html = text_of(cast.browser(cast.crew).get(cast.url(f"fields/{field.pk}/")))
    for words in (
        "June 2, 2026",
        "Cass &amp; Perrin",
        "musk thistle, in patches",
        "&lt;script&gt;wet corner",
    ):
        assert words in html
    assert "6 stems / (3 plots × 0.01 acre, a circle of 11.78 ft radius) = 200 stems an acre" in html
    assert "<script>wet" not in html and "$" not in html
    assert "clear brush and kill the old field" in html


@pytest.mark.parametrize(
    ("changes", "said"),
    [
        ({"cover0-share_pct": "30"}, "come to 60 %. Together they make about 100"),
        ({"cover0-share_pct": "130"}, "Cover 1: share of the ground must be 100 or less"),
        ({"cover0-share_pct": "much"}, "Cover 1: share of the ground must be a number"),
        ({"cover0-share_pct": "nan"}, "Cover 1: share of the ground must be a number"),
        ({"cover0-what": ""}, "Cover 1: say what it is, or empty the row."),
        ({"cover2-what": "clover"}, "Cover 3, clover: say how much of the ground it covers."),
        ({"weed0-abundance": ""}, "Weed 1, musk thistle: say how much of it there is."),
        ({"weed0-abundance": "everywhere"}, "Choose from what is offered."),
        ({"plots": ""}, "Say in how many plots."),
        ({"stem0-stems": "-4"}, "Woody plant 1: stems in all plots must be 0 or more"),
        ({"on": "2099-01-01"}, "That day is still to come."),
        ({"on": "yesterday"}, "Walked on must be a day, such as"),
        ({"people": ""}, "Who walked is missing."),
        ({"notes": "x" * 5001}, "Keep it to 5000."),
        ({"cover0-what": "a\x00b"}, "holds a character that cannot be kept"),
    ],
)
def test_what_is_wrong_is_named_and_what_was_typed_stays(
    cast: Cast, field: Field, changes: dict[str, str], said: str
) -> None:
    response = write(cast, field, **changes)
    html = text_of(response)
    assert response.status_code == 422 and said in html
    assert 'value="eastern redcedar"' in html and 'value="2.5"' in html
    with scope(practice=cast.practice):
        assert not WalkOver.objects.exists()


def test_sent_twice_it_is_written_once(cast: Cast, field: Field) -> None:
    uid = str(uuid4())
    first, again = (write(cast, field, uid=uid) for _ in range(2))
    assert first.headers["Location"] == again.headers["Location"]
    with scope(practice=cast.practice):
        assert WalkOver.objects.count() == 1


def test_a_correction_stands_in_its_place_and_takes_the_photographs_along(cast: Cast, field: Field) -> None:
    walk = make_walk(field)
    photo = make_walk_photo(walk, caption="wet corner")
    address = cast.url(f"walks/{walk.pk}/correct/")
    shown = text_of(cast.browser(cast.crew).get(address))
    assert 'value="tall fescue"' in shown and 'value="80"' in shown
    assert cast.browser(cast.crew).post(address, typed(people="Cass")).status_code == 302
    with scope(practice=cast.practice):
        newer = WalkOver.objects.get(replaces=walk)
        assert list(newer.photos.all()) == [photo]
    old = text_of(cast.browser(cast.crew).get(cast.url(f"walks/{walk.pk}/")))
    assert "This one was corrected." in old and "Correct it" not in old
    page = cast.browser(cast.crew).get(cast.url(f"fields/{field.pk}/"))
    assert [walked.walk for walked in page.context["walks"]] == [newer]
    twice = cast.browser(cast.crew).post(address, typed(people="Perrin"))
    assert twice.status_code == 422 and "corrected already" in text_of(twice)


def test_a_walk_over_is_never_changed_and_holds_its_field(cast: Cast, field: Field) -> None:
    walk = make_walk(field)
    with scope(practice=cast.practice):
        for act in (walk.save, walk.delete, WalkOver.objects.all().delete):
            with pytest.raises(Recorded):
                act()
    response = cast.browser(cast.owner).post(cast.url(f"fields/{field.pk}/remove/"), follow=True)
    assert "A plan or a walk-over still uses it." in text_of(response)


def test_the_fields_page_asks_as_often_for_many_walks(cast: Cast, field: Field) -> None:
    def look() -> Any:
        return cast.browser(cast.crew).get(cast.url(f"fields/{field.pk}/"))

    make_walk_photo(make_walk(field))
    once = queries.count(look)
    for _ in range(3):
        make_walk_photo(make_walk(field))
    assert queries.count(look) == once


def test_pages_of_walks_do_not_read_the_bytes_of_photographs(cast: Cast, field: Field) -> None:
    walk = make_walk(field)
    make_walk_photo(walk)
    for path in (f"fields/{field.pk}/", f"walks/{walk.pk}/"):
        response = cast.browser(cast.crew).get(cast.url(path))
        walked = response.context["walks"][0] if "walks" in response.context else response.context["walked"]
        assert "jpeg" in walked.photos[0].get_deferred_fields()


def jpeg(size: tuple[int, int] = (3000, 2000), orientation: int = 6, place: Any = "known") -> bytes:
    exif = Image.Exif()
    exif[ExifTags.Base.Orientation] = orientation
    exif[ExifTags.Base.ImageDescription] = "behind the barn"
    gps = {1: "N", 2: (38.0, 54.0, 36.0), 3: "W", 4: (92.0, 28.0, 48.0)} if place == "known" else place
    if gps:
        exif.get_ifd(ExifTags.IFD.GPSInfo).update(gps)
    out = io.BytesIO()
    Image.new("RGB", size, "green").save(out, "JPEG", exif=exif.tobytes())
    return out.getvalue()


def upload(cast: Cast, walk: WalkOver, *files: tuple[str, bytes], **values: str) -> Any:
    pictures = [SimpleUploadedFile(name, raw) for name, raw in files]
    return cast.browser(cast.crew).post(
        cast.url(f"walks/{walk.pk}/photos/"), {"pictures": pictures, **values}
    )


def test_photographs_are_made_anew_upright_and_say_no_place(cast: Cast, field: Field) -> None:
    walk = make_walk(field)
    response = upload(cast, walk, ("a.jpg", jpeg()), ("b.heic", HEIC), caption="gate & creek")
    assert response.status_code == 302
    with scope(practice=cast.practice):
        kept = list(WalkPhoto.objects.all())
    assert [(row.caption, row.longitude, row.latitude) for row in kept] == [("gate & creek", None, None)] * 2
    for row, size in zip(kept, [(800, 1200), (64, 48)], strict=True):
        served = cast.browser(cast.crew).get(cast.url(f"walks/photos/{row.pk}.jpg"))
        made = Image.open(io.BytesIO(served.content))
        assert (made.format, made.size, dict(made.getexif())) == ("JPEG", size, {})
        assert served.headers["Content-Type"] == "image/jpeg" and b"barn" not in served.content
        assert "private" in served.headers["Cache-Control"]
        again = cast.browser(cast.crew).get(
            cast.url(f"walks/photos/{row.pk}.jpg"), headers={"If-None-Match": served.headers["ETag"]}
        )
        assert again.status_code == 304 and not again.content
    assert 'alt="gate &amp; creek"' in text_of(cast.browser(cast.crew).get(cast.url(f"walks/{walk.pk}/")))


def test_the_place_is_kept_where_that_was_ticked(cast: Cast, field: Field) -> None:
    walk = make_walk(field)
    upload(cast, walk, ("a.jpg", jpeg()), ("b.heic", HEIC), ("c.jpg", jpeg(place=None)), located="on")
    with scope(practice=cast.practice):
        places = [(row.longitude, row.latitude) for row in WalkPhoto.objects.all()]
        assert b"Exif" not in bytes(WalkPhoto.objects.all()[0].jpeg)
    assert places == [PLACE, PLACE, (None, None)]


@pytest.mark.parametrize(
    "place",
    [
        {1: "N", 2: (95.0, 0.0, 0.0), 3: "W", 4: (92.0, 28.0, 48.0)},
        {1: "N", 2: (IFDRational(1, 0), 0.0, 0.0), 3: "W", 4: (92.0, 28.0, 48.0)},
        {2: (38.0, 0.0, 0.0), 4: (92.0, 0.0, 0.0)},
        {1: "N", 2: (38.0,), 3: "W", 4: (92.0,)},
        {1: "N", 2: (0.0, 0.0, 0.0), 3: "E", 4: (0.0, 0.0, 0.0)},
    ],
    ids=["off the earth", "no number", "no side", "degrees alone", "not found yet"],
)
def test_a_place_that_cannot_be_is_none(place: Any) -> None:
    assert images.as_jpeg(io.BytesIO(jpeg((8, 8), place=place)), with_place=True).place is None


def png(size: tuple[int, int]) -> bytes:
    out = io.BytesIO()
    Image.new("1", size).save(out, "PNG")
    return out.getvalue()


def deadly_heic() -> bytes:
    """A picture whose place of its camera's notes is wrong by four bytes: it ends the decoder's process."""
    changed = bytearray(HEIC)
    for at, byte in ((176, 189), (597, 0), (599, 108), (601, 3)):
        changed[at] = byte
    return bytes(changed)


@pytest.mark.parametrize(
    ("raw", "said"),
    [
        (b"<svg onload=alert(1)/>", "not a picture we can read. Use PNG, JPEG, WebP, GIF or HEIC."),
        (jpeg()[:400], "not a picture we can read"),
        (HEIC[:300], "not a picture we can read"),
        (HEIC[:40] + b"\xff" * 600, "not a picture we can read"),
        (deadly_heic(), "not a picture we can read"),
        (png((30_000, 30_000)), "far too many pixels"),
        (b"\xff\xd8" + b"\x00" * 12_000_000, "larger than 12 MB"),
    ],
    ids=["svg", "cut jpeg", "cut heic", "broken heic", "deadly heic", "bomb", "bytes"],
)
def test_a_hostile_picture_is_refused_in_words_and_none_is_kept(
    cast: Cast, field: Field, raw: bytes, said: str
) -> None:
    walk = make_walk(field)
    response = upload(cast, walk, ("good.jpg", jpeg()), ("<b>bad.jpg", raw), caption="typed")
    html = text_of(response)
    assert response.status_code == 422 and said in html
    assert "&lt;b&gt;bad.jpg" in html and "None of them was kept; choose them again." in html
    assert 'value="typed"' in html
    with scope(practice=cast.practice):
        assert not WalkPhoto.objects.exists()


def test_too_many_photographs_are_refused(cast: Cast, field: Field, monkeypatch: Any) -> None:
    walk = make_walk(field)
    tiny = jpeg((8, 8))
    at_once = upload(cast, walk, *((f"{n}.jpg", tiny) for n in range(13)))
    assert at_once.status_code == 422 and "13 are too many at once" in text_of(at_once)
    assert upload(cast, walk).status_code == 422
    monkeypatch.setattr("sites.walks.MOST_PHOTOS", 1)
    full = upload(cast, walk, ("a.jpg", tiny), ("b.jpg", tiny))
    assert full.status_code == 422 and "holds 1 photographs" in text_of(full)


def test_a_photograph_is_named_and_taken_away(cast: Cast, field: Field) -> None:
    photo = make_walk_photo(make_walk(field))
    crew = cast.browser(cast.crew)
    assert crew.post(cast.url(f"walks/photos/{photo.pk}/caption/"), {"caption": "x" * 201}).status_code == 422
    assert (
        crew.post(cast.url(f"walks/photos/{photo.pk}/caption/"), {"caption": "The gate"}).status_code == 302
    )
    assert "The gate" in text_of(crew.get(cast.url(f"fields/{field.pk}/")))
    crew.post(cast.url(f"walks/photos/{photo.pk}/remove/"))
    assert crew.get(cast.url(f"walks/photos/{photo.pk}.jpg")).status_code == 404


def test_a_walk_over_of_another_practices_field_is_refused(cast: Cast, field: Field) -> None:
    theirs = make_walk(make_field(make_farm(make_client(cast.other_practice))))
    with scope(practice=cast.practice), pytest.raises(ValidationError, match="another practice"):
        WalkPhoto(practice=cast.practice, walk=theirs, jpeg=b"x", width_px=1, height_px=1).clean()


def test_only_what_is_ticked_goes_into_the_field(cast: Cast, field: Field) -> None:
    write(cast, field)
    with scope(practice=cast.practice):
        walk = WalkOver.objects.get()
    address = cast.url(f"walks/{walk.pk}/facts/")
    html = text_of(cast.browser(cast.planner).get(address))
    assert "What grows there: Old field grown up in brush" in html and "Thatch: Heavy" in html
    cast.browser(cast.planner).post(address, {"take": ["thatch", "weeds", "acres"]})
    field.refresh_from_db()
    assert (field.cover, field.thatch, field.weeds) == ("cool-season sod", "heavy", "musk thistle in patches")
    assert (field.woody_plants, field.acres) == ("", 10.0)


@pytest.fixture
def planned(cast: Cast) -> Conversion:
    plan = make_ready_plan(cast.practice)
    with scope(practice=cast.practice):
        conversion = plan.conversions.select_related("field").get()
    make_walk(
        conversion.field,
        covers=[{"what": "smooth brome", "share_pct": 95, "height_in": 10, "stage": "leaf"}],
        thatch_in=3,
    )
    return conversion


def test_the_conversion_offers_what_the_walk_over_suggests_and_fills_it_in(
    cast: Cast, planned: Conversion
) -> None:
    address = cast.url(f"plans/{planned.plan_id}/fields/{planned.field_id}/")
    page = cast.browser(cast.planner).get(address)
    form = page.context["form"]
    assert "Smooth brome covers 95 % of the ground." in text_of(page)
    assert "says otherwise of what grows there, thatch." in text_of(page)
    assert form["kill_program"].value() == planned.kill_program != "brome_fall_spring"
    sent = {"purpose": planned.purpose, "mix": planned.mix_id, "start_on": "2027-03-01"}
    filled = cast.browser(cast.planner).post(
        address,
        {
            **sent,
            "kill_program": planned.kill_program,
            "seeding": "drill",
            "options": ["kill_again"],
            "suggest": "yes",
        },
    )
    form = filled.context["form"]
    assert filled.status_code == 200
    assert form["kill_program"].value() == "brome_fall_spring"
    assert set(form["options"].value()) == {"kill_again", "hay_first", "boot_mow"}
    assert form["start_on"].value() == "2027-03-01"
    planned.refresh_from_db()
    assert planned.kill_program != "brome_fall_spring"


def test_the_plan_page_says_what_the_walk_over_suggests_in_one_query(cast: Cast, planned: Conversion) -> None:
    def look() -> Any:
        return cast.browser(cast.planner).get(cast.url(f"plans/{planned.plan_id}/"))

    assert "suggests" in text_of(look()) and "fall and spring kill of smooth brome" in text_of(look())
    once = queries.count(look)
    make_walk(planned.field)
    assert queries.count(look) == once


def test_a_walk_over_sent_later_is_answered_in_data(cast: Cast, field: Field) -> None:
    address, later = cast.url(f"fields/{field.pk}/walks/new/"), {"Accept": "application/json"}
    crew, sent = cast.browser(cast.crew), typed()
    for _ in range(2):
        answer = crew.post(address, sent, headers=later)
        assert answer.status_code == 200 and "Kept." in answer.json()["said"]
    with scope(practice=cast.practice):
        assert WalkOver.objects.count() == 1
    wrong = crew.post(address, typed(plots=""), headers=later)
    assert wrong.status_code == 422
    assert wrong.json()["wrong"] == [
        ["Plots counted", "Stems are counted, but in no plot. Say in how many plots."]
    ]
