"""Change orders: drafted beside the agreed work, frozen, agreed to by themselves, followed by the visits."""

from __future__ import annotations

import hashlib
import io
from dataclasses import replace
from datetime import date, timedelta
from decimal import Decimal
from typing import Any

import pytest
from django_scopes import scope
from pypdf import PdfReader

from consulting.models import SeedPrice
from plans import services
from plans.ahead import ahead_of
from plans.change_offer import change_offer
from plans.changing import Said, change_start, follow, open_change
from plans.contract import signed_years
from plans.documents.words import day
from plans.models import Plan, Proposal, State, Visit, VisitChange, VisitState
from plans.money_done import money_done
from plans.planning.money import total
from plans.reprints import reprinted
from plans.selectors import frozen_outcome, latest_proposal, plans_whole, prices_of, reckon
from plans.services import Refused
from plans.visits import plan_agree, visit_book, visit_do, visit_reopen
from sites.models import Field
from tests.conftest import Cast
from tests.factories import make_field
from tests.plan_factories import SPRAYED, line, make_agreed, make_conversion, make_ready_plan

FALL = date(2027, 9, 20)
WHY = "You bought the strip <along> the road."


@pytest.fixture
def agreed(cast: Cast) -> Any:
    """An agreed plan of one field, its first kill done, in the scope of its practice."""
    plan = make_ready_plan(cast.practice, name="Ridge Field")
    with scope(practice=cast.practice):
        plan.stages = [{"label": "At signing", "share_pct": 100, "due": "on signing"}]
        plan.save()
    plan = make_agreed(plan, cast.owner)
    with scope(practice=cast.practice):
        first = Visit.objects.get(plan=plan, step="kill_fall")
        visit_do(
            visit=first,
            version=first.version,
            user=cast.crew,
            on=FALL,
            acres=10,
            today=FALL,
            record=SPRAYED,
            lines=[line()],
        )
        yield plan


def begun(plan: Plan, why: str = WHY) -> Plan:
    change = change_start(plan=plan, today=FALL)
    change.why = why
    change.save()
    return change


def offered(change: Plan, cast: Cast) -> Proposal:
    whole = plans_whole().get(pk=change.pk)
    outcome = reckon(whole, prices_of(whole), FALL).outcome
    assert outcome
    cautions = [finding for finding in outcome.findings if finding.severity == "caution"]
    services.cautions_accept(plan=change, findings=cautions, reason="Seen together.", user=cast.owner)
    return services.plan_offer(plan=change, user=cast.owner, today=FALL)


def agree(change: Plan, cast: Cast) -> list[Visit]:
    return plan_agree(plan=Plan.objects.get(pk=change.pk), user=cast.owner, today=FALL)


def visits(plan: Plan) -> dict[str, tuple[Any, ...]]:
    rows = Visit.objects.filter(plan=plan, field__name="Ridge Field")
    return {row.step: (row.state, row.window_opens, row.window_shuts, row.acres) for row in rows}


def test_a_change_that_changes_nothing_costs_nothing(cast: Cast, agreed: Plan) -> None:
    SeedPrice.objects.update(price_usd_per_lb=Decimal("999.00"))
    whole = plans_whole().get(pk=begun(agreed).pk)
    outcome = reckon(whole, prices_of(whole), FALL).outcome
    assert outcome
    offer = change_offer(whole, outcome)
    assert offer.difference == 0
    assert offer.price == Proposal.objects.get().total_usd


def test_there_is_one_open_change_at_a_time(cast: Cast, agreed: Plan) -> None:
    first = begun(agreed)
    assert change_start(plan=agreed, today=FALL) == first == open_change(agreed)
    with pytest.raises(Refused):
        change_start(plan=first, today=FALL)


def test_a_change_must_say_why(cast: Cast, agreed: Plan) -> None:
    with pytest.raises(Refused, match="Say why"):
        offered(begun(agreed, why=" "), cast)


