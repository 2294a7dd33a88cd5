"""Records of work as a PDF: for a field, a client, a season, or one record."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
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
