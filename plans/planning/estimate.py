"""Lines, years and totals of the estimate.

Policy (worked example in tests/published): direct cost of a line is rounded to the cent; overhead, then
margin or markup, give its price, rounded once. Contingency, discount and tax are reckoned per year and
category on the printed prices: contingency on the lines, discount on lines and contingency, tax on what
is left of its category. Every total is a sum of printed amounts.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from decimal import Decimal

from plans.planning import tables
from plans.planning.calendar import SOWING
from plans.planning.fields import PRICE_SOURCE, Prices
from plans.planning.figures import Figure, Term, plain
from plans.planning.job import Job, Terms
from plans.planning.money import ZERO, exact, percent_of, price_from_cost, split, to_cents, total
from plans.planning.plan import (
    CATEGORIES,
    Category,
    Estimate,
    EstimateLine,
    FieldSeed,
    Material,
    SeedLine,
    StageAmount,
    TankMix,
    Task,
    YearPrice,
)
from plans.planning.work import Visit, visits

PHASES = {"plant": "plant", "kill": "kill", "establish": "settle", "keep": "keep"}


def priced(line: EstimateLine, terms: Terms) -> EstimateLine:
    """A line with its price from its direct cost."""
    cost = Decimal(line.cost.value)
    pct = exact(terms.pricing_pct)
    rule = (
        "cost × (1 + overhead) / (1 - margin)"
        if terms.pricing == "margin on price"
        else "cost × (1 + overhead) × (1 + markup)"
    )
    return replace(
        line,
        price=Figure(
            price_from_cost(cost, terms.overhead_pct, terms.pricing, terms.pricing_pct),
            "$",
            rule,
            (
                Term("cost", cost, "$"),
                Term("overhead", terms.overhead_pct, "%"),
                Term(terms.pricing, float(pct), "%"),
            ),
            "terms of this plan, rounded half up to the cent",
        ),
    )


NO_PRICE = Figure(ZERO, "$", "not yet priced")


def _line(
    year: int, category: Category, label: str, fields: tuple[str, ...], quantity: Figure, cost: Figure
) -> EstimateLine:
    return EstimateLine(
        year=year, category=category, label=label, fields=fields, quantity=quantity, cost=cost, price=NO_PRICE
    )


def work_line(visit: Visit, prices: Prices) -> EstimateLine | None:
    """The line of one trip; None where the work has no listed rate."""
    rate = prices.work.get(visit.operation)
    if rate is None:
        return None
    acres = sum(task.acres for task in visit.tasks)
    hours = sum(float(task.hours.value) for task in visit.tasks if task.hours)
    quantity = {
        "acre": Figure(acres, "acre", "acres worked, all fields of the trip"),
        "hour": Figure(hours, "h", "machine hours, all fields of the trip"),
        "trip": Figure(1.0, "trip", "one trip"),
        "plant": Figure(
            float(sum(task.plants for task in visit.tasks)),
            "plants",
            "plants worked on, all fields of the trip",
        ),
    }[rate.basis]
    by_rate = exact(float(quantity.value)) * rate.rate_usd
    cost = to_cents(max(by_rate, rate.minimum_usd))
    return _line(
        visit.on.year,
        "work",
        visit.tasks[0].label,
        tuple(task.field for task in visit.tasks),
        quantity,
        Figure(
            cost,
            "$",
            f"{rate.basis}s × rate, and at least the minimum of a visit",
            (
                Term("quantity", float(quantity.value), quantity.unit),
                Term("rate", rate.rate_usd, "$"),
                Term("minimum", rate.minimum_usd, "$"),
            ),
            PRICE_SOURCE,
        ),
    )


def hauling_lines(trips: Sequence[Visit], job: Job, prices: Prices) -> list[EstimateLine]:
    """Miles of a year's trips, a line for each year."""
    lines = []
    miles = job.farm.round_trip_miles
    if not miles or not prices.hauling_usd_per_mile:
        return []
    for year in sorted({visit.on.year for visit in trips}):
        count = sum(1 for visit in trips if visit.on.year == year)
        lines.append(
            _line(
                year,
                "hauling",
                f"Hauling to {job.farm.name}",
                (),
                Figure(
                    count * miles,
                    "miles",
                    "trips × miles there and back",
                    (Term("trips", count), Term("miles", miles)),
                ),
                Figure(
                    to_cents(exact(count * miles) * prices.hauling_usd_per_mile),
                    "$",
                    "miles × rate",
                    (Term("miles", count * miles), Term("rate", prices.hauling_usd_per_mile, "$")),
                    PRICE_SOURCE,
                ),
            )
        )
    return lines


