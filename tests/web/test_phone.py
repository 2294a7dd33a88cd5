"""What a device is told to keep, and how the site answers what it sends later."""

from __future__ import annotations

from datetime import timedelta
from typing import Any
from uuid import uuid4

import pytest
from django_scopes import scope

from consulting.clock import today_for
from consulting.opened import stamp
from plans import visits
from plans.models import StandCount, Visit, WorkRecord
from tests.conftest import Cast
from tests.plan_factories import make_agreed, make_ready_plan
from tests.web.queries import count

LATER = {"Accept": "application/json"}


@pytest.fixture
def booked(cast: Cast) -> Visit:
    plan = make_agreed(make_ready_plan(cast.practice), cast.owner)
    with scope(practice=cast.practice):
        return book(cast, Visit.objects.get(plan=plan, step="clip_1"))


def book(cast: Cast, visit: Visit, days: int = 0) -> Visit:
    on = today_for(cast.practice) + timedelta(days=days)
    return visits.visit_book(visit=visit, version=visit.version, user=cast.owner, on=on)


def kept(cast: Cast) -> dict[str, Any]:
    told: dict[str, Any] = cast.browser(cast.crew).get(cast.url("work/kept.json")).json()
    return told


def test_the_next_days_are_kept_and_a_change_makes_a_new_copy(booked: Visit, cast: Cast) -> None:
    told = kept(cast)
    assert told["user"] == cast.crew.pk and told["csrf"]
    pages = {page["url"]: page["stamp"] for page in told["pages"]}
    url = cast.url(f"work/{booked.pk}/")
    assert cast.url("work/day/") in pages and url in pages
    with scope(practice=cast.practice):
        visits.visit_hold(visit=booked, version=booked.version, user=cast.owner, reason="rain")
    assert {page["url"]: page["stamp"] for page in kept(cast)["pages"]}[url] != pages[url]
    with scope(practice=cast.practice):
        book(cast, Visit.objects.get(pk=booked.pk), days=9)
    assert url not in {page["url"] for page in kept(cast)["pages"]}


def do(cast: Cast, visit: Visit, **typed: Any) -> Any:
    said = {"opened": stamp([visit]), "on": today_for(cast.practice), "acres": 4, "uid": uuid4()} | typed
    return cast.browser(cast.crew).post(cast.url(f"work/{visit.pk}/do/"), said, headers=LATER)


def test_work_sent_later_is_answered_in_data(booked: Visit, cast: Cast) -> None:
    uid = uuid4()
    for _ in range(2):
        answer = do(cast, booked, uid=uid)
        assert answer.status_code == 200 and answer.json() == {"said": "Written down."}
    with scope(practice=cast.practice):
        assert [record.uid for record in WorkRecord.objects.all()] == [uid]
        now = Visit.objects.get(pk=booked.pk)
    late = do(cast, booked)
    assert late.status_code == 409 and late.json()["opened"] == stamp([now])
    assert ["Done", "4 of 10 acres"] in late.json()["now"]
    wrong = do(cast, now, acres=99)
    assert wrong.status_code == 422 and wrong.json()["wrong"][0][0] == "Acres done"
    assert do(cast, now, acres="").json()["wrong"] == [["Acres done", "Acres done is missing. Fill it in."]]
    assert do(cast, now, acres=6).status_code == 200
    with scope(practice=cast.practice):
        over = Visit.objects.get(pk=booked.pk)
    assert do(cast, over).json()["said"] == "This visit is done. Open it again first."


def test_what_waited_since_before_a_form_carried_the_versions_is_held_against_its_own(
    booked: Visit, cast: Cast
) -> None:
    late = do(cast, booked, opened="", version=booked.version - 1)
    assert late.status_code == 409 and late.json()["version"] == booked.version
    assert do(cast, booked, opened="", version=booked.version).status_code == 200


def test_a_count_sent_later_is_written_once(booked: Visit, cast: Cast) -> None:
    with scope(practice=cast.practice):
        visit = Visit.objects.get(plan=booked.plan_id, step="count_2")
    typed = {
        **{"uid": uuid4(), "on": today_for(cast.practice), "method": "grid", "aim": "cover", "cells": 25},
        **{"frame_sqft": 1, "growth": "clean", "rows": 12, "throw0": 9, "throw1": 11},
    }
    url = cast.url(f"work/{visit.pk}/count/")
    for _ in range(2):
        answer = cast.browser(cast.crew).post(url, typed, headers=LATER)
        assert answer.status_code == 200 and "Enough for cover" in answer.json()["said"]
    with scope(practice=cast.practice):
        assert StandCount.objects.count() == 1
    wrong = cast.browser(cast.crew).post(url, typed | {"uid": uuid4(), "throw0": 26}, headers=LATER)
    assert wrong.status_code == 422 and "26 hits in 25 cells" in wrong.json()["wrong"][0][1]


def test_a_copy_to_keep_leaves_what_is_said_once_for_the_page(booked: Visit, cast: Cast) -> None:
    browser, url = cast.browser(cast.crew), cast.url(f"work/{booked.pk}/")
    typed = {"on": today_for(cast.practice), "acres": 4}
    assert browser.post(f"{url}do/", typed).status_code == 302
    assert "Written down." not in browser.get(url, headers={"X-Kept-Copy": "yes"}).content.decode()
    assert "Written down." in browser.get(url).content.decode()


def test_the_worker_names_files_that_are_there(client: Any, db: None) -> None:
    script = client.get("/phone/worker.js")
    assert script.headers["Service-Worker-Allowed"] == "/" and "css/work.css" in script.content.decode()


def test_the_list_takes_no_more_queries_for_more_visits(booked: Visit, cast: Cast) -> None:
    browser = cast.browser(cast.crew)
    few = count(lambda: browser.get(cast.url("work/kept.json")))
    with scope(practice=cast.practice):
        for visit in Visit.objects.filter(plan=booked.plan_id, booked_on=None):
            book(cast, visit)
    assert count(lambda: browser.get(cast.url("work/kept.json"))) == few
