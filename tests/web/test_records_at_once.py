"""Several people recording at once: nobody waits for ever, and the chain stays one. SQLite has one writer."""

from __future__ import annotations

from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from datetime import date
from decimal import Decimal
from typing import Any
from uuid import uuid4

import pytest
from django.core.exceptions import ValidationError
from django.db import connection, connections, transaction
from django.db.models import Sum
from django_scopes import scope

from consulting.followed import ChangedMeanwhile
from plans import records, shed, visits
from plans.lots_drawn import Draw
from plans.models import StockLot, StockMove, Visit, WorkRecord
from plans.services import Refused
from tests.conftest import member
from tests.factories import make, make_practice
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
        except (ChangedMeanwhile, Refused):
            pass  # told that another was first
        finally:
            connections.close_all()

    acts = [correct, *[lambda visit=visit: do(visit) for visit in open_visits]] * 3
    with ThreadPoolExecutor(len(acts)) as pool:
        list(pool.map(at_once, acts))
    with scope(practice=practice):
        assert records.chain().broken_at is None
        assert WorkRecord.objects.filter(corrects=first).count() == 1


@pytest.mark.skipif(connection.vendor != "postgresql", reason="SQLite lets one write at a time")
@pytest.mark.django_db(transaction=True)
def test_a_lot_is_drawn_by_many_and_never_twice() -> None:
    practice = make_practice("Kestrel Cover Company", slug="kestrel")
    user = member(practice, "owner", "Ottilie Owner").user
    plan = make_agreed(make_ready_plan(practice), user)
    shelf = {"name": "glyphosate, 3 lb/gal", "kind": "product", "unit": "gal"}
    lots = [make(StockLot, shelf, practice=practice, lot=name, on_hand=Decimal(20)) for name in ("A", "B")]
    with scope(practice=practice):
        open_visits = list(Visit.objects.filter(plan=plan).order_by("order")[:4])
    refused: list[str] = []

    def do(visit: Visit, flip: bool) -> None:
        now = Visit.objects.get(pk=visit.pk)
        lines = [line(order, amount=7.5 - 3.5 * order, planned_amount=None) for order in (0, 1)]
        draws = [Draw(order=order, lot=lot.pk) for order, lot in enumerate(lots[::-1] if flip else lots)]
        asked = {"on": ON, "acres": now.acres, "today": ON, "record": SPRAYED, "lines": lines}
        visits.visit_do(visit=now, version=now.version, user=user, draws=draws, **asked)

    def by_hand(visit: Visit) -> None:
        lot = StockLot.objects.get(pk=lots[0].pk)
        shed.stock_out(lot=lot, version=lot.version, user=user, amount=Decimal(1), visit=visit, on=ON)

    def at_once(act: Callable[[], None]) -> None:
        try:
            with scope(practice=practice):
                act()
        except (ChangedMeanwhile, Refused, ValidationError) as said:
            refused.append(str(said))
        finally:
            connections.close_all()

    acts: list[Callable[[], None]] = []
    for place, visit in enumerate(open_visits):
        acts += [lambda v=visit, f=flip: do(v, f) for flip in (bool(place % 2), not place % 2)]  # type: ignore[misc]
        acts += [lambda v=visit: by_hand(v)] * 3  # type: ignore[misc]
    with ThreadPoolExecutor(len(acts)) as pool:
        list(pool.map(at_once, acts))
    with scope(practice=practice):
        for lot in lots:
            moved = StockMove.objects.filter(lot=lot).aggregate(sum=Sum("amount"))["sum"] or 0
            now = StockLot.objects.get(pk=lot.pk)
            assert now.on_hand == 20 + moved >= 0
        done = WorkRecord.objects.count()
        used = -sum(StockMove.objects.filter(record__isnull=False).values_list("amount", flat=True))
        assert 1 <= done <= 4 and Decimal("7.5") * done <= used <= Decimal("11.5") * done
        assert any("the shed says" in said or "any more" in said for said in refused)


@pytest.mark.skipif(connection.vendor != "postgresql", reason="SQLite lets one write at a time")
@pytest.mark.django_db(transaction=True)
def test_what_somebody_counts_meanwhile_is_what_is_drawn_from() -> None:
    practice = make_practice("Kestrel Cover Company", slug="kestrel")
    user = member(practice, "owner", "Ottilie Owner").user
    plan = make_agreed(make_ready_plan(practice), user)
    shelf = {"name": "glyphosate, 3 lb/gal", "kind": "product", "unit": "gal"}
    lot = make(StockLot, shelf, practice=practice, on_hand=Decimal(20))

    def do() -> str:
        try:
            with scope(practice=practice):
                visit = Visit.objects.filter(plan=plan).order_by("order")[0]
                asked = {"on": ON, "acres": visit.acres, "today": ON, "record": SPRAYED, "lines": [line()]}
                draws = [Draw(order=0, lot=lot.pk)]
                visits.visit_do(visit=visit, version=visit.version, user=user, draws=draws, **asked)
        except ValidationError as wrong:
            return str(wrong)
        finally:
            connections.close_all()
        return ""

    def somebody_waits() -> bool:
        with connection.cursor() as cursor:
            cursor.execute("SELECT 1 FROM pg_locks WHERE NOT granted")
            return bool(cursor.fetchall())

    with ThreadPoolExecutor(1) as pool, scope(practice=practice):
        with transaction.atomic():
            held = StockLot.objects.select_for_update().get(pk=lot.pk)
            done = pool.submit(do)
            while not (somebody_waits() or done.done()):
                pass
            shed.stock_count(lot=held, version=held.version, user=user, amount=Decimal(1), on=ON)
        assert "the shed says 1 gal" in done.result()
        assert StockLot.objects.get(pk=lot.pk).on_hand == 1
