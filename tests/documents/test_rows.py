"""Rows as CSV and as a workbook: read back they are what went in, and typed text is text."""

from __future__ import annotations

import csv
import re
from datetime import date
from decimal import Decimal
from io import BytesIO, StringIO
from typing import Any
from zipfile import ZipFile

import pytest
from hypothesis import given
from hypothesis import strategies as st
from openpyxl import load_workbook

from plans.documents.buy_sheet import COLUMNS as BUY_COLUMNS
from plans.documents.buy_sheet import buy_list_csv, buy_list_xlsx
from plans.documents.rows import Column, as_csv, as_workbook
from plans.planning.buying import BuyList, SeedStock, SeedTest, buy_list, needs_of, offers_of
from plans.planning.plan import Plan
from plans.planning.wire import read_job_file
from tests.documents.conftest import EXAMPLE

ON = date(2027, 9, 20)
COLUMNS = (
    Column("What", 20),
    Column("Day", 12, "day"),
    Column("Cost $", 12, "money"),
    Column("lb", 9, "amount"),
)
ROW = {"What": "big bluestem", "Day": ON, "Cost $": Decimal("1234.50"), "lb": 3.25}
TYPED = (
    "=1+1",
    "+1",
    "-1",
    "@A1",
    '=HYPERLINK("http://x")',
    "<b>&amp;</b>",
    "寒\u200b",
    "tab\there",
    "two\nlines",
)


def book(*rows: Any, **more: Any) -> bytes:
    asked = {"title": "To buy", "about": ("Kestrel", "Made then."), "on": ON, "name": "Buy list"} | more
    return as_workbook(COLUMNS, rows, **asked)


def cells(content: bytes) -> list[tuple[Any, ...]]:
    return [tuple(cell.value for cell in row) for row in load_workbook(BytesIO(content)).active.iter_rows()]


def test_numbers_and_days_are_real_and_the_head_stays_in_view() -> None:
    sheet = load_workbook(BytesIO(book(ROW, {"What": "rest"}))).active
    assert [sheet.cell(at, 1).value for at in (1, 2, 3)] == ["To buy", "Kestrel", "Made then."]
    assert [cell.value for cell in sheet[5]] == ["What", "Day", "Cost $", "lb"]
    what, day, cost, pounds = sheet[6]
    assert (what.value, day.value.date(), cost.value, pounds.value) == ("big bluestem", ON, 1234.5, 3.25)
    assert (day.number_format, cost.number_format) == ("yyyy-mm-dd", "#,##0.00")
    assert [cell.value for cell in sheet[7]] == ["rest", None, None, None]
    assert sheet.freeze_panes == "A6" and sheet.print_title_rows == "$5:$5"
    assert sheet.column_dimensions["A"].width == 20


@pytest.mark.parametrize("typed", TYPED)
def test_typed_text_is_read_back_as_typed_and_never_as_a_formula(typed: str) -> None:
    content = book({"What": typed}, title=typed[:20], about=(typed,))
    sheet = load_workbook(BytesIO(content)).active
    cell = sheet.cell(5, 1)
    assert cell.value == typed and cell.data_type == "s" and cell.quotePrefix
    assert b"<f>" not in ZipFile(BytesIO(content)).read("xl/worksheets/sheet1.xml")


@given(st.text(max_size=40))
def test_any_text_makes_a_file_that_can_be_read(typed: str) -> None:
    value = cells(book({"What": typed}))[-1][0] or ""
    kept = re.sub("[\x00-\x08\x0b\x0c\x0e-\x1f\ud800-\udfff\ufffe\uffff]", "", typed)
    assert value == kept.replace("\r\n", "\n").replace("\r", "\n") or not kept.strip()


def test_a_text_longer_than_a_cell_is_cut() -> None:
    assert len(cells(book({"What": "x" * 40_000}))[-1][0]) == 32_767


def test_the_same_rows_give_the_same_bytes() -> None:
    assert book(ROW) == book(ROW)
    assert b"2027-09-20T00:00:00Z" in ZipFile(BytesIO(book(ROW))).read("docProps/core.xml")


def test_a_row_of_csv_holds_plain_values() -> None:
    (row,) = csv.DictReader(StringIO(as_csv(COLUMNS, [ROW | {"What": "=1"}]).removeprefix("\ufeff")))
    assert row == {"What": "'=1", "Day": "2027-09-20", "Cost $": "1234.50", "lb": "3.25"}


def test_a_text_of_any_class_is_no_formula() -> None:
    class Marked(str):
        pass

    (row,) = csv.DictReader(StringIO(as_csv(COLUMNS, [{"What": Marked("=1")}]).removeprefix("\ufeff")))
    assert row["What"] == "'=1"


@pytest.fixture(scope="module")
def bought(plan: Plan) -> BuyList:
    half = SeedTest(purity_pct=50, germination_pct=100, tested_on=date(2027, 12, 1))
    shed = [SeedStock(species="switchgrass", lot="S-1", test=half, bulk_lb=6)]
    prices = read_job_file(EXAMPLE.read_bytes()).prices
    return buy_list(needs_of(plan, "1"), shed, offers_of(prices), date(2028, 12, 31))


def test_the_workbook_of_the_buy_list_says_what_its_csv_says(bought: BuyList) -> None:
    content = buy_list_xlsx(bought, practice="=Kestrel", on=ON, notes=("left out",))
    found = cells(content)
    assert found[0][0] == "To buy for work up to December 31, 2028" and found[1][0] == "=Kestrel"
    assert found[2][0] == "Made on September 20, 2027." and "pure live seed" in found[3][0]
    head, *rows = found[5:]
    assert list(head) == [column.title for column in BUY_COLUMNS]
    plain = list(csv.reader(StringIO(buy_list_csv(bought, ("left out",)).removeprefix("\ufeff"))))[1:]
    assert len(rows) == len(plain)
    for row, said in zip(rows, plain, strict=True):
        for value, text in zip(row, said, strict=True):
            if isinstance(value, int | float):
                assert value == pytest.approx(float(text), abs=1e-9)
            else:
                assert str(value.date() if hasattr(value, "date") else value or "") == text
    costs = [row[12] for row in rows if row[0] == "buy"]
    assert sum(map(Decimal, map(str, costs))) == bought.cost.dollars
    assert rows[-2][12] == float(bought.cost.dollars)
