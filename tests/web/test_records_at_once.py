"""Several people recording at once: nobody waits for ever, and the chain stays one. SQLite has one writer."""

from __future__ import annotations

from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from datetime import date
from typing import Any
from uuid import uuid4

import pytest
from django.db import connection, connections
from django_scopes import scope

from plans import records, visits
from plans.models import Visit, WorkRecord
from plans.services import Refused
from tests.conftest import member
from tests.factories import make_practice
from tests.plan_factories import SPRAYED, line, make_agreed, make_ready_plan

ON = date(2027, 9, 20)
RECORD: dict[str, Any] = {"values": SPRAYED | {"on": ON, "acres": 1.0}, "lines": [line()]}


@pytest.mark.skipif(connection.vendor != "postgresql", reason="SQLite lets one write at a time")
@pytest.mark.django_db(transaction=True)
def test_the_chain_stays_one() -> None:
    practice = make_practice("Kestrel Cover Company", slug="kestrel")
    user = member(practice, "owner", "Ottilie Owner").user
    plan = make_agreed(make_ready_plan(practice), user)
    with scope(practice=practice):
        open_visits = list(Visit.objects.filter(plan=plan).order_by("order")[:4])
        first = records.record_write(visit=open_visits[0], user=user, uid=uuid4(), **RECORD)

    def correct() -> None:
        records.record_correct(record=first, user=user, uid=uuid4(), because="misread", **RECORD)

    def do(visit: Visit) -> None:
        now = Visit.objects.get(pk=visit.pk)
        asked = {"on": ON, "acres": now.acres, "today": ON, "record": SPRAYED, "lines": [line()]}
        visits.visit_do(visit=now, version=now.version, user=user, **asked)

    def at_once(act: Callable[[], None]) -> None:
        try:
            with scope(practice=practice):
                act()
        except Refused:
            pass  # told that another was first
        finally:
            connections.close_all()

    acts = [correct, *[lambda visit=visit: do(visit) for visit in open_visits]] * 3
    with ThreadPoolExecutor(len(acts)) as pool:
        list(pool.map(at_once, acts))
    with scope(practice=practice):
        assert records.chain().broken_at is None
        assert WorkRecord.objects.filter(corrects=first).count() == 1
