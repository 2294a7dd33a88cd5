"""A list as rows for a spreadsheet, under the heads by which it comes in again."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

from django.db import models

from consulting.models import Practice
from plans.documents.rows import Column, Row, Value
from plans.in_out.checking import shown
from plans.in_out.kinds import Kind

LINKS = {"farms": ("client",), "fields": ("farm__client",)}


def rows_of(kind: Kind, practice: Practice) -> tuple[list[Column], list[Row]]:
    """Every record of the list in scope."""
    ours = kind.columns(practice)
    columns = [
        Column(
            column.title, width=24 if column.name in kind.named_by else 14, kind=_kind_of(kind, column.name)
        )
        for column in ours
    ]
    records = kind.model._default_manager.select_related(*LINKS.get(kind.key, ()))
    rows: list[Row] = [
        {column.title: _value(kind, record, column.name) for column in ours}
        for record in records.iterator(500)
    ]
    return columns, rows


def _kind_of(kind: Kind, name: str) -> Any:
    if name in {parent.name for parent in kind.parents}:
        return "text"
    given = kind.model._meta.get_field(name)
    if isinstance(given, models.DecimalField):
        return "money"
    if isinstance(given, models.FloatField):
        return "amount"
    return "day" if isinstance(given, models.DateField) else "text"


def _value(kind: Kind, record: Any, name: str) -> Value:
    if name == "client":
        return str(record.client if kind.key == "farms" else record.farm.client)
    if name == "farm" and kind.key == "fields":
        return str(record.farm)
    value = getattr(record, name)
    return value if isinstance(value, float | Decimal) or hasattr(value, "isoformat") else shown(value)
