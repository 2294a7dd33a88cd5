"""Fitting the season: a first booking at once, better ones after it, taken up whole or in part."""

from __future__ import annotations

from datetime import date, timedelta
from decimal import Decimal
from typing import Any

import pytest
from django.core.management import CommandError, call_command
from django.test import TestCase
from django_scopes import scope

from consulting.machines import Machine, MachineSpan
from consulting.models import Membership
from plans import fitting, visits
from plans.models import DayOff, Fitting, Plan, Visit
from tests.conftest import Cast
from tests.factories import make
from tests.plan_factories import make_agreed_plans

FIRST, LAST = date(2027, 9, 1), date(2027, 12, 15)
ASKED = {"first": f"{FIRST}", "last": f"{LAST}", "working_hours": "9", "saturdays": "on", "seconds": "2"}


@pytest.fixture
def two_farms(cast: Cast) -> Any:
    """Two agreed plans with a fall kill each, one sprayer and one tractor; in the practice's scope."""
    make_agreed_plans(cast.practice, cast.owner, 2)
    make(Machine, {}, practice=cast.practice, kind="tractor", name="Tractor")
    make(Machine, {}, practice=cast.practice, kind="implement", name="Sprayer", operations=["boom_spraying"])
    with scope(practice=cast.practice):
        yield list(Plan.objects.all())


def ask(cast: Cast, monkeypatch: Any, **changed: str) -> Fitting:
    launched: list[Fitting] = []
    monkeypatch.setattr("plans.fitting.launch", launched.append)
    with TestCase.captureOnCommitCallbacks(execute=True):
        response = cast.browser(cast.planner).post(cast.url("work/fit/"), ASKED | changed)
    assert response.status_code == 302
    (made,) = launched
    return made


def kills() -> list[Visit]:
    return list(Visit.objects.filter(step="kill_fall").order_by("pk"))


def test_a_first_booking_is_there_at_once_and_books_nothing(
    two_farms: list[Plan], cast: Cast, monkeypatch: Any
) -> None:
    made = ask(cast, monkeypatch)
    page = cast.browser(cast.planner).get(cast.url(f"work/fit/{made.pk}/")).content.decode()
    assert "Waiting to begin" in page and page.count("First kill") == 2
    assert "Sprayer" in page and "in time" in page
    assert not Visit.objects.filter(booked_on__isnull=False).exists()


def test_no_machine_or_person_stands_in_two_places(
    two_farms: list[Plan], cast: Cast, monkeypatch: Any
) -> None:
    made = ask(cast, monkeypatch, last=f"{FIRST + timedelta(days=60)}")
    with_days = fitting.booking_of(fitting.run(made, workers=1))
    assert with_days and made.state == Fitting.State.DONE
    hours: dict[tuple[str, date], float] = {}
    for one in with_days.visits:
        for part in one.days:
            for key in (*one.machines, *(f"person {key}" for key in one.people)):
                hours[key, part.on] = hours.get((key, part.on), 0) + part.hours
    assert hours and max(hours.values()) <= 9


def test_the_search_keeps_its_best_and_says_what_is_proven(
    two_farms: list[Plan], cast: Cast, monkeypatch: Any
) -> None:
    made = fitting.run(ask(cast, monkeypatch), workers=1)
    assert made.state == Fitting.State.DONE and len(made.steps) >= 2
    page = cast.browser(cast.planner).get(cast.url(f"work/fit/{made.pk}/")).content.decode()
    assert "proven" in page.lower() and "every 2s" not in page


def test_all_or_some_of_it_is_taken_up_and_what_changed_since_is_left(
    two_farms: list[Plan], cast: Cast, monkeypatch: Any
) -> None:
    made = ask(cast, monkeypatch)
    first, second = kills()
    visits.visit_book(visit=second, version=1, user=cast.owner, on=FIRST)
    url = cast.url(f"work/fit/{made.pk}/take/")
    cast.browser(cast.planner).post(url, {"visit": [str(first.pk), str(second.pk), "999999", "x"]})
    booking = fitting.booking_of(made)
    assert booking
    fitted = next(one for one in booking.visits if one.visit == str(first.pk))
    first, second = kills()
    assert first.booked_on == fitted.first and first.people.count() == len(fitted.people)
    assert second.booked_on == FIRST, "somebody booked it in between"
    assert "season fitted" in first.changes.filter(what="booked").get().reason