def sum_line(
    year: int,
    category: Category,
    label: str,
    parts: Sequence[tuple[str, Figure, Figure]],
    allowances: Sequence[tuple[str, Figure | None]] = (),
) -> EstimateLine:
    """One line from (field, quantity, cost) of several fields; its cost sums costs already rounded."""
    quantity = Figure(
        sum(float(amount.value) for _, amount, _ in parts),
        parts[0][1].unit,
        "sum over the fields",
        tuple(Term(field, float(amount.value), amount.unit) for field, amount, _ in parts),
        parts[0][1].source,
    )
    if len(parts) == 1:
        cost = parts[0][2]
    else:
        cost = Figure(
            total(Decimal(cost.value) for _, _, cost in parts),
            "$",
            "sum over the fields",
            tuple(Term(field, Decimal(cost.value), "$") for field, _, cost in parts),
            PRICE_SOURCE,
        )
    fields = tuple(dict.fromkeys(field for field, _, _ in parts))
    line = _line(year, category, label, fields, quantity, cost)
    beyond = [(field, more.dollars) for field, more in allowances if more is not None]
    if not beyond:
        return line
    return replace(line, allowance=_added("allowances of the fields, added up", beyond, PRICE_SOURCE))


def allowance_of(operation: str, prices: Prices) -> float:
    """What the price list allows the work to use beyond its plan [%]."""
    rate = prices.work.get(operation)
    return rate.allowance_pct if rate else 0.0


def with_allowance(cost: Figure, allowance_pct: float) -> tuple[Figure, Figure | None]:
    """A planned cost with what is allowed beyond it [$], and the allowance alone, rounded to the cent.

    Source: the price list's allowance of the work that uses it.
    """
    if not allowance_pct:
        return cost, None
    terms = (Term("cost as planned", cost.dollars, "$"), Term("allowance", allowance_pct, "%"))
    more = Figure(
        percent_of(cost.dollars, allowance_pct), "$", "cost as planned × allowance", terms, PRICE_SOURCE
    )
    whole = cost.dollars + more.dollars
    return Figure(whole, "$", "cost as planned × (1 + allowance)", terms, PRICE_SOURCE), more


def _seed_part(line: SeedLine, share_pct: float) -> tuple[Figure, Figure] | None:
    """Pounds and cost of a species for a share [%] of its field; None without a listed price."""
    if line.cost is None or share_pct == 100:
        return None if line.cost is None else (line.pls_lb, line.cost)
    pounds, cost = float(line.pls_lb.value), line.cost.dollars
    share = Term("share", share_pct, "%")
    return (
        Figure(
            pounds * share_pct / 100, "lb", "PLS of the field × share", (Term("PLS", pounds, "lb"), share)
        ),
        Figure(
            percent_of(cost, share_pct),
            "$",
            "seed of the field × share",
            (Term("seed cost", cost, "$"), share),
        ),
    )


def _seed_lines(
    seed: Sequence[FieldSeed], sowings: Sequence[tuple[str, int, float, float]]
) -> list[EstimateLine]:
    """Lines for every sowing, given as field, year, share of the field [%] and allowance [%]."""
    grouped: dict[tuple[int, str], _Parts] = {}
    by_field = {field.field: field for field in seed}
    for name, year, share_pct, allowance_pct in sowings:
        for line in by_field[name].lines:
            part = _seed_part(line, share_pct)
            if part is not None:
                grouped.setdefault((year, line.species), _Parts()).add(name, *part, allowance_pct)
    return [
        sum_line(year, "seed", f"{species} seed", parts.parts, parts.allowances)
        for (year, species), parts in grouped.items()
    ]


