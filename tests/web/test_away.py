"""What stays away of a field: typed, changed, taken off; the acres on its page, in its plan and in print."""

from __future__ import annotations

from typing import Any

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django_scopes import scope

from consulting.models import Practice
from plans.models import Plan
from plans.planning.plan import Plan as Outcome
from plans.selectors import plans_whole, prices_for, reckon
from sites.models import Exclusion, Field, Landmark
from tests.conftest import Cast
from tests.factories import make_client, make_farm, make_field
from tests.ground_factories import (
    ACRES,
    NORTH,
    OUTLINE,
    SOUTH,
    WEST,
    make_drawn_field,
    make_exclusion,
    make_landmark,
)
from tests.plan_factories import TODAY, make_offered, make_ready_plan

pytestmark = pytest.mark.django_db

LEFT = 8.68
"""568.4 ft less 50 ft, of 568.4: by pencil."""


def form(**changes: Any) -> dict[str, Any]:
    return {
        "landmark": "", "kind": "water", "name": "Mill <b>Creek</b>", "drawn": "line",
        "corners": f"{SOUTH}, {WEST}\n{NORTH}, {WEST}", "distance_ft": "50", "work": ["spray"],
        "reason": "the label", **changes,
    }  # fmt: skip


def drawn_field(cast: Cast) -> Field:
    return make_drawn_field(make_farm(make_client(cast.practice)), name="Creek Bottom")


def test_a_creek_typed_on_the_spot_takes_its_strip(cast: Cast) -> None:
    field = drawn_field(cast)
    page = cast.browser(cast.planner).post(cast.url(f"fields/{field.pk}/away/new/"), form(), follow=True)
    html = page.content.decode()
    assert "Mill &lt;b&gt;Creek&lt;/b&gt;" in html and "Mill <b>" not in html
    table = page.context["away"]
    assert dict(table.whole)["Spray"] == pytest.approx(ACRES, abs=0.01)
    assert dict(table.left)["Spray"] == pytest.approx(LEFT, abs=0.02)
    assert dict(table.left)["Mow"] == pytest.approx(ACRES, abs=0.01)
    (row,) = table.rows
    assert dict(row.takes)["Mow"] is None
    assert dict(row.takes)["Spray"] == pytest.approx(ACRES - LEFT, abs=0.02)
    assert "How the acres left were reckoned" in html


@pytest.mark.parametrize(
    ("drawn", "corners", "kind"),
    [
        ("point", "38.951 -92.339", "Point"),
        ("line", "38.951°, −92.339°\n\n38.9515; -92.3385", "LineString"),
        ("polygon", "38.951,-92.339\n38.9515,-92.339\n38.9515,-92.3385", "MultiPolygon"),
    ],
)
def test_points_lines_and_areas_are_typed_as_people_type_them(
    cast: Cast, drawn: str, corners: str, kind: str
) -> None:
    field = drawn_field(cast)
    sent = form(drawn=drawn, corners=corners)
    assert cast.browser(cast.owner).post(cast.url(f"fields/{field.pk}/away/new/"), sent).status_code == 302
    with scope(practice=cast.practice):
        assert Landmark.objects.get().shape["type"] == kind


@pytest.mark.parametrize(
    ("changes", "said"),
    [
        ({"corners": "38.95, -92.34\nby the oak"}, "Line 2, “by the oak”, is no corner."),
        ({"corners": "-92.34, 38.95\n-92.33, 38.95"}, "Latitude comes first"),
        ({"corners": "38.95, -92.34"}, "A line takes two corners or more; there are 1."),
        ({"corners": "38.95, -92.34\n38.95, -92.34"}, "All corners lie at one place."),
        ({"corners": "1, 1\n" * 501}, "Give at most 500 corners"),
        ({"drawn": "polygon", "corners": "38.95, -92.34\n38.96, -92.34"}, "An area takes three corners"),
        ({"corners": "nan, inf\n1e3, 1"}, "is no corner."),
        ({"corners": "50.1, 8.6\n50.2, 8.7"}, "60 miles"),
        ({"kind": "", "corners": ""}, "Choose what it stays away from, or say below what it is."),
        ({"landmark": "999"}, "Choose from what is offered."),
        ({"distance_ft": "-1"}, "Distance kept must be 0 or more."),
        ({"distance_ft": "nan"}, "Distance kept must be a number"),
        ({"distance_ft": "99999"}, "Distance kept must be 26400 or less."),
        ({"work": []}, "Kinds of work that stay away is missing."),
        ({"work": ["dance"]}, "Choose from what is offered."),
        ({"reason": ""}, "Reason is missing. Fill it in."),
    ],
)
def test_what_cannot_be_is_named_and_stays_typed(cast: Cast, changes: dict[str, Any], said: str) -> None:
    field = drawn_field(cast)
    page = cast.browser(cast.owner).post(cast.url(f"fields/{field.pk}/away/new/"), form(**changes))
    html = page.content.decode()
    assert page.status_code == 422 and said in html
    for line in changes.get("corners", "").splitlines()[:1]:
        assert line in html
    with scope(practice=cast.practice):
        assert not Exclusion.objects.exists() and not Landmark.objects.exists()


def test_the_same_thing_is_kept_away_from_once(cast: Cast) -> None:
    field = drawn_field(cast)
    row = make_exclusion(field)
    sent = form(landmark=str(row.landmark_id))
    page = cast.browser(cast.owner).post(cast.url(f"fields/{field.pk}/away/new/"), sent)
    assert page.status_code == 422 and "keeps away from it already" in page.content.decode()


