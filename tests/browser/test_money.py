"""Money done of an agreed plan, and a payment marked, on a laptop and on a phone."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from django_scopes import scope
from playwright.sync_api import Page, expect

from plans import visits
from plans.models import Visit
from tests.conftest import Cast
from tests.plan_factories import SPRAYED, TODAY, line, make_agreed, make_ready_plan


def test_money_done_is_read_and_a_payment_is_marked(
    screen: Page, sign_in: Callable[..., None], cast: Cast, axe: Callable[[Page], None], monkeypatch: Any
) -> None:
    monkeypatch.setattr("plans.views.money.today_for", lambda practice: TODAY)
    plan = make_ready_plan(cast.practice)
    plan.stages = [
        {"label": "At signing", "share_pct": 40, "due": "on signing"},
        {"label": "After seeding", "share_pct": 60, "due": "when seed is in"},
    ]
    with scope(practice=cast.practice):
        plan.save()
    plan = make_agreed(plan, cast.owner)
    more = line(amount=6, planned_amount=5, reason="a second pass")
    with scope(practice=cast.practice):
        kill = Visit.objects.get(plan=plan, step="kill_fall")
        values = {"acres": 6, "on": TODAY, "today": TODAY, "record": SPRAYED, "lines": [more]}
        kill = visits.visit_do(visit=kill, version=1, user=cast.owner, **values)
        visits.visit_skip(visit=kill, version=kill.version, user=cast.owner, reason="wet")
    sign_in(screen, cast.owner)
    screen.goto(cast.url(f"plans/{plan.pk}/"))
    screen.get_by_role("link", name="Money done").click()
    expect(screen.locator("#record")).to_contain_text("1 gal more glyphosate")
    axe(screen)
    screen.locator("#margin summary.fig").first.click()
    expect(screen.locator("#margin .working").first).to_be_visible()
    axe(screen)
    screen.get_by_text("Mark a payment").click()
    screen.get_by_role("button", name="Mark it").click()
    expect(screen.get_by_role("status")).to_contain_text("Marked")
    screen.get_by_text("Mark a payment").click()
    screen.get_by_role("button", name="Mark it").click()
    expect(screen.get_by_role("alert")).to_contain_text("marked as invoiced already")
    axe(screen)
