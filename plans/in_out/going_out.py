"""A list as rows for a spreadsheet, under the heads by which it comes in again."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable
from datetime import date
from decimal import Decimal
from typing import Any

from django.db import models
from django.utils.translation import gettext as _

from consulting.models import Membership, Practice
from plans.documents.rows import Column, Row, Value
from plans.in_out.checking import shown
from plans.in_out.kinds import Kind
from plans.models import MixLine, StockLot, Visit, VisitState

PARENTS = {
    "farms": {"client": "client__name"},
    "fields": {"client": "farm__client__name", "farm": "farm__name"},
}
"""Where the name of what a record belongs to is read."""


def rows_of(kind: Kind, practice: Practice) -> tuple[list[Column], list[Row]]:
    """Every record of the list in scope."""
    ours = {column.name: column.title for column in kind.columns(practice)}
    if kind.key in GATHERED:
        more, rows = GATHERED[kind.key]()
        titles = ours | more
        columns = [Column(title, width=18) for title in titles.values()]
        return columns, [{titles[name]: _plain(value) for name, value in row.items()} for row in rows]
    columns = [
        Column(title, width=24 if name in kind.named_by else 14, kind=_kind_of(kind, name))
        for name, title in ours.items()
    ]
    parents = PARENTS.get(kind.key, {})
    records = kind.model._default_manager.values_list(*(parents.get(name, name) for name in ours))
    heads = tuple(ours.values())
    return columns, [dict(zip(heads, map(_plain, values), strict=True)) for values in records.iterator(2000)]


def _mixes() -> tuple[dict[str, str], list[dict[str, Any]]]:
    lines = (
        MixLine.objects.filter(mix__replaced=False)
        .select_related("mix")
        .order_by("mix__name", "mix", "order", "pk")
    )
    return {}, [
        {
            "name": line.mix.name,
            "basis": line.mix.basis,
            "seeds_per_sqft": line.mix.seeds_per_sqft,
            "rate_is_for": line.mix.rate_is_for,
            "species": line.species,
            "amount": line.amount,
        }
        for line in lines
    ]


def _stock() -> tuple[dict[str, str], list[dict[str, Any]]]:
    names = ("kind", "name", "lot", "on_hand", "purity_pct", "germination_pct", "dormant_pct", "tested_on")
    lots = StockLot.objects.order_by("kind", "name", "lot", "pk")
    return {"unit": _("Unit")}, [
        {name: getattr(lot, name) for name in (*names, "notes", "unit")} for lot in lots
    ]


OF_VISIT = ("label", "window_opens", "window_shuts", "acres", "acres_done", "done_on", "hours")


def _visits() -> tuple[dict[str, str], list[dict[str, Any]]]:
    more = {
        "client": _("Client"),
        "farm": _("Farm"),
        "field": _("Field"),
        "label": _("Work"),
        "window_opens": _("Opens"),
        "window_shuts": _("Shuts"),
        "state": _("State"),
        "people": _("Who goes"),
        "acres": _("Acres"),
        "acres_done": _("Acres done"),
        "done_on": _("Done on"),
        "hours": _("Hours"),
    }
    named = {"client": "field__farm__client__name", "farm": "field__farm__name", "field": "field__name"}
    asked = {"visit": "pk", "booked_on": "booked_on", "state": "state"} | named
    rows = Visit.objects.order_by("window_shuts", "window_opens", "pk")
    going = _going()
    states = dict(VisitState.choices)
    found = []
    for values in rows.values_list(*asked.values(), *OF_VISIT).iterator(2000):
        row = dict(zip((*asked, *OF_VISIT), values, strict=True))
        row["state"], row["people"] = states[row["state"]], going.get(row["visit"], "")
        found.append(row)
    return more, found


def _going() -> dict[int, str]:
    """Who goes to each visit, by visit."""
    people: dict[int, list[str]] = defaultdict(list)
    rows = Membership.objects.filter(pk__in=Visit.people.through.objects.values("membership"))
    names = {person.pk: str(person.user) for person in rows.select_related("user")}
    booked = Visit.objects.filter(people__isnull=False).order_by()
    for visit, person in booked.values_list("pk", "people"):
        people[visit].append(names[person])
    return {visit: ", ".join(sorted(said)) for visit, said in people.items()}


GATHERED: dict[str, Callable[[], tuple[dict[str, str], list[dict[str, Any]]]]] = {
    "mixes": _mixes,
    "stock": _stock,
    "visits": _visits,
}
"""Columns that only go out, and rows by column."""


def _kind_of(kind: Kind, name: str) -> Any:
    if name in {parent.name for parent in kind.parents}:
        return "text"
    given = kind.model._meta.get_field(name)
    if isinstance(given, models.DecimalField):
        return "money"
    if isinstance(given, models.FloatField):
        return "amount"
    return "day" if isinstance(given, models.DateField) else "text"


def _plain(value: Any) -> Value:
    if value is None or type(value) is str:
        return value or ""
    if isinstance(value, bool) or not isinstance(value, int | float | Decimal | date):
        return shown(value)
    return value
