"""A change order on the client's page of the plan that it changes: read, answered, kept, and proved."""

from __future__ import annotations

from datetime import timedelta
from typing import Any
from unittest.mock import patch

import pytest
from django.test import Client as Browser
from django_scopes import scope

from consulting.letters import Letter
from plans import proofs, services
from plans.agreements import agree_on_paper
from plans.changing import change_start
from plans.client_links import link_make
from plans.models import Agreement, Plan, Proposal, Refusal, State, Visit
from plans.selectors import latest_proposal
from plans.views import client_page
from sites.models import Field
from tests.conftest import Cast
from tests.plan_factories import TODAY, accept_all, make_agreed, make_ready_plan

WHY = "You bought the strip <along> the road."
LATER = TODAY + timedelta(days=3)


@pytest.fixture
def plan(cast: Cast) -> Any:
    """An agreed plan, to which a change order is offered for two acres more."""
    made = make_agreed(make_ready_plan(cast.practice, name="Ridge Field"), cast.owner)
    with scope(practice=cast.practice):
        agree_on_paper(plan=made, user=cast.owner, name="Lena", signed_on=TODAY, paper=None, today=TODAY)
        Field.objects.update(acres=12)
        change = change_start(plan=made, today=TODAY)
        change.why = WHY
        change.save()
        accept_all(change, cast.owner)
        services.plan_offer(plan=change, user=cast.owner, today=TODAY)
        with patch.object(client_page, "today_for", lambda practice: LATER):
            yield Plan.objects.get(pk=made.pk)


@pytest.fixture
def url(plan: Plan, cast: Cast) -> str:
    until = LATER + timedelta(days=99)
    return f"/client/{link_make(plan=plan, user=cast.owner, expires_on=until, today=TODAY)[1]}/"


def order_of(plan: Plan) -> Proposal:
    return Proposal.objects.get(plan__changes=plan)


def send(url: str, what: str, proposal: Proposal) -> int:
    data = {"number": proposal.number, "sha256": proposal.sha256, "name": "Lena", "terms": "on"}
    return Browser().post(f"{url}{what}/", data).status_code


def page(url: str) -> str:
    answer = Browser().get(url)
    assert answer.status_code == 200
    return answer.content.decode()


def test_a_change_is_read_and_agreed_to_where_the_plan_is(plan: Plan, url: str) -> None:
    order, first = order_of(plan), Proposal.objects.get(plan=plan)
    said = page(url)
    assert "You bought the strip &lt;along&gt; the road." in said and "2 acres larger" in said
    assert f"${order.total_usd:,.2f} in all with it" in said and order.sha256 in said
    assert f"{url}documents/change-order-2.pdf" in said
    assert Browser().get(f"{url}documents/change-order-2.pdf").content == bytes(order.pdf)
    assert [send(url, "agree", order) for _ in range(2)] == [302, 302]
    made = Agreement.objects.get(how="page")
    assert made.proposal == order and "change order 2" in made.statement
    assert Plan.objects.get(changes=plan).state == State.TAKEN_IN and latest_proposal(plan) == order
    assert {visit.acres for visit in Visit.objects.filter(plan=plan, acres_done=0)} >= {12.0}
    said = page(url)
    assert "Changes agreed to" in said and 'id="agree-name"' not in said
    assert f"{order.total_usd:,.2f} in all" in said and f"${first.total_usd:,.2f}" in said
    assert "Change order 2" in said.split("When it is paid")[1]
    assert all(
        "change order 2" in letter.subject for letter in Letter.objects.filter(subject__contains="ord")
    )
    assert send(url, "decline", order) == 409 and send(url, "agree", first) == 302


def test_a_change_declined_leaves_the_work_as_it_was(plan: Plan, url: str) -> None:
    before = set(Visit.objects.filter(plan=plan).values_list("step", "acres"))
    assert send(url, "decline", order_of(plan)) == 302
    assert Refusal.objects.get().plan == Plan.objects.get(changes=plan)
    assert set(Visit.objects.filter(plan=plan).values_list("step", "acres")) == before
    assert Plan.objects.get(pk=plan.pk).state == State.AGREED
    assert send(url, "agree", order_of(plan)) == 409
    assert 'id="agree-name"' not in page(url)


def test_a_change_signed_on_paper_is_entered_and_proved(plan: Plan, cast: Cast) -> None:
    change = Plan.objects.get(changes=plan)
    owner = cast.browser(cast.owner)
    at_plan = cast.url(f"plans/{plan.pk}/client/")
    assert owner.get(cast.url(f"plans/{change.pk}/client/")).headers["Location"] == at_plan
    assert f"plans/{change.pk}/signed/" in owner.get(at_plan).content.decode()
    agree_on_paper(plan=change, user=cast.owner, name="Lena", signed_on=LATER, paper=None, today=LATER)
    assert Plan.objects.get(pk=change.pk).state == State.TAKEN_IN
    assert "change order 2" in owner.get(at_plan).content.decode()
    checks = proofs.proof(order_of(plan))
    assert [check.word for check in checks] == ["holds"] * 7, [check.said for check in checks]
