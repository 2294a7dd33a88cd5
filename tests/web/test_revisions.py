"""Revisions side by side on a page and in print; why they differ; who sees them."""

from __future__ import annotations

import io
from decimal import Decimal
from typing import Any
from unittest.mock import patch

import pytest
from django_scopes import scope
from pypdf import PdfReader

from consulting.models import SeedPrice
from plans import services
from plans.models import Plan, Proposal, State
from plans.planning import wire
from sites.models import Field
from tests.conftest import Cast
from tests.plan_factories import TODAY, UNPRINTED, make_offered, make_ready_plan

WHY = "The north edge was drawn <anew> after the survey."


@pytest.fixture
def revised(cast: Cast, monkeypatch: Any) -> Plan:
    """A plan whose second revision is on a larger field, at a dearer price, and says why."""
    monkeypatch.setattr("plans.views.revisions.today_for", lambda practice: TODAY)
    plan = make_ready_plan(cast.practice, name="Ridge Field")
    with patch("plans.services.proposal_pdf", return_value=UNPRINTED):
        make_offered(plan, cast.owner)
        with scope(practice=cast.practice):
            plan = services.plan_move(plan=plan, state=State.DRAFT, today=TODAY)
            Field.objects.update(acres=11.5)
            SeedPrice.objects.filter(species="indiangrass").update(price_usd_per_lb=Decimal("19.00"))
            services.plan_save(plan=_why(plan))
        make_offered(plan, cast.owner)
    return plan


def _why(plan: Plan) -> Plan:
    plan.why = WHY
    return plan


def text_of(pdf: bytes) -> str:
    return " ".join(" ".join(page.extract_text().split()) for page in PdfReader(io.BytesIO(pdf)).pages)


def totals(cast: Cast) -> list[Decimal]:
    with scope(practice=cast.practice):
        rows = Proposal.objects.order_by("number")
        return [wire.read_plan(row.result).estimate.total.total.dollars for row in rows]


def test_two_revisions_stand_side_by_side_and_say_why(cast: Cast, revised: Plan) -> None:
    page = cast.browser(cast.planner).get(cast.url(f"plans/{revised.pk}/changes/")).content.decode()
    before, after = totals(cast)
    assert page.count("<h1") == 1
    assert WHY.replace("<", "&lt;").replace(">", "&gt;") in page and "<anew>" not in page
    assert "Ridge Field is 1.5 acres larger." in page
    assert "Indiangrass seed went from" in page
    for amount in (before, after, after - before):
        assert f"${amount:,.2f}" in page


def test_the_print_has_the_same_sums(cast: Cast, revised: Plan) -> None:
    found = cast.browser(cast.planner).get(cast.url(f"plans/{revised.pk}/changes.pdf?from=1&to=2"))
    assert found.headers["Content-Type"] == "application/pdf"
    text = text_of(found.content)
    before, after = totals(cast)
    for amount in (before, after, after - before):
        assert f"{amount:,.2f}" in text
    assert WHY in text and "Ridge Field is 1.5 acres larger." in text


def test_a_draft_stands_beside_what_was_offered_last(cast: Cast, revised: Plan) -> None:
    with scope(practice=cast.practice):
        draft = services.plan_move(plan=revised, state=State.DRAFT, today=TODAY)
        assert draft.why == ""
        Field.objects.update(acres=9)
    page = cast.browser(cast.owner).get(cast.url(f"plans/{revised.pk}/changes/")).content.decode()
    assert "Draft as it stands, beside Revision 2" in page
    assert "Ridge Field is 2.5 acres smaller." in page and "Nobody wrote down why" in page
    first = cast.browser(cast.owner).get(cast.url(f"plans/{revised.pk}/changes/?from=draft&to=1"))
    assert "Ridge Field is 1 acre smaller." in first.content.decode()


def test_why_is_asked_for_and_kept_with_the_revision(cast: Cast, revised: Plan) -> None:
    with scope(practice=cast.practice):
        services.plan_move(plan=revised, state=State.DRAFT, today=TODAY)
    browser, url = cast.browser(cast.planner), cast.url(f"plans/{revised.pk}/")
    assert "Nobody has said yet why" in browser.get(f"{url}offer/").content.decode()
    assert browser.post(f"{url}why/", {"why": "x" * 2001}).status_code == 422
    browser.post(f"{url}why/", {"why": "A second thought."})
    assert "A second thought." in browser.get(f"{url}offer/").content.decode()
    page = browser.get(cast.url("proposals/2/")).content.decode()
    assert "A second thought." not in page and "after the survey" in page


def test_one_revision_alone_has_nothing_beside_it(cast: Cast) -> None:
    plan = make_ready_plan(cast.practice)
    browser, url = cast.browser(cast.owner), cast.url(f"plans/{plan.pk}/changes")
    assert "nothing to set beside it yet" in browser.get(f"{url}/").content.decode()
    assert browser.get(f"{url}.pdf").status_code == 302


def test_an_unreadable_revision_says_so(cast: Cast, revised: Plan) -> None:
    with patch("plans.revisions.frozen_outcome", return_value=None):
        found = cast.browser(cast.owner).get(cast.url(f"plans/{revised.pk}/changes/"))
    assert found.status_code == 200 and "only its PDF can be read" in found.content.decode()


def test_crew_see_no_prices_of_revisions(cast: Cast, revised: Plan) -> None:
    for path in ("changes/", "changes.pdf"):
        found = cast.browser(cast.crew).get(cast.url(f"plans/{revised.pk}/{path}"))
        assert found.status_code == 403
