"""Workings of the sums in an estimate: which printed lines each amount adds up."""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal

from plans.planning.figures import Figure, Term
from plans.planning.job import Terms
from plans.planning.plan import CATEGORIES, Estimate, YearPrice

PARTS = (*CATEGORIES, "contingency", "discount", "tax")


@dataclass(frozen=True, slots=True)
class YearRow:
    """A row of the price by year: a figure for each part that is not nothing, and the total."""

    label: str
    phase: str
    cells: tuple[tuple[str, Figure | None], ...]
    """Head and figure of each column."""
    total: Figure


@dataclass(frozen=True, slots=True)
class YearTable:
    heads: tuple[str, ...]
    rows: tuple[YearRow, ...]
    total: YearRow


def year_table(estimate: Estimate, terms: Terms) -> YearTable:
    """Price by year with only the columns that carry an amount."""
    used = tuple(part for part in PARTS if any(getattr(year, part) for year in estimate.years))
    rows = tuple(
        YearRow(
            label=str(year.year),
            phase=year.phase,
            cells=tuple((part.capitalize(), part_figure(estimate, year, part, terms)) for part in used),
            total=total_figure(year, used),
        )
        for year in estimate.years
    )
    whole = YearRow(
        label="All years",
        phase="",
        cells=tuple((part.capitalize(), column_figure(estimate, part)) for part in used),
        total=total_figure(estimate.total, used),
    )
    return YearTable(heads=tuple(part.capitalize() for part in used), rows=rows, total=whole)


def part_figure(estimate: Estimate, year: YearPrice, part: str, terms: Terms) -> Figure | None:
    amount: Decimal = getattr(year, part)
    if not amount:
        return None
    if part in CATEGORIES:
        lines = [line for line in estimate.lines if line.year == year.year and line.category == part]
        inputs = tuple(Term(line.label, line.price.value, "$") for line in lines)
        return Figure(
            amount, "$", f"sum of the {part} lines of {year.year}", inputs, "every line of the price"
        )
    rule, shares = PART_RULES[part](terms)
    sums = tuple(
        Term(category, getattr(year, category), "$") for category in CATEGORIES if getattr(year, category)
    )
    return Figure(
        amount, "$", rule, (*shares, *sums), "terms of this plan, each part rounded half up to the cent"
    )


def contingency_rule(terms: Terms) -> tuple[str, tuple[Term, ...]]:
    rule = "contingency on each category's lines, added up"
    return rule, (Term("contingency", terms.contingency_pct, "%"),)


def discount_rule(terms: Terms) -> tuple[str, tuple[Term, ...]]:
    rule = "discount on each category's lines and contingency, added up"
    return rule, (Term("discount", terms.discount_pct, "%"), Term("contingency", terms.contingency_pct, "%"))


def tax_rule(terms: Terms) -> tuple[str, tuple[Term, ...]]:
    rule = "tax on each category's lines with contingency and discount, added up"
    rates = {name: getattr(terms.taxes, f"{name}_pct") for name in CATEGORIES}
    return rule, tuple(Term(f"tax on {name}", rate, "%") for name, rate in rates.items() if rate)


PART_RULES = {"contingency": contingency_rule, "discount": discount_rule, "tax": tax_rule}


def column_figure(estimate: Estimate, part: str) -> Figure | None:
    amount: Decimal = getattr(estimate.total, part)
    if not amount:
        return None
    inputs = tuple(
        Term(str(year.year), getattr(year, part), "$") for year in estimate.years if getattr(year, part)
    )
    return Figure(amount, "$", f"sum of the years' {part}", inputs, "rows above")


def total_figure(year: YearPrice, used: tuple[str, ...]) -> Figure:
    inputs = tuple(Term(part, getattr(year, part), "$") for part in used if getattr(year, part))
    return Figure(year.total, "$", "sum of the row", inputs, "this row")
