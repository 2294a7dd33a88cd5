"""Work and stock that somebody changed while a form on it was open: both sides first, nothing lost."""

from __future__ import annotations

from datetime import date, timedelta
from decimal import Decimal
from typing import Any

import pytest
from django.test import Client as Browser
from django_scopes import scope

from consulting.acting import acting
from consulting.models import Membership
from plans import shed, visits
from plans.models import StockLot, Visit, VisitState, WorkRecord
from tests.conftest import Cast
from tests.plan_factories import make_agreed, make_ready_plan
from tests.web.forms import Form, form_on, forms_of
from tests.web.test_moved_on import beside_in
from tests.web.test_shed import lot_of


@pytest.fixture
def clip(cast: Cast) -> Visit:
    plan = make_agreed(make_ready_plan(cast.practice), cast.owner)
    with scope(practice=cast.practice):
        return Visit.objects.select_related("field").get(plan=plan, step="clip_1")


def opened(browser: Browser, page: str, to: str) -> Form:
    found = form_on(browser, page, to)
    assert found
    return found


def meanwhile(cast: Cast, act: Any, visit: Visit, **given: Any) -> None:
    """The planner is quicker."""
    with scope(practice=cast.practice), acting(cast.planner):
        now = Visit.objects.get(pk=visit.pk)
        act(visit=now, version=now.version, user=cast.planner, **given)


def carried(html: str, url: str) -> Form:
    (kept,) = [form for form in forms_of(html, url) if "came_from" in form.data]
    return kept


def part(html: str, name: str) -> str:
    return html.partition(f'id="{name}"')[2].partition("</section>")[0]


def now(cast: Cast, visit: Visit) -> Visit:
    with scope(practice=cast.practice):
        return Visit.objects.get(pk=visit.pk)


def test_a_count_of_a_lot_that_was_used_meanwhile(cast: Cast, clip: Visit) -> None:
    lot, browser = lot_of(cast.practice), cast.browser(cast.crew)
    page, url = cast.url(f"work/shed/{lot.pk}/"), cast.url(f"work/shed/{lot.pk}/count/")
    mine = opened(browser, page, url)
    with scope(practice=cast.practice), acting(cast.planner):
        shed.stock_out(
            lot=lot, version=1, user=cast.planner, amount=Decimal(4), visit=clip, on=date(2026, 9, 20)
        )
    met = browser.post(url, mine.filled(amount="9.5", note="two <sacks>"))
    html = met.content.decode()
    assert met.status_code == 409 and "6 lb bulk" in part(html, "stands")
    assert f"Perrin Planner took 4 lb bulk to {clip.field.name}: 6 lb bulk then on hand." in html
    assert "9.5" in part(html, "typed") and "two &lt;sacks&gt;" in part(html, "typed")
    kept = carried(html, url)
    again = browser.post(url, kept.filled(mend="yes"))
    form = next(form for form in forms_of(again.content.decode(), page) if form.action == url)
    assert again.status_code == 200 and form.data["amount"] == ["9.5"]
    with scope(practice=cast.practice):
        assert StockLot.objects.get().on_hand == 6
        assert browser.post(url, kept.data).status_code == 302
        assert StockLot.objects.get().on_hand == Decimal("9.5")


def test_facts_of_a_lot_are_put_right_whatever_was_counted_meanwhile(cast: Cast) -> None:
    lot, browser = lot_of(cast.practice, tested_on=None), cast.browser(cast.owner)
    url = cast.url(f"work/shed/{lot.pk}/edit/")
    mine = opened(browser, url, url)
    with scope(practice=cast.practice), acting(cast.planner):
        shed.stock_count(lot=lot, version=1, user=cast.planner, amount=Decimal(7), on=date(2026, 9, 20))
        assert browser.post(url, mine.filled(lot="SHED-2")).status_code == 302
        now = StockLot.objects.get()
    assert (now.lot, now.on_hand) == ("SHED-2", 7)


