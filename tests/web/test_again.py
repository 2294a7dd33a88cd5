"""A step that may be needed becomes a visit: what waits for it, who may, and the ways to it."""

from __future__ import annotations

from datetime import date, timedelta
from typing import Any

import pytest
from django_scopes import scope

from plans import board, visits
from plans.again import offers_of, visit_add
from plans.models import Conversion, Plan, Visit, VisitChange, VisitState
from plans.needed import to_buy
from plans.planned import planned_lines
from plans.services import Refused
from plans.trips import sheet_of, trip_of
from tests.conftest import Cast
from tests.plan_factories import SPRAYED, line, make_agreed, make_ready_plan
from tests.web import queries
from tests.web.forms import forms_of
from tests.web.test_stand_counts import typed

What = VisitChange.What
FALL, SPRING, TODAY = date(2027, 9, 20), date(2028, 4, 10), date(2028, 4, 18)
WHY = "the second kill did not take <b>everywhere</b>"


@pytest.fixture
def agreed(cast: Cast, monkeypatch: Any) -> Any:
    """A field of sod with both its kills done, a week after the second."""
    plan = make_agreed(make_ready_plan(cast.practice), cast.owner)
    for views in ("work", "again", "counts"):
        monkeypatch.setattr(f"plans.views.{views}.today_for", lambda practice: TODAY)
    with scope(practice=cast.practice):
        done(plan, cast, "kill_fall", FALL)
        done(plan, cast, "kill_spring", SPRING)
        yield plan


def step(plan: Plan, key: str) -> Visit:
    return Visit.objects.get(plan=plan, step=key)


def done(plan: Plan, cast: Cast, key: str, on: date) -> Visit:
    visit = step(plan, key)
    record: dict[str, Any] = {"record": SPRAYED, "lines": [line()]}
    return visits.visit_do(
        visit=visit, version=visit.version, user=cast.crew, on=on, acres=visit.acres_left, today=on, **record
    )


def add(plan: Plan, cast: Cast, key: str = "kill_again_sod", today: date = TODAY) -> list[Visit]:
    visit = step(plan, "drill")
    return visit_add(visit=visit, version=visit.version, user=cast.planner, step=key, reason=WHY, today=today)


def url(cast: Cast, visit: Visit, key: str = "kill_again_sod") -> str:
    return cast.url(f"work/{visit.pk}/again/{key}/")


def test_a_kill_made_a_visit_moves_the_seeding_and_says_so_first(agreed: Plan, cast: Cast) -> None:
    drill, browser = step(agreed, "drill"), cast.browser(cast.planner)
    listed = browser.get(cast.url(f"work/{drill.pk}/")).content.decode()
    assert "A step that may be needed here" in listed and url(cast, drill) in listed
    page = browser.get(url(cast, drill)).content.decode()
    assert "What follows on this field moves" in page and "Drill the mix" in page and page.count("<h1") == 1
    empty = browser.post(url(cast, drill), {"reason": ""})
    assert empty.status_code == 422 and "Why is missing" in empty.content.decode()
    sent = browser.post(url(cast, drill), {"reason": WHY})
    kill, after = step(agreed, "kill_again_sod"), step(agreed, "drill")
    assert sent.status_code == 302 and sent.url == cast.url(f"work/{kill.pk}/")
    made = kill.changes.get()
    assert (made.what, made.reason, made.by) == (What.MADE, WHY, cast.planner)
    assert kill.window_opens >= SPRING + timedelta(days=21) and kill.acres == 10 and kill.hours > 0
    assert after.window_opens > drill.window_opens and after.after == "kill_again_sod"
    assert board.open_visits().get(pk=drill.pk).blocked
    assert Conversion.objects.get(plan=agreed).options == ["kill_again"]
    moved = after.changes.order_by("-pk")[0]
    assert moved.what == What.WINDOW and WHY in moved.reason
    assert "<b>everywhere" not in browser.get(sent.url).content.decode()


