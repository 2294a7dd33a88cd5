"""The price by year and by field, what could change it, and when it is paid."""

from __future__ import annotations

from collections.abc import Sequence
from decimal import Decimal

from reportlab.platypus import Flowable

from plans.documents.look import (
    BODY,
    CELL,
    CELL_BOLD,
    FINE,
    SMALL,
    TEXT_WIDTH,
    p,
    part,
    quiet,
    rich,
    section,
    strong,
    table,
    text_height,
)
from plans.documents.manner import _
from plans.documents.told import told
from plans.documents.words import cents, exactly, lower_first, measured, number, quantity, usd
from plans.planning.by_field import by_field
from plans.planning.plan import EstimateLine, Plan, YearPrice
from plans.planning.price_moves import LOWER_BY_POINTS, SEED_RISE_PCT, Move

COLUMNS = ("work", "seed", "materials", "spray", "hauling", "contingency", "discount", "tax")
ROW = 17
"""Height of a one-line row [pt]; a short table is kept whole by it."""
MOST_WIDE_YEARS = 6
"""With more years than this a price by field is set in the fine print."""


def used_columns(plan: Plan) -> list[str]:
    """Columns that hold an amount in some year; `total` always."""
    years = plan.estimate.years
    return [name for name in COLUMNS if any(getattr(year, name).dollars for year in years)] + ["total"]


def by_year(plan: Plan) -> list[Flowable]:
    estimate = plan.estimate
    columns = used_columns(plan)
    story = section(_("What it costs"), min(105 + ROW * len(estimate.years), 0.8 * text_height()))
    if not estimate.years:
        return [*story, p(_("Nothing in this plan is priced."))]

    def amounts(year: YearPrice) -> list[object]:
        return [cents(getattr(year, name).dollars) for name in columns]

    rows: list[list[object]] = [
        [rich(strong(str(year.year)), quiet(f" {told(year.phase)}"), style=CELL), *amounts(year)]
        for year in estimate.years
    ]
    rows.append([p(_("All years"), CELL_BOLD), *amounts(estimate.total)])
    about = _(
        "In US dollars. Every line is rounded to the cent, and every total is the sum of the printed "
        "lines, so a pencil gives the same totals."
    )
    if estimate.total.contingency.dollars:
        about += " " + _(
            "Contingency is part of the price: it covers small surprises within the work listed."
        )
    wide = 58 if len(columns) <= 6 else 50
    first = TEXT_WIDTH - wide * len(columns)
    return [
        *story,
        p(about, SMALL),
        table(
            [_("Year"), *[told(name.capitalize()) for name in columns]],
            rows,
            [first, *[wide] * len(columns)],
            numbers=range(1, len(columns) + 1),
            totals=1,
            tight=True,
            extra=[("LEFTPADDING", (1, 0), (-1, -1), 2), ("RIGHTPADDING", (1, 0), (-2, -1), 2)],
        ),
    ]


def price_by_field(plan: Plan) -> list[Flowable]:
    """Fields down, years across; empty for a single field, whose price is the whole."""
    fields, years = by_field(plan), plan.estimate.years
    if len(fields) < 2 or not years:
        return []
    rows: list[list[object]] = [
        [
            p(one.field, CELL_BOLD),
            *(cents(year.dollars) for year in one.years),
            cents(one.total.dollars),
        ]
        for one in fields
    ]
    sums = [*(year.total.dollars for year in years), plan.estimate.total.total.dollars]
    rows.append([p(_("All fields"), CELL_BOLD), *(cents(amount) for amount in sums)])
    columns = len(years) + 1
    wide = min(58.0, 0.8 * TEXT_WIDTH / columns)
    head = [_("Field"), *(str(year.year) for year in years), _("Total")]
    return [
        *part(_("By field"), min(66 + ROW * len(rows), 0.8 * text_height())),
        p(
            _(
                "What is done on one trip is shared by the acres, hours or plants of each field; tax and "
                "contingency with it."
            ),
            SMALL,
        ),
        table(
            head,
            rows,
            [TEXT_WIDTH - wide * columns, *[wide] * columns],
            numbers=range(1, columns + 1),
            totals=1,
            tight=True,
            text=CELL if columns <= MOST_WIDE_YEARS + 1 else FINE,
            extra=[("LEFTPADDING", (1, 0), (-1, -1), 2), ("RIGHTPADDING", (1, 0), (-2, -1), 2)],
        ),
    ]


def _signed(amount: Decimal) -> str:
    return f"+{cents(amount)}" if amount > 0 else cents(amount)


