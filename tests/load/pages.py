"""Every list, board, search and export of the largest practice, beside a bare response with the same SQL.

The bare response comes from a view that stands where the page's own stands, behind the same middleware and
the same gate: it sends the page's own SQL by hand, fetches every row and answers with the page's bytes. Of a
file that goes out the standard library writes the cells, or packs the parts, as it would for anybody. Both
are asked in turn, so that what else the machine does falls on both. How often a page asks the database is
held against the smallest practice: it must be the same.
"""

from __future__ import annotations

import csv
import statistics
import time
from collections import Counter
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from datetime import timedelta
from importlib import import_module
from io import BytesIO, StringIO
from pathlib import Path
from typing import Any
from zipfile import ZIP_DEFLATED, ZipFile

from django.db import connection
from django.db.models import Count
from django.http import HttpRequest, HttpResponse, HttpResponseBase
from django.test import Client as Browser
from django.test.client import ClientHandler
from django.urls import ResolverMatch, reverse
from django_scopes import scope, scopes_disabled

from consulting.access import PracticeRequest, practice_view
from consulting.clock import today_for
from consulting.models import Client, Machine, Practice, User
from consulting.policy import Right
from plans.documents.rows import QUICK
from plans.models import Plan, State, Visit, WorkRecord
from plans.planning import tables
from sites.models import Farm, Field

TIMES, MOST_SECONDS = 41, 4.0
"""A page is asked so often, but for no longer than this, and never less than five times."""
OVER = 3.0
"""A page should take less than so many times as long as the bare response."""
Query = tuple[str, Any]


@dataclass(frozen=True, slots=True)
class Page:
    name: str
    address: str
    alone: bool = False
    """The page of one record, or one that reckons: no list, shown beside the others and held to nothing."""


@dataclass(slots=True)
class Looked:
    page: Page
    queries: list[Query]
    """Of the practice asked about."""
    size: int
    small: int = 0
    """How often the same page of the smallest practice asks the database."""
    took: list[float] = field(default_factory=list)
    bare: list[float] = field(default_factory=list)
    cpu: float = 0.0
    """Processor time of all of `took`, here and in the database’s process; `bare_cpu` that of `bare`."""
    bare_cpu: float = 0.0

    @property
    def ratio(self) -> float:
        """Of the 95th percentiles."""
        return p95(self.took) / p95(self.bare)

    @property
    def in_cpu(self) -> float:
        """The same of processor time, which other work on the machine hardly moves."""
        return self.cpu / self.bare_cpu


def p95(took: list[float]) -> float:
    return sorted(took)[min(len(took) - 1, int(len(took) * 0.95))]


