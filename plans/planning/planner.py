"""The whole plan of a job, in one pass: `plan_job`. Deterministic: same input, same output, to the cent."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from datetime import date
from decimal import Decimal

from plans.planning import calendar, checks, materials, observed, plots, season, soil_ways, tables, trees
from plans.planning.contingent import price_range
from plans.planning.estimate import estimate
from plans.planning.fields import (
    PRICE_SOURCE,
    SPRAYING,
    Prices,
    as_written,
    field_seed,
    field_tasks,
    index_prices,
    start_for,
    tank_mix,
)
from plans.planning.figures import Figure, Term
from plans.planning.findings import FieldPlan
from plans.planning.job import FIRST_DAY, LAST_DAY, Job
from plans.planning.money import total
from plans.planning.plan import FieldSeed, Plan, SeedNeed, TankMix, Task
from plans.planning.price_list import PriceList


def _seed_needs(seed: Sequence[FieldSeed], prices: Prices) -> tuple[SeedNeed, ...]:
    """What to buy for the whole job, species by species, in the order in which they first appear."""
    by_species: dict[str, list[tuple[str, Figure, Figure | None, Figure | None]]] = {}
    for field in seed:
        for line in field.lines:
            by_species.setdefault(line.species, []).append(
                (field.field, line.pls_lb, line.bulk_lb, line.cost)
            )

    def add(parts: list[tuple[str, Figure]], source: str) -> Figure:
        if len(parts) == 1:
            return parts[0][1]
        first = parts[0][1]
        values = [figure.value for _, figure in parts]
        whole: float | Decimal = (
            total(Decimal(value) for value in values)
            if first.unit == "$"
            else sum(float(value) for value in values)
        )
        terms = tuple(Term(field, figure.value, figure.unit) for field, figure in parts)
        return Figure(whole, first.unit, "sum over the fields", terms, source)

    needs = []
    for species, parts in by_species.items():
        lot = prices.lots.get(species)
        bulk = [(field, figure) for field, _, figure, _ in parts if figure is not None]
        cost = [(field, figure) for field, _, _, figure in parts if figure is not None]
        needs.append(
            SeedNeed(
                species=species,
                lot=lot.lot if lot else "",
                supplier=lot.supplier if lot else "",
                pls_lb=add([(field, figure) for field, figure, _, _ in parts], "arithmetic"),
                bulk_lb=add(bulk, "arithmetic") if bulk else None,
                cost=add(cost, PRICE_SOURCE) if cost else None,
            )
        )
    return tuple(needs)


def _cautions(tasks: Sequence[Task]) -> tuple[str, ...]:
    """The whole text of every caution of the steps taken, in table order."""
    taken = {key for task in tasks for key in tables.steps()[task.step].cautions}
    return tuple(caution.text for key, caution in tables.cautions().items() if key in taken)


def plan_job(job: Job, prices: PriceList, today: date) -> Plan:
    """Seed, tank mixes, dated tasks, estimate and findings of a job as of `today`.

    Raises ValueError (its subclass UnknownChoice names field, value and what is allowed) when a species, a
    program, a seeding or a step is unknown, when work is logged or a moment noted after `today`, or when no
    sound order of work exists at the place.
    """
    with tables.knowing(job.added_species):
        return _plan(job, prices, today)


def _plan(job: Job, prices: PriceList, today: date) -> Plan:
    if not FIRST_DAY <= today <= LAST_DAY:
        raise ValueError(f"today: {today} is not from {FIRST_DAY} to {LAST_DAY}")
    listed = index_prices(prices)
    seed: list[FieldSeed] = []
    tanks: list[TankMix] = []
    tasks: list[Task] = []
    fields: list[FieldPlan] = []
    lime = listed.supplies.get("lime")
    for conversion in job.conversions:
        slots = calendar.schedule(conversion, job.climate, job.terms.years, start_for(conversion, today))
        calendar.check_days(conversion, today)
        found = field_tasks(conversion, slots, listed)
        sown = field_seed(conversion, listed)
        mixes = [
            tank_mix(task, tables.steps()[task.step], conversion, job, listed)
            for task in found
            if task.operation in SPRAYING and task.done_on is None
        ]
        planted = trees.field_trees(conversion)
        plot = plots.field_plot(
            conversion,
            as_written(conversion, sown),
            materials.grades(listed),
            lime.ecce_pct if lime else None,
            job.climate,
        )
        taken = tuple(
            material
            for task in found
            if task.done_on is None
            for material in materials.of_task(task, conversion, planted, plot, listed)
        )
        seed.append(sown)
        tanks += mixes
        tasks += found
        fields.append(FieldPlan(conversion, slots, found, sown, tuple(mixes), planted, plot, taken))
    observed.check_days(job.climate, today)
    tasks.sort(key=lambda task: (task.earliest, task.latest, task.key))
    brought = tuple(material for field in fields for material in field.materials)
    whole = estimate(job, listed, seed, tanks, tasks, brought)
    return Plan(
        job=job,
        today=today,
        findings=checks.findings(job, listed, today, fields),
        seed=tuple(seed),
        seed_needs=_seed_needs(
            [field.seed for field in fields for _ in range(field.seed_times)],
            listed,
        ),
        tanks=tuple(tanks),
        tasks=tuple(tasks),
        cautions=_cautions(tasks),
        estimate=replace(
            whole, range=price_range(job, listed, fields, whole.total.total.dollars, today.year)
        ),
        season=season.season_at(job.climate),
        soil=soil_ways.fields_soil((field.conversion, field.tasks) for field in fields),
        trees=tuple(field.trees for field in fields if field.trees is not None),
        plots=tuple(field.plot for field in fields if field.plot is not None),
        materials=brought,
    )
