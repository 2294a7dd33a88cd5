"""The plan for the wall from the site: who may print it, and that it says how the work stands."""

from __future__ import annotations

import re
from datetime import date

import pytest
from django.test import Client
from django_scopes import scope

from consulting.models import Practice
from plans import visits
from plans.models import Plan, Visit
from plans.selectors import plans_whole
from plans.standing import standing_of
from plans.visits import plan_agree
from tests.conftest import Cast
from tests.documents.conftest import pages
from tests.factories import make_field
from tests.plan_factories import (
    SPRAYED,
    TODAY,
    line,
    make_agreed,
    make_conversion,
    make_plan,
    make_ready_plan,
    make_shown,
)
from tests.web.test_change_orders import agree, begun, offered

PRINTS = ("wall-plan.pdf", "large-print.pdf", "wall/17x22.pdf", "wall/a3.pdf")


@pytest.fixture
def agreed(cast: Cast) -> Plan:
    return make_agreed(make_ready_plan(cast.practice), cast.owner)


def words(content: bytes) -> str:
    return re.sub(r"\s+", " ", " ".join(pages(content)))


@pytest.mark.parametrize("path", PRINTS)
def test_crew_prints_agreed_plans_alone_and_finds_no_price(path: str, cast: Cast) -> None:
    draft = make_ready_plan(cast.practice)
    assert cast.browser(cast.crew).get(cast.url(f"plans/{draft.pk}/{path}")).status_code == 403
    response = cast.browser(cast.planner).get(cast.url(f"plans/{draft.pk}/{path}"))
    assert response.status_code == 200
    assert response["Content-Disposition"].startswith("inline; filename=")
    assert "draft" in words(response.content)
    make_agreed(draft, cast.owner)
    response = cast.browser(cast.crew).get(cast.url(f"plans/{draft.pk}/{path}"))
    assert response.status_code == 200 and response["Content-Type"] == "application/pdf"
    assert "$" not in words(response.content) and "As the work stands" in words(response.content)


def test_a_plan_without_a_field_and_an_unknown_sheet_are_not_there(cast: Cast, agreed: Plan) -> None:
    browser = cast.browser(cast.owner)
    with scope(practice=cast.practice):
        bare = make_plan(agreed.farm, "Nothing yet")
    assert browser.get(cast.url(f"plans/{bare.pk}/wall-plan.pdf")).status_code == 404
    assert browser.get(cast.url(f"plans/{agreed.pk}/wall/b0.pdf")).status_code == 404


def test_it_prints_from_the_work_as_it_stands(cast: Cast, agreed: Plan) -> None:
    with scope(practice=cast.practice):
        of = {visit.step: visit for visit in Visit.objects.filter(plan=agreed)}
        visits.visit_do(
            visit=of["kill_fall"],
            version=1,
            user=cast.crew,
            on=date(2027, 9, 20),
            acres=10.0,
            today=date(2027, 9, 20),
            record=SPRAYED,
            lines=[line()],
        )
        visits.visit_skip(visit=of["clip_1"], version=1, user=cast.owner, reason="no weeds this year")
        visits.visit_book(visit=of["drill"], version=1, user=cast.owner, on=date(2028, 5, 4))
        spring = Visit.objects.get(pk=of["kill_spring"].pk)
        found = standing_of(plans_whole().get(pk=agreed.pk), TODAY)
    assert found is not None and found.word == "agreed"
    tasks = {task.step: task for task in found.outcome.tasks}
    assert tasks["kill_fall"].done_on == date(2027, 9, 20)
    assert "clip_1" not in tasks
    assert (tasks["kill_spring"].earliest, tasks["kill_spring"].latest) == (
        spring.window_opens,
        spring.window_shuts,
    )
    assert found.booked == {tasks["drill"].key: date(2028, 5, 4)}
    said = words(cast.browser(cast.crew).get(cast.url(f"plans/{agreed.pk}/wall-plan.pdf")).content)
    assert "done Sep 20, 2027" in said and "booked for May 4, 2028" in said
    assert "Clip weeds over the seedlings" not in said


