"""Outlines drawn with the mouse, reshaped, cut and divided; a walk brought in; all of it on two screens."""

from __future__ import annotations

import re
from collections.abc import Callable
from typing import Any

import pytest
from django_scopes import scope
from playwright.sync_api import Page, expect

from consulting.models import User
from sites.ground.measuring import measure
from sites.ground.typed import outline_of_rings, read_corners
from sites.models import Farm, Field, Landmark
from tests.drawn_factories import WEST, geojson, make_landmark, outlined, polygon, square, typed
from tests.factories import make_client, make_farm, make_field, make_member, make_practice, make_user

pytestmark = pytest.mark.django_db(transaction=True)
SignIn = Callable[[Page, User], None]
ACRES = re.compile(r"([\d.]+) acres")


class Place:
    """A farm with an outlined field and one that is to be drawn."""

    def __init__(self) -> None:
        self.practice = make_practice("Kestrel Cover Company", slug="kestrel")
        self.user = make_member(self.practice, "planner", user=make_user(name="Perrin Planner")).user
        self.farm: Farm = make_farm(make_client(self.practice), latitude=38.95, longitude=-92.33)
        self.drawn: Field = outlined(make_field(self.farm, name="Barn Hill"))
        self.bare: Field = make_field(self.farm, name="Spring Draw")

    def url(self, path: str) -> str:
        return f"/kestrel/{path}"

    def now(self, field: Field) -> Field:
        with scope(practice=self.practice):
            return Field.objects.get(pk=field.pk)


@pytest.fixture
def place(live_server: Any) -> Place:
    return Place()


def said(page: Page) -> Any:
    return page.locator(".map-said")


def acres(page: Page) -> float:
    expect(said(page)).to_have_text(ACRES)
    found = ACRES.search(said(page).inner_text())
    assert found
    return float(found[1])


def reckoned(corners: str) -> float:
    return measure(outline_of_rings(read_corners(corners, latitude_first=True))[0]).acres


def settled(page: Page, before: str) -> str:
    """The corners once they are others than before, and the map says their acres."""
    box = page.get_by_role("textbox", name="Corners")
    expect(box).not_to_have_value(before)
    corners = box.input_value()
    expect(said(page)).to_contain_text(f"{reckoned(corners):.2f} acres")
    return corners


def at(page: Page, across: float, down: float) -> tuple[float, float]:
    """A place on the map, from its upper left corner, in shares."""
    page.locator("#map").scroll_into_view_if_needed()
    box = page.locator("#map").bounding_box()
    assert box
    return box["x"] + box["width"] * across, box["y"] + box["height"] * down


def press(page: Page, act: str) -> None:
    page.locator(f"[data-act={act}]").click()


def draw(page: Page, act: str, *corners: tuple[float, float]) -> None:
    """Click the corners one after the other; the last click ends the drawing."""
    press(page, act)
    for corner in corners:
        page.mouse.move(*at(page, *corner))
        page.mouse.click(*at(page, *corner))


BOX = ((0.3, 0.3), (0.6, 0.3), (0.6, 0.6), (0.3, 0.6), (0.3, 0.3))


def test_an_outline_is_drawn_reshaped_cut_undone_and_kept(
    laptop: Page, place: Place, sign_in: SignIn, axe: Callable[[Page], None]
) -> None:
    sign_in(laptop, place.user)
    with scope(practice=place.practice):
        Field.objects.filter(pk=place.drawn.pk).update(outline=None)
    laptop.goto(place.url(f"fields/{place.bare.pk}/draw/"))
    draw(laptop, "draw", *BOX[:3])
    assert acres(laptop) > 0, "acres are told while it is drawn"
    for corner in BOX[3:]:
        laptop.mouse.click(*at(laptop, *corner))
    drawn = settled(laptop, "")
    assert len(drawn.splitlines()) == 4
    laptop.mouse.move(*at(laptop, 0.6, 0.6))
    laptop.mouse.down()
    laptop.mouse.move(*at(laptop, 0.7, 0.7), steps=4)
    laptop.mouse.up()
    reshaped = settled(laptop, drawn)
    assert reckoned(reshaped) > reckoned(drawn)
    draw(laptop, "cut", (0.4, 0.4), (0.5, 0.4), (0.5, 0.5), (0.4, 0.5), (0.4, 0.4))
    cut = settled(laptop, reshaped)
    assert "\n\n" in cut and reckoned(cut) < reckoned(reshaped)
    press(laptop, "undo")
    assert settled(laptop, cut) == reshaped
    laptop.keyboard.press("Control+Shift+Z")
    assert settled(laptop, reshaped) == cut
    axe(laptop)
    laptop.get_by_role("button", name="Keep this outline").click()
    expect(laptop.get_by_role("heading", level=1)).to_have_text("Spring Draw")
    assert place.now(place.bare).acres == pytest.approx(reckoned(cut), abs=0.006)


def test_typed_corners_lie_on_the_map_and_are_laid_on_a_neighbours_edge(
    laptop: Page, place: Place, sign_in: SignIn
) -> None:
    sign_in(laptop, place.user)
    laptop.goto(place.url(f"fields/{place.bare.pk}/draw/"))
    corners = laptop.get_by_role("textbox", name="Corners")
    corners.fill(typed(square(WEST + 0.00405)))
    corners.press("Tab")
    before = acres(laptop)
    laptop.get_by_label("Lay its corners on the edge of").select_option("Barn Hill")
    press(laptop, "draw_to")
    expect(said(laptop)).to_contain_text("moved")
    assert acres(laptop) > before
    laptop.get_by_role("radio", name="Longitude first").check()
    expect(corners).to_have_value(re.compile(r"^-92"))
    laptop.get_by_role("button", name="Keep this outline").click()
    expect(laptop.locator(".said")).to_contain_text("Kept:")
    assert place.now(place.bare).outline["coordinates"][0][0].count([WEST + 0.004, 38.95]) >= 1


