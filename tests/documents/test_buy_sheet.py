"""The buy list on paper and as a file: it adds up, and what is typed is neither markup nor a formula."""

from __future__ import annotations

import csv
from dataclasses import replace
from datetime import date
from decimal import Decimal
from io import StringIO

import pytest

from plans.documents.buy_sheet import buy_list_csv, buy_list_pdf
from plans.planning.buying import BuyList, SeedStock, SeedTest, buy_list, needs_of, offers_of
from plans.planning.plan import Plan
from plans.planning.wire import read_job_file
from tests.documents.conftest import EXAMPLE, pages

BY = date(2028, 12, 31)


@pytest.fixture(scope="module")
def bought(plan: Plan) -> BuyList:
    half = SeedTest(purity_pct=50, germination_pct=100, tested_on=date(2027, 12, 1))
    shed = [SeedStock(species="switchgrass", lot="S-1", test=half, bulk_lb=6)]
    return buy_list(needs_of(plan, "1"), shed, offers_of(read_job_file(EXAMPLE.read_bytes()).prices), BY)


def rows(bought: BuyList) -> list[dict[str, str]]:
    return list(csv.DictReader(StringIO(buy_list_csv(bought).removeprefix("\ufeff"))))


def test_the_file_adds_up_and_traces_each_lot(bought: BuyList) -> None:
    found = rows(bought)
    costs = [Decimal(row["Cost $"]) for row in found if row["Row"] == "buy"]
    assert sum(costs) == Decimal(found[-1]["Cost $"]) == bought.cost.dollars
    left = [Decimal(row["Value left $"]) for row in found if row["Row"] == "left"]
    assert sum(left) == Decimal(found[-1]["Value left $"]) == bought.left_value.dollars
    for what in {row["What"] for row in found[:-1]}:
        amount = {
            kind: sum(float(row["Amount"]) for row in found if (row["What"], row["Row"]) == (what, kind))
            for kind in ("needed", "shed", "buy", "use", "left")
        }
        assert amount["use"] == pytest.approx(amount["needed"])
        assert amount["shed"] + amount["buy"] == pytest.approx(amount["use"] + amount["left"])


@pytest.mark.parametrize("start", ["=1+1", "+1", "-1", "@A1", "\tx", "\rx"])
def test_no_cell_is_a_formula(bought: BuyList, start: str) -> None:
    line = bought.lines[0]
    uses = tuple(replace(use, lot=start, field=start, plan_title=start) for use in line.purchases[0].uses)
    one = replace(line.purchases[0], supplier=start, lot=start, uses=uses)
    found = rows(replace(bought, lines=(replace(line, name=start, purchases=(one,)),)))
    for row in found:
        assert not [cell for cell in row.values() if cell.startswith(("=", "+", "-", "@", "\t", "\r"))]
    assert {row["What"] for row in found[:-1]} == {f"'{start}"}


def test_the_table_prints_orders_uses_and_the_total(bought: BuyList) -> None:
    text = " ".join(" ".join(pages(buy_list_pdf(bought, practice="Kestrel"))).split())
    for words in (
        "Big bluestem",
        "3 lb PLS from the shed",
        "lot DEMO-101",
        "Creek Bottom 18.5 lb PLS",
        "8 × 2.5 gal",
    ):
        assert words in text
    assert f"{bought.cost.dollars:,.2f}" in text
    assert buy_list_pdf(bought, practice="Kestrel") == buy_list_pdf(bought, practice="Kestrel")


def test_markup_is_printed_as_typed(bought: BuyList) -> None:
    line = replace(bought.lines[0], name="<b>x & y</i>")
    text = " ".join(pages(buy_list_pdf(replace(bought, lines=(line,)), practice="<u>K")))
    assert "<b>x & y</i>" in text and "<u>K" in text


def test_nothing_to_buy_says_so(plan: Plan) -> None:
    empty = buy_list(needs_of(plan, "1"), [], [], date(2026, 12, 1))
    assert "Nothing is needed" in pages(buy_list_pdf(empty, practice="Kestrel"))[0]
    assert [row["Row"] for row in rows(empty)] == ["total"]
