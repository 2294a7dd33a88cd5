"""A day in the field without a signal: kept pages, records that wait, and what happens when it comes back."""

from __future__ import annotations

import re
from collections.abc import Callable
from datetime import timedelta
from typing import Any

import pytest
from django_scopes import scope
from playwright.sync_api import Page, expect

from consulting.clock import today_for
from consulting.models import Membership, User
from plans import visits
from plans.models import StandCount, Visit, VisitState, WorkRecord
from tests.browser.conftest import PHONE, NewPage
from tests.conftest import Cast
from tests.plan_factories import make_agreed, make_ready_plan

Sign = Callable[[Page, User], None]
Axe = Callable[[Page], None]


class Field:
    """A crew member's phone with visits of today on it."""

    def __init__(self, new_page: NewPage, sign_in: Sign, cast: Cast, troubles: list[str]) -> None:
        self.cast, self.troubles = cast, troubles
        plan = make_agreed(make_ready_plan(cast.practice), cast.owner)
        self.today = today_for(cast.practice)
        with scope(practice=cast.practice):
            self.clip = self.book(Visit.objects.get(plan=plan, step="clip_1"))
            self.count = self.book(Visit.objects.get(plan=plan, step="count_2"))
        own = {"service_workers": "allow", "timezone_id": cast.practice.time_zone}
        self.page = new_page(PHONE, is_mobile=True, has_touch=True, **own)
        sign_in(self.page, cast.crew)
        self.go("work/day/")
        expect(self.page.locator("#kept-note")).to_contain_text("Kept on this device")
        self.page.goto("/phone/")
        expect(self.page.locator("#kept")).to_contain_text("Count the stand")

    def book(self, visit: Visit) -> Visit:
        crew = Membership.objects.get(user=self.cast.crew)
        return visits.visit_book(
            visit=visit, version=visit.version, user=self.cast.owner, on=self.today, people=[crew]
        )

    def go(self, path: str) -> None:
        self.page.goto(self.cast.url(path))

    def signal(self, there: bool) -> None:
        self.page.context.set_offline(not there)

    def no_signal(self) -> None:
        self.signal(False)

    def write_down(self, acres: str) -> None:
        self.go(f"work/{self.clip.pk}/")
        expect(self.page.locator(".no-signal")).to_contain_text("This is the copy kept")
        self.page.get_by_label("Acres done").fill(acres)
        self.page.get_by_label("What to remember").fill("wet <b>corner</b> left")
        self.page.get_by_role("button", name="Write it down").click()
        expect(self.page.locator("#waiting h3").first).to_contain_text(self.clip.label)

    def records(self) -> list[float]:
        with scope(practice=self.cast.practice):
            return sorted(WorkRecord.objects.filter(visit=self.clip).values_list("acres", flat=True))

    def heard_of_the_cut(self) -> None:
        """The browser's own complaints about the missing network are what was asked for."""
        rest = [said for said in self.troubles if "ERR_INTERNET_DISCONNECTED" not in said]
        self.troubles[:] = rest


@pytest.fixture
def field(new_page: NewPage, sign_in: Sign, cast: Cast, troubles: list[str], live_server: Any) -> Field:
    return Field(new_page, sign_in, cast, troubles)


def test_a_record_waits_and_is_sent_once(field: Field, axe: Axe) -> None:
    page = field.page
    axe(page)
    field.no_signal()
    field.write_down("4")
    axe(page)
    row = page.locator("#waiting > li")
    expect(row).to_contain_text("Waits for a signal")
    row.get_by_text("What it says").click()
    expect(row).to_contain_text("wet <b>corner</b> left")
    field.go(f"work/{field.clip.pk}/")
    expect(page.locator("#on-device")).to_contain_text("A record of this visit waits")
    axe(page)
    field.go("clients/")
    expect(page.get_by_text("that page is not kept here")).to_be_visible()
    assert field.records() == []

    context = page.context
    page.close()
    field.page = page = context.new_page()
    page.goto("/phone/")
    expect(page.locator("#waiting > li")).to_contain_text("Waits for a signal")
    field.signal(True)
    page.goto("/phone/")
    expect(page.locator("#sent")).to_contain_text("Written down.")
    expect(page.locator("#waiting")).to_contain_text("Nothing waits")
    assert field.records() == [4]
    page.reload()
    expect(page.locator("#sent li")).to_have_count(1)
    field.go(f"work/{field.clip.pk}/")
    expect(page.get_by_text("4 of 10 acres are done")).to_be_visible()
    assert field.records() == [4]
    field.heard_of_the_cut()


def test_two_parts_written_from_one_copy_are_two_records(field: Field) -> None:
    field.no_signal()
    field.write_down("4")
    field.write_down("3")
    expect(field.page.locator("#waiting > li")).to_have_count(2)
    field.signal(True)
    field.page.goto("/phone/")
    expect(field.page.locator("#waiting > li")).to_have_count(1)
    expect(field.page.locator("#waiting > li strong")).to_have_text("Somebody changed this visit in between")
    field.page.get_by_role("button", name="Write mine on top").click()
    expect(field.page.locator("#sent li")).to_have_count(2)
    assert field.records() == [3, 4]
    field.heard_of_the_cut()