def test_a_change_order_is_frozen_with_its_own_short_print(cast: Cast, agreed: Plan) -> None:
    Field.objects.update(acres=12)
    change = begun(agreed)
    order = offered(change, cast)
    first = Proposal.objects.get(plan=agreed)
    assert (order.changes, order.revision, order.is_change_order) == (first, 2, True)
    assert order.sha256 == hashlib.sha256(bytes(order.pdf)).hexdigest()
    pages = PdfReader(io.BytesIO(bytes(order.pdf))).pages
    text = " ".join(" ".join(page.extract_text().split()) for page in pages)
    assert len(pages) <= 2
    years = signed_years(order)
    assert years and total(years.values()) == order.total_usd
    for amount in (first.total_usd, order.total_usd, order.total_usd - first.total_usd, *years.values()):
        assert f"{amount:,.2f}" in text
    for said in (
        WHY,
        "Ridge Field is 2 acres larger.",
        "Signature",
        "Change order 2",
        "proposal 1, revision 1",
    ):
        assert said in text
    assert reprinted(order) == bytes(order.pdf)


def test_until_it_is_agreed_and_when_declined_the_work_stays(cast: Cast, agreed: Plan) -> None:
    before = visits(agreed)
    Field.objects.update(acres=12)
    change = begun(agreed)
    offered(change, cast)
    assert visits(agreed) == before and latest_proposal(agreed) == Proposal.objects.get(plan=agreed)
    services.plan_move(plan=change, state=State.DECLINED, today=FALL)
    assert visits(agreed) == before
    agreed.refresh_from_db()
    assert agreed.state == State.AGREED and open_change(agreed) is None


def test_when_agreed_open_visits_follow_and_what_is_done_stays(cast: Cast, agreed: Plan) -> None:
    done_before = visits(agreed)["kill_fall"]
    records = Visit.objects.get(plan=agreed, step="kill_fall").records.values_list("sha256", flat=True)
    hashes = list(records)
    Field.objects.update(acres=12)
    other = make_field(agreed.farm, name="Creek Field")
    change = begun(agreed)
    row = change.conversions.get()
    dropped = Visit.objects.filter(plan=agreed, phase="keep", state="open").order_by("-order")[0]
    row.left_out = [*row.left_out, dropped.step]
    row.save()
    make_conversion(change, other, row.mix, start_on=FALL)
    order = offered(change, cast)
    made = agree(change, cast)

    after = visits(agreed)
    assert after["kill_fall"] == done_before and list(records.all()) == hashes
    open_now = [row for row in after.values() if row[0] == VisitState.OPEN]
    assert open_now
    drill = Visit.objects.get(plan=agreed, field__name="Ridge Field", operation="no_till_drilling")
    assert drill.acres == 12
    told = VisitChange.objects.filter(visit=drill, what=VisitChange.What.CHANGED).get()
    assert (told.before, told.after, told.reason) == ("10 acres", "12 acres", f"{order} was agreed")
    dropped.refresh_from_db()
    assert dropped.state == VisitState.SKIPPED and dropped.taken_out_by == order
    with pytest.raises(Refused, match="change order left this out"):
        visit_reopen(visit=dropped, version=dropped.version, user=cast.owner, reason="Try.")
    assert made and {visit.field_id for visit in made} == {other.pk}
    change.refresh_from_db()
    assert change.state == State.TAKEN_IN and latest_proposal(agreed) == order
    assert {one.field.name for one in agreed.conversions.all()} == {"Ridge Field", "Creek Field"}
    found = ahead_of(agreed)
    assert found and {one.field for one in found.file.job.conversions} == {"Ridge Field", "Creek Field"}


