"""How the figures that matter were worked out: formula, inputs, source."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from decimal import Decimal

from reportlab.platypus import Flowable

from plans.documents.look import CELL, CELL_BOLD, p, part, plain, quiet, rich, section, table
from plans.documents.words import number, sentence, unique, usd
from plans.planning.figures import Figure
from plans.planning.plan import Plan, SeedLine, TankPart

BIGGEST = 5
MOST_FIELDS = 4


def _block(workings: Iterable[tuple[str, Figure | None]]) -> str:
    """One line per working, the sources beneath."""
    found = [(name, figure) for name, figure in workings if figure is not None]
    lines = [plain(f"{name}: {figure.working}." if name else f"{sentence(figure.working)}") for name, figure in found]
    sources = unique(figure.source for _, figure in found if figure.source != "arithmetic")
    if sources:
        lines.append(quiet(f"Source: {sentence('; '.join(sources))}"))
    return "<br/>".join(lines)


def _rows(rows: Sequence[tuple[str, str]]) -> Flowable:
    return table([], [[p(name, CELL_BOLD), rich(said, style=CELL)] for name, said in rows], [110, 358])


def _seed(plan: Plan) -> list[Flowable]:
    by_species: dict[str, list[tuple[str, SeedLine]]] = {}
    for field in plan.seed:
        for line in field.lines:
            by_species.setdefault(line.species, []).append((field.field, line))
    rows = []
    several = len(plan.seed) > 1
    for species, lines in by_species.items():
        workings: list[tuple[str, Figure | None]] = []
        rates = set()
        for field, line in lines[:MOST_FIELDS]:
            on = f" on {field}" if several else ""
            if line.pls_lb_per_acre.value not in rates:
                workings.append(("Pure live seed per acre", line.pls_lb_per_acre))
                rates.add(line.pls_lb_per_acre.value)
            workings += [(f"To weigh out{on}", line.bulk_lb), (f"Cost{on}", line.cost)]
        said = _block(workings)
        if len(lines) > MOST_FIELDS:
            said += quiet(f"<br/>{len(lines) - MOST_FIELDS} more fields are reckoned the same way.".replace("<br/>", "\n"))
        rows.append((species[:1].upper() + species[1:], said))
    return [*part("Seed", 90), _rows(rows)] if rows else []


def _spray(plan: Plan) -> list[Flowable]:
    by_product: dict[str, list[tuple[str, TankPart]]] = {}
    for tank in plan.tanks:
        for product in tank.parts:
            by_product.setdefault(product.name, []).append((f"{tank.label}, {tank.field}", product))
    rows = []
    for name, uses in by_product.items():
        workings: list[tuple[str, Figure | None]] = []
        rates = set()
        for use, product in uses:
            if product.rate.value not in rates and product.rate.inputs:
                workings.append(("Rate", product.rate))
                rates.add(product.rate.value)
            workings.append((use, product.total))
        rows.append((name[:1].upper() + name[1:], _block(workings)))
    return [*part("Products to spray", 90), _rows(rows)] if rows else []


def _work(plan: Plan) -> list[Flowable]:
    lines = [line for line in plan.estimate.lines if line.category == "work"]
    lines = sorted(lines, key=lambda line: -Decimal(line.price.value))[:BIGGEST]
    rows = [
        (
            f"{line.label}, {line.year}",
            _block([("Quantity", line.quantity), ("Direct cost", line.cost), ("Price", line.price)]),
        )
        for line in lines
    ]
    return [*part("The largest lines of work", 90), _rows(rows)] if rows else []


def _sums(plan: Plan) -> list[Flowable]:
    terms, total = plan.job.terms, plan.estimate.total
    rows: list[tuple[str, str]] = []
    if total.contingency:
        rows.append(
            (
                "Contingency",
                plain(
                    f"{number(terms.contingency_pct)} % of the printed lines, reckoned for each year and kind and rounded to "
                    f"the cent, then added up = {usd(total.contingency)}."
                ),
            )
        )
    if total.discount:
        rows.append(
            (
                "Discount",
                plain(
                    f"{number(terms.discount_pct)} % of lines and contingency, for each year and kind, added up = "
                    f"{usd(total.discount)}."
                ),
            )
        )
    if total.tax:
        kinds = {
            "work": terms.taxes.work_pct, "seed": terms.taxes.seed_pct, "spray": terms.taxes.spray_pct,
            "hauling": terms.taxes.hauling_pct,
        }  # fmt: skip
        shares = ", ".join(f"{kind} {number(pct, 3)} %" for kind, pct in kinds.items() if pct)
        rows.append(
            (
                "Tax",
                plain(
                    f"{shares} of what each year's lines of that kind come to with contingency and discount, added up = "
                    f"{usd(total.tax)}."
                ),
            )
        )
    parts = [
        (name, getattr(total, name))
        for name in ("work", "seed", "spray", "hauling", "contingency", "discount", "tax")
        if getattr(total, name)
    ]
    if parts:
        added = " + ".join(f"{name} {usd(amount)}" for name, amount in parts)
        rows.append(("Total", plain(f"{added} = {usd(total.total)}.")))
    if plan.estimate.cost_share is not None:
        rows.append(("Cost-share", _block([("", plan.estimate.cost_share)])))
    return [*part("Sums", 90), _rows(rows)] if rows else []


def the_workings(plan: Plan) -> list[Flowable]:
    blocks = [*_seed(plan), *_spray(plan), *_work(plan), *_sums(plan)]
    if not blocks:
        return []
    return [
        *section("How it was worked out", 170),
        p(
            "The figures that decide the price, each with its rule, what was put in, and where the rule comes from. "
            "If an input looks wrong to you, tell us: the result follows from it."
        ),
        *blocks,
    ]
