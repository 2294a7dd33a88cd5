"""Machines, what is known of each, and the rig check over them."""

from __future__ import annotations

import io
import re
from dataclasses import asdict, fields
from decimal import Decimal
from typing import Any

import pytest
from django.core.exceptions import ValidationError
from django.core.files.uploadedfile import SimpleUploadedFile
from django_scopes import scope
from PIL import Image

from consulting import images
from consulting.models import Machine, MachinePhoto, Practice
from consulting.services import machine_save
from plans.machine_facts import CLASSES, BadFacts, every_fact, known_facts, read_facts
from plans.models import Visit
from tests.conftest import Cast
from tests.factories import make_machine, make_photo
from tests.plan_factories import make_agreed, make_ready_plan
from tests.planning.rigs import CUTTER, FLATBED, TRACTOR, TRUCK
from tests.web import queries

FIELD = {"holding": "own", "active": "on"}


def facts_of(known: Any, **changes: Any) -> dict[str, Any]:
    given = {name: value for name, value in asdict(known).items() if name != "name" and value is not None}
    return {
        key: list(value) if isinstance(value, tuple) else value for key, value in {**given, **changes}.items()
    }


@pytest.fixture
def yard(cast: Cast) -> dict[str, Machine]:
    """A tractor of category 2, a cutter of category 1, a truck and a trailer, each known in full."""
    practice, cutter = cast.practice, facts_of(CUTTER, hitch="1")
    return {
        "tractor": make_machine(practice, name="<u>Sixty</u>", facts=facts_of(TRACTOR)),
        "implement": make_machine(practice, "implement", facts=cutter, operations=["haying"]),
        "truck": make_machine(practice, "truck", facts=facts_of(TRUCK)),
        "trailer": make_machine(practice, "trailer", facts=facts_of(FLATBED)),
    }


def ask(cast: Cast, yard: dict[str, Machine], *names: str, user: Any = None, **more: Any) -> Any:
    given = {name: yard[name].pk for name in names or ("tractor", "implement")}
    return cast.browser(user or cast.crew).get(cast.url("machines/rig/"), {**given, **more})


def words(response: Any) -> str:
    return " ".join(response.content.decode().split())


@pytest.mark.parametrize("kind", CLASSES)
def test_every_fact_of_the_rig_check_is_asked_once(kind: str) -> None:
    names = [fact.name for fact in every_fact(kind)]
    assert sorted(names) == sorted(field.name for field in fields(CLASSES[kind]) if field.name != "name")
    assert all(fact.unit for fact in every_fact(kind) if fact.form == "number")
    assert all(len(fact.choices) > 1 for fact in every_fact(kind) if fact.form in ("choice", "several"))


def test_a_tractor_is_entered_once_and_keeps_what_is_known(cast: Cast) -> None:
    typed = {
        **FIELD, "name": "Old <b>Blue</b>", "fact-weight_lb": "7,900", "fact-drawbar_pin_in": "1 1/4",
        "fact-hitches": ["1", "2"], "fact-pto_shafts": ["none"], "fact-remotes": "0",
        "fact-free_return": "no", "fact-quick_coupler": "none", "fact-plug": "",
    }  # fmt: skip
    browser = cast.browser(cast.planner)
    assert browser.post(cast.url("machines/new/tractor/"), typed).status_code == 302
    with scope(practice=cast.practice):
        row = Machine.objects.get()
    assert row.facts == {
        "weight_lb": 7900, "drawbar_pin_in": 1.25, "hitches": ["1", "2"], "pto_shafts": [], "remotes": 0,
        "free_return": False, "quick_coupler": "none",
    }  # fmt: skip
    assert read_facts("tractor", row.name, row.facts).pto_shafts == ()
    page = words(browser.get(cast.url(f"machines/{row.pk}/")))
    assert "Old &lt;b&gt;Blue" in page and "Old <b>" not in page
    assert "1 1/4 in" in page and "7,900 lb" in page and "Nobody has looked at: " in page
    form = browser.get(cast.url(f"machines/{row.pk}/edit/")).context["form"]
    data = {
        box.html_name: box.value() for box in form if box.value() not in (None, "") and box.name != "photo"
    }
    assert browser.post(cast.url(f"machines/{row.pk}/edit/"), data).status_code == 302
    with scope(practice=cast.practice):
        assert Machine.objects.get().facts == row.facts