def test_a_day_outside_the_new_window_comes_off_the_calendar(cast: Cast, agreed: Plan) -> None:
    visit = Visit.objects.get(plan=agreed, operation="no_till_drilling")
    on = visit.window_opens
    visit = visit_book(visit=visit, version=visit.version, user=cast.owner, on=on)
    order = Proposal.objects.get()
    outcome = frozen_outcome(order)
    assert outcome
    task = next(task for task in outcome.tasks if task.step == visit.step)
    later = replace(task, earliest=task.earliest + timedelta(days=5), latest=task.latest + timedelta(days=5))
    follow(visit, later, Said(order, None, "Lena Landowner"), FALL)
    visit.refresh_from_db()
    assert visit.booked_on is None and visit.window_opens == later.earliest
    gone = VisitChange.objects.get(visit=visit, what=VisitChange.What.UNBOOKED)
    assert (gone.before, gone.by_name) == (day(on), "Lena Landowner")


def test_money_and_payments_follow_to_the_cent(cast: Cast, agreed: Plan) -> None:
    Field.objects.update(acres=12)
    first = Proposal.objects.get(plan=agreed)
    before = money_done(agreed)
    change = begun(agreed)
    order = offered(change, cast)
    agree(change, cast)
    money = money_done(Plan.objects.get(pk=agreed.pk))
    assert before and money
    assert money.progress.cost.done.dollars == before.progress.cost.done.dollars
    assert money.progress.price.done.dollars == before.progress.price.done.dollars
    amounts = [row.stage.amount.dollars for row in money.payments.rows]
    assert amounts == [first.total_usd, order.total_usd - first.total_usd]
    assert sum(amounts) == order.total_usd


def test_a_second_change_builds_on_the_first(cast: Cast, agreed: Plan) -> None:
    Field.objects.update(acres=12)
    one = begun(agreed)
    first = offered(one, cast)
    agree(one, cast)
    Field.objects.update(acres=13)
    other = begun(Plan.objects.get(pk=agreed.pk))
    second = offered(other, cast)
    assert second.changes == first and second.revision == 3
    years, earlier = signed_years(second), signed_years(first)
    assert years and earlier and total(years.values()) == second.total_usd > first.total_usd


def test_an_agreed_change_is_agreed_once(cast: Cast, agreed: Plan) -> None:
    change = begun(agreed)
    offered(change, cast)
    agree(change, cast)
    with pytest.raises(Refused):
        agree(change, cast)


def test_the_pages_lead_from_the_plan_to_the_yes(cast: Cast, agreed: Plan, monkeypatch: Any) -> None:
    for place in ("revisions", "plan", "offers", "client_side"):
        monkeypatch.setattr(f"plans.views.{place}.today_for", lambda practice: FALL)
    browser, url = cast.browser(cast.owner), cast.url(f"plans/{agreed.pk}/")
    assert "Start a change order" in browser.get(url).content.decode()
    made = browser.post(f"{url}change/")
    change = open_change(agreed)
    assert change and made.headers["Location"] == cast.url(f"plans/{change.pk}/")
    page = browser.get(made.headers["Location"]).content.decode()
    assert "What it changes" in page and page.count("<h1") == 1
    draft = browser.get(cast.url(f"plans/{change.pk}/draft.pdf"))
    assert draft.headers["Content-Type"] == "application/pdf"
    beside = browser.get(cast.url(f"plans/{change.pk}/changes/")).content.decode()
    assert "Draft as it stands, beside Revision 1" in beside
    change.why = WHY
    change.save()
    order = offered(change, cast)
    shown = browser.get(cast.url(f"proposals/{order.number}/")).content.decode()
    assert "Change order 2, revision 2" in shown and "along&lt;" not in shown
    signed = {"name": "Ada Ash", "signed_on": f"{FALL}", "revision": order.revision}
    browser.post(cast.url(f"plans/{change.pk}/signed/"), signed)
    change.refresh_from_db()
    assert change.state == State.TAKEN_IN
    assert "Agreed and taken in" in browser.get(f"{url}proposals/").content.decode()
