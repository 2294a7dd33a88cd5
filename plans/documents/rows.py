"""Rows as a spreadsheet file: as CSV, and as a workbook (XLSX) with real numbers and days.

What a person typed stays text in both: no cell is a formula, and what XML may not hold is left out.
"""

from __future__ import annotations

import csv
import re
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from functools import lru_cache
from io import BytesIO, StringIO
from typing import Literal
from xml.sax.saxutils import escape
from zipfile import ZIP_DEFLATED, ZipFile, ZipInfo

from openpyxl import Workbook
from openpyxl.cell import Cell
from openpyxl.styles import Alignment, Border, Font, PatternFill, Side
from openpyxl.utils import get_column_letter
from openpyxl.utils.datetime import to_excel
from openpyxl.worksheet.worksheet import Worksheet

from plans.documents.sheet import harmless

Value = str | int | float | Decimal | date | None
Row = Mapping[str, Value]
"""Values by the title of their column; what is missing stays empty."""
FORMATS = {"text": "@", "whole": "0", "amount": "#,##0.00##", "money": "#,##0.00", "day": "yyyy-mm-dd"}
MOST_CHARACTERS = 32_767
"""Of a cell. Source: the limits that spreadsheet programs state."""
FORBIDDEN = re.compile("[\x00-\x08\x0b\x0c\x0e-\x1f\ud800-\udfff\ufffe\uffff]")
"""What XML 1.0 does not allow in a text."""
NOT_PLAIN = re.compile("[&<>\r\x00-\x08\x0b\x0c\x0e-\x1f\ud800-\udfff\ufffe\uffff]")
"""What cannot stand in XML as it is."""
MADE = re.compile(rb"(<dcterms:(?:created|modified)[^>]*>)[^<]*")
DIMENSION = re.compile(rb"<dimension[^>]*/>")
CORE, BOOK, SHEET = "docProps/core.xml", "xl/workbook.xml", "xl/worksheets/sheet1.xml"
MOST_ROWS = 1_048_576
"""Of a sheet; stands in its frame where the number of its last row goes. Source: as above."""
UNTITLED = "no title yet"
QUICK = 3
"""Of nine; the usual 6 makes a file of 5,000 rows a seventh smaller and takes a third longer."""
EARLIEST = (1980, 1, 1, 0, 0, 0)
TOP, FLOWING, HEAD = (
    Alignment(vertical="top"),
    Alignment(vertical="top", wrap_text=True),
    Alignment(vertical="top", horizontal="right", wrap_text=True),
)
LONG = 40
SHUT = "</t></is></c>"
BOLD, TITLE = Font(bold=True), Font(bold=True, size=14)
SHADE = PatternFill("solid", fgColor="E9E4D4")
RULE = Border(bottom=Side("thin"))


@dataclass(frozen=True, slots=True)
class Column:
    title: str
    width: int = 12
    """In characters."""
    kind: Literal["text", "whole", "amount", "money", "day"] = "text"


def as_csv(columns: Sequence[Column], rows: Iterable[Row]) -> str:
    """Head and rows; UTF-8 with a byte-order mark once encoded. A day is written as 2027-09-20."""
    out = StringIO()
    out.write("\ufeff")
    sheet = csv.writer(out)
    sheet.writerow(column.title for column in columns)
    titles = [column.title for column in columns]
    # In one expression, as a call for each cell takes as long as all the rest. The library writes nothing for
    # None, a day as 2027-09-20, whole numbers and money as they are.
    sheet.writerows(
        [
            f"{value:.10g}"
            if value.__class__ is float
            else harmless(value)
            if isinstance(value, str) and not value[:1].isalnum()
            else value
            for value in map(row.get, titles)
        ]
        for row in rows
    )
    return out.getvalue()


def as_workbook(
    columns: Sequence[Column],
    rows: Iterable[Row],
    *,
    title: str,
    about: Sequence[str],
    on: date,
    strong: Sequence[str] = (),
    name: str,
) -> bytes:
    """One sheet: the title and what it is `about`, a line each, then head and rows, the head kept in view.

    Rows whose first cell is in `strong` are bold; `name` is the sheet's, 31 characters at most. The same
    arguments give the same bytes; `on` is the day that they carry.
    """
    head = len(about) + 3
    frame = _frame(tuple(columns), name, head)
    lines = [(title, frame.title), *((line, frame.looks["short", False]) for line in about)]
    above = "".join(
        f'<row r="{at}">{_text(f"A{at}", line, look)}</row>' for at, (line, look) in enumerate(lines, start=1)
    )
    given, last = _rows_xml(frame.looks, columns, rows, head, frozenset(strong))
    out = BytesIO()
    with ZipFile(out, "w") as kept:
        for part, made in frame.parts:
            content = made
            if part == CORE:
                content = MADE.sub(rb"\g<1>%sT00:00:00Z" % f"{on}".encode(), made)
                content = content.replace(UNTITLED.encode(), escape(_allowed(title)).encode())
            elif part == BOOK:
                content = made.replace(b"%d" % MOST_ROWS, b"%d" % last)
            elif part == SHEET:
                content = made.replace(b"%d" % MOST_ROWS, b"%d" % last)
                content = content.replace(b"<sheetData>", b"<sheetData>" + above.encode(), 1)
                content = content.replace(b"</sheetData>", given.encode() + b"</sheetData>", 1)
            info = ZipInfo(part, EARLIEST)
            kept.writestr(info, content, ZIP_DEFLATED, QUICK)
    return out.getvalue()


