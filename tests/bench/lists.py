"""Lists of 5,000 rows brought in: looked at, and taken; and the same taken over with every row changed."""

from __future__ import annotations

import time
from collections.abc import Callable

from django_scopes import scope, scopes_disabled

from consulting.models import Practice, User
from plans.documents.rows import Column, as_csv, as_workbook
from plans.in_out import taking
from plans.in_out.kinds import KINDS
from tests.bench.timing import measured, verdict

ROWS, TARGET = 5000, 10.0
Values = dict[str, str | float]


def clients(at: int, turn: int) -> Values:
    return {"Name": f"Client {at}", "Phone": f"555 01{turn}{at % 100:02}"}


def farms(at: int, turn: int) -> Values:
    place = {"Latitude, °": 38 + at % 70 / 100, "Longitude, °": -95 - at % 90 / 100}
    return {"Client": f"Client {at % 500}", "Farm": f"Farm {at}", "Directions": f"Gate {turn}"} | place


def fields(at: int, turn: int) -> Values:
    named = {"Client": f"Client {at % 500}", "Farm": f"Farm {at}", "Field": "North"}
    return named | {"Acres": 10 + turn + at % 50, "What grows there": "cool-season sod"}


def seed(at: int, turn: int) -> Values:
    lot = {"Species": "big bluestem", "Lot": f"L-{at}", "Supplier": "Invented Seed", "Germination, %": 80}
    return lot | {"Price, $ per lb": 12 + turn + at % 9, "Price is": "bulk", "Purity, %": 95}


KINDS_ASKED: dict[str, Callable[[int, int], Values]] = {
    "clients": clients,
    "farms": farms,
    "fields": fields,
    "seed": seed,
}


def run() -> None:
    practice = Practice.objects.get(slug="kestrel-cover")
    with scopes_disabled():
        user = User.objects.get(memberships__practice=practice, memberships__role="owner")
    with scope(practice=practice):
        for kind, row in KINDS_ASKED.items():
            for turn, said in enumerate(("new rows, CSV", "every row changed, XLSX")):
                rows = [row(at, turn) for at in range(ROWS)]
                bring(practice, user, kind, rows, f"{ROWS:,} {kind}, {said}", as_book=bool(turn))


def bring(practice: Practice, user: User, kind: str, rows: list[Values], what: str, as_book: bool) -> None:
    columns = [Column(title) for title in rows[0]]
    if as_book:
        today = user.date_joined.date()
        data, name = as_workbook(columns, rows, title=kind, about=(), on=today, name=kind), f"{kind}.xlsx"
    else:
        data, name = as_csv(columns, rows).encode(), f"{kind}.csv"
    began = time.perf_counter()
    upload = taking.upload_keep(practice=practice, kind=KINDS[kind], by=user, name=name, data=data)
    *_, looked = taking.look(upload, taking.sheet_of(upload))
    took = time.perf_counter() - began
    assert looked.may_take, (looked.some("wrong")[:1], upload.matched)
    measured(f"{what}: looked at", took, f"target {TARGET:g} s: {verdict(took < TARGET)}")
    began = time.perf_counter()
    counts = taking.upload_take(upload=upload, seen=looked.stamp, user=user)
    took = time.perf_counter() - began
    assert counts["new"] + counts["changed"] == ROWS
    measured(f"{what}: taken", took, f"target {TARGET:g} s: {verdict(took < TARGET)}")
