"""Keeping a strip along a creek free and finding out how steep a field is, on a laptop and on a phone."""

from __future__ import annotations

from collections.abc import Callable

from playwright.sync_api import Page, expect

from tests.conftest import Cast
from tests.factories import make_client, make_farm
from tests.ground_factories import NORTH, SOUTH, WEST, make_drawn_field


def test_a_creek_is_kept_free_and_a_slope_taken(
    screen: Page, sign_in: Callable[..., None], cast: Cast, axe: Callable[[Page], None]
) -> None:
    field = make_drawn_field(make_farm(make_client(cast.practice)), name="Creek Bottom")
    sign_in(screen, cast.planner)
    screen.goto(f"/{cast.practice.slug}/fields/{field.pk}/")
    screen.get_by_role("link", name="Keep something free").click()
    screen.get_by_role("button", name="Save").click()
    expect(screen.get_by_role("alert")).to_contain_text("Choose what it stays away from")
    axe(screen)
    screen.get_by_label("What it is").select_option("water")
    screen.get_by_label("Its name").fill("Mill Creek")
    screen.get_by_label("Corners").fill(f"{SOUTH}, {WEST}\n{NORTH}, {WEST}")
    screen.get_by_label("Distance kept").fill("50")
    screen.get_by_label("Spraying").check()
    screen.get_by_label("Reason").fill("the label")
    screen.get_by_role("button", name="Save").click()
    expect(screen.locator("#away")).to_contain_text("50 ft from Mill Creek")
    expect(screen.locator("#away tfoot")).to_contain_text("8.68")
    axe(screen)
    screen.get_by_role("link", name="Find out how steep it is").click()
    screen.get_by_label("Rise").fill("9")
    screen.get_by_label("Level run").fill("60")
    screen.get_by_role("button", name="Reckon it").first.click()
    expect(screen.locator("#found")).to_contain_text("15.0 % (8.5°)")
    axe(screen)
    screen.get_by_role("button", name="Take this into Creek Bottom").click()
    expect(screen.locator("#slope")).to_contain_text("By a rise of 9 ft over a level run of 60 ft")