@dataclass(frozen=True, slots=True)
class Frame:
    """A workbook without its rows, as the library writes it."""

    parts: tuple[tuple[str, bytes], ...]
    """Name and content of each file in it."""
    looks: dict[tuple[str, bool], int]
    """The number of each look: of a text, `short` or `long`, or of a number in a column, plain or bold."""
    title: int


@lru_cache(maxsize=64)
def _frame(columns: tuple[Column, ...], name: str, head: int) -> Frame:
    """Asked of the library once for each kind of sheet, as it takes longer than a hundred rows."""
    book = Workbook()
    sheet: Worksheet = book.active
    sheet.title = name
    for place, column in enumerate(columns, start=1):
        sheet.column_dimensions[get_column_letter(place)].width = column.width
        cell = _styled(sheet.cell(head, place, _allowed(column.title)), "short")
        cell.data_type = "s"
        cell.font, cell.fill, cell.border = BOLD, SHADE, RULE
        cell.alignment = FLOWING if column.kind == "text" else HEAD
    looks = {}
    for kind in ("short", "long", *FORMATS):
        for bold in (False, True):
            cell = _styled(Cell(sheet, row=1, column=1), kind)
            if bold:
                cell.font = BOLD
            looks[kind, bold] = cell.style_id
    cell = _styled(Cell(sheet, row=1, column=1), "short")
    cell.font = TITLE
    title = cell.style_id
    _set_up(sheet, head, len(columns))
    book.properties.creator, book.properties.title = "Coverstead", UNTITLED
    out = BytesIO()
    book.save(out)
    with ZipFile(out) as made:
        parts = {part: made.read(part) for part in made.namelist()}
    parts[SHEET] = DIMENSION.sub(b"", parts[SHEET])
    return Frame(tuple(parts.items()), looks, title)


def _rows_xml(
    looks: dict[tuple[str, bool], int],
    columns: Sequence[Column],
    rows: Iterable[Row],
    head: int,
    strong: frozenset[str],
) -> tuple[str, int]:
    """The rows as they stand in the sheet's XML, and the number of the last one.

    Written as text: an object a cell takes twenty times as long.
    """
    first = columns[0].title
    places = [
        (
            f'<c r="{get_column_letter(place)}',
            column.title,
            {bold: f'" s="{looks[column.kind, bold]}" t="n"><v>' for bold in (False, True)},
        )
        for place, column in enumerate(columns, start=1)
    ]
    of_text = {key: _opened(look) for key, look in looks.items()}
    parts, at = [], head
    for at, row in enumerate(rows, start=head + 1):
        bold = row.get(first) in strong
        short, long = of_text["short", bold], of_text["long", bold]
        parts.append(f'<row r="{at}">')
        for cell, title, of_number in places:
            value = row.get(title)
            if value is None or value == "":
                continue
            if isinstance(value, str):
                parts.append(f"{cell}{at}{long if len(value) > LONG else short}{_escaped(value)}{SHUT}")
            else:
                number = _serial(value) if isinstance(value, date) else value
                parts.append(f"{cell}{at}{of_number[bold]}{number}</v></c>")
        parts.append("</row>")
    return "".join(parts), at


@lru_cache(maxsize=4000)
def _serial(day: date) -> float | None:
    """The number by which a workbook knows a day."""
    return to_excel(day)


def _text(place: str, value: str, look: int) -> str:
    """A cell that holds the text itself, whatever it begins with."""
    return f'<c r="{place}{_opened(look)}{_escaped(value)}{SHUT}'


def _opened(look: int) -> str:
    return f'" s="{look}" t="inlineStr"><is><t xml:space="preserve">'


def _escaped(value: str) -> str:
    if len(value) > MOST_CHARACTERS or NOT_PLAIN.search(value):
        return escape(_allowed(value))
    return value


def _allowed(text: str) -> str:
    return FORBIDDEN.sub("", text.replace("\r\n", "\n").replace("\r", "\n"))[:MOST_CHARACTERS]


def _styled(cell: Cell, kind: str) -> Cell:
    """As a text, `short` or `long`, or as a number of that kind of column."""
    if kind in ("short", "long"):
        # The mark keeps it a text when somebody edits the cell.
        cell.quotePrefix = True
        cell.alignment = FLOWING if kind == "long" else TOP
    else:
        cell.number_format = FORMATS[kind]
        cell.alignment = TOP
    return cell


def _set_up(sheet: Worksheet, head: int, columns: int) -> None:
    """The head stays in view on the screen and on each sheet of paper; the print is as wide as the paper."""
    sheet.freeze_panes = f"A{head + 1}"
    sheet.auto_filter.ref = f"A{head}:{get_column_letter(columns)}{MOST_ROWS}"
    sheet.print_title_rows = f"{head}:{head}"
    sheet.page_setup.orientation = "landscape"
    sheet.page_setup.fitToHeight = 0
    sheet.sheet_properties.pageSetUpPr.fitToPage = True
