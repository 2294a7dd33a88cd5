"""A farm's layout and its winds, on a laptop and on a phone."""

from __future__ import annotations

from collections.abc import Callable

from playwright.sync_api import Page, expect

from tests.conftest import Cast
from tests.factories import make_client, make_farm, make_field, make_landmark
from tests.web.test_layout import SOUTH, WEST, box


def test_a_wind_is_kept_and_a_stand_told_what_it_reaches(
    screen: Page, sign_in: Callable[..., None], cast: Cast, axe: Callable[[Page], None]
) -> None:
    farm = make_farm(make_client(cast.practice))
    make_field(farm)
    make_landmark(farm, "bedding", box(WEST + 0.002, SOUTH - 0.002), name="South cover")
    make_landmark(farm, "stand", {"type": "Point", "coordinates": [WEST, SOUTH]}, name="Oak")
    sign_in(screen, cast.planner)
    screen.goto(cast.url(f"farms/{farm.pk}/"))
    screen.get_by_role("button", name="Keep it").click()
    expect(screen.get_by_role("alert")).to_contain_text("Season is missing. Choose one.")
    axe(screen)
    screen.get_by_label("Season").select_option("Fall")
    screen.get_by_label("The wind mostly comes from the").select_option("Northwest")
    screen.get_by_role("button", name="Keep it").click()
    expect(screen.locator("#layout")).to_contain_text("scent reaches South cover from")
    screen.get_by_label("Set against what is asked for").select_option("White-tailed deer")
    screen.get_by_role("button", name="Compare").click()
    expect(screen.locator("#layout")).to_contain_text("acres short; a conversion could give")
    screen.locator("#layout").get_by_text("Working").first.click()
    axe(screen)