def pages_of(practice: Practice) -> list[Page]:
    """The lists, boards, searches and exports of a practice, and one page of each kind of record."""
    with scope(practice=practice):
        client = Client.objects.annotate(many=Count("farms")).order_by("-many", "pk")[0]
        farm = Farm.objects.annotate(many=Count("fields")).order_by("-many", "pk")[0]
        plan = Plan.objects.filter(state=State.UNDER_WAY).order_by("pk")[0]
        draft = Plan.objects.filter(state=State.DRAFT).order_by("pk")[0]
        ground = Field.objects.filter(farm=plan.farm_id)[0]
        visit = Visit.objects.filter(plan=plan, state="open").order_by("pk")[0]
        record = WorkRecord.objects.order_by("pk")[0]
        machine = Machine.objects.order_by("pk")[0]
        day = today_for(practice) + timedelta(days=3)
    spraying = next(iter(tables.operations()))

    def to(name: str, *args: Any) -> str:
        return reverse(name, args=[practice.slug, *args])

    return [
        Page("first page", to("overview"), alone=True),
        Page("clients", to("clients")),
        Page("clients, last page", to("clients") + "?page=last"),
        Page("clients, search", to("clients") + "?q=la"),
        Page("client", to("client", client.pk), alone=True),
        Page("farm", to("farm", farm.pk), alone=True),
        Page("field", to("field", ground.pk), alone=True),
        Page("plans", to("plans")),
        Page("plans, under way", to("plans") + "?state=under+way&page=2"),
        Page("new plan, search for a farm", to("plan_choose_farm") + "?q=farm"),
        Page("season board", to("work")),
        Page("season board, late", to("work") + "?stands=late"),
        Page("season board by farm", to("work") + "?by=farm"),
        Page("season board on a map", to("work") + "?by=map"),
        Page("season board, of a work", to("work") + f"?work={spraying}"),
        Page("day", to("work_day", day.isoformat())),
        Page("lost week", to("work_lost")),
        Page("visit", to("visit", visit.pk), alone=True),
        Page("pages kept on a phone", to("work_kept")),
        Page("fit the season", to("fit")),
        Page("calendars", to("calendars")),
        Page("records", to("records")),
        Page("records, of a season", to("records") + f"?season={record.on.year}&page=2"),
        Page("records, CSV", to("records_csv")),
        Page("records of a client, XLSX", to("records_xlsx") + f"?client={client.pk}"),
        Page("record", to("record", record.pk), alone=True),
        Page("records checked", to("records_check"), alone=True),
        Page("shed", to("shed")),
        Page("buy list", to("buy")),
        Page("buy list, CSV", to("buy_csv")),
        Page("buy list, XLSX", to("buy_xlsx")),
        Page("machines", to("machines")),
        Page("machine", to("machine", machine.pk), alone=True),
        Page("mixes", to("mixes")),
        Page("price list", to("prices")),
        Page("own rates", to("own_rates"), alone=True),
        Page("letters", to("letters")),
        Page("letters, sent", to("letters") + "?stands=sent"),
        Page("proposals of a plan", to("proposals", plan.pk), alone=True),
        Page("letters of a plan", to("plan_letters", plan.pk), alone=True),
        Page("money of a plan", to("plan_money", plan.pk), alone=True),
        Page("client's side of a plan", to("client_side", plan.pk), alone=True),
        Page("plan, draft", to("plan", draft.pk), alone=True),
        Page("plan, under way", to("plan", plan.pk), alone=True),
        Page("people", to("people")),
        Page("who changed what", to("changes")),
        Page("changes of a client", to("record_changes", "client", client.pk)),
        Page("lists in and out", to("lists")),
        *(
            Page(f"list out: {kind}, {form.upper()}", to("list_out", kind, form))
            for kind in ("clients", "farms", "fields", "seed", "mixes", "stock", "visits")
            for form in ("csv", "xlsx")
        ),
    ]


@contextmanager
def queries() -> Iterator[list[Query]]:
    """(SQL, parameters) as they go to the database."""
    found: list[Query] = []

    def note(execute: Callable[..., Any], sql: str, params: Any, many: bool, context: Any) -> Any:
        found.append((sql, params))
        return execute(sql, params, many, context)

    with connection.execute_wrapper(note):
        yield found


class BareHandler(ClientHandler):
    """The site, with one view at every address.

    A URLconf overridden for it would empty Django’s memory of addresses, and the page asked next would fill
    it again and be timed with that.
    """

    def __init__(self, view: Callable[..., HttpResponseBase], slug: str) -> None:
        super().__init__()
        self.view, self.slug = view, slug

    def resolve_request(self, request: HttpRequest) -> ResolverMatch:
        match = ResolverMatch(self.view, (), {"practice": self.slug})
        request.resolver_match = match
        return match


def writer_of(body: bytes) -> Callable[[], bytes]:
    """Gives the bytes once more: a page as they lie there, a file written by the standard library alone."""
    if body.startswith(b"\xef\xbb\xbf"):
        cells = list(csv.reader(StringIO(body.decode("utf-8-sig"))))

        def as_csv() -> bytes:
            out = StringIO()
            csv.writer(out).writerows(cells)
            return out.getvalue().encode()

        return as_csv
    if body.startswith(b"PK"):
        with ZipFile(BytesIO(body)) as packed:
            parts = [(name, packed.read(name)) for name in packed.namelist()]

        def as_xlsx() -> bytes:
            out = BytesIO()
            with ZipFile(out, "w", ZIP_DEFLATED, compresslevel=QUICK) as packed:
                for name, part in parts:
                    packed.writestr(name, part)
            return out.getvalue()

        return as_xlsx
    return lambda: body


def bare_browser(practice: Practice, body: bytes, asked: list[Query]) -> Browser:
    """The owner’s, answered by a view that sends what the page asks by hand, and by the same bytes.

    What middleware and gate ask themselves is not asked twice.
    """
    own: list[Query] = []

    @practice_view(Right.RUN_PRACTICE)
    def view(request: PracticeRequest) -> HttpResponse:
        with connection.cursor() as cursor:
            for sql, params in own:
                cursor.execute(sql, params)
                if cursor.description:
                    cursor.fetchall()
        return HttpResponse(written())

    written = writer_of(body)
    browser = owner_of(practice)
    browser.handler = BareHandler(view, practice.slug)
    body_of(browser.get("/"))
    with queries() as of_the_gate:
        body_of(browser.get("/"))
    before = Counter(sql for sql, _ in of_the_gate)
    for query in asked:
        if before[query[0]]:
            before[query[0]] -= 1
        elif query[0].lstrip().upper().startswith(("SELECT", "WITH")):
            own.append(query)
    return browser