@dataclass(slots=True)
class _Parts:
    """What several fields put into one line: field, quantity and cost, and the allowance in that cost."""

    parts: list[tuple[str, Figure, Figure]] = field(default_factory=list)
    allowances: list[tuple[str, Figure | None]] = field(default_factory=list)

    def add(self, name: str, quantity: Figure, planned: Figure, allowance_pct: float) -> None:
        cost, allowance = with_allowance(planned, allowance_pct)
        self.parts.append((name, quantity, cost))
        self.allowances.append((name, allowance))


def seed_share_lines(
    seed: Sequence[FieldSeed], share_pct: float, year: int, allowance_pct: float
) -> list[EstimateLine] | None:
    """Lines for a share [%] of each field's seed; None where a species has no listed price."""
    if any(line.cost is None for field in seed for line in field.lines):
        return None
    return _seed_lines(seed, [(field.field, year, share_pct, allowance_pct) for field in seed])


def spray_lines(
    tanks: Sequence[TankMix], year_of: Mapping[str, int], allowances: Mapping[str, float]
) -> list[EstimateLine]:
    """Products and adjuvants by year, all fields together; `year_of` and `allowances` [%] are by task."""
    grouped: dict[tuple[int, str], _Parts] = {}
    for tank in tanks:
        for part in tank.parts:
            if part.cost is not None:
                parts = grouped.setdefault((year_of[tank.task], part.name), _Parts())
                parts.add(tank.field, part.total, part.cost, allowances[tank.task])
    return [
        sum_line(year, "spray", name, parts.parts, parts.allowances)
        for (year, name), parts in grouped.items()
    ]


def material_lines(materials: Sequence[Material], year_of: Mapping[str, int]) -> list[EstimateLine]:
    """Plants, tubes, fence, fertilizer and lime by year, all fields together."""
    grouped: dict[tuple[int, str], list[tuple[str, Figure, Figure]]] = {}
    for material in materials:
        if material.cost is not None:
            grouped.setdefault((year_of[material.task], material.name), []).append(
                (material.field, material.amount, material.cost)
            )
    return [sum_line(year, "materials", name, parts) for (year, name), parts in grouped.items()]


SUM_SOURCE = "sum of printed amounts"
TERMS_SOURCE = "terms of this plan, each part rounded half up to the cent"


def _added(formula: str, parts: Sequence[tuple[str, Decimal]], source: str = SUM_SOURCE) -> Figure:
    """A sum of printed amounts [$]; parts that are nothing are left out of the working."""
    terms = tuple(Term(name, amount, "$") for name, amount in parts if amount)
    return Figure(total(amount for _, amount in parts), "$", formula, terms, source)


def year_price(year: int, phase: str, lines: Sequence[EstimateLine], terms: Terms) -> YearPrice:
    """A year's sums by kind, with contingency, discount and tax."""
    rates = {
        "work": terms.taxes.work_pct,
        "seed": terms.taxes.seed_pct,
        "spray": terms.taxes.spray_pct,
        "hauling": terms.taxes.hauling_pct,
        "materials": terms.taxes.materials_pct,
    }
    sums = {
        category: _added(
            f"{category} lines of {year}, added up",
            [(line.label, line.price.dollars) for line in lines if line.category == category],
        )
        for category in CATEGORIES
    }
    more = {category: percent_of(sums[category].dollars, terms.contingency_pct) for category in CATEGORIES}
    less = {
        category: -percent_of(sums[category].dollars + more[category], terms.discount_pct)
        for category in CATEGORIES
    }
    taxed = {category: sums[category].dollars + more[category] + less[category] for category in CATEGORIES}
    tax = [
        (
            f"{rates[category]:g} % of {category} {plain(taxed[category], '$')}",
            percent_of(taxed[category], rates[category]),
        )
        for category in CATEGORIES
    ]
    contingency = _added(
        f"{terms.contingency_pct:g} % of each kind's lines, added up", list(more.items()), TERMS_SOURCE
    )
    discount = _added(
        f"{terms.discount_pct:g} % off each kind's lines and contingency, added up",
        list(less.items()),
        TERMS_SOURCE,
    )
    taxes = _added("tax on each kind's lines with contingency and discount, added up", tax, TERMS_SOURCE)
    whole: list[tuple[str, Decimal]] = [(name, figure.dollars) for name, figure in sums.items()]
    whole += [("contingency", contingency.dollars), ("discount", discount.dollars), ("tax", taxes.dollars)]
    return YearPrice(
        year=year,
        phase=phase,
        **sums,
        contingency=contingency,
        discount=discount,
        tax=taxes,
        total=_added(f"all of {year}, added up", whole),
    )


