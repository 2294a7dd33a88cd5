"""Records of work as a PDF and as rows of a spreadsheet: for a field, a client, a season, or one record."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from dataclasses import field as preset
from datetime import date

from reportlab.platypus import CondPageBreak, Flowable

from plans.documents.fonts import SERIF_BOLD
from plans.documents.look import (
    BODY,
    CELL,
    FINE,
    H2,
    PRACTICE,
    SMALL,
    TEXT_WIDTH,
    gap,
    p,
    plain,
    quiet,
    rich,
    strong,
    table,
)
from plans.documents.manner import _, marked
from plans.documents.page import Running, build
from plans.documents.rows import Column, Row, Value, as_csv, as_workbook
from plans.documents.told import told
from plans.documents.words import count, day, lower_first, number, upper_first

LABEL_FIRST = marked(
    "The product label and the rules of the state come before anything printed here. An application’s record "
    "holds what federal rules (40 CFR 171.303(b)(7)) ask of commercial applications of restricted-use "
    "products; they ask that it be kept two years at least. States often ask for more, for every product, "
    "and for longer. Nothing in this system deletes a record."
)
MOST_LISTED = 4


def apart_words(apart_pct: float | None) -> str:
    """+4 %, or nothing where nothing was planned."""
    if apart_pct is None:
        return ""
    rounded = round(apart_pct)
    return _("as planned") if rounded == 0 else f"{'+' if rounded > 0 else '−'}{abs(rounded)} %"


@dataclass(frozen=True, slots=True, kw_only=True)
class PrintedLine:
    """Something used, in words and in figures. Amounts in `unit`."""

    name: str
    ingredient: str = ""
    registration_number: str = ""
    restricted_use: bool = False
    lot: str = ""
    amount: float
    unit: str
    rate_per_acre: float
    planned: float | None = None
    apart_pct: float | None = None
    reason: str = ""

    @property
    def used(self) -> str:
        return f"{shown(self.amount)} {self.unit}"

    @property
    def rate(self) -> str:
        return f"{shown(self.rate_per_acre)} {self.unit}/acre"

    @property
    def planned_words(self) -> str:
        return "–" if self.planned is None else f"{shown(self.planned)} {self.unit}"

    @property
    def apart(self) -> str:
        return apart_words(self.apart_pct)

    @property
    def identity(self) -> str:
        """Registration number, ingredient, lot and use, as far as they are known."""
        said = [
            _("EPA Reg. No. {number}").format(number=self.registration_number)
            if self.registration_number
            else "",
            _("restricted use") if self.restricted_use else "",
            self.ingredient if self.ingredient and not self.name.startswith(self.ingredient) else "",
            _("lot {lot}").format(lot=self.lot) if self.lot else "",
        ]
        return ", ".join(part for part in said if part)


@dataclass(frozen=True, slots=True, kw_only=True)
class PrintedRecord:
    """One record, arranged for reading."""

    number: int
    kind: str
    work: str
    on: date
    acres: float
    field: str
    farm: str
    place: str
    customer: str
    address: str
    facts: tuple[tuple[str, str], ...]
    """Label and text of what else is known, the order in which it is read."""
    lines: tuple[PrintedLine, ...] = ()
    extra: tuple[tuple[str, str], ...] = ()
    """Label and text of what the practice's state asks besides."""
    notes: str = ""
    keep_until: date
    entered: str
    """Who entered it and when."""
    correction: str = ""
    """What it corrects and why; empty for a first record."""
    superseded: str = ""
    """Which record followed it; empty for the one that stands."""
    sha256: str
    columns: dict[str, str] = preset(default_factory=dict)
    """What has a column of its own in the spreadsheet file."""

    @property
    def kept(self) -> str:
        return _("To be kept until {day} at least.").format(day=day(self.keep_until))

    @property
    def first_lines(self) -> tuple[PrintedLine, ...]:
        """For a list; `more_lines` says how many it leaves out."""
        return self.lines if len(self.lines) <= MOST_LISTED else self.lines[: MOST_LISTED - 1]

    @property
    def more_lines(self) -> int:
        return len(self.lines) - len(self.first_lines)