def test_a_field_is_divided_by_a_line(laptop: Page, place: Place, sign_in: SignIn, axe: Any) -> None:
    sign_in(laptop, place.user)
    laptop.goto(place.url(f"fields/{place.drawn.pk}/divide/"))
    draw(laptop, "draw", (0.5, 0.05), (0.5, 0.95))
    expect(said(laptop)).to_contain_text("Pieces from west to east:")
    laptop.mouse.click(*at(laptop, 0.5, 0.95))
    expect(laptop.get_by_role("textbox", name="Corners")).to_have_value(re.compile(r"\n"))
    axe(laptop)
    laptop.get_by_role("button", name="Show the pieces").click()
    laptop.get_by_label("Name of the new field").fill("Barn Hill east")
    axe(laptop)
    laptop.get_by_role("button", name="Divide the field").click()
    expect(laptop.locator(".said")).to_contain_text("Barn Hill is divided.")
    with scope(practice=place.practice):
        assert Field.objects.filter(farm=place.farm, outline__isnull=False).count() == 2


def test_a_landmark_is_drawn_as_a_point(laptop: Page, place: Place, sign_in: SignIn, axe: Any) -> None:
    sign_in(laptop, place.user)
    laptop.goto(place.url(f"farms/{place.farm.pk}/landmarks/new/"))
    laptop.get_by_label("What it is").select_option("Well")
    laptop.get_by_role("button", name="Draw a point").click()
    laptop.mouse.click(*at(laptop, 0.2, 0.2))
    expect(laptop.get_by_role("textbox", name="Corners")).to_have_value(re.compile(r"^[\d.]+, -[\d.]+$"))
    axe(laptop)
    laptop.get_by_role("button", name="Keep it").click()
    expect(laptop.get_by_role("rowheader", name="Well")).to_be_visible()
    with scope(practice=place.practice):
        assert Landmark.objects.get().shape["type"] == "Point"


def test_a_walk_is_brought_in(screen: Page, place: Place, sign_in: SignIn, axe: Any) -> None:
    sign_in(screen, place.user)
    screen.goto(place.url(f"fields/{place.bare.pk}/"))
    screen.get_by_role("link", name="Bring in a file or a walk").click()
    axe(screen)
    data = geojson(("Spring Draw", polygon(square(WEST + 0.004))), ("Barn Hill", polygon()))
    screen.get_by_label("Map file").set_input_files(
        {"name": "walk.geojson", "mimeType": "application/geo+json", "buffer": data}
    )
    screen.get_by_role("button", name="Look into the file").click()
    expect(screen.get_by_role("img", name="What the file holds")).to_be_visible()
    axe(screen)
    screen.get_by_role("button", name="Keep it so").click()
    expect(screen.locator(".said")).to_contain_text("Spring Draw, 28.5")


def test_the_pages_of_the_map_are_sound_on_both_screens(
    screen: Page, place: Place, sign_in: SignIn, axe: Any
) -> None:
    make_landmark(place.farm)
    sign_in(screen, place.user)
    for path in (
        f"farms/{place.farm.pk}/", f"farms/{place.farm.pk}/map/", f"fields/{place.drawn.pk}/",
        f"fields/{place.drawn.pk}/draw/", f"farms/{place.farm.pk}/fields/draw/",
    ):  # fmt: skip
        screen.goto(place.url(path))
        if path.endswith(("draw/", "map/")):
            expect(screen.locator(".map-square")).to_contain_text("Each square is about")
            expect(screen.locator(".map path.around").first).to_be_visible()
        axe(screen)


def test_without_scripts_corners_are_typed_and_the_map_is_a_picture(
    no_script: Page, place: Place, sign_in: SignIn
) -> None:
    sign_in(no_script, place.user)
    no_script.goto(place.url(f"fields/{place.bare.pk}/draw/"))
    expect(no_script.locator(".map-tool")).to_be_hidden()
    no_script.get_by_role("textbox", name="Corners").fill(typed(square(WEST + 0.004)))
    no_script.get_by_role("button", name="Keep this outline").click()
    expect(no_script.get_by_role("img", name="Field plan of Spring Draw")).to_be_visible()
    no_script.goto(place.url(f"farms/{place.farm.pk}/map/"))
    expect(no_script.get_by_role("img", name="Map of")).to_be_visible()


def test_tiles_are_fetched_from_the_host_that_was_named_and_lie_in_place_of_the_grid(
    laptop: Page, place: Place, sign_in: SignIn, troubles: list[str]
) -> None:
    place.practice.tile_address = "https://tiles.example.org/{z}/{x}/{y}.png"
    place.practice.save()
    sign_in(laptop, place.user)
    laptop.goto(place.url(f"farms/{place.farm.pk}/map/"))
    expect(laptop.locator(".map .leaflet-tile").first).to_be_attached()
    expect(laptop.locator(".map .square")).to_have_count(0)
    laptop.wait_for_load_state("networkidle")
    elsewhere = [one for one in troubles if one.startswith("a request went elsewhere")]
    assert elsewhere and all("https://tiles.example.org/" in one for one in elsewhere)
    assert not any("Content Security Policy" in one for one in troubles)
    troubles.clear()
