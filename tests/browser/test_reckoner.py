"""The reckoner on a laptop and on a phone."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from playwright.sync_api import Page, expect

from tests.conftest import Cast


def test_a_spray_day_is_judged_and_axe_is_content(
    screen: Page, sign_in: Callable[..., None], cast: Cast, axe: Callable[[Page], None]
) -> None:
    sign_in(screen, cast.crew)
    screen.goto(f"/{cast.practice.slug}/reckoner/")
    axe(screen)
    screen.get_by_role("link", name="Go, wait or no").click()
    given: dict[str, Any] = {"Air temperature": "75", "Humidity": "50", "Wind": "2", "Hour of the day": "7"}
    for label, value in given.items():
        screen.get_by_label(label).first.fill(value)
    screen.get_by_role("button", name="Work it out").click()
    expect(screen.locator(".answer")).to_contain_text("wait")
    expect(screen.locator(".answer")).to_contain_text("inversion may lie")
    axe(screen)
    screen.get_by_label("Humidity").first.fill("500")
    screen.get_by_role("button", name="Work it out").click()
    expect(screen.get_by_role("alert")).to_contain_text("Humidity")
    axe(screen)
