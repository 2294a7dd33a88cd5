"""When a machine can be had, what that keeps from being booked, and what a fitting makes of it."""

from __future__ import annotations

from datetime import date, timedelta
from typing import Any

import pytest
from django.core.exceptions import ValidationError
from django_scopes import scope

from consulting.models import Machine, MachineSpan, Membership
from plans import fitting, visits
from plans.models import DayOff, Visit
from plans.taken import LONGEST_DAY_HOURS
from tests.conftest import Cast
from tests.factories import make, make_machine, make_span
from tests.plan_factories import make_agreed_plans

ON = date(2027, 9, 20)
LENT = {"first": "2027-09-18", "last": "2027-09-22", "reason": "lent to a <b>neighbor</b>"}


@pytest.fixture
def sprayer(cast: Cast) -> Machine:
    return make_machine(cast.practice, "implement", name="Sprayer", operations=["boom_spraying"])


@pytest.fixture
def kills(cast: Cast) -> Any:
    """The fall kills of two agreed plans; in the practice's scope."""
    make_agreed_plans(cast.practice, cast.owner, 2)
    with scope(practice=cast.practice):
        yield list(Visit.objects.filter(step="kill_fall").order_by("pk"))


def enter(cast: Cast, machine: Machine, **values: str) -> Any:
    return cast.browser(cast.planner).post(cast.url(f"machines/{machine.pk}/days/"), LENT | values)


def page(cast: Cast, machine: Machine) -> str:
    return cast.browser(cast.crew).get(cast.url(f"machines/{machine.pk}/")).content.decode()


def test_days_away_are_entered_changed_and_taken_back_with_who(cast: Cast, sprayer: Machine) -> None:
    assert enter(cast, sprayer).status_code == 302
    assert "lent to a &lt;b&gt;neighbor" in page(cast, sprayer) and "Perrin Planner" in page(cast, sprayer)
    with scope(practice=cast.practice):
        (span,) = MachineSpan.objects.all()
    url = cast.url(f"machines/days/{span.pk}/")
    assert cast.browser(cast.owner).post(url, LENT | {"reason": "in repair"}).status_code == 302
    assert "in repair" in page(cast, sprayer) and "Ottilie Owner" in page(cast, sprayer)
    assert cast.browser(cast.planner).post(f"{url}take-back/").status_code == 302
    shown = page(cast, sprayer)
    assert "All season." in shown and "Taken back" in shown and "in repair" in shown
    assert cast.browser(cast.planner).get(url).status_code == 404


@pytest.mark.parametrize(
    ("wrong", "says"),
    [
        ({"last": "2027-09-01"}, "comes before the first"),
        ({"reason": ""}, "Why is missing"),
        ({"first": "soon"}, "must be a day"),
    ],
)
def test_what_is_wrong_with_days_is_said(
    cast: Cast, sprayer: Machine, wrong: dict[str, str], says: str
) -> None:
    response = enter(cast, sprayer, **wrong)
    assert response.status_code == 422 and says in response.content.decode()


def test_days_on_which_it_can_be_had_are_for_others_machines(cast: Cast, sprayer: Machine) -> None:
    with pytest.raises(ValidationError, match="our own"), scope(practice=cast.practice):
        make_span(sprayer, kind="had")
    hired = make_machine(cast.practice, "implement", holding="rented")
    assert enter(cast, hired, kind="had", reason="").status_code == 302
    assert "Can be had" in page(cast, hired)


def book(cast: Cast, visit: Visit, on: date, **values: Any) -> Any:
    url = cast.url(f"work/{visit.pk}/book/")
    return cast.browser(cast.planner).post(url, {"on": f"{on}"} | values)


