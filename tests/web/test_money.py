"""Money done of an agreed plan: its page before and after work, its payments, and who sees it."""

from __future__ import annotations

import re
from datetime import date, timedelta
from decimal import Decimal
from html import unescape
from typing import Any

import pytest
from django_scopes import scope

from consulting.append_only import Recorded
from plans import services, visits
from plans.models import Plan, StageMark, State, Visit
from plans.money_done import MoneyDone, money_done
from plans.selectors import frozen_outcome, latest_proposal
from sites.models import Field
from tests.conftest import Cast
from tests.plan_factories import SPRAYED, TODAY, line, make_agreed, make_ready_plan
from tests.web import queries

FALL = date(2027, 9, 20)


@pytest.fixture
def agreed(cast: Cast, monkeypatch: Any) -> Any:
    """An agreed plan of one field of sod with two payments, in the scope of its practice."""
    plan = make_ready_plan(cast.practice)
    with scope(practice=cast.practice):
        plan.stages = [
            {"label": "At <signing>", "share_pct": 40, "due": "on signing"},
            {"label": "After seeding", "share_pct": 60, "due": "when seed is in"},
        ]
        plan.save()
    plan = make_agreed(plan, cast.owner)
    monkeypatch.setattr("plans.views.money.today_for", lambda practice: TODAY)
    with scope(practice=cast.practice):
        yield plan


def do(plan: Plan, cast: Cast, **more: Any) -> Visit:
    visit = Visit.objects.get(plan=plan, step="kill_fall")
    values: dict[str, Any] = {"acres": 10, "on": FALL, "today": FALL, "record": SPRAYED, "lines": [line()]}
    return visits.visit_do(visit=visit, version=visit.version, user=cast.crew, **values | more)


def found(plan: Plan) -> MoneyDone:
    money = money_done(Plan.objects.get(pk=plan.pk))
    assert money
    return money


def page(plan: Plan, cast: Cast) -> str:
    text = cast.browser(cast.planner).get(cast.url(f"plans/{plan.pk}/money/")).content.decode()
    assert text.count("<h1") == 1
    return text


def test_nothing_is_done_before_and_one_spray_after(agreed: Plan, cast: Cast) -> None:
    before = found(agreed)
    assert before.progress.cost.done.value == 0 and before.margin.so_far.value == 0
    assert "No record differs" in page(agreed, cast)
    do(agreed, cast)
    after = found(agreed).progress
    spray = {one.line.label: one for one in after.lines if one.line.category == "spray" and one.share.value}
    assert spray and all(one.cost.done.dollars > 0 for one in spray.values())
    assert after.cost.done.dollars + after.cost.left.dollars == after.cost.estimate.dollars
    assert after.cost.done.shown in page(agreed, cast)


def test_a_field_named_anew_keeps_what_was_done_on_it(agreed: Plan, cast: Cast) -> None:
    do(agreed, cast, acres=5)
    half = found(agreed).progress.cost.done.dollars
    Field.objects.update(name="Another name")
    assert half > 0 and found(agreed).progress.cost.done.dollars == half


def test_what_is_skipped_is_neither_done_nor_left(agreed: Plan, cast: Cast) -> None:
    do(agreed, cast, acres=4)
    visit = Visit.objects.get(plan=agreed, step="kill_fall")
    visits.visit_skip(visit=visit, version=visit.version, user=cast.owner, reason="wet")
    cost = found(agreed).progress.cost
    assert cost.done.dollars > 0 and cost.skipped.dollars > 0
    assert cost.done.dollars + cost.left.dollars + cost.skipped.dollars == cost.estimate.dollars
    assert "settle with the client" in page(agreed, cast)


def test_what_was_used_besides_costs_margin(agreed: Plan, cast: Cast) -> None:
    proposal = latest_proposal(agreed)
    outcome = frozen_outcome(proposal) if proposal else None
    assert outcome
    part = next(part for tank in outcome.tanks for part in tank.parts if part.active_ingredient)
    planned = float(part.total.value)
    own = line(name=part.name, amount=4 * 2 * planned, planned_amount=4 * planned, unit="qt", reason="x")
    odd = line(1, name="sand <b>", amount=3, planned_amount=None, unit="tons")
    less = line(2, name="ammonium sulfate", amount=1, planned_amount=11, unit="lb", reason="x")
    do(agreed, cast, lines=[own, odd, less])
    money = found(agreed)
    saved = next(one.cost for one in money.differences if "less ammonium" in one.says)
    assert saved and saved.shown == "−$6.00"
    assert part.cost and money.margin.differences.value == part.cost.dollars + saved.dollars
    done = money.progress.price.done.dollars - money.progress.cost.done.dollars
    assert money.margin.so_far.dollars == done - part.cost.dollars + 6
    text = page(agreed, cast)
    assert f"more {part.name} than planned" in unescape(text) and "sand &lt;b&gt;" in text
    assert "cannot be priced" in text and "Overhead is in the price" in text


