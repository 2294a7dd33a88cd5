"""The least-cost mix in a browser: asked, answered and kept, with and without scripts."""

from __future__ import annotations

from collections.abc import Callable

from playwright.sync_api import Page, expect

from consulting.models import User
from tests.conftest import Cast
from tests.plan_factories import make_mix
from tests.web.test_cheapest_mix import list_prices

SignIn = Callable[[Page, User], None]


def test_a_question_is_asked_loosened_compared_and_kept(
    screen: Page, sign_in: SignIn, axe: Callable[[Page], None], cast: Cast
) -> None:
    list_prices(cast)
    make_mix(cast.practice, "Meadow", {"big bluestem": 80, "black-eyed Susan": 20})
    page = screen
    sign_in(page, cast.planner)
    page.goto(cast.url("mixes/"))
    page.get_by_role("link", name="Find the cheapest mix").click()
    targets = page.locator("#targets")
    page.get_by_text("Targets of the purpose, and yours").click()
    axe(page)
    # The figures follow the purpose.
    page.get_by_label("Purpose", exact=True).select_option("pollinators")
    expect(targets).to_contain_text("For pollinators")
    page.get_by_label("Purpose", exact=True).select_option("nesting and brood cover")
    expect(targets).to_contain_text("For nesting and brood cover")
    page.get_by_label("Budget for seed").fill("5")
    page.get_by_label("Stand beside it").select_option("Meadow")
    page.get_by_role("button", name="Work it out").click()
    expect(page.get_by_role("heading", name="No mix can meet these together")).to_be_visible()
    axe(page)
    page.get_by_label("Budget for seed").fill("")
    page.get_by_role("button", name="Work it out").click()
    expect(page.get_by_text("Every target is met.")).to_be_visible()
    page.locator(".costs .figure summary").first.click()
    axe(page)
    page.get_by_role("button", name="Keep it as a mix").click()
    expect(page.get_by_text("Nesting and brood cover, least cost saved.")).to_be_visible()


def test_it_works_without_scripts(no_script: Page, sign_in: SignIn, cast: Cast) -> None:
    list_prices(cast)
    page = no_script
    sign_in(page, cast.planner)
    page.goto(cast.url("mixes/cheapest/"))
    page.get_by_text("Species wanted and not wanted").click()
    page.get_by_label("Not wanted: partridge pea").check()
    page.get_by_role("button", name="Work it out").click()
    answer = page.get_by_role("table", name="The least-cost mix on an acre")
    expect(answer).to_be_visible()
    expect(answer.get_by_text("Partridge pea")).to_have_count(0)
    page.get_by_label("Name of the mix").fill("Quail")
    page.get_by_role("button", name="Keep it as a mix").click()
    expect(page.get_by_role("heading", name="Quail")).to_be_visible()
