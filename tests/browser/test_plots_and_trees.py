"""A field that is to become trees, then a food plot, on a laptop and on a phone."""

from __future__ import annotations

from collections.abc import Callable

from playwright.sync_api import Page, expect

from tests.conftest import Cast
from tests.factories import make_client, make_farm, make_field
from tests.plan_factories import make_mix, make_plan


def test_the_form_follows_the_purpose_and_axe_is_content(
    screen: Page, sign_in: Callable[..., None], cast: Cast, axe: Callable[[Page], None]
) -> None:
    farm = make_farm(make_client(cast.practice))
    plan, field = make_plan(farm), make_field(farm, name="Fence Row")
    make_mix(cast.practice)
    sign_in(screen, cast.planner)
    screen.goto(f"/{cast.practice.slug}/plans/{plan.pk}/fields/{field.pk}/")
    purpose = screen.get_by_label("What it is to become")
    purpose.select_option("food plot")
    expect(screen.get_by_label("Soil pH")).to_be_visible()
    axe(screen)
    purpose.select_option("tree and shrub planting")
    expect(screen.get_by_label("Mix", exact=True)).to_have_count(0)
    screen.get_by_label("Species 1", exact=True).select_option("American plum")
    screen.get_by_label("of species 1").fill("60")
    screen.get_by_role("button", name="Put it in the plan").click()
    expect(screen.get_by_role("alert")).to_contain_text("The shares sum to 60 %")
    axe(screen)
    screen.get_by_label("of species 1").fill("100")
    screen.get_by_role("button", name="Put it in the plan").click()
    expect(screen.get_by_role("heading", name="Plants and materials")).to_be_visible()
    axe(screen)
