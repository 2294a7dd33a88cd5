"""The lines behind the price down to each year's total: for whoever adds them up again."""

from __future__ import annotations

from collections.abc import Sequence
from decimal import Decimal
from itertools import zip_longest

from reportlab.platypus import Flowable

from plans.documents.look import (
    CELL_SMALL,
    GREEN,
    H3_FINE,
    TEXT_WIDTH,
    p,
    part,
    plain,
    quiet,
    rich,
    table,
)
from plans.documents.look import (
    FINEST as FINE,
)
from plans.documents.look import (
    FINEST_BOLD as FINE_BOLD,
)
from plans.documents.manner import _
from plans.documents.price import quantity_of
from plans.documents.told import told
from plans.documents.words import cents, listed, sentence, upper_first
from plans.planning.plan import CATEGORIES, EstimateLine, Plan, YearPrice


def _where(line: EstimateLine, everywhere: Sequence[str]) -> str:
    if not line.fields or set(line.fields) == set(everywhere):
        return ""
    return f", {listed(line.fields)}"


def _rows(plan: Plan, year: YearPrice) -> list[list[object]]:
    everywhere = [conversion.field for conversion in plan.job.conversions]
    rows: list[list[object]] = [
        [
            rich(plain(sentence(told(line.label)).rstrip(".")), quiet(_where(line, everywhere)), style=FINE),
            quantity_of(line),
            cents(Decimal(line.price.value)),
        ]
        for line in plan.estimate.lines
        if line.year == year.year
    ]
    rows += [
        [p(told(name.capitalize()), FINE), "", cents(getattr(year, name).dollars)]
        for name in ("contingency", "discount", "tax")
        if getattr(year, name).dollars
    ]
    return rows


MOST_ACROSS = 7
"""Years that stand side by side; with more the lines stand year under year."""
NARROW = [("LEFTPADDING", (1, 0), (-1, -1), 2), ("RIGHTPADDING", (1, 0), (-2, -1), 2)]
TIGHT = [("TOPPADDING", (0, 1), (-1, -1), 0.2), ("BOTTOMPADDING", (0, 1), (-1, -1), 0.6)]


def _amount(lines: Sequence[EstimateLine]) -> str:
    """What a line is of, where it is the same in each of its years; seed has a table of its own."""
    amounts = {quantity_of(line) for line in lines}
    return f", {amounts.pop()}" if len(amounts) == 1 and lines[0].category != "seed" else ""


def _across(plan: Plan) -> list[Flowable]:
    """A row a line, a column a year: each column adds up to its year, each row to what the line is in all."""
    years = [year.year for year in plan.estimate.years]
    everywhere = [conversion.field for conversion in plan.job.conversions]
    together: dict[tuple[str, str, tuple[str, ...]], list[EstimateLine]] = {}
    for line in sorted(plan.estimate.lines, key=lambda line: CATEGORIES.index(line.category)):
        together.setdefault((line.category, line.label, line.fields), []).append(line)
    rows: list[list[object]] = []
    extra: list[tuple] = []
    last = ""
    for (category, label, _fields), lines in together.items():
        if category != last:
            last = category
            rows.append([p(upper_first(told(category)), FINE_BOLD), *[""] * (len(years) + 1)])
            extra += [
                ("TOPPADDING", (0, len(rows)), (-1, len(rows)), 3),
                ("LINEBELOW", (0, len(rows)), (-1, len(rows)), 0.5, GREEN),
                ("NOSPLIT", (0, len(rows)), (-1, len(rows) + 1)),
            ]
        about = f"{_where(lines[0], everywhere)}{_amount(lines)}"
        rows.append(
            [
                rich(plain(sentence(told(label)).rstrip(".")), quiet(about), style=FINE),
                *_cells([sum_of(lines, year) for year in years]),
            ]
        )
    first = len(rows) + 1
    for name in ("contingency", "discount", "tax"):
        amounts = [getattr(year, name).dollars for year in plan.estimate.years]
        if any(amounts):
            rows.append([p(told(name.capitalize()), FINE), *_cells(amounts)])
    extra += [("TOPPADDING", (0, first), (-1, first), 3), ("LINEABOVE", (0, first), (-1, first), 0.5, GREEN)]
    rows.append([p(_("Total"), FINE_BOLD), *_cells([year.total.dollars for year in plan.estimate.years])])
    wide = 39.0 if len(years) < MOST_ACROSS else 36.0
    widths = [TEXT_WIDTH - wide * (len(years) + 1) - 8, *[wide] * len(years), wide + 8]
    head = [_("Line"), *(str(year) for year in years), _("In all")]
    columns = range(1, len(years) + 2)
    return [
        table(
            head,
            rows,
            widths,
            numbers=columns,
            totals=1,
            tight=True,
            text=FINE,
            extra=[*TIGHT, *NARROW, *extra],
        )
    ]


def sum_of(lines: Sequence[EstimateLine], year: int) -> Decimal:
    return sum((line.price.dollars for line in lines if line.year == year), Decimal("0.00"))


def _cells(amounts: Sequence[Decimal]) -> list[object]:
    return [cents(amount) for amount in (*amounts, sum(amounts, Decimal("0.00")))]


def the_lines(plan: Plan) -> list[Flowable]:
    """Every priced line, with contingency, discount and tax, down to each year's total."""
    if not plan.estimate.lines:
        return []
    across = len(plan.estimate.years) <= MOST_ACROSS
    return [
        *part(_("The lines behind the price"), 90, H3_FINE),
        p(_("A line that names no field is for all of them."), CELL_SMALL),
        *(_across(plan) if across else _year_by_year(plan)),
    ]


BETWEEN = 18.0
"""Between two years side by side [pt]."""


def _of_year(plan: Plan, year: YearPrice, wide: float) -> Flowable:
    rows = _rows(plan, year)
    total = [p(_("Total {year}").format(year=year.year), FINE_BOLD), "", cents(year.total.dollars)]
    title = _("{year}: {phase}").format(year=year.year, phase=told(year.phase))
    whole_start = ("NOSPLIT", (0, 0), (-1, min(2, len(rows))))
    return table(
        [title, _("Quantity"), _("Price")],
        [*rows, total],
        [wide - 120, 66, 54],
        numbers={1, 2},
        totals=1,
        tight=True,
        text=FINE,
        extra=[*TIGHT, *NARROW, whole_start],
    )


def _year_by_year(plan: Plan) -> list[Flowable]:
    """A table a year, two and two side by side."""
    wide = (TEXT_WIDTH - BETWEEN) / 2
    tables = [_of_year(plan, year, wide) for year in plan.estimate.years]
    rows = [[left, "", right] for left, right in zip_longest(tables[::2], tables[1::2], fillvalue="")]
    bare = [(f"{side}PADDING", (0, 0), (-1, -1), 0) for side in ("LEFT", "RIGHT", "TOP", "BOTTOM")]
    return [table([], rows, [wide, BETWEEN, wide], ruled=False, extra=bare)]