def test_work_on_a_visit_that_waits_meanwhile_is_written_once_and_knowingly(cast: Cast, clip: Visit) -> None:
    browser, url = cast.browser(cast.crew), cast.url(f"work/{clip.pk}/do/")
    mine = opened(browser, cast.url(f"work/{clip.pk}/"), url)
    meanwhile(cast, visits.visit_hold, clip, reason="a wet gateway")
    met = browser.post(url, mine.filled(acres="4", note="north end"))
    html = met.content.decode()
    assert met.status_code == 409 and "Perrin Planner let the visit" in html and "a wet gateway" in html
    assert "0 of 10 acres" in part(html, "stands") and "north end" in part(html, "typed")
    with scope(practice=cast.practice):
        assert not WorkRecord.objects.exists()
        for _ in range(2):
            assert browser.post(url, carried(html, url).data).status_code == 302
        assert [record.acres for record in WorkRecord.objects.all()] == [4]


def test_a_day_that_somebody_else_chose_stands_beside_mine(cast: Cast, clip: Visit) -> None:
    browser, url = cast.browser(cast.owner), cast.url(f"work/{clip.pk}/book/")
    first = clip.window_opens
    meanwhile(cast, visits.visit_book, clip, on=first)
    mine = opened(browser, url, url)
    meanwhile(cast, visits.visit_book, clip, on=first + timedelta(days=3))
    with scope(practice=cast.practice):
        crew = Membership.objects.get(user=cast.crew)
    met = browser.post(url, mine.filled(people=[f"{crew.pk}"]))
    told = beside_in(met.content.decode())
    assert met.status_code == 409 and "changed by Perrin Planner" in told and "Cass Crew" in told
    assert told.count("as it was when you opened the form") == 1, "the day was not touched"
    assert now(cast, clip).booked_on == first + timedelta(days=3)
    assert browser.post(url, carried(met.content.decode(), url).data).status_code == 302
    assert now(cast, clip).booked_on == first


def test_a_button_says_what_moved_before_it_acts(cast: Cast, clip: Visit) -> None:
    meanwhile(cast, visits.visit_book, clip, on=clip.window_opens)
    browser, url = cast.browser(cast.owner), cast.url(f"work/{clip.pk}/unbook/")
    mine = opened(browser, cast.url(f"work/{clip.pk}/"), url)
    meanwhile(cast, visits.visit_book, clip, on=clip.window_opens + timedelta(days=1))
    met = browser.post(url, mine.data)
    html = met.content.decode()
    assert met.status_code == 409 and "moved the visit" in html and "Mend mine" not in html
    assert now(cast, clip).booked_on is not None
    assert browser.post(url, carried(html, url).data).status_code == 302
    assert now(cast, clip).booked_on is None


def test_what_was_typed_stays_where_the_visit_takes_it_no_more(cast: Cast, clip: Visit) -> None:
    browser, url = cast.browser(cast.crew), cast.url(f"work/{clip.pk}/do/")
    mine = opened(browser, cast.url(f"work/{clip.pk}/"), url)
    meanwhile(cast, visits.visit_skip, clip, reason="no weeds")
    kept = carried(browser.post(url, mine.filled(note="ten bales")).content.decode(), url)
    for sent, status in ((kept.filled(mend="yes"), 200), (kept.data, 422)):
        answer = browser.post(url, sent)
        assert answer.status_code == status and "ten bales" in part(answer.content.decode(), "left")
    assert "This visit is skipped" in answer.content.decode()
    assert now(cast, clip).state == VisitState.SKIPPED


def test_a_crew_reads_it_in_its_language(cast: Cast, clip: Visit) -> None:
    with scope(practice=cast.practice):
        Membership.objects.filter(user=cast.crew).update(own_locale="es_US")
    browser, url = cast.browser(cast.crew), cast.url(f"work/{clip.pk}/do/")
    mine = opened(browser, cast.url(f"work/{clip.pk}/"), url)
    meanwhile(cast, visits.visit_hold, clip, reason="rain")
    html = browser.post(url, mine.filled(note="norte")).content.decode()
    english = ("Changed meanwhile", "Who changed it", "As it stands now", "What you typed", "Acres done")
    assert "norte" in html and not [text for text in english if text in html]