def test_a_machine_that_is_away_is_not_booked(cast: Cast, sprayer: Machine, kills: list[Visit]) -> None:
    enter(cast, sprayer)
    refused = book(cast, kills[0], ON, implement=sprayer.pk)
    assert refused.status_code == 422
    assert "Sprayer is out Sep 18 – Sep 22, 2027: lent to a &lt;b&gt;neighbor" in refused.content.decode()
    assert 'name="on" value="2027-09-20"' in refused.content.decode()
    assert book(cast, kills[0], ON + timedelta(days=3), implement=sprayer.pk).status_code == 302
    now = Visit.objects.get(pk=kills[0].pk)
    assert [one.name for one in now.machines.all()] == ["Sprayer"]
    assert now.changes.filter(what="machines").get().after == "Sprayer"


def test_a_machine_lent_for_some_days_is_not_booked_on_others(cast: Cast, kills: list[Visit]) -> None:
    hired = make_machine(cast.practice, "implement", name="Hired", holding="rented")
    enter(cast, hired, kind="had")
    assert (
        "Hired can be had Sep 18"
        in book(cast, kills[0], date(2027, 10, 1), implement=hired.pk).content.decode()
    )
    assert book(cast, kills[0], ON, implement=hired.pk).status_code == 302


def test_who_is_off_is_not_booked(cast: Cast, kills: list[Visit]) -> None:
    crew = Membership.objects.get(user=cast.crew)
    make(DayOff, {}, practice=cast.practice, member=crew, first=ON, last=ON)
    assert "Cass Crew is off" in book(cast, kills[0], ON, people=[crew.pk]).content.decode()
    assert book(cast, kills[0], ON + timedelta(days=1), people=[crew.pk]).status_code == 302


def test_nothing_and_nobody_is_out_longer_than_a_day(
    cast: Cast, sprayer: Machine, kills: list[Visit]
) -> None:
    first, second = kills
    crew = Membership.objects.get(user=cast.crew)
    going: dict[str, Any] = {"machines": [sprayer], "people": [crew], "on": ON, "user": cast.owner}
    visits.visit_book(visit=first, version=first.version, hours=LONGEST_DAY_HOURS - 1, **going)
    with pytest.raises(ValidationError) as refused:
        visits.visit_book(visit=second, version=second.version, hours=1.5, **going)
    assert set(refused.value.message_dict) == {"machines", "people"}
    visits.visit_book(visit=second, version=second.version, hours=1.0, **going)


FIT = {"first": date(2027, 9, 1), "last": date(2027, 12, 15), "working_hours": 9.0, "saturdays": True}


def fitted(cast: Cast) -> Any:
    return fitting.fitting_start(practice=cast.practice, user=cast.owner, seconds=1, **FIT)


def test_a_fitting_goes_around_the_days_away_and_says_where_they_bind(
    cast: Cast, sprayer: Machine, kills: list[Visit]
) -> None:
    opens, shuts = kills[0].window_opens, kills[0].window_shuts
    away = make_span(sprayer, first=opens, last=shuts - timedelta(days=9), reason="in repair")
    booking = fitting.booking_of(fitted(cast))
    assert booking and booking.visits
    assert all(one.first > away.last for one in booking.visits if one.machines)
    make_span(sprayer, first=opens, last=shuts + timedelta(days=90), reason="lent to a neighbor")
    found = fitted(cast)
    shown = cast.browser(cast.planner).get(cast.url(f"work/fit/{found.pk}/")).content.decode()
    assert "Sprayer is out" in shown and "lent to a neighbor" in shown


def test_what_was_lent_since_the_fitting_is_not_booked(
    cast: Cast, sprayer: Machine, kills: list[Visit]
) -> None:
    found = fitted(cast)
    make_span(sprayer, first=FIT["first"], last=FIT["last"])
    url = cast.url(f"work/fit/{found.pk}/take/")
    keys = [str(one.pk) for one in kills]
    response = cast.browser(cast.planner).post(url, {"visit": keys}, follow=True).content.decode()
    assert "0 visits booked" in response and "stays as it is. Sprayer is out" in response
    assert not Visit.objects.filter(booked_on__isnull=False).exists()