def test_taken_up_twice_it_is_booked_once_and_halfway_not_at_all(
    two_farms: list[Plan], cast: Cast, monkeypatch: Any
) -> None:
    made = ask(cast, monkeypatch)
    url, chosen = cast.url(f"work/fit/{made.pk}/take/"), {"visit": [str(visit.pk) for visit in kills()]}
    browser, book = cast.browser(cast.planner), fitting.visit_book

    def dies_at_the_second(**asked: Any) -> Visit:
        if asked["visit"].pk == kills()[1].pk:
            raise RuntimeError("gone")
        return book(**asked)

    monkeypatch.setattr(fitting, "visit_book", dies_at_the_second)
    with pytest.raises(RuntimeError):
        browser.post(url, chosen)
    assert not Visit.objects.filter(booked_on__isnull=False).exists()
    monkeypatch.setattr(fitting, "visit_book", book)
    for _ in range(2):
        assert "2 visits booked." in browser.post(url, chosen, follow=True).content.decode()
    assert [visit.changes.filter(what="booked").count() for visit in kills()] == [1, 1]


def test_who_is_off_is_sent_nowhere(two_farms: list[Plan], cast: Cast, monkeypatch: Any) -> None:
    for member in Membership.objects.all():
        make(DayOff, {}, practice=cast.practice, member=member, first=FIRST, last=LAST)
    booking = fitting.booking_of(ask(cast, monkeypatch))
    assert booking and not booking.visits and len(booking.unfitted) == 2
    assert booking.explanations and all(one.words and one.way_out for one in booking.explanations)


def test_a_search_is_stopped_and_keeps_what_it_has(
    two_farms: list[Plan], cast: Cast, monkeypatch: Any
) -> None:
    made = ask(cast, monkeypatch, seconds="600")
    cast.browser(cast.planner).post(cast.url(f"work/fit/{made.pk}/stop/"))
    made.refresh_from_db()
    assert fitting.run(made, workers=1).state == Fitting.State.DONE and made.booking


@pytest.mark.parametrize(
    ("wrong", "says"),
    [
        ({"last": f"{FIRST}"}, "must come after the first"),
        ({"seconds": "0"}, "must be 1 or more"),
        ({"first": "2040-01-01", "last": "2040-02-01"}, "No open visit"),
    ],
)
def test_what_cannot_be_fitted_is_said(cast: Cast, wrong: dict[str, str], says: str) -> None:
    response = cast.browser(cast.planner).post(cast.url("work/fit/"), ASKED | wrong)
    assert response.status_code == 422 and says in response.content.decode()
    assert f'value="{(ASKED | wrong)["last"]}"' in response.content.decode()


def test_days_off_come_in_order(cast: Cast) -> None:
    with scope(practice=cast.practice):
        member = str(Membership.objects.get(user=cast.crew).pk)
    browser, url = cast.browser(cast.planner), cast.url("work/fit/days-off/")
    off = {"member": member, "first": "2027-09-10", "last": "2027-09-01"}
    assert "comes before the first" in browser.post(url, off).content.decode()
    assert browser.post(url, off | {"last": "2027-09-12"}).status_code == 302
    assert "September 12, 2027" in browser.get(cast.url("work/fit/")).content.decode()


@pytest.mark.django_db
def test_the_command_names_a_fitting_that_is_not_there() -> None:
    with pytest.raises(CommandError, match="fitting: 7 is not there"):
        call_command("fit_season", "7")


def test_one_more_machine_is_priced_by_what_a_rented_one_asks(
    two_farms: list[Plan], cast: Cast, monkeypatch: Any
) -> None:
    sprayer = Machine.objects.get(name="Sprayer")
    rented = {"holding": "rented", "rent_usd_per_day": Decimal("120.00"), "delivery_usd": Decimal("45.00")}
    Machine.objects.filter(pk=sprayer.pk).update(**rented)
    away = {"kind": "away", "first": FIRST, "last": LAST, "reason": "lent out", "by_name": "Ottilie Owner"}
    make(MachineSpan, away, practice=cast.practice, machine=sprayer)
    page = cast.browser(cast.planner).get(cast.url(f"work/fit/{ask(cast, monkeypatch).pk}/"))
    text = " ".join(page.content.decode().split())
    assert "Sprayer is out" in text
    assert "none can be had from September 11, 2027 to November 1, 2027. Sprayer is out" in text
    assert "free it: one more machine for boom spraying for 1 day, about $165.00." in text
