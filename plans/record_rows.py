"""Records that were asked for, as rows of a spreadsheet. Read as values: a model of each takes longest."""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass
from typing import Any
from zoneinfo import ZoneInfo

from consulting.models import Practice
from plans.documents.record_sheet import AFTER, OF_LINE, OF_RECORD, asked_besides
from plans.documents.rows import Column, Row
from plans.models import RecordLine
from plans.record_pages import RecordsAsked, correction_words, entered_words, keep_until
from plans.records import Kind, apart_pct

LINE = tuple(name for name in OF_LINE if name != "apart_pct")
BESIDES = (
    "pk",
    "extra",
    "notes",
    "taken_back",
    "because",
    "corrects__number",
    "entered_by_name",
    "at",
    "sha256",
)


@dataclass(frozen=True, slots=True)
class RecordRows:
    labels: tuple[str, ...]
    """What the practice's state asks besides, as far as a record here says it."""
    rows: list[Row]


def record_rows(asked: RecordsAsked, practice: Practice, keep_years: int) -> RecordRows:
    """In two queries. The latest record first, its lines in their order."""
    records = asked.standing()
    used: dict[int, list[dict[str, Any]]] = defaultdict(list)
    lines = RecordLine.objects.filter(record__in=records.order_by().values("pk"))
    for record, *values in lines.values_list("record", *LINE):
        used[record].append(_line(dict(zip(LINE, values, strict=True))))
    kinds = {key: str(label) for key, label in Kind.choices}
    zone = ZoneInfo(practice.time_zone)
    labels: dict[str, None] = {}
    rows: list[Row] = []
    row: dict[str, Any]
    for values in records.values(*OF_RECORD, *BESIDES).iterator(2000):
        for name in ("start_time", "end_time"):
            values[name] = f"{values[name]:%H:%M}" if values[name] else ""
        values["kind"] = kinds[values["kind"]]
        values["planned_hours"] = rounded(values["planned_hours"], 3)
        values["keep_until"] = keep_until(values["on"], keep_years)
        values["entered"] = entered_words(values["entered_by_name"], values["at"], zone)
        values["correction"] = correction_words(
            values["corrects__number"], values["taken_back"], values["because"]
        )
        row = _titled(values, OF_RECORD) | _titled(values, AFTER)
        for label, text in values["extra"]:
            labels[label] = None
            row[asked_besides(label)] = text
        rows += [row | line for line in used[values["pk"]]] or [row]
    return RecordRows(tuple(labels), rows)


def _titled(values: dict[str, Any], columns: dict[str, Column]) -> dict[str, Any]:
    return {column.title: values[name] for name, column in columns.items()}


def _line(values: dict[str, Any]) -> dict[str, Any]:
    apart = apart_pct(values["amount"], values["planned_amount"])
    values["apart_pct"] = None if apart is None else round(apart, 1)
    values["restricted_use"] = "yes" if values["restricted_use"] else ""
    for name in ("rate_per_acre", "planned_amount"):
        values[name] = rounded(values[name], 6)
    return _titled(values, OF_LINE)


def rounded(value: float | None, digits: int) -> float | None:
    """To so many significant digits."""
    return None if value is None else float(f"{value:.{digits}g}")
