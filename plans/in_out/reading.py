"""A spreadsheet file, whoever wrote it, as heads and rows of text. Knows no Django and no list of ours."""

from __future__ import annotations

import csv
import re
import zipfile
from collections import Counter
from collections.abc import Collection, Iterator, Sequence
from dataclasses import dataclass
from datetime import date, datetime, time
from io import BytesIO, StringIO
from typing import Any

from django.utils.translation import gettext as _
from openpyxl import load_workbook

MOST_BYTES = 10_000_000
MOST_UNPACKED = 100_000_000
MOST_ROWS = 20_000
MOST_COLUMNS = 100
MOST_CHARACTERS = 32_767
LOOKED_AT = 12
"""First rows among which the head is looked for: a print title may stand above it."""
DELIMITERS = ",;\t|"
FORMULA_STARTS = ("=", "+", "-", "@", "\t", "\r")
COMMA_NUMBER = re.compile(r"-?\d{1,3}(\.\d{3})*,\d+|-?\d+,\d+")
POINT_NUMBER = re.compile(r"-?\d{1,3}(,\d{3})*\.\d+|-?\d+\.\d+")
THOUSANDS = re.compile(r"-?\d{1,3}(,\d{3})+")


class Unreadable(ValueError):
    """A file that cannot be taken; says what is wrong and how to mend it."""


@dataclass(frozen=True, slots=True)
class Row:
    number: int
    """As the spreadsheet counts, from 1."""
    cells: tuple[str, ...]
    """As many as there are heads."""


@dataclass(frozen=True, slots=True)
class Sheet:
    heads: tuple[str, ...]
    rows: tuple[Row, ...]
    notes: tuple[str, ...]
    """How it was read, where that was a choice."""
    decimal_comma: bool
    """Numbers such as 12,5."""


def plain(text: str) -> str:
    """A head or a choice as it is compared: small letters and digits, one space between words."""
    return " ".join(re.findall(r"[^\W_]+", text.casefold()))


def read(name: str, data: bytes, known: Collection[str] = ()) -> Sheet:
    """The rows under the head, without empty ones. `known` are heads that are looked for, in `plain` form.

    Raises Unreadable.
    """
    if not data:
        raise Unreadable(_("{name} is empty. Save the list again and bring in that file.").format(name=name))
    if len(data) > MOST_BYTES:
        said = _("{name} has {size} MB; 10 MB is the most. Divide the list.")
        raise Unreadable(said.format(name=name, size=f"{len(data) / 1e6:.1f}"))
    if data[:4] == b"PK\x03\x04":
        lines, notes = _workbook(name, data), [_("a workbook, its first sheet")]
    elif data[:8] == b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1":
        raise Unreadable(
            _("{name} is a workbook of the old kind (.xls). Save it as .xlsx or as CSV.").format(name=name)
        )
    else:
        lines, notes = _text(name, data)
    return _sheet(name, lines, notes, known)


def _workbook(name: str, data: bytes) -> list[list[str]]:
    try:
        with zipfile.ZipFile(BytesIO(data)) as packed:
            if sum(part.file_size for part in packed.infolist()) > MOST_UNPACKED:
                raise Unreadable(
                    _("{name} unpacks to more than 100 MB. Save only the list itself.").format(name=name)
                )
        book = load_workbook(BytesIO(data), read_only=True, data_only=True, keep_links=False)
        sheet = book.worksheets[0]
        sheet.reset_dimensions()
        return [[_cell(value) for value in row] for row in _limited(name, sheet.iter_rows(values_only=True))]
    except Unreadable:
        raise
    except Exception as error:  # the parser raises its own kinds, by the part of the file that is broken
        raise Unreadable(
            _("{name} is no workbook that can be read. Save it again, or as CSV.").format(name=name)
        ) from error


def _limited(name: str, rows: Iterator[Sequence[Any]]) -> Iterator[Sequence[Any]]:
    for number, row in enumerate(rows, start=1):
        if number > MOST_ROWS + LOOKED_AT:
            raise Unreadable(
                _("{name} has more than {most} rows. Divide the list.").format(
                    name=name, most=f"{MOST_ROWS:,}"
                )
            )
        if len(row) > MOST_COLUMNS and any(value not in (None, "") for value in row[MOST_COLUMNS:]):
            raise Unreadable(
                _("{name}, row {number}: has more than {most} columns. Leave some out.").format(
                    name=name, number=number, most=MOST_COLUMNS
                )
            )
        yield row[:MOST_COLUMNS]


def _cell(value: Any) -> str:
    if value is None:
        return ""
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, datetime):
        return value.date().isoformat() if value.time() == time(0) else value.isoformat(" ", "minutes")
    if isinstance(value, date):
        return value.isoformat()
    if isinstance(value, float):
        return f"{value:.15g}"
    return str(value)


def _text(name: str, data: bytes) -> tuple[list[list[str]], list[str]]:
    text, encoding = _decoded(name, data)
    if "\x00" in text:
        raise Unreadable(
            _("{name} is no list of text. Save it as CSV or as a workbook (.xlsx).").format(name=name)
        )
    delimiter = _delimiter(text)
    reader = csv.reader(StringIO(text, newline=""), delimiter=delimiter)
    try:
        rows = list(_limited(name, reader))
    except csv.Error as error:
        raise Unreadable(
            _("{name}, row {number}: cannot be read ({error}). Save it again.").format(
                name=name, number=reader.line_num, error=error
            )
        ) from None
    said = {
        ",": _("text in {encoding}, columns parted by commas"),
        ";": _("text in {encoding}, columns parted by semicolons"),
        "\t": _("text in {encoding}, columns parted by tabs"),
        "|": _("text in {encoding}, columns parted by bars"),
    }[delimiter]
    return [list(row) for row in rows], [said.format(encoding=encoding)]


