"""The field plan and the farm plan, on a laptop and on a phone."""

from __future__ import annotations

from collections.abc import Callable

from playwright.sync_api import Page, expect

from tests.conftest import Cast
from tests.factories import make_client, make_farm
from tests.ground_factories import make_drawn_field, make_exclusion


def test_both_are_drawn_with_a_legend_that_can_be_read(
    screen: Page, sign_in: Callable[..., None], cast: Cast, axe: Callable[[Page], None]
) -> None:
    field = make_drawn_field(make_farm(make_client(cast.practice)), name="Creek Bottom")
    make_exclusion(field)
    sign_in(screen, cast.crew)
    for path, said in (
        (f"fields/{field.pk}/", "Left to spray and seed"),
        (f"farms/{field.farm_id}/", "Mill Creek"),
    ):
        screen.goto(cast.url(path))
        expect(screen.get_by_role("img", name="plan of")).to_be_visible()
        expect(screen.locator(".map-legend")).to_contain_text(said)
        axe(screen)