def shown(value: float) -> str:
    return number(value, 3 if abs(value) < 10 else 2 if abs(value) < 100 else 1)


# PDF


def records_pdf(
    records: Sequence[PrintedRecord], *, practice: str, address: str, title: str, printed_on: date
) -> bytes:
    """PDF of the records in the order given, in the manner in force; same arguments, same bytes."""
    said = _("{records}, printed on {day}.").format(
        records=count(len(records), "record"), day=day(printed_on)
    )
    name = _("Records of work")
    story: list[Flowable] = [
        p(practice, PRACTICE),
        *([p(address, SMALL)] if address else []),
        p(name, H2),
        rich(strong(title), plain(f". {upper_first(said)}"), style=BODY),
        p(_(LABEL_FIRST), SMALL),
    ]
    for record in records:
        story += _record(record)
    running = Running(
        title=f"{name}: {title}",
        author=practice,
        head_left=title,
        head_right=name,
        subject=name,
        foot=_("{practice}. The label and state rules come first.").format(practice=practice),
    )
    return build(story, running)


def _record(record: PrintedRecord) -> list[Flowable]:
    head = f"{day(record.on)}: {told(record.work)}"
    kind = lower_first(_(record.kind))
    where = f"{record.field}, {record.farm}" + (f", {record.place}" if record.place else "")
    facts = [
        *([(_("Superseded"), record.superseded)] if record.superseded else []),
        (_("Where"), where),
        (_("Customer"), f"{record.customer}\n{record.address}".strip()),
        *record.facts,
        *([(_("Notes"), record.notes)] if record.notes else []),
        *([(_("Correction"), record.correction)] if record.correction else []),
    ]
    rows = [[rich(quiet(label), style=CELL), p(text, CELL)] for label, text in facts]
    story: list[Flowable] = [
        CondPageBreak(170),
        gap(14),
        rich(
            strong(head, SERIF_BOLD),
            quiet("   " + _("Record {number}, {kind}").format(number=record.number, kind=kind)),
            style=BODY,
        ),
        table([], rows, [110, TEXT_WIDTH - 110], tight=True),
    ]
    if record.lines:
        story.append(_lines(record.lines))
    seal = _("Seal {sha256}").format(sha256=record.sha256)
    return [*story, p(f"{record.entered} {record.kept}\n{seal}", FINE)]


def _lines(lines: Sequence[PrintedLine]) -> Flowable:
    rows = []
    for line in lines:
        under = [
            part
            for part in (line.identity, _("Why: {reason}").format(reason=line.reason) if line.reason else "")
            if part
        ]
        name = rich(plain(line.name), *(quiet(f"\n{part}") for part in under), style=CELL)
        rows.append(
            [name, p(line.used, CELL), p(line.rate, CELL), p(line.planned_words, CELL), p(line.apart, CELL)]
        )
    return table(
        [_("Used"), _("Total"), _("An acre"), _("Planned"), _("Apart")],
        rows,
        [TEXT_WIDTH - 275, 68, 80, 68, 59],
        tight=True,
    )


# Spreadsheet