@pytest.mark.parametrize(
    ("field", "typed", "said"),
    [
        ("fact-weight_lb", "0", "Weight must be more than 0."),
        ("fact-weight_lb", "heavy", "Weight must be a number"),
        ("fact-weight_lb", "1e999", "Weight must be a number"),
        ("fact-remotes", "21", "Remotes must be 20 or less."),
        ("fact-remotes", "1.5", "Remotes must be a whole number"),
        ("fact-remotes", "9" * 5000, "Remotes must be a whole number"),
        ("fact-drawbar_pin_in", "1 1/0", "Hole in the drawbar must be a length, such as 1 1/8"),
        ("fact-plug", "12 pins", "cannot be “12 pins”"),
        ("fact-hitches", ["2", "none"], "tick “It has none” alone"),
        ("name", "", "What the crew calls it is missing"),
        ("rent_usd_per_day", "150", "A rent is entered"),
    ],
)
def test_what_cannot_be_is_refused_at_its_field(cast: Cast, field: str, typed: Any, said: str) -> None:
    data = {**FIELD, "name": "Tractor", "notes": "parked under the oak", field: typed}
    response = cast.browser(cast.owner).post(cast.url("machines/new/tractor/"), data)
    assert response.status_code == 422
    assert said in words(response) and "parked under the oak" in words(response)
    where = "holding" if field == "rent_usd_per_day" else field
    assert response.context["form"].errors.keys() == {where}
    assert any(group.open for group in response.context["form"].groups())
    with scope(practice=cast.practice):
        assert not Machine.objects.exists()


def test_two_of_a_kind_have_two_names_in_one_practice_only(cast: Cast) -> None:
    make_machine(cast.other_practice, name="The drill", kind="implement")
    browser, url = cast.browser(cast.owner), cast.url("machines/new/implement/")
    assert browser.post(url, {**FIELD, "name": "The drill"}).status_code == 302
    again = browser.post(url, {**FIELD, "name": "The drill"})
    assert again.status_code == 422 and "Choose another name." in words(again)


def test_what_need_not_be_looked_at_is_not_asked_for(cast: Cast) -> None:
    drill = {"attaches": "drawbar", "pto_driven": False, "double_acting": 1, "motors": 0}
    groups = {group.title: group for group in known_facts("implement", drill)}
    assert groups["Hitch"].open == ("Pin of the tongue", "Tongue on the drawbar")
    assert groups["PTO"].open == () and groups["PTO"].known == (("Driven by the PTO", "No"),)
    assert "Hoses to the tractor" not in groups["Hydraulics"].open
    row = make_machine(cast.practice, "implement", facts=drill)
    page = words(cast.browser(cast.owner).get(cast.url(f"machines/{row.pk}/edit/")))
    assert "1 of 3 known" in page and "1 of 1 known" in page


def test_an_unknown_kind_is_missing(cast: Cast) -> None:
    assert cast.browser(cast.owner).get(cast.url("machines/new/boat/")).status_code == 404


def test_rent_is_shown_to_those_who_see_prices(cast: Cast) -> None:
    row = make_machine(cast.practice, "implement", holding="rented", rent_usd_per_day=Decimal("150"))
    for path in ("machines/", f"machines/{row.pk}/"):
        assert "$150.00 a day" in words(cast.browser(cast.planner).get(cast.url(path)))
        assert "$150" not in words(cast.browser(cast.crew).get(cast.url(path)))


def test_a_machine_is_removed_with_its_photograph(cast: Cast) -> None:
    row = make_machine(cast.practice)
    make_photo(row)
    browser = cast.browser(cast.planner)
    assert "off the list?" in words(browser.get(cast.url(f"machines/{row.pk}/remove/")))
    assert browser.post(cast.url(f"machines/{row.pk}/remove/")).status_code == 302
    with scope(practice=cast.practice):
        assert not Machine.objects.exists() and not MachinePhoto.objects.exists()


def test_the_list_asks_as_often_for_many_and_reads_no_photograph(cast: Cast) -> None:
    def look() -> Any:
        return cast.browser(cast.crew).get(cast.url("machines/"))

    make_photo(make_machine(cast.practice))
    once = queries.count(look)
    for kind in ("implement", "truck", "trailer", "tractor"):
        make_photo(make_machine(cast.practice, kind))
    assert queries.count(look) == once


def photograph(kind: str = "JPEG", size: tuple[int, int] = (3000, 2000), **save: Any) -> bytes:
    out = io.BytesIO()
    Image.new("RGB", size, "green").save(out, kind, **save)
    return out.getvalue()