def owner_of(practice: Practice) -> Browser:
    browser = Browser()
    with scopes_disabled():
        browser.force_login(User.objects.get(memberships__practice=practice, memberships__role="owner"))
    return browser


def body_of(answer: Any) -> bytes:
    return b"".join(answer.streaming_content) if answer.streaming else answer.content


def asked(browser: Browser, page: Page) -> tuple[list[Query], bytes]:
    """What a page asks of the database, once it is warm, and its bytes."""
    body_of(browser.get(page.address))
    with queries() as found:
        answer = browser.get(page.address)
        body = body_of(answer)
    if answer.status_code != 200:
        raise AssertionError(f"{page.name}: {page.address} answers {answer.status_code}")
    return found, body


def cpu() -> float:
    """Seconds of processor time of this process and of the one that answers it in the database."""
    pid = connection.connection.info.backend_pid
    return time.process_time() + int(Path(f"/proc/{pid}/schedstat").read_text().split()[0]) / 1e9


def look(browser: Browser, practice: Practice, page: Page) -> Looked:
    found, body = asked(browser, page)
    looked = Looked(page, found, len(body))
    bare = bare_browser(practice, body, found)

    def timed(browser: Browser, address: str) -> tuple[float, float]:
        began, used = time.perf_counter(), cpu()
        body_of(browser.get(address))
        return time.perf_counter() - began, cpu() - used

    began = time.perf_counter()
    while len(looked.took) < TIMES and (len(looked.took) < 5 or time.perf_counter() - began < MOST_SECONDS):
        took, used = timed(browser, page.address)
        looked.took.append(took)
        looked.cpu += used
        took, used = timed(bare, "/")
        looked.bare.append(took)
        looked.bare_cpu += used
    return looked


def largest_and_smallest() -> tuple[Practice, Practice]:
    with scopes_disabled():
        counted = (
            Plan.objects.order_by()
            .values_list("practice")
            .annotate(many=Count("pk"))
            .order_by("many", "practice")
        )
        ordered = [practice for practice, _ in counted]
    return Practice.objects.get(pk=ordered[-1]), Practice.objects.get(pk=ordered[0])


def look_at_all() -> list[Looked]:
    """As a process of the site looks at them."""
    import_module("consulting.wsgi")
    large, small = largest_and_smallest()
    browser, other = owner_of(large), owner_of(small)
    looks = []
    for page, same in zip(pages_of(large), pages_of(small), strict=True):
        looked = look(browser, large, page)
        looked.small = len(asked(other, same)[0])
        looks.append(looked)
    return looks


def said(looks: list[Looked]) -> list[str]:
    """A line a page, then how many of the lists are within what they are held to."""
    lines = [
        f"{'':<34}{'queries':>8}{'kB':>7}{'median':>10}{'95 %':>10}{'bare 95 %':>11}{'ratio':>7}{'in CPU':>8}"
    ]
    for one in looks:
        queries = (
            f"{len(one.queries)}" if len(one.queries) == one.small else f"{one.small}/{len(one.queries)}"
        )
        lines.append(
            f"{one.page.name:<34}{queries:>8}{one.size / 1000:>7.0f}"
            f"{statistics.median(one.took) * 1e3:>7.1f} ms{p95(one.took) * 1e3:>7.1f} ms"
            f"{p95(one.bare) * 1e3:>8.1f} ms{one.ratio:>7.1f}{one.in_cpu:>8.1f}"
            f"{'' if one.page.alone or one.ratio < OVER else '   over'}"
        )
    lists = [one for one in looks if not one.page.alone]
    within = [one for one in lists if one.ratio < OVER]
    more = [one.page.name for one in looks if len(one.queries) != one.small]
    lines.append(
        f"{len(within)} of {len(lists)} lists, boards, searches and exports under {OVER:g} times the bare"
    )
    lines.append(f"queries otherwise than in the smallest practice: {', '.join(more) or 'none'}")
    return lines