def test_another_farms_or_practices_landmark_is_no_choice(cast: Cast) -> None:
    field = drawn_field(cast)
    elsewhere = make_landmark(make_farm(make_client(cast.practice)))
    strange = make_landmark(make_farm(make_client(cast.other_practice)))
    for landmark in (elsewhere, strange):
        sent = form(landmark=str(landmark.pk))
        page = cast.browser(cast.owner).post(cast.url(f"fields/{field.pk}/away/new/"), sent)
        assert page.status_code == 422
    with scope(practice=cast.practice):
        assert not Exclusion.objects.exists()


def test_a_distance_is_changed_and_an_exclusion_taken_off(cast: Cast) -> None:
    row = make_exclusion(drawn_field(cast))
    browser = cast.browser(cast.planner)
    sent = {"distance_ft": "100", "work": ["spray", "mow"], "reason": "wet ground"}
    page = browser.post(cast.url(f"away/{row.pk}/"), sent, follow=True)
    assert dict(page.context["away"].left)["Spray"] == pytest.approx(7.83, abs=0.02)
    assert browser.post(cast.url(f"away/{row.pk}/"), sent | {"work": []}).status_code == 422
    page = browser.post(cast.url(f"away/{row.pk}/remove/"), follow=True)
    assert "All of it is worked" in page.content.decode()
    with scope(practice=cast.practice):
        assert Landmark.objects.exists()


def test_a_field_without_an_outline_says_so(cast: Cast) -> None:
    row = make_exclusion(make_field(make_farm(make_client(cast.practice))))
    html = cast.browser(cast.crew).get(cast.url(f"fields/{row.field_id}/")).content.decode()
    assert "Acres cannot be reckoned without an outline" in html
    assert "Drilling and seeding" in html and "Change" not in html


def outcome_of(practice: Practice, plan: Plan) -> Outcome:
    with scope(practice=practice):
        outcome = reckon(plans_whole().get(pk=plan.pk), prices_for(practice), TODAY).outcome
    assert outcome is not None
    return outcome


def make_kept_plan(cast: Cast, **values: Any) -> Plan:
    plan = make_ready_plan(cast.practice, outline=OUTLINE, acres=ACRES, name="Creek Bottom")
    with scope(practice=cast.practice):
        make_exclusion(Field.objects.get(), **values)
    return plan


def test_a_plan_sprays_and_seeds_only_what_is_left(cast: Cast) -> None:
    plan = make_kept_plan(cast)
    outcome = outcome_of(cast.practice, plan)
    by_operation = {task.operation: task.acres for task in outcome.tasks}
    assert by_operation["boom_spraying"] == by_operation["no_till_drilling"] == pytest.approx(LEFT, abs=0.02)
    assert by_operation["stand_count"] == ACRES
    page = cast.browser(cast.planner).get(cast.url(f"plans/{plan.pk}/"))
    html = page.content.decode()
    assert "spray and seed" in html and "50 ft from Mill Creek" in html
    assert f"{ACRES} acres on Creek Bottom" in html


def test_seed_in_living_sod_waits_for_someone_to_accept_it(cast: Cast) -> None:
    plan = make_kept_plan(cast, work=["spray"])
    (found,) = [one for one in outcome_of(cast.practice, plan).findings if one.rule == "sown_unsprayed"]
    assert (
        found.severity == "caution"
        and "stay unsprayed and are seeded: 50 ft from Mill Creek" in found.message
    )
    page = cast.browser(cast.planner).get(cast.url(f"plans/{plan.pk}/"))
    assert found.message in page.content.decode()


def test_what_is_offered_keeps_the_acres_it_was_offered_with(cast: Cast) -> None:
    plan = make_kept_plan(cast)
    proposal = make_offered(plan, cast.owner)
    with scope(practice=cast.practice):
        Exclusion.objects.all().delete()
    page = cast.browser(cast.planner).get(cast.url(f"plans/{plan.pk}/"))
    assert "50 ft from Mill Creek" in page.content.decode()
    assert bytes(proposal.pdf).startswith(b"%PDF")


def test_a_landmark_moved_out_of_reach_breaks_no_page(cast: Cast) -> None:
    plan = make_kept_plan(cast)
    with scope(practice=cast.practice):
        Landmark.objects.update(shape={"type": "Point", "coordinates": [8.6, 50.1]})
        field = Field.objects.get()
    browser = cast.browser(cast.planner)
    assert "60 miles" in browser.get(cast.url(f"fields/{field.pk}/")).content.decode()
    assert browser.get(cast.url(f"plans/{plan.pk}/")).status_code == 200
    assert {one.rule for one in outcome_of(cast.practice, plan).findings} >= {"left_unknown"}


def test_pages_ask_the_same_for_one_exclusion_and_for_many(cast: Cast) -> None:
    plan = make_kept_plan(cast)
    browser = cast.browser(cast.planner)
    with scope(practice=cast.practice):
        field = Field.objects.get()
    addresses = [cast.url(f"fields/{field.pk}/"), cast.url(f"plans/{plan.pk}/")]

    def asked() -> list[int]:
        counts = []
        for address in addresses:
            browser.get(address)
            with CaptureQueriesContext(connection) as found:
                browser.get(address)
            counts.append(len(found))
        return counts

    few = asked()
    with scope(practice=cast.practice):
        for number in range(5):
            make_exclusion(field, landmark=make_landmark(field.farm, name=f"Ditch {number}"), distance_ft=5.0)
    assert asked() == few
