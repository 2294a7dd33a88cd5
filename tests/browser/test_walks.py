"""A walk-over written down on the phone, with photographs, and what it fills in; and with scripts off."""

from __future__ import annotations

from collections.abc import Callable

import pytest
from django_scopes import scope
from playwright.sync_api import Page, expect

from sites.models import Field, WalkOver
from tests.browser.conftest import PHONE, NewPage
from tests.conftest import Cast
from tests.factories import make_client, make_farm, make_field, make_walk
from tests.plan_factories import make_ready_plan
from tests.web.test_walks import jpeg


@pytest.fixture
def field(cast: Cast) -> Field:
    return make_field(make_farm(make_client(cast.practice)), name="Ridge Pasture")


def row(page: Page, name: str) -> Page:
    return page.get_by_role("group", name=name, exact=True)  # type: ignore[return-value]


def fill(page: Page) -> None:
    cover = row(page, "Cover 1")
    cover.get_by_label("What grows").fill("tall fescue")
    cover.get_by_label("Share of the ground in %").fill("60")
    cover.get_by_label("Stage").select_option("In head or flower")
    page.get_by_text("More that grows there").click()
    late = row(page, "Cover 4")
    late.get_by_label("What grows").fill("red clover")
    late.get_by_label("Share of the ground in %").fill("20")
    weed = row(page, "Weed 1")
    weed.get_by_label("What it is").fill("musk thistle")
    weed.get_by_label("How much").select_option("In patches")
    page.get_by_label("Plots counted").fill("2")
    woody = row(page, "Woody plant 1")
    woody.get_by_label("What it is").fill("eastern redcedar")
    woody.get_by_label("Size").select_option("3 to 6 ft")
    woody.get_by_label("Stems in all plots").fill("3")


def test_a_walk_over_on_the_phone(
    phone: Page, sign_in: Callable[..., None], cast: Cast, field: Field, axe: Callable[[Page], None]
) -> None:
    sign_in(phone, cast.crew)
    phone.goto(f"/{cast.practice.slug}/fields/{field.pk}/")
    axe(phone)
    phone.get_by_role("link", name="Write down a walk-over").click()
    axe(phone)
    fill(phone)
    phone.get_by_role("button", name="Keep the walk-over").click()
    expect(phone.get_by_role("alert")).to_contain_text("come to 80 %")
    expect(row(phone, "Cover 4").get_by_label("What grows")).to_have_value("red clover")
    axe(phone)
    phone.get_by_label("Bare ground").fill("20")
    phone.get_by_role("button", name="Keep the walk-over").click()
    expect(phone.get_by_role("heading", level=1)).to_have_text("Walk-over of Ridge Pasture")
    expect(phone.locator("#suggested")).to_contain_text("150 woody stems an acre stand over 3 ft")
    files = [{"name": f"{n}.jpg", "mimeType": "image/jpeg", "buffer": jpeg((400, 300), 1)} for n in range(2)]
    phone.get_by_label("Photographs").set_input_files(files)
    phone.get_by_label("What they show").fill("From the gate")
    phone.get_by_role("button", name="Add photographs").click()
    expect(phone.get_by_role("img", name="From the gate")).to_have_count(2)
    axe(phone)


def test_a_walk_over_with_scripts_off(
    no_script: Page, sign_in: Callable[..., None], cast: Cast, field: Field
) -> None:
    sign_in(no_script, cast.crew)
    no_script.goto(f"/{cast.practice.slug}/fields/{field.pk}/walks/new/")
    fill(no_script)
    no_script.get_by_label("Bare ground").fill("20")
    no_script.get_by_role("button", name="Keep the walk-over").click()
    expect(no_script.get_by_role("heading", level=1)).to_have_text("Walk-over of Ridge Pasture")
    with scope(practice=cast.practice):
        assert WalkOver.objects.get().covers[1]["what"] == "red clover"


def test_a_plan_takes_up_what_the_walk_over_suggests(
    screen: Page, sign_in: Callable[..., None], cast: Cast, axe: Callable[[Page], None]
) -> None:
    plan = make_ready_plan(cast.practice)
    with scope(practice=cast.practice):
        conversion = plan.conversions.select_related("field").get()
        Field.objects.filter(pk=conversion.field_id).update(thatch="heavy")
    walk = make_walk(
        conversion.field,
        covers=[{"what": "smooth brome", "share_pct": 95, "height_in": None, "stage": ""}],
        thatch_in=3,
    )
    sign_in(screen, cast.planner)
    screen.goto(f"/{cast.practice.slug}/plans/{plan.pk}/")
    screen.get_by_role("link", name="fall and spring kill of smooth brome").click()
    axe(screen)
    screen.get_by_role("button", name="Fill these choices in").click()
    expect(screen.get_by_label("How the old cover is killed")).to_have_value("brome_fall_spring")
    expect(screen.get_by_label("Hay the old growth off first")).to_be_checked()
    screen.goto(f"/{cast.practice.slug}/walks/{walk.pk}/facts/")
    axe(screen)
    screen.get_by_role("button", name="Take over what is ticked").click()
    expect(screen.get_by_role("main")).to_contain_text("Smooth brome.")


def test_a_walk_over_waits_for_a_signal(
    new_page: NewPage, sign_in: Callable[..., None], cast: Cast, field: Field, troubles: list[str]
) -> None:
    page = new_page(PHONE, is_mobile=True, has_touch=True, service_workers="allow")
    sign_in(page, cast.crew)
    page.goto(cast.url("work/day/"))
    expect(page.locator("#kept-note")).to_contain_text("Kept on this device")
    page.goto(cast.url(f"fields/{field.pk}/walks/new/"))
    fill(page)
    page.get_by_label("Bare ground").fill("20")
    page.context.set_offline(True)
    page.get_by_role("button", name="Keep the walk-over").click()
    expect(page.locator("#waiting h3")).to_contain_text("Walk-over: Ridge Pasture")
    page.locator("#waiting summary").first.click()
    expect(page.locator("#waiting")).to_contain_text("Cover 1: What grows")
    page.context.set_offline(False)
    page.goto("/phone/")
    expect(page.locator("#sent")).to_contain_text("Kept.")
    with scope(practice=cast.practice):
        assert WalkOver.objects.get().covers[0]["what"] == "tall fescue"
    troubles[:] = [said for said in troubles if "ERR_INTERNET_DISCONNECTED" not in said]