def move_words(move: Move) -> str:
    """What would be otherwise, as a sentence."""
    if move.kind == "seed price":
        return _("Seed costs {share} % more when it is bought.").format(share=number(float(SEED_RISE_PCT), 0))
    if move.kind == "lower test":
        said = _("The lots that come germinate {points} points lower than those listed.")
        if move.more_lb:
            said = _(
                "The lots that come germinate {points} points lower than those listed: {more} more to "
                "weigh out."
            )
        more = quantity(move.more_lb or 0, "lb", 1)
        return said.format(points=number(LOWER_BY_POINTS, 0), more=more)
    if move.kind == "one more kill":
        return _("One more kill is needed before the seed: {step}.").format(
            step=lower_first(told(move.about)).replace(": ", ", ")
        )
    if move.kind == "drill again":
        return _("A machine has to be brought once more for the seeding, on a trip of its own.")
    if move.kind == "more acres":
        return _("{field} measures {area} more.").format(field=move.about, area=measured(1, "acre"))
    return _("{field} measures {area} less.").format(field=move.about, area=measured(1, "acre"))


def may_come_on_top(plan: Plan) -> str:
    """Steps outside the firm price, with the range they make; empty where none is open."""
    likely = plan.estimate.range
    if likely is None or not likely.steps:
        return ""
    said = "; ".join(
        _("{step} ({times} times in 100, {price})").format(
            step=lower_first(told(step.label)).replace(": ", ", "),
            times=step.likelihood_pct,
            price=usd(step.price.dollars),
        )
        for step in likely.steps
    )
    return _(
        "Some seasons ask for more than is planned, and then the total will likely fall between {low} and "
        "{high}, half the time at or under {middle}. What may be needed: {steps}. We would agree each with "
        "you before it is done. How often each is needed is a rule of thumb."
    ).format(
        low=usd(likely.p10.dollars), high=usd(likely.p90.dollars), middle=usd(likely.p50.dollars), steps=said
    )


def what_could_change_it(plan: Plan, moves: Sequence[Move]) -> list[Flowable]:
    """What would move the price and by how much, and the range that open steps make; empty without either."""
    likely = may_come_on_top(plan)
    if not moves and not likely:
        return []
    story: list[Flowable] = [*part(_("What could change the price"), 100)]
    if moves:
        rows: list[list[object]] = [
            [p(move_words(move), CELL), _signed(move.change.dollars)] for move in moves
        ]
        story += [
            p(
                _("Each by itself, with everything else as planned. Nothing of it is in the price above."),
                SMALL,
            ),
            table([_("If"), _("Change")], rows, [TEXT_WIDTH - 80, 80], numbers={1}, tight=True),
        ]
    return [*story, p(likely, BODY)] if likely else story


def payments(plan: Plan) -> list[Flowable]:
    stages = plan.estimate.stages
    if not stages:
        return []
    rows: list[list[object]] = [
        [
            p(stage.label, CELL),
            p(stage.due, CELL),
            _("{share} %").format(share=number(stage.share_pct)),
            cents(stage.amount.dollars),
        ]
        for stage in stages
    ]
    whole = sum((stage.amount.dollars for stage in stages), Decimal("0.00"))
    share = _("{share} %").format(share=number(sum(stage.share_pct for stage in stages)))
    rows.append([p(_("Together"), CELL_BOLD), "", share, cents(whole)])
    return [
        *part(_("Payments"), min(62 + ROW * len(stages), 0.8 * text_height())),
        table(
            [_("Payment"), _("Due"), _("Share"), _("Amount")],
            rows,
            [150, 178, 60, 80],
            numbers={2, 3},
            totals=1,
            tight=True,
        ),
    ]


def about_cost_share(plan: Plan) -> str:
    """What a program may pay the landowner; empty where none was entered."""
    share, after, terms = plan.estimate.cost_share, plan.estimate.after_cost_share, plan.job.terms.cost_share
    if share is None or terms is None or after is None:
        return ""
    return _(
        "{program} may pay {rate}, {whole} for this job. That is between you and them, and we cannot "
        "promise it: the price above does not change. With it, your own outlay would come to {outlay}."
    ).format(
        program=terms.label,
        rate=exactly(terms.usd_per_acre, "$/acre"),
        whole=usd(Decimal(share.value)),
        outlay=usd(after.dollars),
    )


def quantity_of(line: EstimateLine) -> str:
    value, unit = float(line.quantity.value), line.quantity.unit
    if line.category == "seed":
        return _("{amount} PLS").format(amount=quantity(value, unit))
    return quantity(value, unit)
