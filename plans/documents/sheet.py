"""The estimate as a spreadsheet file."""

from __future__ import annotations

import csv
from decimal import Decimal
from io import StringIO

from plans.planning.plan import Plan

HEAD = ("Year", "Kind", "Line", "Fields", "Quantity", "Unit", "Direct cost $", "Price $")
FORMULA_STARTS = ("=", "+", "-", "@", "\t", "\r")


def harmless(text: str) -> str:
    """Text that no spreadsheet takes for a formula: an apostrophe is set before a telling first character."""
    return f"'{text}" if text.startswith(FORMULA_STARTS) else text


def estimate_csv(plan: Plan) -> str:
    """Lines, yearly contingency, discount and tax, and totals; UTF-8 with a byte-order mark once encoded.

    The rows of kind `total` are sums of the price column above them, year by year and then of all years.
    """
    out = StringIO()
    out.write("\ufeff")
    rows = csv.writer(out)
    rows.writerow(HEAD)
    estimate = plan.estimate
    for year in estimate.years:
        for line in estimate.lines:
            if line.year == year.year:
                rows.writerow(
                    [
                        line.year,
                        line.category,
                        harmless(line.label),
                        harmless("; ".join(line.fields)),
                        _plain(line.quantity.value),
                        harmless(line.quantity.unit),
                        line.cost.value,
                        line.price.value,
                    ]
                )
        for name in ("contingency", "discount", "tax"):
            amount: Decimal = getattr(year, name).dollars
            if amount:
                rows.writerow([year.year, name, name.capitalize(), "", "", "", "", amount])
        rows.writerow([year.year, "total", f"Total {year.year}", "", "", "", "", year.total.dollars])
    rows.writerow(
        [
            "",
            "total",
            "Total of all years",
            "",
            "",
            "",
            estimate.direct_cost.dollars,
            estimate.total.total.dollars,
        ]
    )
    return out.getvalue()


def _plain(value: float | Decimal) -> str:
    return f"{round(float(value), 4):.10g}"
