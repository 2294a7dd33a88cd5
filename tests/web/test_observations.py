"""What was seen on a farm: noted, taken back, and followed by its plans."""

from __future__ import annotations

from datetime import date, timedelta

import pytest
from django.core.exceptions import ValidationError
from django.http import HttpResponse
from django_scopes import scope

from consulting.clock import today_for
from plans import facts
from plans.planning.observed import observable
from plans.selectors import plans_whole
from sites.models import Farm, Observation
from tests.conftest import Cast
from tests.factories import make_client, make_farm
from tests.plan_factories import make_ready_plan


@pytest.fixture
def farm(cast: Cast) -> Farm:
    return make_farm(make_client(cast.practice))


def note(cast: Cast, farm: Farm, moment: str = "first_freeze", on: str = "2026-10-09") -> HttpResponse:
    url = f"/{cast.practice.slug}/farms/{farm.pk}/seen/"
    return cast.browser(cast.planner).post(url, {"moment": moment, "on": on}, follow=True)


def test_it_is_noted_and_taken_back(cast: Cast, farm: Farm) -> None:
    assert "October 9, 2026" in note(cast, farm).content.decode()
    with scope(practice=cast.practice):
        seen = Observation.objects.get()
    url = f"/{cast.practice.slug}/seen/{seen.pk}/remove/"
    assert "Nothing noted yet" in cast.browser(cast.planner).post(url, follow=True).content.decode()


@pytest.mark.parametrize(
    ("moment", "on", "said"),
    [
        ("first_freeze", "2999-10-09", "still to come"),
        ("first_freeze", "0001-01-01", "1990"),
        ("first_freeze", "1890-10-09", "1990"),
        ("first_freeze", "soon", "must be a day"),
        ("blue_moon", "2026-10-09", "blue_moon"),
        ("drill_shuts", "2026-06-01", "drill_shuts"),
        ("", "", "missing"),
    ],
)
def test_what_is_wrong_is_said_and_kept(cast: Cast, farm: Farm, moment: str, on: str, said: str) -> None:
    response = note(cast, farm, moment, on)
    assert response.status_code == 422
    assert said in response.content.decode()
    assert f'value="{on}"' in response.content.decode()


def test_the_day_is_that_of_the_practice(cast: Cast, farm: Farm) -> None:
    """Half a world apart the dates differ at every hour."""
    for zone in ("Pacific/Kiritimati", "Pacific/Pago_Pago"):
        cast.practice.time_zone = zone
        cast.practice.save()
        today = today_for(cast.practice)
        with scope(practice=cast.practice):
            mine = Observation(practice=cast.practice, farm=farm, moment="leaf_fall", on=today)
            mine.clean()
            mine.on = today + timedelta(days=1)
            with pytest.raises(ValidationError, match="still to come"):
                mine.clean()


def test_a_moment_is_noted_once_a_season(cast: Cast, farm: Farm) -> None:
    note(cast, farm)
    again = note(cast, farm, on="2026-10-20")
    assert again.status_code == 422 and "already" in again.content.decode()
    assert note(cast, farm, on="2025-10-20").status_code == 200


def test_its_choices_are_moments_that_can_be_seen() -> None:
    assert {key for key, _ in Observation.MOMENT} <= set(observable())


def test_a_plan_follows_what_was_seen(cast: Cast) -> None:
    plan = make_ready_plan(cast.practice)
    with scope(practice=cast.practice):
        farm = plan.farm
    note(cast, farm)
    with scope(practice=cast.practice):
        climate = facts.climate_of(plans_whole().get(pk=plan.pk).farm)
    assert [(seen.moment, seen.on) for seen in climate.observed] == [("first_freeze", date(2026, 10, 9))]