def test_a_step_that_was_added_is_printed_too(cast: Cast, agreed: Plan) -> None:
    with scope(practice=cast.practice):
        visit = Visit.objects.get(plan=agreed, step="kill_spring")
        Visit.objects.create(
            practice=cast.practice,
            plan=agreed,
            field=visit.field,
            step="kill_again_sod",
            label="Third kill: spray what is still green",
            why="It lived.",
            operation="boom_spraying",
            phase="kill",
            season=0,
            order=35,
            acres=visit.acres,
            added_on=date(2028, 5, 1),
            window_opens=date(2028, 5, 20),
            window_shuts=date(2028, 6, 4),
        )
        found = standing_of(plans_whole().get(pk=agreed.pk), TODAY)
    assert found is not None
    (added,) = [task for task in found.outcome.tasks if task.step == "kill_again_sod"]
    assert (added.earliest, added.latest) == (date(2028, 5, 20), date(2028, 6, 4))


@pytest.mark.parametrize(("paper", "sheets"), [("letter", ["17x22", "11x17"]), ("A4", ["a2", "a3"])])
def test_plan_and_visit_lead_to_the_sheets_of_the_practices_paper(
    paper: str, sheets: list[str], cast: Cast, agreed: Plan
) -> None:
    Practice.objects.filter(pk=cast.practice.pk).update(paper=paper)
    with scope(practice=cast.practice):
        visit = Visit.objects.filter(plan=agreed)[0]
    for path, user in ((f"plans/{agreed.pk}/", cast.planner), (f"work/{visit.pk}/", cast.crew)):
        page = cast.browser(user).get(cast.url(path)).content.decode()
        assert re.findall(r"/wall/(\w+)\.pdf", page) == sheets
        assert "large-print.pdf" in page and "wall-plan.pdf" in page


def test_the_plan_page_says_why_and_shows_its_drawings_as_tables(cast: Cast) -> None:
    plan = make_ready_plan(cast.practice)
    page = cast.browser(cast.planner).get(cast.url(f"plans/{plan.pk}/")).content.decode()
    assert "the old sod is growing again" in page
    for caption in ("growth in % of the best day", "Growth in each window", "The years ahead, step by step"):
        assert caption in page


def test_a_change_order_is_taken_in_and_what_was_done_before_it_stays(cast: Cast, agreed: Plan) -> None:
    with scope(practice=cast.practice):
        first = Visit.objects.get(plan=agreed, step="kill_fall")
        day = first.window_opens
        visits.visit_do(
            visit=first,
            version=1,
            user=cast.crew,
            on=day,
            acres=first.acres,
            today=day,
            record=SPRAYED,
            lines=[line()],
        )
        change = begun(agreed)
        new = make_field(agreed.farm, name="New strip")
        make_conversion(change, new, change.conversions.all()[0].mix)
        offered(change, cast)
        agree(change, cast)
        found = standing_of(plans_whole().get(pk=agreed.pk), TODAY)
    assert found is not None and found.word == "agreed"
    done = [task for task in found.outcome.tasks if task.done_on]
    assert [(task.step, task.done_on) for task in done] == [("kill_fall", day)]
    assert "New strip" in {task.field for task in found.outcome.tasks}
    said = words(cast.browser(cast.crew).get(cast.url(f"plans/{agreed.pk}/wall-plan.pdf")).content)
    assert "New strip" in said and "done " in said


def test_a_client_fetches_the_sheets_once_the_plan_is_agreed(cast: Cast) -> None:
    link, key = make_shown(make_ready_plan(cast.practice), cast.owner)
    browser, url = Client(), f"/client/{key}/"
    assert "plan-for-the-wall" not in browser.get(url).content.decode()
    assert browser.get(f"{url}documents/plan-for-the-wall.pdf").status_code == 404
    with scope(practice=cast.practice):
        plan_agree(plan=Plan.objects.get(pk=link.plan_id), user=cast.owner, today=TODAY)
    page = browser.get(url).content.decode()
    assert "the old sod is growing again" in page and "The years as a table" in page
    for name in ("plan-for-the-wall", "plan-in-large-print", "years-ahead-17x22"):
        assert f"documents/{name}.pdf" in page
        said = words(browser.get(f"{url}documents/{name}.pdf").content)
        assert "As the work stands" in said and "$" not in said
