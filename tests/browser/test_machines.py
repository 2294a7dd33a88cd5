"""Machines and the rig check on a laptop, on a phone, and with scripts off."""

from __future__ import annotations

from collections.abc import Callable

import pytest
from playwright.sync_api import Page, expect

from tests.conftest import Cast
from tests.factories import make_machine, make_photo
from tests.planning.rigs import CUTTER, TRACTOR
from tests.web.test_machines import facts_of


@pytest.fixture
def yard(cast: Cast) -> None:
    make_photo(make_machine(cast.practice, name="Sixty", facts=facts_of(TRACTOR)))
    make_machine(cast.practice, "implement", name="Cutter", facts=facts_of(CUTTER, hitch="1", pto_hp=80))


def ask(page: Page) -> None:
    page.get_by_label("Tractor", exact=True).select_option("Sixty")
    page.get_by_label("Implement", exact=True).select_option("Cutter")
    page.get_by_role("button", name="Check it").click()
    expect(page.locator("#verdict")).to_contain_text("2 lower hitch bushings")


def test_machines_are_entered_and_compared_and_axe_is_content(
    screen: Page, sign_in: Callable[..., None], cast: Cast, yard: None, axe: Callable[[Page], None]
) -> None:
    sign_in(screen, cast.owner)
    screen.goto(f"/{cast.practice.slug}/machines/")
    axe(screen)
    screen.get_by_role("link", name="Cutter").click()
    axe(screen)
    screen.get_by_role("link", name="Change", exact=True).click()
    screen.get_by_text("Weight and power").click()
    screen.get_by_label("Power it needs at the PTO").first.fill("-5")
    screen.get_by_role("button", name="Save").click()
    expect(screen.get_by_role("alert")).to_contain_text("Power it needs at the PTO must be 0 or more.")
    expect(screen.get_by_label("Power it needs at the PTO").first).to_have_value("-5")
    axe(screen)
    screen.goto(f"/{cast.practice.slug}/machines/rig/")
    axe(screen)
    ask(screen)
    expect(screen.locator("#verdict")).to_contain_text("The implement needs 80 hp at the PTO")
    axe(screen)


def test_a_rig_is_checked_with_scripts_off(
    no_script: Page, sign_in: Callable[..., None], cast: Cast, yard: None
) -> None:
    sign_in(no_script, cast.crew)
    no_script.goto(f"/{cast.practice.slug}/machines/rig/")
    ask(no_script)
