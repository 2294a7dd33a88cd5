"""Price by year, payments, cost-share, and the lines that the price is made of."""

from __future__ import annotations

from collections.abc import Sequence
from decimal import Decimal

from reportlab.platypus import Flowable

from plans.documents.fonts import SERIF_BOLD
from plans.documents.look import (
    BODY,
    CELL,
    CELL_BOLD,
    GREEN,
    INK,
    SMALL,
    TEXT_WIDTH,
    YEAR,
    p,
    part,
    plain,
    quiet,
    rich,
    section,
    strong,
    table,
    text_height,
)
from plans.documents.words import cents, listed, lower_first, number, quantity, sentence, usd
from plans.planning.plan import EstimateLine, Plan, YearPrice

COLUMNS = ("work", "seed", "materials", "spray", "hauling", "contingency", "discount", "tax")
ROW = 21
"""Height of a one-line row [pt]; a short table is kept whole by it."""


def used_columns(plan: Plan) -> list[str]:
    """Columns that hold an amount in some year; `total` always."""
    years = plan.estimate.years
    return [name for name in COLUMNS if any(getattr(year, name).dollars for year in years)] + ["total"]


def by_year(plan: Plan) -> list[Flowable]:
    estimate = plan.estimate
    columns = used_columns(plan)
    story = section("What it costs", min(125 + ROW * len(estimate.years), 0.8 * text_height()))
    if not estimate.years:
        return [*story, p("Nothing in this plan is priced.")]

    def amounts(year: YearPrice) -> list[object]:
        return [cents(getattr(year, name).dollars) for name in columns]

    rows: list[list[object]] = [
        [rich(strong(str(year.year)), quiet(f" {year.phase}"), style=CELL), *amounts(year)]
        for year in estimate.years
    ]
    rows.append([p("All years", CELL_BOLD), *amounts(estimate.total)])
    story.append(
        p(
            "In US dollars. Every line is rounded to the cent, and every total is the sum of the printed "
            "lines, so a pencil gives the same totals."
            + (
                " Contingency is part of the price: it covers small surprises within the work listed."
                if estimate.total.contingency.dollars
                else ""
            ),
            SMALL,
        )
    )
    wide = 58 if len(columns) <= 6 else 50
    first = TEXT_WIDTH - wide * len(columns)
    story.append(
        table(
            ["Year", *[name.capitalize() for name in columns]],
            rows,
            [first, *[wide] * len(columns)],
            numbers=range(1, len(columns) + 1),
            totals=1,
            extra=[("LEFTPADDING", (1, 0), (-1, -1), 2), ("RIGHTPADDING", (1, 0), (-2, -1), 2)],
        )
    )
    return story


def may_come_on_top(plan: Plan) -> str:
    """Steps outside the firm price, with the range they make; empty where none is open."""
    likely = plan.estimate.range
    if likely is None or not likely.steps:
        return ""
    steps = [
        f"{lower_first(step.label).replace(': ', ', ')} "
        f"({step.likelihood_pct} times in 100, {usd(step.price.dollars)})"
        for step in likely.steps
    ]
    return (
        "The price above is for the work listed. Some seasons ask for more, and then the total will "
        f"likely fall between {usd(likely.p10.dollars)} and {usd(likely.p90.dollars)}, half the time at "
        f"or under {usd(likely.p50.dollars)}. What may be needed: {'; '.join(steps)}. We would agree "
        "each with you before it is done. How often each is needed is a rule of thumb."
    )


def what_may_come(plan: Plan) -> list[Flowable]:
    said = may_come_on_top(plan)
    return [*part("What may come on top", 90), p(said, BODY)] if said else []


def payments(plan: Plan) -> list[Flowable]:
    stages = plan.estimate.stages
    if not stages:
        return []
    rows: list[list[object]] = [
        [
            p(stage.label, CELL),
            p(stage.due, CELL),
            f"{number(stage.share_pct)} %",
            cents(stage.amount.dollars),
        ]
        for stage in stages
    ]
    whole = sum((stage.amount.dollars for stage in stages), Decimal("0.00"))
    rows.append(
        [p("Together", CELL_BOLD), "", f"{number(sum(stage.share_pct for stage in stages))} %", cents(whole)]
    )
    return [
        *part("Payments", min(75 + ROW * len(stages), 0.8 * text_height())),
        table(["Payment", "Due", "Share", "Amount"], rows, [150, 178, 60, 80], numbers={2, 3}, totals=1),
    ]


def about_cost_share(plan: Plan) -> str:
    """What a program may pay the landowner; empty where none was entered."""
    share, after, terms = plan.estimate.cost_share, plan.estimate.after_cost_share, plan.job.terms.cost_share
    if share is None or terms is None or after is None:
        return ""
    paid = Decimal(share.value)
    return (
        f"{terms.label} may pay {usd(terms.usd_per_acre)} an acre, {usd(paid)} for this job. That is "
        "between you and them, and we cannot promise it: the price above does not change. With it, "
        f"your own outlay would come to {usd(after.dollars)}."
    )


def cost_share(plan: Plan) -> list[Flowable]:
    said = about_cost_share(plan)
    return [*part("A note on cost-share", 110), p(said, BODY)] if said else []


def quantity_of(line: EstimateLine) -> str:
    value, unit = float(line.quantity.value), line.quantity.unit
    if line.category == "seed":
        unit = f"{unit} PLS"
    return quantity(value, unit)


def _where(line: EstimateLine, everywhere: Sequence[str]) -> str:
    if not line.fields or len(everywhere) == 1:
        return ""
    if set(line.fields) == set(everywhere):
        return ", both fields" if len(everywhere) == 2 else ", all fields"
    return f", {listed(line.fields)}"


def the_lines(plan: Plan) -> list[Flowable]:
    """Every priced line by year, with contingency, discount and tax, down to the year's total."""
    if not plan.estimate.lines:
        return []
    everywhere = [conversion.field for conversion in plan.job.conversions]
    rows: list[list[object]] = []
    extra: list[tuple] = []
    for year in plan.estimate.years:
        first = len(rows) + 1
        rows.append([p(f"{year.year}: {year.phase}", YEAR), "", "", ""])
        rows += [
            [
                rich(plain(sentence(line.label).rstrip(".")), quiet(_where(line, everywhere)), style=CELL),
                p(line.category, CELL),
                quantity_of(line),
                cents(Decimal(line.price.value)),
            ]
            for line in plan.estimate.lines
            if line.year == year.year
        ]
        sums = len(rows)
        rows += [
            [p(name.capitalize(), CELL), "", "", cents(getattr(year, name).dollars)]
            for name in ("contingency", "discount", "tax")
            if getattr(year, name).dollars
        ]
        rows.append([p(f"Total {year.year}", CELL_BOLD), "", "", cents(year.total.dollars)])
        last = len(rows)
        extra += [
            ("SPAN", (0, first), (-1, first)),
            ("TOPPADDING", (0, first), (-1, first), 10),
            ("LINEBELOW", (0, first), (-1, first), 0.5, GREEN),
            ("NOSPLIT", (0, first), (-1, min(first + 2, last))),
            ("NOSPLIT", (0, sums), (-1, last)),
            ("LINEABOVE", (0, last), (-1, last), 0.9, INK),
            ("FONT", (1, last), (-1, last), SERIF_BOLD, 9, 12),
        ]
    head = ["Line", "Kind", "Quantity", "Price"]
    return [
        *section("The lines behind the price", 150),
        table(head, rows, [268, 50, 76, 74], numbers={2, 3}, tight=True, extra=extra),
    ]