def test_a_photograph_is_made_anew_upright_and_without_where_it_was_taken(cast: Cast) -> None:
    row = make_machine(cast.practice)
    exif = Image.Exif()
    exif[0x0112] = 6
    exif[0x010E] = "behind the barn"
    raw = photograph(exif=exif.tobytes())
    upload = {**FIELD, "name": row.name, "photo": SimpleUploadedFile("a.jpg", raw)}
    assert cast.browser(cast.owner).post(cast.url(f"machines/{row.pk}/edit/"), upload).status_code == 302
    response = cast.browser(cast.crew).get(cast.url(f"machines/{row.pk}/photo.jpg"))
    made = Image.open(io.BytesIO(response.content))
    assert response.headers["Content-Type"] == "image/jpeg" and b"barn" not in response.content
    assert (made.format, made.size) == ("JPEG", (800, 1200))
    assert f"machines/{row.pk}/photo.jpg" in words(
        cast.browser(cast.crew).get(cast.url(f"machines/{row.pk}/"))
    )
    cast.browser(cast.owner).post(cast.url(f"machines/{row.pk}/photo/remove/"))
    assert cast.browser(cast.crew).get(cast.url(f"machines/{row.pk}/photo.jpg")).status_code == 404


def test_what_is_clear_in_a_picture_becomes_white() -> None:
    out = io.BytesIO()
    Image.new("RGBA", (4, 4), (0, 0, 0, 0)).save(out, "PNG")
    made = Image.open(io.BytesIO(images.as_jpeg(io.BytesIO(out.getvalue())).jpeg))
    assert made.getpixel((1, 1)) == (255, 255, 255)


@pytest.mark.parametrize(
    ("raw", "said"),
    [
        (b"<svg/>", "not a picture we can read"),
        (photograph()[:400], "not a picture we can read"),
        (photograph("PNG", (5000, 4000)), "5000 × 4000 pixels"),
        (photograph("JPEG", (9000, 8000)), "9000 × 8000 pixels"),
        (b"\xff\xd8" + b"\x00" * 12_000_000, "larger than 12 MB"),
    ],
    ids=["svg", "cut short", "png pixels", "jpeg pixels", "bytes"],
)
def test_a_bad_photograph_is_refused_in_words(raw: bytes, said: str) -> None:
    with pytest.raises(ValidationError, match=said):
        images.as_jpeg(io.BytesIO(raw))


def test_a_phone_may_send_a_large_jpeg() -> None:
    made = images.as_jpeg(io.BytesIO(photograph(size=(6000, 4500))))
    assert (made.width_px, made.height_px) == (1200, 900)


def test_a_photograph_of_another_practices_machine_is_refused(cast: Cast) -> None:
    theirs = make_machine(cast.other_practice)
    with pytest.raises(ValidationError, match="another practice"):
        make_photo_for(cast.practice, theirs)


def make_photo_for(practice: Practice, machine: Machine) -> None:
    photo = MachinePhoto(practice=practice, machine=machine, jpeg=b"x", width_px=1, height_px=1)
    with scope(practice=practice):
        photo.clean()


def test_a_rig_says_yes_and_what_to_bring(cast: Cast, yard: dict[str, Machine]) -> None:
    response = ask(cast, yard, slope_pct="7")
    assert response.status_code == 200
    assert response.context["rig"].verdict == "yes"
    page = words(response)
    assert "Bring along" in page and "2 lower hitch bushings 7/8 in to 1 1/8 in" in page
    assert "ISO 730" in page and "[from memory]" not in page and "(from memory of the trade)" in page
    assert 'value="7"' in page and "<u>" not in page


def test_a_rig_says_no_with_both_figures_and_go_and_look(cast: Cast, yard: dict[str, Machine]) -> None:
    with scope(practice=cast.practice):
        machine_save(machine=changed(yard["implement"], pto_shaft="type 3"))
        machine_save(machine=changed(yard["tractor"], slope_limit_pct=None))
    page = words(ask(cast, yard, slope_pct="15"))
    assert '<strong class="big">No</strong>' in page and "<strong>Go and look</strong>" in page
    assert "runs at 1000 rpm and the tractor" in page and "540 rpm" in page
    assert "<b>Look:</b> Read the steepest slope in the tractor&#x27;s manual." in page
    main = re.sub("<[^>]*>", " ", page.partition("<main")[2])
    assert not re.search(r"\bsafe\b", main, re.IGNORECASE) and "manuals" in main


def changed(machine: Machine, **facts: Any) -> Machine:
    machine.facts = {name: value for name, value in {**machine.facts, **facts}.items() if value is not None}
    return machine


def parts(response: Any) -> set[str]:
    return {part.title for part in response.context["rig"].parts}


def test_the_way_there_is_compared_where_one_is_asked(cast: Cast, yard: dict[str, Machine]) -> None:
    road = {"Tow", "Brakes", "Lights", "Width on the road"}
    every = ("tractor", "implement", "truck", "trailer")
    assert not parts(ask(cast, yard)) & road
    assert parts(ask(cast, yard, by_tractor="on")) >= {"Lights", "Width on the road"}
    alone, both = ask(cast, yard, *every), ask(cast, yard, *every, tractor_rides="on")
    assert parts(alone) >= road and "7,900 lb is over" in words(both)
    assert "over" not in " ".join(point.why for point in alone.context["rig"].against)


