"""Agreed work: visits from a plan, what is done to them, and the board over all farms."""

from __future__ import annotations

from datetime import date, timedelta
from typing import Any

import pytest
from django.core.exceptions import ValidationError
from django_scopes import scope

from consulting.append_only import Recorded
from consulting.clock import today_for
from consulting.followed import ChangedMeanwhile
from consulting.models import Membership, Practice, User
from plans import board, visits
from plans.models import Conversion, Plan, Visit, VisitChange, VisitState
from plans.services import Refused
from tests.conftest import Cast
from tests.factories import make_field
from tests.plan_factories import (
    SPRAYED,
    line,
    make_agreed,
    make_conversion,
    make_offered,
    make_ready_plan,
)
from tests.web import queries

What = VisitChange.What
FALL, SPRING = date(2027, 9, 20), date(2028, 4, 20)


@pytest.fixture
def agreed(cast: Cast) -> Any:
    """An agreed plan of one field of sod, in the scope of its practice."""
    plan = make_agreed(make_ready_plan(cast.practice), cast.owner)
    with scope(practice=cast.practice):
        yield plan


def step(plan: Plan, key: str) -> Visit:
    return Visit.objects.get(plan=plan, step=key)


def do(visit: Visit, cast: Cast, on: date, **more: Any) -> Visit:
    values: dict[str, Any] = {"acres": visit.acres_left, "today": on, "record": SPRAYED, "lines": [line()]}
    values |= more
    return visits.visit_do(visit=visit, version=visit.version, user=cast.crew, on=on, **values)


def changes(visit: Visit) -> list[str]:
    return [change.what for change in visit.changes.order_by("pk")]


def test_agreeing_makes_a_visit_of_every_task_and_only_once(agreed: Plan, cast: Cast) -> None:
    made = list(Visit.objects.filter(plan=agreed))
    assert {"kill_fall", "kill_spring", "drill", "clip_1", "count_2"} <= {visit.step for visit in made}
    drill = step(agreed, "drill")
    assert drill.after == "kill_spring" and drill.acres == 10 and drill.hours > 0 and drill.cautions
    assert changes(drill) == [What.MADE] and drill.changes.get().by_name == str(cast.owner)
    assert visits.visits_make(plan=agreed, user=cast.owner) == []
    assert Visit.objects.filter(plan=agreed).count() == len(made)


def test_agreeing_asks_the_same_of_the_database_for_one_field_and_for_two(cast: Cast) -> None:
    def asked(practice: Practice, user: User, fields: int) -> int:
        plan = make_ready_plan(practice)
        with scope(practice=practice):
            for _ in range(fields - 1):
                make_conversion(plan, make_field(plan.farm), plan.conversions.all()[0].mix)
            make_offered(plan, user)
            offered = Plan.objects.get(pk=plan.pk)
            return queries.count(lambda: visits.plan_agree(plan=offered, user=user, today=FALL))

    assert asked(cast.practice, cast.owner, 1) == asked(cast.other_practice, cast.stranger, 2)


def test_a_draft_and_an_offer_have_no_visits(cast: Cast) -> None:
    plan = make_ready_plan(cast.practice)
    make_offered(plan, cast.owner)
    with scope(practice=cast.practice), pytest.raises(Refused, match="agreed proposal"):
        visits.visits_make(plan=Plan.objects.get(), user=cast.owner)


def test_booking_moving_and_giving_away_are_written_down(agreed: Plan, cast: Cast) -> None:
    visit = step(agreed, "kill_fall")
    crew = Membership.objects.filter(user=cast.crew)
    visit = visits.visit_book(visit=visit, version=1, user=cast.planner, on=FALL, people=crew)
    visit = visits.visit_book(
        visit=visit, version=2, user=cast.owner, on=FALL + timedelta(days=2), people=crew, reason="rain"
    )
    visits.visit_unbook(visit=visit, version=3, user=cast.owner)
    assert changes(visit) == [What.MADE, What.BOOKED, What.PEOPLE, What.BOOKED, What.UNBOOKED]
    moved = visit.changes.order_by("pk")[3]
    assert (moved.before, moved.after, moved.reason) == ("September 20, 2027", "September 22, 2027", "rain")
    assert moved.by == cast.owner


