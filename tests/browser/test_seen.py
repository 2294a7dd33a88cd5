"""Noting what was seen, on a laptop and on a phone."""

from __future__ import annotations

from collections.abc import Callable

from playwright.sync_api import Page, expect

from tests.conftest import Cast
from tests.factories import make_client, make_farm, make_field


def test_a_freeze_is_noted_and_axe_is_content(
    screen: Page, sign_in: Callable[..., None], cast: Cast, axe: Callable[[Page], None]
) -> None:
    farm = make_farm(make_client(cast.practice))
    make_field(farm)
    sign_in(screen, cast.planner)
    screen.goto(f"/{cast.practice.slug}/farms/{farm.pk}/")
    screen.get_by_label("What was seen").select_option("first_freeze")
    screen.get_by_label("Seen on").fill("2026-10-09")
    screen.get_by_role("button", name="Note it").click()
    expect(screen.locator("#seen")).to_contain_text("October 9, 2026")
    axe(screen)
    screen.get_by_role("button", name="Note it").click()
    expect(screen.get_by_role("alert")).to_contain_text("missing")
    axe(screen)
