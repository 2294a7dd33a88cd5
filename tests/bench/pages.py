"""Pages with few and with many plans, visits or fields, beside a bare response with the same SQL."""

from __future__ import annotations

import math
from collections.abc import Callable
from contextlib import contextmanager
from copy import copy
from types import ModuleType
from typing import Any

from django.core.management import call_command
from django.db import connection
from django.http import HttpRequest, HttpResponse
from django.test import Client
from django.test.utils import override_settings
from django.urls import path
from django.utils import timezone
from django_scopes import scope

from consulting.models import Practice, User
from plans.demo import demo_found
from plans.models import Conversion, Plan, Visit
from sites.models import Farm, Field
from tests.bench.timing import floor, measured, median, said, verdict
from tests.factories import make_client, make_farm

FEW, MANY = 10, 2000
MANY_FIELDS = 200
CORNERS = 60
Query = tuple[str, Any]


@contextmanager
def queries():
    """Collects (SQL, parameters) as they go to the database."""
    found: list[Query] = []

    def note(execute: Callable[..., Any], sql: str, params: Any, many: bool, context: Any) -> Any:
        found.append((sql, params))
        return execute(sql, params, many, context)

    with connection.execute_wrapper(note):
        yield found


def fill(practice: Practice, upto: int) -> None:
    """Copies of the practice's largest draft until it has `upto` plans."""
    with scope(practice=practice):
        drafts = Plan.objects.filter(state="draft").prefetch_related("conversions")
        model = max(drafts, key=lambda plan: plan.conversions.count())
        conversions = list(model.conversions.all())
        for number in range(Plan.objects.count(), upto):
            made = Plan.objects.get(pk=model.pk)
            made.pk, made.title = None, f"{model.title} {number}"
            made.save(force_insert=True)
            for conversion in conversions:
                conversion.pk, conversion.plan = None, made
            Conversion.objects.bulk_create(conversions)


def fill_visits(practice: Practice, upto: int) -> None:
    """Copies of one visit until there are `upto` open ones."""
    with scope(practice=practice):
        pattern = Visit.objects.filter(state="open")[0]
        copies = []
        for number in range(Visit.objects.filter(state="open").count(), upto):
            copied = copy(pattern)
            copied.pk, copied.step = None, f"copy-{number}"
            copies.append(copied)
        Visit.objects.bulk_create(copies)


def fill_fields(farm: Farm, upto: int) -> None:
    """Fields of some 10 acres side by side until the farm has `upto`, each with an outline of 60 corners."""
    turns = [2 * math.pi * at / CORNERS for at in range(CORNERS)]
    made = []
    for number in range(farm.fields.count(), upto):
        east, north = -92.3 + 0.003 * (number % 20), 38.9 + 0.0025 * (number // 20)
        reach = [0.001 + 0.0001 * math.sin(7 * turn) for turn in turns]
        ring = [
            [east + far * math.cos(turn), north + far * math.sin(turn)]
            for far, turn in zip(reach, turns, strict=True)
        ]
        outline = {"type": "MultiPolygon", "coordinates": [[[*ring, ring[0]]]]}
        known = {"practice_id": farm.practice_id, "farm": farm, "cover": "crop stubble"}
        made.append(Field(name=f"Field {number}", acres=9.5, outline=outline, **known))
    Field.objects.bulk_create(made)


def bare_site(body: bytes, found: list[Query]) -> ModuleType:
    """A site of one view: it sends the same SQL by hand, fetches all rows and answers with the same bytes."""

    def view(request: HttpRequest) -> HttpResponse:
        with connection.cursor() as cursor:
            for sql, params in found:
                cursor.execute(sql, params)
                if cursor.description:
                    cursor.fetchall()
        return HttpResponse(body)

    site = ModuleType("bare_site")
    site.urlpatterns = [path("", view)]
    return site


def look(browser: Client, address: str) -> tuple[float, float, int, int]:
    """Median seconds of a page, of its floor, its queries and its bytes."""
    browser.get(address)
    with queries() as found:
        answer = browser.get(address)
    assert answer.status_code == 200, f"{address} answers {answer.status_code}"
    page = median(lambda: browser.get(address), 15)
    reads = [(sql, params) for sql, params in found if sql.lstrip().upper().startswith("SELECT")]
    with override_settings(ROOT_URLCONF=bare_site(answer.content, reads), MIDDLEWARE=[]):
        bare = Client()
        below = median(lambda: bare.get("/"), 15)
    return page, below, len(found), len(answer.content)


def run() -> None:
    call_command("migrate", verbosity=0)
    call_command("createcachetable", verbosity=0)
    practice = demo_found(password="not used here", today=timezone.localdate())
    browser = Client()
    browser.force_login(User.objects.get(memberships__practice=practice, memberships__role="owner"))
    with scope(practice=practice):
        subject = max(Plan.objects.filter(state="draft"), key=lambda plan: plan.conversions.count()).pk
    counts: dict[str, list[int]] = {}
    for upto in (FEW, MANY):
        fill(practice, upto)
        fill_visits(practice, upto)
        for what, address in (
            ("Plan page", f"/{practice.slug}/plans/{subject}/"),
            ("List of plans", f"/{practice.slug}/plans/"),
            ("Season board", f"/{practice.slug}/work/"),
        ):
            page, below, count, size = look(browser, address)
            counts.setdefault(what, []).append(count)
            measured(f"{what} at {upto:,} plans and visits: {count} queries, {size / 1000:.0f} kB", page)
            floor("a bare response of those bytes, same SQL by hand", below, page)
    farm = make_farm(make_client(practice))
    for upto in (FEW, MANY_FIELDS):
        with scope(practice=practice):
            fill_fields(farm, upto)
        page, below, count, size = look(browser, f"/{practice.slug}/farms/{farm.pk}/")
        counts.setdefault("Farm page", []).append(count)
        measured(f"Farm page at {upto} outlined fields: {count} queries, {size / 1000:.0f} kB", page)
        floor("a bare response of those bytes, same SQL by hand", below, page)
    for what, (few, many) in counts.items():
        said(f"{what}: {few} queries with few rows, {many} with many; target: equal: {verdict(few == many)}")
