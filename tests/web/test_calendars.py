"""The calendar feed: whole days, stable ids, a rising sequence, no prices, revocable."""

from __future__ import annotations

import re
from datetime import date, timedelta
from typing import Any

import pytest
from django.test import Client
from django_scopes import scope
from icalendar import Calendar

from consulting.clock import today_for
from consulting.models import Membership
from plans import visits
from plans.models import CalendarFeed, Plan, Visit
from tests.conftest import Cast
from tests.plan_factories import make_agreed, make_ready_plan


@pytest.fixture
def booked(cast: Cast) -> Any:
    """A visit booked in a week's time for the crew."""
    plan = make_agreed(make_ready_plan(cast.practice), cast.owner)
    with scope(practice=cast.practice):
        yield book(Visit.objects.get(plan=plan, step="kill_fall"), cast, 7)


def book(visit: Visit, cast: Cast, days: int) -> Visit:
    day = today_for(cast.practice) + timedelta(days=days)
    people = Membership.objects.filter(user=cast.crew)
    return visits.visit_book(visit=visit, version=visit.version, user=cast.planner, on=day, people=people)


def address(cast: Cast, actor: Any, whose: str = "mine") -> str:
    page = (
        cast.browser(actor, proven=True).post(cast.url("work/calendars/"), {"whose": whose}).content.decode()
    )
    found = re.search(r"https?://[^<]+\.ics", page)
    assert found
    return found[0].partition("testserver")[2]


def events(url: str) -> list[Any]:
    answer = Client().get(url)
    assert answer.status_code == 200 and answer.headers["Content-Type"].startswith("text/calendar")
    assert b"$" not in answer.content
    return list(Calendar.from_ical(answer.content).walk("VEVENT"))


def test_a_whole_day_ends_on_the_next_and_keeps_its_id_when_it_moves(booked: Visit, cast: Cast) -> None:
    url = address(cast, cast.crew)
    (event,) = events(url)
    assert event.decoded("dtend") - event.decoded("dtstart") == timedelta(days=1)
    assert isinstance(event.decoded("dtstart"), date) and event.decoded("dtstart") == booked.booked_on
    book(booked, cast, 9)
    (moved,) = events(url)
    assert moved["uid"] == event["uid"] and moved["sequence"] > event["sequence"]
    assert moved.decoded("dtstart") == event.decoded("dtstart") + timedelta(days=2)


def test_a_person_sees_their_own_and_the_practice_everything(booked: Visit, cast: Cast) -> None:
    assert events(address(cast, cast.planner)) == []
    assert len(events(address(cast, cast.planner, "everybody"))) == 1


def test_crew_make_no_calendar_of_everybody(cast: Cast) -> None:
    answer = cast.browser(cast.crew, proven=True).post(cast.url("work/calendars/"), {"whose": "everybody"})
    assert answer.status_code == 404


def test_a_new_address_stops_the_old_one_and_revoking_stops_it_for_good(booked: Visit, cast: Cast) -> None:
    first = address(cast, cast.crew)
    second = address(cast, cast.crew)
    assert Client().get(first).status_code == 404 and len(events(second)) == 1
    cast.browser(cast.crew, proven=True).post(cast.url("work/calendars/mine/revoke/"))
    assert Client().get(second).status_code == 404
    assert not CalendarFeed.objects.exists()


def test_who_leaves_the_practice_takes_the_address_along(booked: Visit, cast: Cast) -> None:
    url = address(cast, cast.crew)
    Membership.objects.get(user=cast.crew).delete()
    assert Client().get(url).status_code == 404


def test_what_was_typed_is_text_in_the_feed(booked: Visit, cast: Cast) -> None:
    plan = Plan.objects.get()
    plan.farm.name = "Odd; Farm,\nBEGIN:VEVENT"
    plan.farm.save()
    (event,) = events(address(cast, cast.crew))
    assert str(event["location"]).startswith("Odd; Farm,")
