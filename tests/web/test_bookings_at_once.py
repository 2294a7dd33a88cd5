"""Planners put the hours of a machine's day on it at once: one of them gets it. SQLite has one writer."""

from __future__ import annotations

from concurrent.futures import ThreadPoolExecutor
from datetime import date
from threading import Barrier

import pytest
from django.core.exceptions import ValidationError
from django.db import connection, connections
from django_scopes import scope

from consulting.models import Machine
from plans import visits
from plans.models import Visit
from plans.taken import LONGEST_DAY_HOURS
from tests.conftest import member
from tests.factories import make_machine, make_practice
from tests.plan_factories import make_agreed_plans

ON = date(2027, 9, 20)
TAKERS = 4


@pytest.mark.skipif(connection.vendor != "postgresql", reason="SQLite lets one write at a time")
@pytest.mark.django_db(transaction=True)
def test_of_those_who_take_a_day_at_once_one_gets_it() -> None:
    practice = make_practice("Kestrel Cover Company", slug="kestrel")
    user = member(practice, "owner", "Ottilie Owner").user
    make_agreed_plans(practice, user, TAKERS)
    sprayer = make_machine(practice, "implement", operations=["boom_spraying"])
    with scope(practice=practice):
        kills = list(Visit.objects.filter(step="kill_fall").order_by("pk"))
    assert len(kills) == TAKERS
    together = Barrier(TAKERS)

    def take(visit: Visit) -> bool:
        together.wait()
        try:
            with scope(practice=practice):
                machines = Machine.objects.filter(pk=sprayer.pk)
                visits.visit_book(
                    visit=visit, version=1, user=user, on=ON, machines=machines, hours=LONGEST_DAY_HOURS
                )
        except ValidationError:
            return False
        finally:
            connections.close_all()
        return True

    with ThreadPoolExecutor(TAKERS) as pool:
        took = list(pool.map(take, kills))
    with scope(practice=practice):
        out = Visit.objects.filter(booked_on=ON, machines=sprayer.pk)
        assert took.count(True) == out.count() == 1
