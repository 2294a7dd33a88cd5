"""What must hold of every answer, whatever was sent."""

from __future__ import annotations

import json
import math
import re
from collections.abc import Iterator
from contextlib import contextmanager
from decimal import Decimal
from html.parser import HTMLParser
from typing import Any
from urllib.parse import urlsplit

from django.apps import apps
from django.db import connection, transaction
from django.db.models import JSONField
from django.http import HttpResponse, HttpResponseBase
from django.test import Client as Browser

from tests.fuzz.hostile import HEADER, UNESCAPED
from tests.fuzz.sending import Case
from tests.fuzz.targets import Target

CARELESS = frozenset({"cache", "django_session", "consulting_user", "account_emailaddress"})
"""Tables that a refusal may write to: limits counted, what is said on the next page, who is signed in."""
WRITES = re.compile(r'\s*(?:INSERT(?: OR \w+)? INTO|UPDATE|DELETE FROM)\s+"?(\w+)"?', re.IGNORECASE)
BARE = re.compile(
    r"^(Enter a (valid|whole|number|list)|This field |Select a valid|Ensure |Invalid|Null characters"
    r"|Upload a valid|\(Hidden field|ManagementForm|Please correct|“.*” value|No file"
    r"|The submitted|Not a)"
)
"""How messages begin that are not ours: they do not say of which field they speak."""
TRACE = re.compile(r"Traceback \(most recent|\.py\", line \d|<[\w.]+ object at 0x|DoesNotExist|django\.\w+\.")


class Bad(AssertionError):
    """An answer that must not be."""


class _Page(HTMLParser):
    """Text of the page, and of what it tells to mend."""

    VOID = frozenset({"br", "hr", "img", "input", "link", "meta", "source", "wbr", "area", "base", "col"})

    def __init__(self, html: str) -> None:
        super().__init__()
        self.depth = 0
        self.alert_at: int | None = None
        self.told: list[str] = []
        self.feed(html)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        if tag in self.VOID:
            return
        self.depth += 1
        given = dict(attrs)
        classes = (given.get("class") or "").split()
        if self.alert_at is None and (given.get("role") == "alert" or {"errorlist", "why"} & {*classes}):
            self.alert_at = self.depth
        if self.alert_at is not None and tag in ("li", "p"):
            self.told.append("")

    def handle_endtag(self, tag: str) -> None:
        if tag in self.VOID:
            return
        if self.alert_at == self.depth:
            self.alert_at = None
        self.depth -= 1

    def handle_data(self, data: str) -> None:
        if self.alert_at is not None:
            if not self.told:
                self.told.append("")
            self.told[-1] += data


@contextmanager
def tables_written() -> Iterator[set[str]]:
    found: set[str] = set()

    def note(execute: Any, sql: str, *rest: Any) -> Any:
        if match := WRITES.match(sql):
            found.add(match.group(1))
        return execute(sql, *rest)

    with connection.execute_wrapper(note):
        yield found


def _rows(tables: set[str]) -> dict[str, tuple[list[str], list[tuple[Any, ...]]]]:
    found = {}
    with connection.cursor() as cursor:
        for table in sorted(tables):
            # By the first column, which is the key.
            cursor.execute(f'SELECT * FROM "{table}" ORDER BY 1')
            found[table] = ([column[0] for column in cursor.description], cursor.fetchall())
    return found


def judge(case: Case, target: Target, browser: Browser) -> None:
    """Send the case, undo what it did, and raise Bad for what must not be."""
    after: dict[str, Any] = {}
    with transaction.atomic():
        with tables_written() as written:
            response = case.send(browser)
            answer_ok(response, target)
        changed = {table for table in written if table not in CARELESS}
        refused = response.status_code >= 400 or _told_to_mend(response)
        after = _rows(changed) if changed else {}
        if not refused and response.status_code in (301, 302, 303):
            _next_page(response, browser)
        transaction.set_rollback(True)
    if not after:
        return
    before = _rows(set(after))
    if refused and after != before:
        raise Bad(f"{response.status_code}, yet rows changed: {[t for t in after if after[t] != before[t]]}")
    for table, (columns, rows) in after.items():
        new = [row for row in rows if row not in before[table][1]]
        _sane(table, columns, new)
        _own(table, columns, before[table][1], rows, target)