def test_two_people_moving_one_visit_see_each_other(agreed: Plan, cast: Cast) -> None:
    visit = step(agreed, "kill_fall")
    visits.visit_book(visit=visit, version=1, user=cast.planner, on=FALL)
    with pytest.raises(ChangedMeanwhile) as late:
        visits.visit_book(visit=visit, version=1, user=cast.owner, on=FALL + timedelta(days=3))
    assert isinstance(late.value.now, Visit) and late.value.now.booked_on == FALL
    assert changes(visit) == [What.MADE, What.BOOKED]


def test_some_acres_leave_the_rest_open_and_the_last_ones_close_it(agreed: Plan, cast: Cast) -> None:
    visit = do(step(agreed, "kill_fall"), cast, FALL, acres=4.0)
    assert visit.is_open and visit.acres_left == 6
    visit = do(visit, cast, FALL + timedelta(days=1))
    assert visit.state == VisitState.DONE and visit.done_on == FALL + timedelta(days=1)
    assert changes(visit) == [What.MADE, What.PART, What.DONE]


@pytest.mark.parametrize(
    ("changed", "field"),
    [({"acres": 10.1}, "acres"), ({"acres": 0.0}, "acres"), ({"today": FALL - timedelta(days=1)}, "on")],
)
def test_what_cannot_have_been_done_is_refused(
    agreed: Plan, cast: Cast, changed: dict[str, Any], field: str
) -> None:
    with pytest.raises(ValidationError) as wrong:
        do(step(agreed, "kill_fall"), cast, FALL, **changed)
    assert list(wrong.value.message_dict) == [field]


def test_what_was_done_late_moves_what_follows_and_says_so(agreed: Plan, cast: Cast) -> None:
    before = step(agreed, "kill_spring").window_opens
    late = step(agreed, "kill_fall").window_shuts + timedelta(days=60)
    do(step(agreed, "kill_fall"), cast, late)
    after = step(agreed, "kill_spring")
    assert after.window_opens >= before
    moved = VisitChange.objects.filter(what=What.WINDOW)
    assert moved and all("First kill" in change.reason for change in moved)
    for change in moved:
        assert change.before != change.after


def test_what_was_done_feeds_the_plans_own_log(agreed: Plan, cast: Cast) -> None:
    visit = do(step(agreed, "kill_fall"), cast, FALL)
    assert Conversion.objects.get(plan=agreed).log == [{"step": "kill_fall", "on": "2027-09-20"}]
    visits.visit_reopen(visit=visit, version=visit.version, user=cast.owner, reason="wrong field")
    assert Conversion.objects.get(plan=agreed).log == []
    assert step(agreed, "kill_fall").is_open


def test_a_skipped_visit_keeps_its_reason_and_waits_for_nobody(agreed: Plan, cast: Cast) -> None:
    visits.visit_skip(visit=step(agreed, "clip_1"), version=1, user=cast.owner, reason="no weeds this year")
    skipped = step(agreed, "clip_1")
    assert (skipped.state, skipped.skipped_because) == (VisitState.SKIPPED, "no weeds this year")
    with pytest.raises(Refused, match="Open it again"):
        visits.visit_book(visit=skipped, version=skipped.version, user=cast.owner, on=FALL)
    blocked = board.open_visits().get(plan=agreed, step="clip_2").blocked
    assert not blocked


def test_the_record_is_only_ever_added_to(agreed: Plan) -> None:
    change = VisitChange.objects.all()[0]
    for attempt in (change.save, change.delete, VisitChange.objects.all().delete):
        with pytest.raises(Recorded):
            attempt()
    with pytest.raises(Recorded):
        VisitChange.objects.update(reason="never")