AMOUNTS = (*CATEGORIES, "contingency", "discount", "tax", "total")


def _column_sums(years: Sequence[YearPrice]) -> YearPrice:
    columns = {
        name: _added(
            f"{name} of the years, added up",
            [(str(year.year), getattr(year, name).dollars) for year in years],
        )
        for name in AMOUNTS
    }
    return YearPrice(year=0, phase="", **columns)


def _stages(whole: Decimal, terms: Terms) -> tuple[StageAmount, ...]:
    if not terms.stages:
        return ()
    amounts = split(whole, [stage.share_pct for stage in terms.stages])
    return tuple(
        StageAmount(
            label=stage.label,
            share_pct=stage.share_pct,
            due=stage.due,
            amount=Figure(
                amount,
                "$",
                "total × share, cut so that the parts add up to the total",
                (Term("total", whole, "$"), Term("share", stage.share_pct, "%")),
                "payment stages of this plan",
            ),
        )
        for stage, amount in zip(terms.stages, amounts, strict=True)
    )


def estimate(
    job: Job,
    prices: Prices,
    seed: Sequence[FieldSeed],
    tanks: Sequence[TankMix],
    tasks: Sequence[Task],
    materials: Sequence[Material] = (),
) -> Estimate:
    """The whole estimate. What has no listed price has no line, and the checks stop the plan for it."""
    trips = visits(tasks)
    year_of = {task.key: visit.on.year for visit in trips for task in visit.tasks}
    allowances = {task.key: allowance_of(task.operation, prices) for task in tasks}
    sowings = [
        (task.field, year_of[task.key], tables.steps()[task.step].share_pct, allowances[task.key])
        for task in tasks
        if task.operation in SOWING and task.key in year_of
    ]
    lines = [line for visit in trips if (line := work_line(visit, prices)) is not None]
    lines += _seed_lines(seed, sowings)
    lines += material_lines([material for material in materials if material.task in year_of], year_of)
    lines += spray_lines([tank for tank in tanks if tank.task in year_of], year_of, allowances)
    lines += hauling_lines(trips, job, prices)
    order = {category: place for place, category in enumerate(CATEGORIES)}
    ordered = sorted(
        (priced(line, job.terms) for line in lines), key=lambda line: (line.year, order[line.category])
    )
    phases: dict[int, set[str]] = {}
    for task in tasks:
        if task.key in year_of:
            phases.setdefault(year_of[task.key], set()).add(task.phase)
    years = tuple(
        year_price(
            year,
            next((label for phase, label in PHASES.items() if phase in phases.get(year, set())), "keep"),
            [line for line in ordered if line.year == year],
            job.terms,
        )
        for year in sorted({line.year for line in ordered})
    )
    whole = _column_sums(years)
    share = after = None
    if job.terms.cost_share is not None:
        acres = sum(conversion.acres for conversion in job.conversions)
        share = Figure(
            to_cents(exact(acres) * job.terms.cost_share.usd_per_acre),
            "$",
            "acres × payment per acre",
            (Term("area", acres, "acre"), Term("payment", job.terms.cost_share.usd_per_acre, "$/acre")),
            f"{job.terms.cost_share.label}; not promised by this proposal",
        )
        after = _added("total - cost-share", [("total", whole.total.dollars), ("cost-share", -share.dollars)])
    return Estimate(
        lines=tuple(ordered),
        years=years,
        total=whole,
        direct_cost=_added(
            "direct cost of the years, added up",
            [
                (str(year.year), total(line.cost.dollars for line in ordered if line.year == year.year))
                for year in years
            ],
        ),
        stages=_stages(whole.total.dollars, job.terms),
        cost_share=share,
        after_cost_share=after,
    )