TOLD = (
    ("start_time", Column("Started", 9)),
    ("end_time", Column("Ended", 9)),
    ("applicator", Column("Certified applicator", 20)),
    ("certificate", Column("Certificate number", 16)),
    ("supervised", Column("Under supervision", 18)),
    ("people", Column("Who was there", 24)),
    ("site", Column("Crop or site", 22)),
    ("target", Column("Target", 24)),
    ("wind_mph", Column("Wind mph", 9, "amount")),
    ("wind_from", Column("Wind from", 9)),
    ("temp_f", Column("Air °F", 9, "amount")),
    ("humidity_pct", Column("Humidity %", 10, "amount")),
    ("sky", Column("Sky", 13)),
    ("hours", Column("Hours in the field", 9, "amount")),
    ("person_hours", Column("Person-hours", 9, "amount")),
    ("planned_hours", Column("Planned hours", 9, "amount")),
    ("hours_reason", Column("Why those hours", 30)),
)
COLUMNS = (
    Column("Record", 8, "whole"),
    Column("Day", 12, "day"),
    Column("Kind", 12),
    Column("Work", 34),
    Column("Customer", 20),
    Column("Customer’s address", 26),
    Column("Farm", 20),
    Column("Field", 22),
    Column("Place", 20),
    Column("Acres", 10, "amount"),
    *(column for _, column in TOLD),
    Column("Used", 28),
    Column("Ingredient", 16),
    Column("EPA Reg. No.", 14),
    Column("Restricted use", 10),
    Column("Lot", 14),
    Column("Amount", 11, "amount"),
    Column("Unit", 8),
    Column("An acre", 10, "amount"),
    Column("Planned", 11, "amount"),
    Column("Apart %", 9, "amount"),
    Column("Why", 34),
    Column("Notes", 34),
    Column("Correction", 30),
    Column("Entered", 36),
    Column("Keep until", 12, "day"),
    Column("SHA-256", 66),
)


def asked_besides(label: str) -> str:
    return f"Asked besides: {label}"


def columns_for(records: Iterable[PrintedRecord]) -> tuple[Column, ...]:
    """Those of every record, and one for each thing that the state asks besides."""
    labels = dict.fromkeys(label for record in records for label, _ in record.extra)
    return (*COLUMNS, *(Column(asked_besides(label), 20) for label in labels))


def records_rows(records: Iterable[PrintedRecord]) -> Iterator[Row]:
    """A row for each thing used, or one for a record that used nothing."""
    for record in records:
        row: dict[str, Value] = {
            "Record": record.number,
            "Day": record.on,
            "Kind": record.kind,
            "Work": record.work,
            "Customer": record.customer,
            "Customer’s address": record.address,
            "Farm": record.farm,
            "Field": record.field,
            "Place": record.place,
            "Acres": record.acres,
            "Notes": record.notes,
            "Correction": record.correction,
            "Entered": record.entered,
            "Keep until": record.keep_until,
            "SHA-256": record.sha256,
        }
        for key, column in TOLD:
            said = record.columns.get(key, "")
            row[column.title] = float(said) if said and column.kind == "amount" else said
        row |= {asked_besides(label): text for label, text in record.extra}
        for line in record.lines or (None,):
            yield row | (_used(line) if line else {})


def _used(line: PrintedLine) -> dict[str, Value]:
    return {
        "Used": line.name,
        "Ingredient": line.ingredient,
        "EPA Reg. No.": line.registration_number,
        "Restricted use": "yes" if line.restricted_use else "",
        "Lot": line.lot,
        "Amount": line.amount,
        "Unit": line.unit,
        "An acre": float(f"{line.rate_per_acre:.6g}"),
        "Planned": None if line.planned is None else float(f"{line.planned:.6g}"),
        "Apart %": None if line.apart_pct is None else round(line.apart_pct, 1),
        "Why": line.reason,
    }


def records_csv(records: Sequence[PrintedRecord]) -> str:
    """The rows as CSV: UTF-8 with a byte-order mark once encoded."""
    return as_csv(columns_for(records), records_rows(records))


def records_xlsx(records: Sequence[PrintedRecord], *, practice: str, title: str, on: date) -> bytes:
    """The same rows as a workbook of that day."""
    return as_workbook(
        columns_for(records),
        records_rows(records),
        title=f"Records of work: {title}",
        about=(practice, f"Made on {day(on)}.", LABEL_FIRST),
        on=on,
        name="Records",
    )