@pytest.mark.parametrize(
    ("names", "more", "where"),
    [
        (("tractor",), {}, "implement"),
        (("tractor", "implement", "trailer"), {}, "truck"),
        (("tractor", "implement", "truck"), {"tractor_rides": "on"}, "trailer"),
        (("tractor", "implement", "truck"), {"by_tractor": "on"}, "by_tractor"),
        (("tractor", "implement"), {"slope_pct": "steep"}, "slope_pct"),
        (("tractor", "implement"), {"slope_pct": "nan"}, "slope_pct"),
        (("tractor", "implement"), {"brakes_over_lb": "-1"}, "brakes_over_lb"),
        (("implement",), {"tractor": "\x00"}, "tractor"),
        (("implement",), {"tractor": "99999999999999999999"}, "tractor"),
    ],
)
def test_what_cannot_be_asked_is_refused_at_its_field(
    cast: Cast, yard: dict[str, Machine], names: tuple[str, ...], more: dict[str, str], where: str
) -> None:
    response = ask(cast, yard, *names, **more)
    assert response.status_code == 422
    assert response.context["form"].errors.keys() == {where}
    assert not response.context["rig"]


def test_another_practices_machine_is_not_on_the_list(cast: Cast, yard: dict[str, Machine]) -> None:
    theirs = make_machine(cast.other_practice, name="Their tractor", facts=facts_of(TRACTOR))
    response = ask(cast, {**yard, "tractor": theirs})
    assert response.status_code == 422 and "Their tractor" not in words(response)


def test_facts_that_no_longer_fit_are_named_not_raised(cast: Cast, yard: dict[str, Machine]) -> None:
    with scope(practice=cast.practice):
        machine_save(machine=changed(yard["tractor"], plug="13 square", weight_lb="much"))
    with pytest.raises(BadFacts, match="plug must be one of the list"):
        read_facts("tractor", "", {"plug": "13 square"})
    assert "cannot be read any more" in words(ask(cast, yard))
    for path in ("", "edit/"):
        assert (
            cast.browser(cast.owner).get(cast.url(f"machines/{yard['tractor'].pk}/{path}")).status_code == 200
        )


def test_a_machine_not_in_use_is_left_out(cast: Cast, yard: dict[str, Machine]) -> None:
    yard["tractor"].active = False
    with scope(practice=cast.practice):
        machine_save(machine=yard["tractor"])
    assert "Enter one of each first" in words(ask(cast, yard, user=cast.owner))


def test_a_visit_gives_its_slope_and_the_implements_that_do_its_work(
    cast: Cast, yard: dict[str, Machine]
) -> None:
    make_agreed(make_ready_plan(cast.practice, name="<i>Bank</i>", slope_pct=18), cast.owner)
    with scope(practice=cast.practice):
        visit = Visit.objects.order_by("pk")[0]
        yard["implement"].operations = [visit.operation]
        machine_save(machine=yard["implement"])
    crew = cast.browser(cast.crew)
    link = f"machines/rig/?visit={visit.pk}"
    assert link in words(crew.get(cast.url(f"work/{visit.pk}/")))
    page = words(crew.get(cast.url(link)))
    assert "&lt;i&gt;Bank" in page and "<i>" not in page
    assert 'value="18"' in page and '<optgroup label="Do this work">' in page
    assert "The ground has 18 %" in words(ask(cast, yard, visit=visit.pk, slope_pct=""))
    assert "The ground has 5 %" in words(ask(cast, yard, visit=visit.pk, slope_pct="5"))


def test_a_field_without_a_slope_offers_no_rig(cast: Cast) -> None:
    make_agreed(make_ready_plan(cast.practice), cast.owner)
    with scope(practice=cast.practice):
        pk = Visit.objects.order_by("pk")[0].pk
    assert "machines/rig" not in words(cast.browser(cast.crew).get(cast.url(f"work/{pk}/")))


def test_a_visit_that_is_not_there_or_anothers_is_missing(cast: Cast) -> None:
    make_agreed(make_ready_plan(cast.other_practice), cast.stranger)
    with scope(practice=cast.other_practice):
        theirs = Visit.objects.order_by("pk")[0].pk
    for visit in (theirs, "0", "x", "²", "9" * 5000, "9" * 18):
        assert cast.browser(cast.crew).get(cast.url("machines/rig/"), {"visit": visit}).status_code == 404


def test_a_rig_asks_the_database_as_often_for_many_machines(cast: Cast, yard: dict[str, Machine]) -> None:
    few = queries.count(lambda: ask(cast, yard))
    for kind in CLASSES:
        for _ in range(3):
            make_machine(cast.practice, kind)
    assert queries.count(lambda: ask(cast, yard)) == few
