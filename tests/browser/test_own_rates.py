"""A rate suggested from done work is looked into and taken over, on a laptop and on a phone."""

from __future__ import annotations

from collections.abc import Callable
from datetime import timedelta
from typing import Any

from django_scopes import scope
from playwright.sync_api import Page, expect

from plans import visits
from plans.models import Visit
from tests.conftest import Cast
from tests.plan_factories import SPRAYED, TODAY, line, make_agreed, make_ready_plan


def test_a_rate_is_looked_into_and_taken_over(
    screen: Page, sign_in: Callable[..., None], cast: Cast, axe: Callable[[Page], None], monkeypatch: Any
) -> None:
    later = TODAY + timedelta(days=500)
    monkeypatch.setattr("plans.views.own_rates.today_for", lambda practice: later)
    plan = make_agreed(make_ready_plan(cast.practice), cast.owner)
    with scope(practice=cast.practice):
        for place, visit in enumerate(Visit.objects.filter(plan=plan, operation="rotary_mowing")[:4]):
            hours = {"hours": 2.5 + place, "hours_reason": "tall <growth>"}
            visits.visit_do(
                visit=visit, version=visit.version, user=cast.owner, on=TODAY, acres=visit.acres, today=TODAY,
                record=hours,
            )  # fmt: skip
        kill = Visit.objects.get(plan=plan, step="kill_fall")
        visits.visit_do(
            visit=kill, version=kill.version, user=cast.owner, on=TODAY, acres=10, today=TODAY,
            record=SPRAYED, lines=[line()],
        )  # fmt: skip
    sign_in(screen, cast.owner)
    screen.goto(cast.url("prices/"))
    screen.get_by_role("link", name="Rates from your own work").click()
    expect(screen.locator("#pace")).to_contain_text("too few visits")
    axe(screen)
    screen.locator("#pace .fold summary", has_text="Rotary mowing").click()
    expect(screen.locator("#pace details[open]")).to_contain_text("tall <growth>")
    axe(screen)
    screen.get_by_label("Take over Rotary mowing, pace").check()
    screen.get_by_role("button", name="Take over what is ticked").click()
    expect(screen.get_by_role("status")).to_contain_text("1 rate taken over")
    expect(screen.locator("#taken")).to_contain_text("Rotary mowing, pace")
    axe(screen)