def test_crew_see_no_money(agreed: Plan, cast: Cast) -> None:
    crew = cast.browser(cast.crew)
    assert crew.get(cast.url(f"plans/{agreed.pk}/money/")).status_code == 403
    assert crew.post(cast.url(f"plans/{agreed.pk}/money/mark/")).status_code == 403
    assert cast.browser(cast.stranger).get(cast.url(f"plans/{agreed.pk}/money/")).status_code == 404


def test_a_payment_is_marked_once_and_shows_what_stands_open(agreed: Plan, cast: Cast) -> None:
    browser, url = cast.browser(cast.planner), cast.url(f"plans/{agreed.pk}/money/mark/")
    typed = {"stage": "1", "what": "invoiced", "on": f"{TODAY}"}
    assert browser.post(url, typed).status_code == 302
    payments = found(agreed).payments
    amount = payments.rows[0].stage.amount.dollars
    assert payments.open.dollars == amount == StageMark.objects.get().amount_usd
    twice = browser.post(url, typed)
    text = twice.content.decode()
    assert twice.status_code == 422 and "marked as invoiced already" in text and 'href="#id_stage"' in text
    assert "At &lt;signing&gt;" in text and "<signing>" not in text
    assert browser.post(url, typed | {"what": "paid"}).status_code == 302
    payments = found(agreed).payments
    assert (payments.open.value, payments.paid.value) == (Decimal(0), amount)
    for attempt in (StageMark.objects.all()[0].save, StageMark.objects.all()[0].delete):
        with pytest.raises(Recorded):
            attempt()


@pytest.mark.parametrize(
    "wrong",
    [
        {"stage": "3"},
        {"stage": "x"},
        {"what": "lost"},
        {"on": "0001-01-01"},
        {"on": f"{TODAY + timedelta(days=1)}"},
        {"on": ""},
    ],
)
def test_what_cannot_be_marked_is_refused(agreed: Plan, cast: Cast, wrong: dict[str, str]) -> None:
    url = cast.url(f"plans/{agreed.pk}/money/mark/")
    typed = {"stage": "1", "what": "invoiced", "on": f"{TODAY}"} | wrong
    assert cast.browser(cast.planner).post(url, typed).status_code == 422
    assert not StageMark.objects.exists()


def test_the_plan_page_leads_there_once_there_are_visits(agreed: Plan, cast: Cast) -> None:
    browser, address = cast.browser(cast.planner), cast.url(f"plans/{agreed.pk}/money/")
    assert address in browser.get(cast.url(f"plans/{agreed.pk}/")).content.decode()
    draft = Plan.objects.create(practice=cast.practice, farm=agreed.farm, title="x", state_on=TODAY)
    assert f"plans/{draft.pk}/money/" not in browser.get(cast.url(f"plans/{draft.pk}/")).content.decode()
    bare = browser.get(cast.url(f"plans/{draft.pk}/money/"))
    assert bare.status_code == 200 and "This plan has none" in bare.content.decode()
    assert browser.post(cast.url(f"plans/{draft.pk}/money/mark/"), {}).status_code == 302


def test_a_plan_withdrawn_after_the_yes_keeps_its_money(agreed: Plan, cast: Cast) -> None:
    do(agreed, cast, acres=5)
    services.plan_move(plan=agreed, state=State.WITHDRAWN, today=TODAY)
    assert found(agreed).progress.cost.done.dollars > 0
    Plan.objects.update(state=State.DRAFT)
    assert money_done(Plan.objects.get()) is None


def test_many_records_cost_no_more_queries_than_one(agreed: Plan, cast: Cast) -> None:
    do(agreed, cast, acres=1)
    browser, url = cast.browser(cast.planner), cast.url(f"plans/{agreed.pk}/money/")
    few = queries.count(lambda: browser.get(url))
    for _ in range(6):
        do(agreed, cast, acres=1)
    cast.browser(cast.planner).post(f"{url}mark/", {"stage": "1", "what": "paid", "on": f"{TODAY}"})
    assert queries.count(lambda: browser.get(url)) == few
    assert not re.search(r"<(style|script)[^>]*>[^<]", page(agreed, cast)) and " style=" not in page(
        agreed, cast
    )