def _decoded(name: str, data: bytes) -> tuple[str, str]:
    if data[:2] in (b"\xff\xfe", b"\xfe\xff"):
        try:
            return data.decode("utf-16"), "UTF-16"
        except UnicodeDecodeError:
            raise Unreadable(
                _("{name} begins as UTF-16 and is not. Save it as UTF-8.").format(name=name)
            ) from None
    try:
        return data.decode("utf-8-sig"), "UTF-8"
    except UnicodeDecodeError:
        return data.decode("cp1252", "replace"), "Windows-1252"


def _delimiter(text: str) -> str:
    """The one that parts the most of the first lines alike."""
    head = "\n".join(text.splitlines()[: LOOKED_AT * 2])

    def alike(delimiter: str) -> tuple[int, int]:
        try:
            widths = Counter(
                len(row) for row in csv.reader(StringIO(head, newline=""), delimiter=delimiter) if any(row)
            )
        except csv.Error:
            return 0, 0
        several = {width: times for width, times in widths.items() if width > 1}
        if not several:
            return 0, 0
        width = max(several, key=lambda width: (several[width], width))
        return several[width], width

    return max(DELIMITERS, key=alike)


def _sheet(name: str, lines: list[list[str]], notes: list[str], known: Collection[str]) -> Sheet:
    at = _head(lines, known)
    if at is None:
        raise Unreadable(_("{name} has no row of column names. Put one above the list.").format(name=name))
    heads = [_settled(cell) for cell in lines[at]]
    while heads and not heads[-1]:
        heads.pop()
    doubled = [head for head, times in Counter(plain(head) for head in heads if head).items() if times > 1]
    if doubled:
        raise Unreadable(
            _("{name}, row {number}: “{doubled}” names two columns. Give each its own name.").format(
                name=name, number=at + 1, doubled=doubled[0]
            )
        )
    rows = []
    for number, line in enumerate(lines[at + 1 :], start=at + 2):
        cells = [_settled(cell) for cell in line]
        if not any(cells):
            continue
        if any(cells[len(heads) :]):
            raise Unreadable(
                _(
                    "{name}, row {number}: has more cells than there are column names. Put text "
                    "that holds the sign between columns in quotation marks."
                ).format(name=name, number=number)
            )
        long = next((cell for cell in cells if len(cell) > MOST_CHARACTERS), None)
        if long is not None:
            raise Unreadable(
                _("{name}, row {number}: a cell has more than {most} characters.").format(
                    name=name, number=number, most=f"{MOST_CHARACTERS:,}"
                )
            )
        rows.append(Row(number, tuple((cells + [""] * len(heads))[: len(heads)])))
    if not rows:
        raise Unreadable(_("{name} has column names and no row beneath them.").format(name=name))
    if len(rows) > MOST_ROWS:
        raise Unreadable(
            _("{name} has more than {most} rows. Divide the list.").format(name=name, most=f"{MOST_ROWS:,}")
        )
    comma = _decimal_comma(rows)
    if comma:
        notes = [*notes, _("numbers with a decimal comma")]
    return Sheet(tuple(heads), tuple(rows), tuple(notes), comma)


def _head(lines: list[list[str]], known: Collection[str]) -> int | None:
    """The row among the first that names the most known columns; else the first with two cells filled."""
    first = [(at, [_settled(cell) for cell in line]) for at, line in enumerate(lines[:LOOKED_AT])]
    found = [(sum(plain(cell) in known for cell in cells), -at) for at, cells in first]
    best = max(found, default=(0, 0))
    if best[0] > 1:
        return -best[1]
    several = [at for at, cells in first if sum(map(bool, cells)) > 1]
    alone = [at for at, cells in first if any(cells)]
    return next(iter(several or alone), None)


def _settled(cell: str) -> str:
    """Without spaces about it, and without the apostrophe that keeps our own text from being a formula."""
    text = cell.replace("\r\n", "\n").replace("\r", "\n").strip(" \n\t\u00a0\ufeff")
    return text[1:] if text.startswith("'") and text[1:].startswith(FORMULA_STARTS) else text


def _decimal_comma(rows: Sequence[Row]) -> bool:
    """Whether numbers say so: some are as 12,5, and none as 12.5."""
    cells = [cell for row in rows for cell in row.cells if cell]
    with_comma = [cell for cell in cells if COMMA_NUMBER.fullmatch(cell) and not THOUSANDS.fullmatch(cell)]
    return bool(with_comma) and not any(
        POINT_NUMBER.fullmatch(cell) and not COMMA_NUMBER.fullmatch(cell) for cell in cells
    )


def number(text: str, decimal_comma: bool) -> str:
    """A number as Python reads it: without sign of money or percent, without marks between thousands."""
    bare = re.sub(r"[\s\u00a0\u202f$%]", "", text)
    if decimal_comma:
        return bare.replace(".", "").replace(",", ".")
    return bare.replace(",", "") if THOUSANDS.fullmatch(bare.partition(".")[0]) else bare
