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
MADE = re.compile(rb"(<dcterms:(?:created|modified)[^>]*>)[^<]*")
DIMENSION = re.compile(rb"<dimension[^>]*/>")
EARLIEST = (1980, 1, 1, 0, 0, 0)
TOP, FLOWING, HEAD = (
    Alignment(vertical="top"),
    Alignment(vertical="top", wrap_text=True),
    Alignment(vertical="top", horizontal="right", wrap_text=True),
)
LONG = 40
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
    sheet.writerows([_plain(row.get(column.title)) for column in columns] for row in rows)
    return out.getvalue()


def _plain(value: Value) -> str:
    if isinstance(value, str):
        return harmless(value)
    if isinstance(value, date):
        return value.isoformat()
    return "" if value is None else f"{value:.10g}" if isinstance(value, float) else f"{value}"


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
    book = Workbook()
    sheet: Worksheet = book.active
    sheet.title = name
    for place, said in enumerate((title, *about), start=1):
        cell = _write(sheet.cell(place, 1), said, "text")
        # In one line over the columns beside it.
        cell.alignment = TOP
        if place == 1:
            cell.font = TITLE
    head = len(about) + 3
    for place, column in enumerate(columns, start=1):
        sheet.column_dimensions[get_column_letter(place)].width = column.width
        cell = _write(sheet.cell(head, place), column.title, "text")
        cell.font, cell.fill, cell.border = BOLD, SHADE, RULE
        cell.alignment = FLOWING if column.kind == "text" else HEAD
    given, marked = _rows_xml(sheet, columns, rows, head, frozenset(strong))
    _set_up(sheet, head, len(columns), marked)
    book.properties.creator, book.properties.title = "Coverstead", _allowed(title)
    out = BytesIO()
    book.save(out)
    return _settled(out.getvalue(), on, given)


def _rows_xml(
    sheet: Worksheet, columns: Sequence[Column], rows: Iterable[Row], head: int, strong: frozenset[str]
) -> tuple[bytes, int]:
    """The rows as they stand in the sheet's XML, and the number of the last one.

    Written as text: an object a cell takes twenty times as long. What a cell looks like is asked of the
    library once for each kind of it.
    """
    looks: dict[tuple[type, str, bool, bool], int] = {}

    def look(value: Value, kind: str, bold: bool) -> int:
        key = (type(value), kind, bold, isinstance(value, str) and len(value) > LONG)
        if key not in looks:
            cell = _write(Cell(sheet, row=1, column=1), value, kind)
            if bold:
                cell.font = BOLD
            looks[key] = cell.style_id
        return looks[key]

    letters = [get_column_letter(place) for place in range(1, len(columns) + 1)]
    parts, at = [], head
    for at, row in enumerate(rows, start=head + 1):
        bold = row.get(columns[0].title) in strong
        parts.append(f'<row r="{at}">')
        for letter, column in zip(letters, columns, strict=True):
            value = row.get(column.title)
            if value is None or value == "":
                continue
            opened = f'<c r="{letter}{at}" s="{look(value, column.kind, bold)}"'
            if isinstance(value, str):
                text = escape(_allowed(value))
                parts.append(f'{opened} t="inlineStr"><is><t xml:space="preserve">{text}</t></is></c>')
            else:
                number = to_excel(value) if isinstance(value, date) else value
                parts.append(f'{opened} t="n"><v>{number}</v></c>')
        parts.append("</row>")
    return "".join(parts).encode(), at


def _allowed(text: str) -> str:
    return FORBIDDEN.sub("", text.replace("\r\n", "\n").replace("\r", "\n"))[:MOST_CHARACTERS]


def _write(cell: Cell, value: Value, kind: str) -> Cell:
    if isinstance(value, str):
        cell.value = _allowed(value)
        # The text itself, whatever it begins with; the mark keeps it so when somebody edits the cell.
        cell.data_type = "s"
        cell.quotePrefix = True
        cell.alignment = FLOWING if len(value) > LONG else TOP
        return cell
    cell.value = value
    cell.number_format = FORMATS[kind]
    cell.alignment = TOP
    return cell


def _set_up(sheet: Worksheet, head: int, columns: int, last: int) -> None:
    """The head stays in view on the screen and on each sheet of paper; the print is as wide as the paper."""
    sheet.freeze_panes = f"A{head + 1}"
    sheet.auto_filter.ref = f"A{head}:{get_column_letter(columns)}{last}"
    sheet.print_title_rows = f"{head}:{head}"
    sheet.page_setup.orientation = "landscape"
    sheet.page_setup.fitToHeight = 0
    sheet.sheet_properties.pageSetUpPr.fitToPage = True


def _settled(content: bytes, on: date, rows: bytes) -> bytes:
    """The file with its rows, and without the time at which it was made."""
    out = BytesIO()
    with ZipFile(BytesIO(content)) as made, ZipFile(out, "w", ZIP_DEFLATED) as kept:
        for name in made.namelist():
            part = made.read(name)
            if name == "docProps/core.xml":
                part = MADE.sub(rb"\g<1>%sT00:00:00Z" % f"{on}".encode(), part)
            if name == "xl/worksheets/sheet1.xml":
                part = DIMENSION.sub(b"", part).replace(b"</sheetData>", rows + b"</sheetData>", 1)
            info = ZipInfo(name, EARLIEST)
            info.compress_type = ZIP_DEFLATED
            kept.writestr(info, part)
    return out.getvalue()
