"""Fifty practices of unlike size with 10,000 plans and 100,000 visits, made of one invented practice.

The pattern is the demo's practice, written by the same services that the pages use; its clients, with all
that hangs on them, are copied by SQL until there are enough. The same size gives the same rows.
"""

from __future__ import annotations

import time
from dataclasses import dataclass
from datetime import date

from django.core.management import call_command
from django.core.management.color import no_style
from django.db import connection, transaction
from django_scopes import scope, scopes_disabled

from consulting.models import Practice
from plans import agreements, records
from plans.demo import demo_found
from plans.models import Agreement, Plan, Proposal, ProposalCounter, Visit, WorkRecord
from tests.load.copies import copied, statements

PRACTICES, PLANS = 50, 10_000
TODAY = date(2026, 11, 25)
"""The pattern is made as of this day, so that it is the same whenever it is made."""


@dataclass(frozen=True, slots=True)
class Made:
    practices: int
    plans: int
    visits: int
    rows: int
    seconds: float


def shares(copies: int, practices: int) -> list[int]:
    """How many copies each practice gets: the first has many times as many as the last, and each has one."""
    weights = [1 / (place + 4) for place in range(practices)]
    spare = copies - practices
    cut = [1 + int(spare * weight / sum(weights)) for weight in weights]
    cut[0] += copies - sum(cut)
    return cut


def fill(practices: int = PRACTICES, plans: int = PLANS) -> Made:
    """Fill the empty database that is configured."""
    began = time.perf_counter()
    call_command("migrate", verbosity=0)
    pattern = demo_found(password="not used here", today=TODAY)  # noqa: S106  nobody logs in with it
    with scope(practice=pattern):
        each = Plan.objects.count()
    copies = max(practices, -(-plans // each))
    with scopes_disabled(), transaction.atomic():
        _copy(shares(copies, practices))
    with scopes_disabled():
        counters = {counter.practice_id: counter for counter in ProposalCounter.objects.all()}
    for practice in Practice.objects.all():
        with scope(practice=practice), transaction.atomic():
            _seal()
            counter = counters[practice.pk]
            counter.last = max(Proposal.objects.values_list("number", flat=True))
            counter.save()
    with connection.cursor() as cursor:
        cursor.execute("VACUUM ANALYZE")
    with scopes_disabled():
        rows = sum(model._base_manager.count() for model in copied())
        seconds = time.perf_counter() - began
        return Made(practices, Plan.objects.count(), Visit.objects.count(), rows, seconds)


def _copy(sizes: list[int]) -> None:
    places = [(practice, place) for practice, size in enumerate(sizes) for place in range(size)]
    with connection.cursor() as cursor:
        cursor.execute(
            "CREATE TEMPORARY TABLE copies (copy bigint, practice bigint, place bigint) ON COMMIT DROP"
        )
        cursor.executemany(
            "INSERT INTO copies VALUES (%s, %s, %s)", [(copy, *place) for copy, place in enumerate(places)]
        )
        for statement in statements():
            cursor.execute(statement.sql)
        for sql in connection.ops.sequence_reset_sql(no_style(), list(copied())):
            cursor.execute(sql)


def _seal() -> None:
    """The chains of a practice's records and agreements, over rows that were copied."""
    before, sealed = "", []
    for record in records.in_order():
        before = record.sha256 = records.sealed(before, record, record.lines.all())
        sealed.append((before, record.pk))
    before, agreed = "", []
    for agreement in agreements.in_order():
        before = agreement.sha256 = agreements.sealed(before, agreement)
        agreed.append((before, agreement.pk))
    with connection.cursor() as cursor:
        for model, rows in ((WorkRecord, sealed), (Agreement, agreed)):
            cursor.executemany(f"UPDATE {model._meta.db_table} SET sha256 = %s WHERE id = %s", rows)  # noqa: S608
