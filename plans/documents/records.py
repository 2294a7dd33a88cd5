"""Records of work as a PDF and as a spreadsheet file: for a field, a client, a season, or one record."""

from __future__ import annotations

import csv
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from dataclasses import field as preset
from datetime import date
from io import StringIO

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
from plans.documents.page import Running, build
from plans.documents.sheet import harmless
from plans.documents.words import count, day, lower_first, number

LABEL_FIRST = (
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
    return "as planned" if rounded == 0 else f"{'+' if rounded > 0 else '−'}{abs(rounded)} %"


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
            f"EPA Reg. No. {self.registration_number}" if self.registration_number else "",
            "restricted use" if self.restricted_use else "",
            self.ingredient if self.ingredient and not self.name.startswith(self.ingredient) else "",
            f"lot {self.lot}" if self.lot else "",
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
        return f"To be kept until {day(self.keep_until)} at least."

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
    """Letter-size PDF of the records in the order given; the same arguments give the same bytes."""
    said = f"{count(len(records), 'record')}, printed on {day(printed_on)}."
    story: list[Flowable] = [
        p(practice, PRACTICE),
        *([p(address, SMALL)] if address else []),
        p("Records of work", H2),
        rich(strong(title), plain(f". {said[0].upper()}{said[1:]}"), style=BODY),
        p(LABEL_FIRST, SMALL),
    ]
    for record in records:
        story += _record(record)
    running = Running(
        title=f"Records of work: {title}",
        author=practice,
        head_left=title,
        head_right="Records of work",
        subject="Records of work",
        foot=f"{practice}. The label and state rules come first.",
    )
    return build(story, running)


def _record(record: PrintedRecord) -> list[Flowable]:
    head = f"{day(record.on)}: {record.work}"
    where = f"{record.field}, {record.farm}" + (f", {record.place}" if record.place else "")
    facts = [
        *([("Superseded", record.superseded)] if record.superseded else []),
        ("Where", where),
        ("Customer", f"{record.customer}\n{record.address}".strip()),
        *record.facts,
        *([("Notes", record.notes)] if record.notes else []),
        *([("Correction", record.correction)] if record.correction else []),
    ]
    rows = [[rich(quiet(label), style=CELL), p(text, CELL)] for label, text in facts]
    story: list[Flowable] = [
        CondPageBreak(170),
        gap(14),
        rich(
            strong(head, SERIF_BOLD),
            quiet(f"   Record {record.number}, {lower_first(record.kind)}"),
            style=BODY,
        ),
        table([], rows, [110, TEXT_WIDTH - 110], tight=True),
    ]
    if record.lines:
        story.append(_lines(record.lines))
    return [*story, p(f"{record.entered} {record.kept}\nSeal {record.sha256}", FINE)]


def _lines(lines: Sequence[PrintedLine]) -> Flowable:
    rows = []
    for line in lines:
        under = [part for part in (line.identity, f"Why: {line.reason}" if line.reason else "") if part]
        name = rich(plain(line.name), *(quiet(f"\n{part}") for part in under), style=CELL)
        rows.append(
            [name, p(line.used, CELL), p(line.rate, CELL), p(line.planned_words, CELL), p(line.apart, CELL)]
        )
    return table(
        ["Used", "Total", "An acre", "Planned", "Apart"], rows, [TEXT_WIDTH - 275, 68, 80, 68, 59], tight=True
    )


# Spreadsheet

COLUMNS = (
    ("start_time", "Started"),
    ("end_time", "Ended"),
    ("applicator", "Certified applicator"),
    ("certificate", "Certificate number"),
    ("supervised", "Under supervision"),
    ("people", "Who was there"),
    ("site", "Crop or site"),
    ("target", "Target"),
    ("wind_mph", "Wind mph"),
    ("wind_from", "Wind from"),
    ("temp_f", "Air °F"),
    ("humidity_pct", "Humidity %"),
    ("sky", "Sky"),
    ("hours", "Hours in the field"),
    ("person_hours", "Person-hours"),
    ("planned_hours", "Planned hours"),
    ("hours_reason", "Why those hours"),
)
HEAD = (
    *("Record", "Day", "Kind", "Work", "Customer", "Customer’s address", "Farm", "Field", "Place", "Acres"),
    *(label for _, label in COLUMNS),
    *("Used", "Ingredient", "EPA Reg. No.", "Restricted use", "Lot", "Amount", "Unit", "An acre", "Planned"),
    *("Apart %", "Why", "Notes", "Correction", "Entered", "Keep until", "SHA-256"),
)


def records_csv(records: Iterable[PrintedRecord]) -> str:
    """A row for each thing used, or one for a record that used nothing; UTF-8 with a byte-order mark.

    What the state asks besides has a column for each label, after the others.
    """
    records = list(records)
    labels = list(dict.fromkeys(label for record in records for label, _ in record.extra))
    out = StringIO()
    out.write("\ufeff")
    rows = csv.writer(out)
    rows.writerow([*HEAD, *(f"Asked besides: {label}" for label in labels)])
    for record in records:
        before = [
            *(record.number, record.on.isoformat()),
            *map(harmless, (record.kind, record.work, record.customer, record.address)),
            *map(harmless, (record.farm, record.field, record.place)),
            f"{record.acres:.10g}",
            *(harmless(record.columns.get(key, "")) for key, _ in COLUMNS),
        ]
        after = [
            *map(harmless, (record.notes, record.correction, record.entered)),
            record.keep_until.isoformat(),
            record.sha256,
            *(harmless(dict(record.extra).get(label, "")) for label in labels),
        ]
        for line in record.lines or (None,):
            rows.writerow([*before, *_cells(line), *after])
    return out.getvalue()


def _cells(line: PrintedLine | None) -> list[str]:
    if line is None:
        return [""] * 11
    return [
        *map(harmless, (line.name, line.ingredient, line.registration_number)),
        "yes" if line.restricted_use else "",
        harmless(line.lot),
        f"{line.amount:.10g}",
        line.unit,
        f"{line.rate_per_acre:.6g}",
        "" if line.planned is None else f"{line.planned:.6g}",
        "" if line.apart_pct is None else f"{line.apart_pct:.1f}",
        harmless(line.reason),
    ]
