"""The range under the price, and the choices of a stand that is released and not sown."""

from __future__ import annotations

from html import unescape

from tests.conftest import Cast
from tests.factories import make_client, make_farm, make_field
from tests.plan_factories import make_mix, make_plan, make_prices, make_ready_plan
from tests.web.test_plans import posted


def test_the_page_says_what_the_price_may_come_to(cast: Cast) -> None:
    plan = make_ready_plan(cast.practice)
    page = cast.browser(cast.planner).get(cast.url(f"plans/{plan.pk}/")).content.decode()
    assert "Likely between" in page and "What may come on top" in page
    assert "Third kill: spray what is still green" in page and "20 of 100" in page


def test_a_native_stand_is_released_without_seed(cast: Cast) -> None:
    make_prices(cast.practice)
    farm = make_farm(make_client(cast.practice))
    plan, field, mix = make_plan(farm), make_field(farm, cover="failed native stand"), make_mix(cast.practice)
    browser = cast.browser(cast.planner)
    url = cast.url(f"plans/{plan.pk}/fields/{field.pk}/")
    form = unescape(browser.get(url).content.decode())
    assert 'value="release_native" selected' in form
    assert "Release with imazapic instead" in form and "Mow the brome in the boot first" not in form
    wanted = posted(
        mix=str(mix.pk), kill_program="release_native", seeding="none", options="release_imazapic"
    )
    assert browser.post(url, wanted).status_code == 302
    page = unescape(browser.get(cast.url(f"plans/{plan.pk}/")).content.decode())
    assert "Spray the sod before the natives wake" in page and "Count what came through" in page
    assert "What goes in the ground" not in page and "Drill the mix" not in page