def test_it_is_made_once(agreed: Plan, cast: Cast) -> None:
    add(agreed, cast)
    with pytest.raises(Refused, match="already"):
        add(agreed, cast)
    drill = step(agreed, "drill")
    again = cast.browser(cast.planner).post(url(cast, drill), {"reason": WHY})
    assert again.status_code == 302
    assert Visit.objects.filter(plan=agreed, step="kill_again_sod").count() == 1
    assert "kill_again_sod" not in [offer.step.step for offer in offers_of(drill, TODAY)]


def test_a_visit_changed_in_between_is_shown_and_the_next_try_counts(agreed: Plan, cast: Cast) -> None:
    drill, browser = step(agreed, "drill"), cast.browser(cast.planner)
    seen = {"opened": f"visit:{drill.pk}.{drill.version - 1}", "reason": "still green"}
    late = browser.post(url(cast, drill), seen)
    page = late.content.decode()
    assert late.status_code == 409 and "still green" in page
    assert not Visit.objects.filter(plan=agreed, step="kill_again_sod").exists()
    (again,) = [form for form in forms_of(page, url(cast, drill)) if "reason" in form.data]
    assert browser.post(url(cast, drill), again.data).status_code == 302


def test_reckoning_anew_keeps_what_was_added(agreed: Plan, cast: Cast) -> None:
    add(agreed, cast, today=date(2028, 5, 10))
    kill, drill = step(agreed, "kill_again_sod"), step(agreed, "drill")
    assert kill.window_opens == date(2028, 5, 10)
    assert visits.windows_move(agreed, because="a look") == 0
    done(agreed, cast, "kill_again_sod", date(2028, 5, 20))
    assert step(agreed, "drill").window_opens > drill.window_opens
    later = step(agreed, "kill_again_sod")
    visits.visit_reopen(visit=later, version=later.version, user=cast.owner, reason="a slip")
    later = step(agreed, "kill_again_sod")
    visits.visit_skip(visit=later, version=later.version, user=cast.owner, reason="it greened no more")
    freed = step(agreed, "drill")
    assert freed.after == "kill_spring" and freed.window_opens < drill.window_opens


def test_a_step_without_an_option_moves_nothing_and_keeps_its_window(agreed: Plan, cast: Cast) -> None:
    drill = step(agreed, "drill")
    (clip,) = add(agreed, cast, "clip_again")
    assert clip.after == "clip_2" and clip.window_opens >= step(agreed, "clip_2").window_opens
    assert step(agreed, "drill").window_opens == drill.window_opens
    assert visits.windows_move(agreed, because="a look") == 0
    done(agreed, cast, "drill", date(2028, 6, 10))
    assert step(agreed, "clip_again").window_opens > clip.window_opens


def test_an_added_spray_is_loaded_bought_and_written_down_like_a_signed_one(agreed: Plan, cast: Cast) -> None:
    by = date(2028, 5, 31)
    before = to_buy(cast.practice, by, TODAY).bought
    (kill,) = add(agreed, cast)
    lines = {line.name: line.per_acre for line in planned_lines(kill)}
    assert lines == {line.name: line.per_acre for line in planned_lines(step(agreed, "kill_spring"))}
    trip = trip_of([kill])
    assert trip and [task.step for task in trip.outcome.tasks] == ["kill_again_sod"]
    assert sheet_of(trip, cast.practice).startswith(b"%PDF")
    bought = {line.name for line in to_buy(cast.practice, by, TODAY).bought.lines}
    assert {*lines} <= bought - {line.name for line in before.lines}


def test_what_comes_too_late_is_said_and_not_made(agreed: Plan, cast: Cast, monkeypatch: Any) -> None:
    drill, late = step(agreed, "drill"), date(2028, 8, 1)
    monkeypatch.setattr("plans.views.again.today_for", lambda practice: late)
    page = cast.browser(cast.planner).get(url(cast, drill)).content.decode()
    assert "too much time has passed" in page and "<button>Make it a visit" not in page
    failed = cast.url(f"work/{step(agreed, 'kill_spring').pk}/failed/")
    assert "left in time" in cast.browser(cast.planner).get(failed, {"reason": "green"}).content.decode()
    with pytest.raises(Refused, match="too much time"):
        add(agreed, cast, today=late)