def test_a_change_in_between_shows_both(field: Field, axe: Axe) -> None:
    page = field.page
    field.no_signal()
    field.write_down("4")
    with scope(practice=field.cast.practice):
        now = Visit.objects.get(pk=field.clip.pk)
        visits.visit_hold(visit=now, version=now.version, user=field.cast.owner, reason="a wet gateway")
    field.signal(True)
    page.goto("/phone/")
    both = page.locator(".both")
    expect(both).to_contain_text("Acres done")
    expect(both).to_contain_text("a wet gateway")
    axe(page)
    assert field.records() == []
    page.get_by_role("button", name="Open it to mend").click()
    expect(page.get_by_role("heading", level=1)).to_have_text("Changed meanwhile")
    expect(page.locator("#typed")).to_contain_text("4")
    axe(page)
    page.get_by_role("button", name="Mend mine in the form").click()
    expect(page.get_by_label("Acres done")).to_have_value("4")
    page.get_by_label("Acres done").fill("5")
    page.get_by_role("button", name="Write it down").click()
    expect(page.get_by_text("5 of 10 acres are done")).to_be_visible()
    page.goto("/phone/")
    expect(page.locator("#waiting")).to_contain_text("Nothing waits")
    assert field.records() == [5]
    field.heard_of_the_cut()
    field.troubles[:] = [said for said in field.troubles if "409" not in said]


def test_what_the_site_does_not_take_is_kept_until_it_is_mended(field: Field) -> None:
    page = field.page
    field.no_signal()
    field.write_down("99")
    field.signal(True)
    page.goto("/phone/")
    expect(page.locator("#waiting .why")).to_contain_text("10 acres are left to do")
    page.get_by_text("Throw it away", exact=True).click()
    page.get_by_role("button", name="Throw it away for good").click()
    expect(page.locator("#waiting")).to_contain_text("Nothing waits")
    assert field.records() == []
    field.heard_of_the_cut()


def test_a_lost_answer_does_not_write_twice(field: Field) -> None:
    page, answers = field.page, []
    page.goto(field.cast.url(f"work/{field.clip.pk}/"))

    def lose_the_first(route: Any) -> None:
        if route.request.method != "POST" or answers:
            route.continue_()
            return
        answers.append(route.fetch(max_redirects=0).status)
        route.abort("connectionreset")

    page.context.route(re.compile("/do/$"), lose_the_first)
    page.get_by_label("Acres done").fill("4")
    page.get_by_role("button", name="Write it down").click()
    expect(page.locator("#sent")).to_contain_text("Written down.")
    assert answers == [302] and field.records() == [4]
    field.troubles[:] = [said for said in field.troubles if "ERR_CONNECTION_RESET" not in said]


def test_a_stand_is_counted_without_a_signal(field: Field, axe: Axe) -> None:
    page = field.page
    field.no_signal()
    field.go(f"work/{field.count.pk}/count/")
    axe(page)
    page.get_by_role("button", name="More rows").click()
    page.get_by_label("Throw 1", exact=True).fill("9")
    page.get_by_label("Throw 24", exact=True).fill("11")
    page.get_by_role("button", name="Keep the count").click()
    expect(page.locator("#waiting h3")).to_contain_text("Count the stand")
    field.signal(True)
    page.goto("/phone/")
    expect(page.locator("#sent")).to_contain_text("Enough for cover")
    with scope(practice=field.cast.practice):
        assert [one.throws for one in StandCount.objects.all()] == [[9, 11]]
    field.heard_of_the_cut()


def test_nothing_is_kept_of_who_signed_out_and_nobody_sends_for_another(field: Field, sign_in: Sign) -> None:
    page = field.page
    field.no_signal()
    field.write_down("4")
    page.context.clear_cookies()
    field.signal(True)
    page.goto("/phone/")
    expect(page.locator("#waiting")).to_contain_text("Waits until you sign in")
    sign_in(page, field.cast.planner)
    page.goto(field.cast.url("work/day/"))
    page.goto("/phone/")
    expect(page.locator("#waiting")).to_contain_text("Waits until its writer signs in")
    assert field.records() == []
    page.goto(field.cast.url("work/"))
    page.locator("details.who summary").click()
    page.get_by_role("button", name="Sign out").click()
    page.goto("/phone/")
    expect(page.locator("#kept")).to_contain_text("Nothing is kept")
    field.no_signal()
    field.go("work/day/")
    expect(page.get_by_text("that page is not kept here")).to_be_visible()
    field.signal(True)
    sign_in(page, field.cast.crew)
    page.goto(field.cast.url("work/day/"))
    page.goto("/phone/")
    expect(page.locator("#sent")).to_contain_text("Written down.")
    with scope(practice=field.cast.practice):
        assert Visit.objects.get(pk=field.clip.pk).state == VisitState.OPEN
    assert field.records() == [4]
    field.heard_of_the_cut()


def test_only_the_next_days_are_kept(field: Field) -> None:
    with scope(practice=field.cast.practice):
        late = Visit.objects.get(pk=field.count.pk)
        visits.visit_book(
            visit=late, version=late.version, user=field.cast.owner, on=field.today + timedelta(days=9)
        )
    field.go("work/")
    field.page.goto("/phone/")
    expect(field.page.locator("#kept")).not_to_contain_text("Count the stand")
    expect(field.page.locator("#kept")).to_contain_text(field.clip.label)