def test_a_freeze_seen_on_the_farm_moves_its_open_windows(agreed: Plan, cast: Cast) -> None:
    before = step(agreed, "kill_fall").window_shuts
    day = today_for(cast.practice).replace(month=10, day=8)
    year = day.year if day < today_for(cast.practice) else day.year - 1
    Visit.objects.filter(plan=agreed, step="kill_fall").update(window_opens=date(year, 9, 14))
    url = cast.url(f"farms/{agreed.farm_id}/seen/")
    response = cast.browser(cast.planner).post(url, {"moment": "first_freeze", "on": f"{year}-10-08"})
    assert response.status_code == 302
    assert step(agreed, "kill_fall").window_shuts == before, "another year's freeze is not this year's"


def test_where_a_visit_stands(agreed: Plan, cast: Cast) -> None:
    def stands(key: str, today: date) -> str:
        return board.standing(board.open_visits().get(plan=agreed, step=key), today)

    kill = step(agreed, "kill_fall")
    assert stands("kill_fall", kill.window_opens - timedelta(days=1)) == "ahead"
    assert stands("kill_fall", kill.window_opens) == "ready"
    assert stands("kill_fall", kill.window_shuts + timedelta(days=1)) == "late"
    assert stands("kill_spring", kill.window_opens) == "waiting"
    visits.visit_hold(visit=kill, version=1, user=cast.crew, reason="wind over 10 mph")
    assert stands("kill_fall", kill.window_opens) == "weather"
    visits.visit_free(visit=kill, version=2, user=cast.crew)
    visits.visit_book(visit=kill, version=3, user=cast.planner, on=FALL)
    assert stands("kill_fall", kill.window_opens) == "booked"


@pytest.mark.parametrize("today", [date(2027, 9, 20), date(2028, 5, 20), date(2030, 1, 1)])
def test_every_open_visit_is_counted_where_it_stands(agreed: Plan, today: date) -> None:
    found = list(board.open_visits())
    counted = board.counts(board.open_visits(), today)
    assert sum(counted.values()) == len(found)
    for key in board.STANDINGS:
        assert counted[key] == sum(board.standing(visit, today) == key for visit in found)


def test_monday_shows_what_is_booked_and_what_could_be_done(agreed: Plan, cast: Cast) -> None:
    kill = step(agreed, "kill_fall")
    url = cast.url(f"work/day/{FALL}/")
    page = cast.browser(cast.crew).get(url).content.decode()
    assert "Nothing is booked" in page and kill.label in page.split("Could be done")[1]
    visits.visit_book(visit=kill, version=1, user=cast.planner, on=FALL)
    page = cast.browser(cast.crew).get(url).content.decode()
    assert kill.label in page.split("Could be done")[0]
    assert kill.label not in cast.browser(cast.crew).get(f"{url}?whose=mine").content.decode()


def test_a_lost_week_says_when_the_work_could_be_done_next(
    agreed: Plan, cast: Cast, monkeypatch: Any
) -> None:
    kill = step(agreed, "kill_fall")
    monkeypatch.setattr("plans.views.work.today_for", lambda practice: kill.window_shuts)
    page = cast.browser(cast.crew).get(cast.url("work/lost-week/")).content.decode()
    assert kill.label in page and str(kill.window_shuts.year + 1) in page


def test_the_page_before_booking_says_what_moves_and_what_it_costs(agreed: Plan, cast: Cast) -> None:
    kill = step(agreed, "kill_fall")
    late = kill.window_shuts + timedelta(days=40)
    url = cast.url(f"work/{kill.pk}/book/")
    look = {"on": f"{late}", "look": "yes"}
    page = cast.browser(cast.planner).post(url, look).content.decode()
    assert "moves" in page and step(agreed, "kill_fall").booked_on is None
    in_time = cast.browser(cast.planner).post(url, look | {"on": f"{kill.window_opens}"}).content.decode()
    assert "Nothing that follows on this field moves" in in_time


