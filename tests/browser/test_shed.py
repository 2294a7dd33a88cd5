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
from tests.factories import make_machine
from tests.plan_factories import make_agreed, make_ready_plan
from tests.planning.rigs import DRILL, TRACTOR
from tests.web.test_machines import facts_of


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


def test_work_written_down_draws_its_lot_and_asks_where_that_is_short(
    screen: Page, sign_in: Callable[..., None], cast: Cast, axe: Callable[[Page], None]
) -> None:
    plan = make_agreed(make_ready_plan(cast.practice), cast.owner)
    with scope(practice=cast.practice):
        drill = Visit.objects.get(plan=plan, step="drill")
        tag = {"purity_pct": 80.0, "germination_pct": 75.0, "tested_on": drill.window_opens}
        lot = StockLot(practice=cast.practice, kind="seed", unit="lb", name="indiangrass", lot="A1", **tag)
        lot = shed.lot_add(lot=lot, amount=Decimal(2), user=cast.owner, on=timezone.localdate())
    sign_in(screen, cast.crew)
    screen.goto(f"/{cast.practice.slug}/work/{drill.pk}/")
    line = screen.locator("#done fieldset.used", has=screen.locator(f'option[value="{lot.pk}"][selected]'))
    expect(line.get_by_label("Out of the shed")).to_have_value(str(lot.pk))
    line.get_by_label("Bulk seed used").fill("3")
    screen.get_by_role("button", name="Write it down").click()
    expect(screen.get_by_role("alert")).to_contain_text("the shed says 2 lb bulk, you used 3")
    expect(line.get_by_label("Bulk seed used")).to_have_value("3")
    axe(screen)
    line.get_by_label("There was more of it").check()
    for reason in screen.get_by_label("Why so far from the plan").all():
        reason.fill("thick spots")
    screen.get_by_role("button", name="Write it down").click()
    expect(screen.get_by_role("status")).to_contain_text("3 lb bulk of indiangrass, lot A1 went out")
    axe(screen)
    screen.goto(f"/{cast.practice.slug}/work/shed/{lot.pk}/")
    expect(screen.locator(".lede")).to_contain_text("0 lb bulk on hand")
    screen.get_by_role("link", name="Record 1").first.click()
    expect(screen.locator("main")).to_contain_text("was put right by 1 lb bulk")
    axe(screen)


def test_a_rig_is_chosen_with_the_day_and_a_no_is_loud(
    screen: Page, sign_in: Callable[..., None], cast: Cast, axe: Callable[[Page], None]
) -> None:
    plan = make_agreed(make_ready_plan(cast.practice), cast.owner)
    make_machine(cast.practice, name="Sixty", facts=facts_of(TRACTOR))
    weak = facts_of(DRILL, drawbar_hp=200, drawbar_pin_in=1)
    make_machine(cast.practice, "implement", name="Seven", operations=["no_till_drilling"], facts=weak)
    with scope(practice=cast.practice):
        drill = Visit.objects.get(plan=plan, step="drill")
    sign_in(screen, cast.planner)
    screen.goto(f"/{cast.practice.slug}/work/{drill.pk}/book/")
    expect(screen.get_by_label("Implement")).to_contain_text("Seven")
    axe(screen)
    screen.get_by_role("button", name="Book it").click()
    expect(screen.get_by_role("status")).to_contain_text("do not go together")
    loud = screen.locator("#loading").get_by_role("alert")
    expect(loud).to_contain_text("No: do not hitch these up")
    expect(loud).to_contain_text("Drawbar bushing")
    axe(screen)
    loud.get_by_role("link", name="See the rig check").click()
    expect(screen.locator("#verdict")).to_contain_text("No")
