from __future__ import annotations

import csv
from dataclasses import replace
from decimal import Decimal
from io import StringIO

import pytest

from plans.documents.sheet import HEAD, estimate_csv
from plans.planning.plan import Plan


def rows(text: str) -> list[dict[str, str]]:
    return list(csv.DictReader(StringIO(text.removeprefix("\ufeff"))))


def test_lines_sum_to_totals(plan: Plan) -> None:
    text = estimate_csv(plan)
    assert text.encode().startswith(b"\xef\xbb\xbf")
    found = rows(text)
    for year in plan.estimate.years:
        of_year = [row for row in found if row["Year"] == str(year.year)]
        prices = [Decimal(row["Price $"]) for row in of_year if row["Kind"] != "total"]
        assert sum(prices) == year.total.dollars == Decimal(of_year[-1]["Price $"])
    assert Decimal(found[-1]["Price $"]) == plan.estimate.total.total.dollars
    costs = [Decimal(row["Direct cost $"]) for row in found[:-1] if row["Direct cost $"]]
    assert sum(costs) == Decimal(found[-1]["Direct cost $"]) == plan.estimate.direct_cost.dollars


@pytest.mark.parametrize("start", ["=1+1", "+1", "-1", "@A1", "\tx", "\rx"])
def test_no_cell_is_a_formula(plan: Plan, start: str) -> None:
    lines = tuple(replace(line, label=start, fields=(start,)) for line in plan.estimate.lines)
    found = rows(estimate_csv(replace(plan, estimate=replace(plan.estimate, lines=lines))))
    for row in found:
        for head in HEAD:
            if head not in ("Quantity", "Direct cost $", "Price $"):
                assert not row[head].startswith(("=", "+", "-", "@", "\t", "\r")), row
    assert any(row["Line"] == f"'{start}" for row in found)
