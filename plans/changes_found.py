"""Changes as they are asked for: of one record, or of the practice by person, kind and days."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta
from heapq import merge
from itertools import islice
from typing import Any
from urllib.parse import urlencode

from django.db.models import QuerySet
from django.utils import timezone

from consulting.acting import Way
from consulting.changes import Change
from consulting.policy import Right
from plans.change_kinds import WHOLES, may_read
from plans.changes_told import BY_ITSELF, Told, change_told, visit_told
from plans.documents.rows import Column, Row
from plans.models import VisitChange

PER_PAGE = 50
MOST_PAGES = 200
CLIENT, ITSELF = "client", "itself"


@dataclass(frozen=True, slots=True)
class Asked:
    """What a reader asks for; empty for all. `who` is a user's key, `client` or `itself`."""

    who: str = ""
    kind: str = ""
    first: date | None = None
    last: date | None = None
    page: int = 1

    @classmethod
    def of(cls, given: Mapping[str, Any]) -> Asked:
        """From an address; what makes no sense there is as good as not said."""
        who, kind = str(given.get("who", "")), str(given.get("kind", ""))
        page = str(given.get("page", ""))
        return cls(
            who=who
            if who in (CLIENT, ITSELF) or (who.isascii() and who.isdecimal() and len(who) < 18)
            else "",
            kind=kind if kind in WHOLES else "",
            first=_day(given.get("first", "")),
            last=_day(given.get("last", "")),
            page=min(MOST_PAGES, int(page)) if page.isascii() and page.isdecimal() and int(page[:9]) else 1,
        )

    def query(self, page: int) -> str:
        said = {"who": self.who, "kind": self.kind, "first": self.first, "last": self.last, "page": page}
        return "?" + urlencode({name: value for name, value in said.items() if value})

    def _in_days(self, rows: Any) -> Any:
        if self.first:
            rows = rows.filter(at__gte=_begins(self.first))
        if self.last:
            rows = rows.filter(at__lt=_begins(self.last + timedelta(days=1)))
        return rows

    def changes(self, rights: Mapping[str, bool]) -> QuerySet[Change]:
        rows: QuerySet[Change] = self._in_days(Change.objects.all())
        shut = [kind for kind in WHOLES if not may_read(kind, rights)]
        for kind in shut:
            rows = rows.exclude(about__startswith=f"{kind}:")
        if self.kind:
            rows = rows.filter(about__startswith=f"{self.kind}:")
        if self.who in (CLIENT, ITSELF):
            return rows.filter(way=Way.CLIENT if self.who == CLIENT else Way.ITSELF)
        return rows.filter(by=int(self.who)) if self.who else rows

    def of_visits(self) -> QuerySet[VisitChange]:
        if self.kind not in ("", "visit"):
            return VisitChange.objects.none()
        rows: QuerySet[VisitChange] = self._in_days(VisitChange.objects.all())
        if self.who == ITSELF:
            return rows.filter(by=None, by_name=BY_ITSELF)
        if self.who == CLIENT:
            return rows.filter(by=None).exclude(by_name=BY_ITSELF)
        return rows.filter(by=int(self.who)) if self.who else rows


@dataclass(frozen=True, slots=True)
class Found:
    """A page of changes, the latest first."""

    told: tuple[Told, ...]
    later: int = 0
    """Number of the page before it, and of the one after; 0 for none."""
    earlier: int = 0


def practice_changes(asked: Asked, rights: Mapping[str, bool]) -> Found:
    """In four queries, however many there are."""
    return _page(asked.changes(rights), asked.of_visits(), asked.page, rights)


def record_changes(kind: str, key: int, page: int, rights: Mapping[str, bool]) -> Found:
    """All that is told of a record and its parts."""
    visits = VisitChange.objects.filter(visit=key) if kind == "visit" else VisitChange.objects.none()
    return _page(Change.objects.filter(about=f"{kind}:{key}"), visits, page, rights)


def _page(
    changes: QuerySet[Change], visits: QuerySet[VisitChange], number: int, rights: Mapping[str, bool]
) -> Found:
    """Both sources hold their rows in order: the first of each are enough for the first of both."""
    first, end = (number - 1) * PER_PAGE, number * PER_PAGE
    heads: list[list[tuple[datetime, int, int]]] = [
        [(at, source, pk) for at, pk in rows.order_by("-at", "-pk").values_list("at", "pk")[: end + 1]]
        for source, rows in enumerate[QuerySet[Any]]((changes, visits))
    ]
    shown = list(islice(merge(*heads, reverse=True), first, end + 1))
    more, shown = len(shown) > PER_PAGE, shown[:PER_PAGE]
    keys: tuple[list[int], list[int]] = ([], [])
    for _at, source, pk in shown:
        keys[source].append(pk)
    of_records = Change.objects.in_bulk(keys[0]) if keys[0] else {}
    of_visits = VisitChange.objects.select_related("visit__field").in_bulk(keys[1]) if keys[1] else {}
    told = [
        visit_told(of_visits[pk]) if source else change_told(of_records[pk], rights)
        for _at, source, pk in shown
    ]
    return Found(told=tuple(one for one in told if one), later=number - 1, earlier=number + 1 if more else 0)


CHANGES = (Column("When", 20), Column("Record", 40), Column("What was changed", 80))


def changes_as_rows() -> Iterator[Row]:
    """All of a practice's changes as rows of a sheet, the oldest first."""
    rights = {right.value: True for right in Right}
    of_records = Change.objects.order_by("at", "pk").iterator(500)
    of_visits = VisitChange.objects.select_related("visit__field").order_by("at", "pk").iterator(500)
    told = (found for change in of_records if (found := change_told(change, rights)))
    for one in merge(told, map(visit_told, of_visits), key=lambda found: found.at):
        said = " ".join((one.sentence, "; ".join(one.parts))).strip()
        yield {"When": f"{one.at:%Y-%m-%d %H:%M:%S} UTC", "Record": one.about, "What was changed": said}


def _begins(day: date) -> datetime:
    return timezone.make_aware(datetime.combine(day, time.min))


def _day(text: Any) -> date | None:
    """A day of this century or the next; None for what is none."""
    try:
        day = date.fromisoformat(str(text))
    except ValueError:
        return None
    return day if 2000 <= day.year < 2200 else None
