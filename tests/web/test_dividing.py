"""A field divided in two: acres add up, both keep what was known, and plans stay sound."""

from __future__ import annotations

import pytest
from django.test import Client as Browser
from django_scopes import scope

from plans.models import Conversion
from sites.models import Exclusion, Field
from tests.conftest import Cast
from tests.drawn_factories import WEST, make_landmark, outlined, square
from tests.factories import make_client, make_farm, make_field
from tests.plan_factories import make_conversion, make_mix, make_plan

pytestmark = pytest.mark.django_db
ACROSS = f"38.9, {WEST + 0.001}\n39.0, {WEST + 0.001}"


@pytest.fixture
def field(cast: Cast) -> Field:
    farm = make_farm(make_client(cast.practice))
    return outlined(make_field(farm, name="Barn Hill", thatch="heavy", slope_pct=9.0, weeds="sericea"))


@pytest.fixture
def planner(cast: Cast) -> Browser:
    return cast.browser(cast.planner)


def answers(planner: Browser, cast: Cast, field: Field, **more: object) -> dict[str, object]:
    url = cast.url(f"fields/{field.pk}/divide/")
    stamp = planner.get(url).context["line_form"]["seen"].value()
    return {"order": "latitude", "corners": ACROSS, "seen": stamp, **more}


def test_both_pieces_keep_what_was_known_and_their_acres_add_up(
    cast: Cast, planner: Browser, field: Field
) -> None:
    pond = make_landmark(field.farm)
    with scope(practice=cast.practice):
        Exclusion.objects.create(
            practice=cast.practice, field=field, landmark=pond, distance_ft=66, work=["spray"], reason="label"
        )
    url = cast.url(f"fields/{field.pk}/divide/")
    shown = planner.post(url, answers(planner, cast, field))
    assert shown.status_code == 200 and "Piece 1: 7.1" in shown.content.decode()
    with scope(practice=cast.practice):
        assert Field.objects.count() == 1, "nothing is kept before the pieces are told apart"
    planner.post(url, answers(planner, cast, field, name="Barn Hill west", new=["0"]))
    with scope(practice=cast.practice):
        old, new = Field.objects.order_by("pk")
        assert (old.name, new.name) == ("Barn Hill", "Barn Hill west")
        assert old.acres == pytest.approx(3 * new.acres, abs=0.05)
        assert old.acres + new.acres == pytest.approx(28.5, abs=0.2)
        assert (new.thatch, new.slope_pct, new.weeds, new.cover) == ("heavy", 9.0, "sericea", old.cover)
        assert [row.distance_ft for row in new.exclusions.all()] == [66]
        assert new.outline_from == "Divided from Barn Hill" and "Barn Hill west" in old.outline_from


@pytest.mark.parametrize(
    ("more", "said"),
    [
        ({"corners": "38.95, -92.4\n38.96, -92.4"}, "The line divides nothing"),
        ({"corners": "38.95, -92.33"}, "two corners or more"),
        ({"name": "", "new": ["0"]}, "Name of the new field is missing."),
        ({"name": "Barn Hill", "new": ["0"]}, "has a field of that name already"),
        ({"name": "West"}, "Pieces that become the new field is missing."),
        ({"name": "West", "new": ["0", "1"]}, "Leave at least one piece to the old field."),
        ({"name": "West", "new": ["7"]}, "Choose from what is offered."),
    ],
)
def test_what_does_not_divide_is_refused_in_a_sentence(
    cast: Cast, planner: Browser, field: Field, more: dict[str, object], said: str
) -> None:
    response = planner.post(cast.url(f"fields/{field.pk}/divide/"), answers(planner, cast, field, **more))
    assert response.status_code == 422 and said in response.content.decode()
    with scope(practice=cast.practice):
        assert Field.objects.count() == 1


def test_a_field_that_was_redrawn_meanwhile_is_not_divided(
    cast: Cast, planner: Browser, field: Field
) -> None:
    late = answers(planner, cast, field, name="West", new=["0"])
    outlined(field, square(wide=0.0041))
    page = planner.post(cast.url(f"fields/{field.pk}/divide/"), late, follow=True)
    assert "Someone changed Barn Hill meanwhile" in page.content.decode()
    with scope(practice=cast.practice):
        assert Field.objects.count() == 1


def test_a_draft_plans_the_same_ground_afterwards(cast: Cast, planner: Browser, field: Field) -> None:
    plan = make_plan(field.farm)
    make_conversion(plan, field, make_mix(cast.practice), options=["clip"])
    url = cast.url(f"fields/{field.pk}/divide/")
    assert "it takes in the new field with the same choices" in planner.get(url).content.decode()
    planner.post(url, answers(planner, cast, field, name="West", new=["0"]))
    with scope(practice=cast.practice):
        old, new = Conversion.objects.filter(plan=plan).select_related("field").order_by("pk")
        assert (old.field.name, new.field.name) == ("Barn Hill", "West")
        assert (new.mix, new.kill_program, new.options) == (old.mix, old.kill_program, ["clip"])


@pytest.mark.parametrize("state", ["offered", "agreed", "under way", "in upkeep"])
def test_a_field_that_signed_work_stands_on_stays_whole(
    cast: Cast, planner: Browser, field: Field, state: str
) -> None:
    plan = make_plan(field.farm, title="Signed work", state=state)
    make_conversion(plan, field, make_mix(cast.practice))
    url = cast.url(f"fields/{field.pk}/divide/")
    refused = planner.post(url, answers(planner, cast, field, name="West", new=["0"]))
    html = refused.content.decode()
    assert (
        refused.status_code == 422 and "stands on the whole of Barn Hill. Withdraw or close it first." in html
    )
    field.refresh_from_db()
    assert field.outline["coordinates"] == [[square()]]
    with scope(practice=cast.practice):
        assert Field.objects.count() == 1


def test_a_field_without_an_outline_is_drawn_first(cast: Cast, planner: Browser) -> None:
    bare = make_field(make_farm(make_client(cast.practice)))
    page = planner.get(cast.url(f"fields/{bare.pk}/divide/"), follow=True)
    assert page.redirect_chain[0][0] == cast.url(f"fields/{bare.pk}/draw/")
    assert "has no outline to divide" in page.content.decode()
