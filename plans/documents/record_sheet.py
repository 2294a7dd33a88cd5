"""Records of work as a spreadsheet: a row for each thing used, or one for a record that used nothing."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from datetime import date

from plans.documents.records import LABEL_FIRST
from plans.documents.rows import Column, Row, as_csv, as_workbook
from plans.documents.words import day

OF_RECORD = {
    "number": Column("Record", 8, "whole"),
    "on": Column("Day", 12, "day"),
    "kind": Column("Kind", 12),
    "work": Column("Work", 34),
    "customer_name": Column("Customer", 20),
    "customer_address": Column("Customer’s address", 26),
    "farm_name": Column("Farm", 20),
    "field_name": Column("Field", 22),
    "place": Column("Place", 20),
    "acres": Column("Acres", 10, "amount"),
    "start_time": Column("Started", 9),
    "end_time": Column("Ended", 9),
    "applicator": Column("Certified applicator", 20),
    "certificate": Column("Certificate number", 16),
    "supervised": Column("Under supervision", 18),
    "people": Column("Who was there", 24),
    "site": Column("Crop or site", 22),
    "target": Column("Target", 24),
    "wind_mph": Column("Wind mph", 9, "amount"),
    "wind_from": Column("Wind from", 9),
    "temp_f": Column("Air °F", 9, "amount"),
    "humidity_pct": Column("Humidity %", 10, "amount"),
    "sky": Column("Sky", 13),
    "hours": Column("Hours in the field", 9, "amount"),
    "person_hours": Column("Person-hours", 9, "amount"),
    "planned_hours": Column("Planned hours", 9, "amount"),
    "hours_reason": Column("Why those hours", 30),
}
OF_LINE = {
    "name": Column("Used", 28),
    "ingredient": Column("Ingredient", 16),
    "registration_number": Column("EPA Reg. No.", 14),
    "restricted_use": Column("Restricted use", 10),
    "lot": Column("Lot", 14),
    "amount": Column("Amount", 11, "amount"),
    "unit": Column("Unit", 8),
    "rate_per_acre": Column("An acre", 10, "amount"),
    "planned_amount": Column("Planned", 11, "amount"),
    "apart_pct": Column("Apart %", 9, "amount"),
    "reason": Column("Why", 34),
}
AFTER = {
    "notes": Column("Notes", 34),
    "correction": Column("Correction", 30),
    "entered": Column("Entered", 36),
    "keep_until": Column("Keep until", 12, "day"),
    "sha256": Column("SHA-256", 66),
}
COLUMNS = (*OF_RECORD.values(), *OF_LINE.values(), *AFTER.values())


def asked_besides(label: str) -> str:
    return f"Asked besides: {label}"


def columns_for(labels: Iterable[str]) -> tuple[Column, ...]:
    """Those of every record, and one for each thing that the state asks besides."""
    return (*COLUMNS, *(Column(asked_besides(label), 20) for label in labels))


def records_csv(rows: Iterable[Row], labels: Sequence[str]) -> str:
    """The rows as CSV: UTF-8 with a byte-order mark once encoded."""
    return as_csv(columns_for(labels), rows)


def records_xlsx(rows: Iterable[Row], labels: Sequence[str], *, practice: str, title: str, on: date) -> bytes:
    """The same rows as a workbook of that day."""
    return as_workbook(
        columns_for(labels),
        rows,
        title=f"Records of work: {title}",
        about=(practice, f"Made on {day(on)}.", LABEL_FIRST),
        on=on,
        name="Records",
    )