def test_crew_write_down_work_and_see_no_price(agreed: Plan, cast: Cast, monkeypatch: Any) -> None:
    clip = step(agreed, "clip_1")
    monkeypatch.setattr("plans.views.work.today_for", lambda practice: clip.window_opens)
    browser = cast.browser(cast.crew)
    page = browser.get(cast.url(f"work/{clip.pk}/")).content.decode()
    assert "Write it down" in page and "$" not in page and "Skip it" not in page
    typed = {
        "opened": f"visit:{clip.pk}.1",
        "on": f"{clip.window_opens}",
        "acres": "99",
        "note": "two passes",
    }
    refused = browser.post(cast.url(f"work/{clip.pk}/do/"), typed)
    assert refused.status_code == 422 and 'value="99"' in refused.content.decode()
    assert browser.post(cast.url(f"work/{clip.pk}/do/"), typed | {"acres": "10"}).status_code == 302
    assert step(agreed, "clip_1").state == VisitState.DONE
    stale = browser.post(cast.url(f"work/{clip.pk}/do/"), typed | {"acres": "1"})
    assert stale.status_code == 409 and "Changed meanwhile" in stale.content.decode()


def test_the_board_keeps_what_it_is_asked_in_its_address(agreed: Plan, cast: Cast) -> None:
    browser = cast.browser(cast.crew)
    every = browser.get(cast.url("work/")).content.decode()
    assert "Further ahead" not in every and step(agreed, "drill").label in every
    mowing = browser.get(cast.url("work/?work=rotary_mowing&by=farm&stands=nonsense&page=²")).content.decode()
    assert cast.url(f"work/{step(agreed, 'clip_1').pk}/") in mowing
    assert cast.url(f"work/{step(agreed, 'drill').pk}/") not in mowing
    assert "by=farm&amp;stands=late&amp;work=rotary_mowing" in mowing
    none = browser.get(cast.url("work/?farm=999999")).content.decode()
    assert "Nothing open fits" in none
    assert (
        "<svg" in browser.get(cast.url("work/?by=map")).content.decode()
        or "has a place yet" in browser.get(cast.url("work/?by=map")).content.decode()
    )


def test_many_visits_cost_no_more_queries_than_few(cast: Cast) -> None:
    plan = make_agreed(make_ready_plan(cast.practice), cast.owner)
    browser = cast.browser(cast.planner)
    few = queries.count(lambda: browser.get(cast.url("work/")))
    with scope(practice=cast.practice):
        pattern = Visit.objects.filter(plan=plan)[0]
        for number in range(300):
            pattern.pk, pattern.step = None, f"step-{number}"
            pattern.save(force_insert=True)
    many = browser.get(cast.url("work/"))
    assert queries.count(lambda: browser.get(cast.url("work/"))) == few
    assert many.content.decode().count('class="visit-row') == board.PAGE


def test_days_lost_to_rain_free_what_was_booked_on_them_and_say_why(agreed: Plan, cast: Cast) -> None:
    kill, drill = step(agreed, "kill_fall"), step(agreed, "drill")
    visits.visit_book(visit=kill, version=1, user=cast.planner, on=FALL)
    visits.visit_book(visit=drill, version=1, user=cast.planner, on=drill.window_opens)
    browser, url = cast.browser(cast.planner), cast.url("work/lost-days/")
    typed = {"first": f"{FALL}", "last": f"{FALL - timedelta(days=1)}", "reason": "four inches of rain"}
    refused = browser.post(url, typed)
    assert refused.status_code == 422 and "four inches of rain" in refused.content.decode()
    assert browser.post(url, typed | {"last": f"{FALL + timedelta(days=5)}"}).status_code == 302
    assert step(agreed, "kill_fall").booked_on is None and step(agreed, "drill").booked_on
    said = kill.changes.order_by("-pk")[0]
    assert (said.what, said.reason, said.by) == (What.UNBOOKED, "four inches of rain", cast.planner)