def test_crew_see_what_may_be_needed_and_no_price(agreed: Plan, cast: Cast) -> None:
    drill = step(agreed, "drill")
    crew = cast.browser(cast.crew)
    page = crew.get(cast.url(f"work/{drill.pk}/")).content.decode()
    assert "A step that may be needed here" in page and "to the client" not in page and "$" not in page
    assert url(cast, drill) not in page
    assert crew.post(url(cast, drill), {"reason": WHY}).status_code == 403
    priced = cast.browser(cast.planner).get(cast.url(f"work/{drill.pk}/")).content.decode()
    assert "to the client" in priced and "priced as the rest" in priced


def test_a_kill_that_did_not_take_leads_to_the_kills_that_are_left(agreed: Plan, cast: Cast) -> None:
    kill, browser = step(agreed, "kill_spring"), cast.browser(cast.planner)
    asked = cast.url(f"work/{kill.pk}/failed/")
    assert asked in browser.get(cast.url(f"work/{kill.pk}/")).content.decode()
    assert browser.get(asked, {"reason": ""}).status_code == 422
    page = browser.get(asked, {"reason": "green & tall"}).content.decode()
    assert f"{url(cast, kill)}?reason=green%20%26%20tall" in page and "clip_again" not in page
    assert (
        'value="green &amp; tall"'
        in browser.get(url(cast, kill), {"reason": "green & tall"}).content.decode()
    )
    add(agreed, cast)
    none = browser.get(asked, {"reason": "still green"}).content.decode()
    assert "No further kill is left" in none and cast.url(f"work/{kill.pk}/reopen/") in none
    assert browser.get(cast.url(f"work/{step(agreed, 'drill').pk}/failed/")).status_code == 404


@pytest.mark.parametrize(("hits", "asks"), [([1, 0, 1], True), ([15, 16, 14], False)])
def test_a_thin_count_offers_to_overseed(
    agreed: Plan, cast: Cast, monkeypatch: Any, hits: list[int], asks: bool
) -> None:
    count = step(agreed, "count_2")
    for views in ("work", "again", "counts"):
        monkeypatch.setattr(f"plans.views.{views}.today_for", lambda practice: count.window_opens)
    browser = cast.browser(cast.planner)
    browser.post(cast.url(f"work/{count.pk}/count/"), typed(count, hits))
    page = browser.get(cast.url(f"work/{count.pk}/")).content.decode()
    assert (f"{url(cast, count, 'overseed_2')}?reason=Count%20of" in page) is asks
    if asks:
        count.refresh_from_db()
        browser.post(url(cast, count, "overseed_2"), {"reason": "thin"})
        assert step(agreed, "overseed_2").window_opens > count.window_opens


def test_no_more_is_offered_on_a_plan_that_is_closed_and_pages_ask_little(agreed: Plan, cast: Cast) -> None:
    drill, browser = step(agreed, "drill"), cast.browser(cast.planner)
    address = cast.url(f"work/{drill.pk}/")
    few = queries.count(lambda: browser.get(address))
    add(agreed, cast)
    assert queries.count(lambda: browser.get(address)) <= few
    Plan.objects.filter(pk=agreed.pk).update(state="closed")
    assert offers_of(step(agreed, "drill"), TODAY) == []


def test_two_summers_of_kills_come_together(cast: Cast) -> None:
    plan = make_ready_plan(cast.practice)
    with scope(practice=cast.practice):
        Conversion.objects.filter(plan=plan).update(kill_program="sod_spring_only")
    plan = make_agreed(plan, cast.owner)
    with scope(practice=cast.practice):
        drill = step(plan, "drill")
        made = add(plan, cast, "kill_again_late", date(2026, 11, 25))
        assert [one.step for one in made] == ["kill_again_late", "kill_again_next_spring"]
        after = step(plan, "drill")
        assert after.window_opens.year == drill.window_opens.year + 1
        assert after.after == "kill_again_next_spring" and after.state == VisitState.OPEN
