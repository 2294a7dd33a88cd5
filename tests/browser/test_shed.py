"""The shed and the buy list, on a laptop and on a phone."""

from __future__ import annotations

from collections.abc import Callable
from decimal import Decimal

from django.utils import timezone
from django_scopes import scope
from playwright.sync_api import Page, expect

from plans import shed
from plans.models import StockLot, Visit
from tests.conftest import Cast
from tests.plan_factories import make_agreed, make_ready_plan


def test_a_lot_goes_to_a_field_and_the_rest_is_on_the_buy_list(
    screen: Page, sign_in: Callable[..., None], cast: Cast, axe: Callable[[Page], None]
) -> None:
    plan = make_agreed(make_ready_plan(cast.practice), cast.owner)
    with scope(practice=cast.practice):
        today = timezone.localdate()
        Visit.objects.filter(plan=plan, step="drill").update(window_opens=today)
        drill = Visit.objects.get(plan=plan, step="drill")
        tag = {"purity_pct": 80.0, "germination_pct": 75.0}
        lot = StockLot(practice=cast.practice, kind="seed", unit="lb", name="indiangrass", lot="A1", **tag)
        lot = shed.lot_add(lot=lot, amount=Decimal(2), user=cast.owner, on=today)
    sign_in(screen, cast.owner)
    screen.goto(f"/{cast.practice.slug}/work/shed/")
    axe(screen)
    screen.get_by_role("link", name="Indiangrass").click()
    screen.get_by_text("Take some to a field").click()
    form = screen.locator("form[action$='/use/']")
    form.get_by_label("How much").fill("99")
    form.get_by_label("Where it goes").select_option(str(drill.pk))
    form.get_by_role("button", name="Take it out").click()
    expect(screen.get_by_role("alert")).to_contain_text("2 lb bulk on hand")
    expect(form.get_by_label("How much")).to_have_value("99")
    axe(screen)
    form.get_by_label("How much").fill("0.5")
    form.get_by_role("button", name="Take it out").click()
    expect(screen.locator(".lede")).to_contain_text("1.5 lb bulk")
    axe(screen)

    screen.goto(f"/{cast.practice.slug}/work/buy/")
    screen.get_by_label("For work that begins by").fill(f"{today.year + 3}-06-30")
    screen.get_by_role("button", name="Show").click()
    screen.locator("summary", has_text="Where it goes: indiangrass").click()
    expect(screen.locator(".uses", has_text="lot A1")).to_contain_text("from the shed")
    axe(screen)
    screen.get_by_label("For work that begins by").fill("1999-01-01")
    screen.get_by_role("button", name="Show").click()
    expect(screen.get_by_role("alert")).to_contain_text("Choose a day from today on")
    axe(screen)

    screen.goto(f"/{cast.practice.slug}/work/{drill.pk}/")
    screen.get_by_text("Loading list").click()
    expect(screen.locator("#loading")).to_contain_text("lot A1")
    axe(screen)
