"""The client's page on a phone and on a laptop: read, asked, and agreed to by hand."""

from __future__ import annotations

from collections.abc import Callable
from datetime import timedelta
from typing import Any
from unittest.mock import patch

from django_scopes import scope
from playwright.sync_api import Page, expect

from plans.counts import count_write
from plans.models import Agreement, Plan
from plans.reports import report_send
from plans.views import client_page
from tests.conftest import Cast
from tests.drawn_factories import outlined
from tests.plan_factories import TODAY, make_ready_plan, make_shown


def test_a_client_reads_asks_agrees_and_reads_the_report(
    phone: Page, laptop: Page, cast: Cast, axe: Callable[[Page], None]
) -> None:
    plan = make_ready_plan(cast.practice)
    with scope(practice=cast.practice):
        outlined(plan.conversions.get().field)
    _, key = make_shown(plan, cast.owner)
    with patch.object(client_page, "today_for", lambda practice: TODAY + timedelta(days=3)):
        phone.goto(f"/client/{key}/")
        axe(phone)
        phone.get_by_label("Your question").fill("Do we fence it?")
        phone.get_by_role("button", name="Send the question").click()
        expect(phone.get_by_text("Not answered yet")).to_be_visible()
        phone.get_by_role("button", name="I agree").click()
        phone.get_by_role("link", name="Your name is missing").click()
        expect(phone.get_by_label("Your name, as you would sign").first).to_be_focused()
        axe(phone)
        phone.get_by_label("I have read proposal 1, revision 1").check()
        phone.get_by_label("Your name, as you would sign").first.fill("Lena Landowner")
        phone.get_by_role("button", name="I agree").click()
        expect(phone.get_by_text("Agreed by Lena Landowner")).to_be_visible()
        laptop.goto(f"/client/{key}/")
        expect(laptop.get_by_text("Agreed by Lena Landowner")).to_be_visible()
        axe(laptop)
        with scope(practice=cast.practice):
            agreed = Plan.objects.select_related("practice", "farm__client").get(pk=plan.pk)
            on = TODAY + timedelta(days=3)
            told: dict[str, Any] = {"method": "grid", "aim": "cover", "cells": 25, "frame_sqft": 1.0}
            count = agreed.visits.get(step="count_1")
            count_write(visit=count, user=cast.crew, uid=None, on=on, throws=[5], growth="clean", **told)
            report_send(plan=agreed, year=on.year, user=cast.owner, today=on)
        for page in (phone, laptop):
            page.goto(f"/client/{key}/")
            page.get_by_role("link", name="Season report 2026", exact=True).first.click()
            expect(page.locator(".report svg")).to_be_visible()
            axe(page)
    with scope(practice=cast.practice):
        assert Agreement.objects.get().user_agent.startswith("Mozilla")