def answer_ok(response: HttpResponseBase, target: Target) -> None:
    if response.status_code >= 500:
        raise Bad(f"status {response.status_code}")
    for name, value in response.headers.items():
        if name == HEADER or "\n" in value or "\r" in value:
            raise Bad(f"header {name}: {value!r}")
    if response.status_code in (301, 302, 303):
        to = urlsplit(response.headers["Location"])
        if to.netloc not in ("", "testserver") or to.scheme not in ("", "http", "https"):
            raise Bad(f"sent away to {response.headers['Location']}")
        return
    text = text_of(response)
    if TRACE.search(text):
        raise Bad(f"the inside shows: {TRACE.search(text)}")
    kind = response.headers.get("Content-Type", "")
    if kind.startswith("text/html"):
        if found := [bit for bit in UNESCAPED if bit in text]:
            raise Bad(f"unescaped: {found}")
        _told(response, text, target)
    elif kind.startswith("application/json"):
        json.loads(text, parse_constant=_no_number)
        if response.status_code >= 400 and len(text.split()) < 5:
            raise Bad(f"{response.status_code} says only {text!r}")
    elif response.status_code >= 400 and len(text.split()) < 4:
        raise Bad(f"{response.status_code} says only {text!r}")


def text_of(response: HttpResponseBase) -> str:
    if isinstance(response, HttpResponse):
        content = response.content
    else:
        content = b"".join(response)  # type: ignore[arg-type]
    kind = response.headers.get("Content-Type", "")
    return content.decode("utf-8") if "text" in kind or "json" in kind or "calendar" in kind else ""


def _told_to_mend(response: HttpResponseBase) -> bool:
    return isinstance(response, HttpResponse) and b'class="problems"' in response.content


def _told(response: HttpResponseBase, text: str, target: Target) -> None:
    """A refusal says what is wrong, of which field, and how to mend it."""
    told = [" ".join(line.split()) for line in _Page(text).told]
    told = [line for line in told if line]
    if bare := [line for line in told if BARE.match(line)]:
        raise Bad(f"{response.status_code} does not say of which field: {bare}")
    if response.status_code == 422 and (not told or max(len(line.split()) for line in told) < 4):
        raise Bad(f"422 says only {told}")
    if response.status_code == 200 and _told_to_mend(response) and target.method == "POST":
        raise Bad(f"200 for a refusal: {told}")


def _next_page(response: HttpResponseBase, browser: Browser) -> None:
    """The page that shows what was kept."""
    to = response.headers["Location"]
    shown = browser.get(to)
    if shown.status_code >= 400 and shown.status_code not in (404, 405):
        raise Bad(f"kept, and then {to} answers {shown.status_code}")
    text = text_of(shown)
    if found := [
        bit for bit in UNESCAPED if bit in text and "text/html" in shown.headers.get("Content-Type", "")
    ]:
        raise Bad(f"unescaped on {to}: {found}")


def _no_number(name: str) -> float:
    raise Bad(f"{name} in JSON")


def _sane(table: str, columns: list[str], rows: list[tuple[Any, ...]]) -> None:
    """No number that is none, in a column or in JSON."""
    fields = [field for model in apps.get_models() for field in model._meta.concrete_fields]
    of_json = {(one.model._meta.db_table, one.column) for one in fields if isinstance(one, JSONField)}
    for row in rows:
        for column, value in zip(columns, row, strict=True):
            if isinstance(value, float | Decimal) and not math.isfinite(value):
                raise Bad(f"{table}.{column} holds {value}")
            if isinstance(value, str) and (table, column) in of_json:
                json.loads(value, parse_constant=_no_number)
            if isinstance(value, str) and "\x00" in value:
                raise Bad(f"{table}.{column} holds a null character")


def _own(
    table: str,
    columns: list[str],
    before: list[tuple[Any, ...]],
    after: list[tuple[Any, ...]],
    target: Target,
) -> None:
    """Rows of other practices are as they were."""
    if "practice_id" not in columns or not target.args and target.name == "practice_new":
        return
    at, own = columns.index("practice_id"), target.cast.practice.pk
    if [row for row in before if row[at] != own] != [row for row in after if row[at] != own]:
        raise Bad(f"{table}: rows of another practice changed")
