"""One field at a time: its mix on its acres, its tank mixes, its tasks."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from typing import cast

from plans.planning import calendar, filling, seed, spray, tables, work
from plans.planning.figures import Figure, Term
from plans.planning.job import Conversion, Job
from plans.planning.money import ZERO, exact, to_cents, total
from plans.planning.plan import FieldSeed, SeedLine, TankMix, TankPart, Task
from plans.planning.price_list import (
    AdjuvantPrice,
    PlantPrice,
    PriceList,
    Product,
    SeedPrice,
    SupplyPrice,
    WorkRate,
)
from plans.planning.programs import chemicals_for, known, worked_acres
from plans.planning.trees import field_trees, worked_on

SPRAYING = frozenset({"boom_spraying", "spot_spraying"})
PRICE_SOURCE = "price list of the practice"
GROUPS = {"plot": "nurse"}


@dataclass(frozen=True, slots=True)
class Prices:
    """The price list by what is looked up in it."""

    lots: Mapping[str, SeedPrice]
    products: Mapping[str, tuple[Product, ...]]
    adjuvants: Mapping[str, AdjuvantPrice]
    work: Mapping[str, WorkRate]
    plants: Mapping[str, tuple[PlantPrice, ...]]
    """By species, cheapest first."""
    fertilizers: Mapping[str, SupplyPrice]
    """By grade."""
    supplies: Mapping[str, SupplyPrice]
    """Tube, fence and lime, by kind."""
    hauling_usd_per_mile: Decimal
    hauling_unchecked: bool


def _usd_per_pls_lb(lot: SeedPrice) -> float:
    price = float(lot.price_usd_per_lb)
    if lot.basis == "PLS":
        return price
    return price / (lot.purity_pct * (lot.germination_pct + lot.dormant_pct) / 10_000)


def _usd_per_lb_active(product: Product) -> float:
    strength = product.lb_active_per_gal if product.form == "liquid" else (product.active_pct or 0) / 100
    return float(product.price_usd_per_container) / (product.container_size * (strength or 1))


def _cheapest(
    supplies: Sequence[SupplyPrice], key: Callable[[SupplyPrice], str], *kinds: str
) -> dict[str, SupplyPrice]:
    """The cheapest of each sort, by pound for a fertilizer and by what it neutralizes for a lime."""
    found: dict[str, SupplyPrice] = {}
    for supply in sorted(supplies, key=lambda supply: _usd_per_unit(supply)):
        if supply.kind in kinds:
            found.setdefault(key(supply), supply)
    return found


def _usd_per_unit(supply: SupplyPrice) -> float:
    return float(supply.price_usd) / (supply.container_lb or 1) / ((supply.ecce_pct or 100) / 100)


def index_prices(prices: PriceList) -> Prices:
    """Of several lots of a species the cheapest per PLS pound; products of an ingredient, cheapest first.

    Raises UnknownChoice for a rate of work that is in no table, ValueError for two rates of the same work.
    """
    for number, rate in enumerate(prices.work):
        known(f"prices.work.{number}.operation", rate.operation, tables.operations().keys())
    worked = [rate.operation for rate in prices.work]
    twice = next((name for name in worked if worked.count(name) > 1), None)
    if twice is not None:
        raise ValueError(f"prices.work: {twice!r} has two rates; give it one")
    lots: dict[str, SeedPrice] = {}
    for lot in prices.seed:
        if lot.species not in lots or _usd_per_pls_lb(lot) < _usd_per_pls_lb(lots[lot.species]):
            lots[lot.species] = lot
    products: dict[str, list[Product]] = {}
    for product in prices.products:
        products.setdefault(product.active_ingredient, []).append(product)
    plants: dict[str, list[PlantPrice]] = {}
    for plant in sorted(prices.plants, key=lambda plant: plant.price_usd_each):
        plants.setdefault(plant.species, []).append(plant)
    return Prices(
        lots=lots,
        products={name: tuple(sorted(found, key=_usd_per_lb_active)) for name, found in products.items()},
        adjuvants={adjuvant.kind: adjuvant for adjuvant in prices.adjuvants},
        work={rate.operation: rate for rate in prices.work},
        plants={name: tuple(found) for name, found in plants.items()},
        fertilizers=_cheapest(prices.supplies, lambda supply: supply.grade, "fertilizer"),
        supplies=_cheapest(prices.supplies, lambda supply: supply.kind, "tube", "fence", "lime"),
        hauling_usd_per_mile=prices.hauling_usd_per_mile,
        hauling_unchecked=prices.hauling_unchecked,
    )


def sowing_factor(conversion: Conversion) -> float:
    """How much a drilled rate is raised for broadcasting; 1 when the rate already says broadcast."""
    way = tables.seedings()[conversion.seeding].way
    raised = way == "broadcast" and conversion.mix is not None and conversion.mix.rate_is_for == "drilled"
    return conversion.broadcast_factor if raised else 1.0


def as_written(conversion: Conversion, sown: FieldSeed) -> tuple[tuple[str, float], ...]:
    """Species and PLS rate [lb/acre] of the mix before it is raised for broadcasting. Source: the mix."""
    factor = sowing_factor(conversion)
    return tuple((line.species, float(line.pls_lb_per_acre.value) / factor) for line in sown.lines)


def _share(formula: str, pct: float, parts: tuple[Term, ...] = ()) -> Figure:
    return Figure(pct, "%", formula, parts, seed.DENSITY_SOURCE)


def _seed_line(rate: seed.Rate, factor: float, acres: float, lot: SeedPrice | None) -> SeedLine:
    plant = tables.species().get(rate.species)
    sown = rate.pls_lb_per_acre * factor
    raised = (Term("raised for broadcasting", factor, "×"),) if factor != 1 else ()
    per_acre = Figure(
        sown,
        "lb/acre",
        "seeds per ft² × 43,560 / seeds per lb" + (" × factor" if raised else ""),
        (
            Term("density", rate.seeds_per_sqft, "seeds/ft²"),
            Term("count", rate.seeds_per_lb, "seeds/lb"),
            *raised,
        ),
        seed.DENSITY_SOURCE
        if lot is None or lot.seeds_per_lb is None
        else f"count of lot {lot.lot or 'as entered'}",
    )
    pls = Figure(
        sown * acres,
        "lb",
        "lb PLS per acre × acres",
        (Term("rate", sown, "lb/acre"), Term("area", acres, "acre")),
        seed.DENSITY_SOURCE,
    )
    bulk = bulk_per_acre = cost = None
    if lot is not None:
        bulk = seed.bulk_lb(float(pls.value), lot.purity_pct, lot.germination_pct, lot.dormant_pct)
        bulk_per_acre = seed.bulk_lb(sown, lot.purity_pct, lot.germination_pct, lot.dormant_pct)
        weighed, label = (pls, "pure live seed") if lot.basis == "PLS" else (bulk, "bulk seed")
        cost = Figure(
            to_cents(exact(float(weighed.value)) * lot.price_usd_per_lb),
            "$",
            f"{label} × price per {'PLS' if lot.basis == 'PLS' else 'bulk'} lb",
            (Term(label, float(weighed.value), "lb"), Term("price", lot.price_usd_per_lb, "$/lb")),
            f"{PRICE_SOURCE}{', lot ' + lot.lot if lot.lot else ''}",
        )
    return SeedLine(
        species=rate.species,
        group=GROUPS.get(plant.group, plant.group) if plant else "forb",
        box=plant.box if plant else "small",
        seeds_per_sqft=seed.seeds_per_sqft(sown, rate.seeds_per_lb),
        share_of_seed_pct=_share("seeds of the species / seeds of the mix", rate.share_of_seed_pct),
        share_of_weight_pct=_share(
            "PLS pounds of the species / PLS pounds of the mix", rate.share_of_weight_pct
        ),
        pls_lb_per_acre=per_acre,
        bulk_lb_per_acre=bulk_per_acre,
        pls_lb=pls,
        bulk_lb=bulk,
        cost=cost,
        lot=lot.lot if lot else "",
    )


def field_seed(conversion: Conversion, prices: Prices) -> FieldSeed:
    """The mix on the acres of the field that may be sown, without lines where nothing is.

    Raises ValueError for a species nobody knows the seed count of.
    """
    factor = sowing_factor(conversion)
    mix, acres = conversion.mix, conversion.acres_to("drill")
    sown = acres > 0 and tables.seedings()[conversion.seeding].way != "none"
    rates = seed.mix_rates(mix, prices.lots) if mix is not None and sown else ()
    lines = tuple(_seed_line(rate, factor, acres, prices.lots.get(rate.species)) for rate in rates)
    density = sum((float(line.seeds_per_sqft.value) for line in lines), 0.0)
    pounds = sum((float(line.pls_lb_per_acre.value) for line in lines), 0.0)

    def share(what: str, *groups: str) -> Figure:
        of = [line for line in lines if line.group in groups]
        parts = tuple(Term(line.species, float(line.share_of_seed_pct.value), "%") for line in of)
        return _share(f"{what}, share of the seeds", sum((float(part.value) for part in parts), 0.0), parts)

    cost = total(Decimal(line.cost.value) for line in lines if line.cost is not None)
    return FieldSeed(
        field=conversion.field,
        acres=acres,
        mix=mix.name if mix else "",
        seeds_per_sqft=Figure(
            density, "seeds/ft²", "sum over the species", (Term("species", len(lines)),), seed.DENSITY_SOURCE
        ),
        pls_lb_per_acre=Figure(
            pounds, "lb/acre", "sum over the species", (Term("species", len(lines)),), seed.DENSITY_SOURCE
        ),
        grass_share_pct=share("grasses", "grass"),
        forb_share_pct=share("wildflowers and legumes", "forb", "legume"),
        cost_per_acre=Figure(
            to_cents(cost / exact(acres)) if acres else ZERO,
            "$/acre",
            "cost of the field's seed / acres sown",
            (Term("seed cost", cost, "$"), Term("area", acres, "acre")),
            PRICE_SOURCE,
        ),
        lines=lines,
    )


def choose_product(ingredient: str, conversion: Conversion, prices: Prices) -> Product | None:
    """The cheapest product of an ingredient; beside water one with an aquatic label, where there is one."""
    listed = prices.products.get(ingredient, ())
    if conversion.water_within_ft is not None and conversion.water_within_ft < WATER_STRIP_FT:
        listed = tuple(product for product in listed if product.aquatic_label) or listed
    return listed[0] if listed else None


WATER_STRIP_FT = 33.0
"""Untreated strip beside water where the label is silent: a cautious default, from memory."""


def product_rate(product: Product, lb_per_acre: float) -> Figure:
    """Product that carries a rate of acid or active [fl oz/acre, or oz/acre for a dry product].

    Source: Iowa State University, glyphosate math; dry: lb / percent, Pacific Northwest Handbook.
    """
    if product.form == "liquid":
        gallons = spray.acid_to_product(lb_per_acre, cast(float, product.lb_active_per_gal))
        return Figure(
            float(gallons.value) * spray.FL_OZ_PER_GAL,
            "fl oz/acre",
            "lb acid per acre / lb acid per gallon × 128",
            gallons.inputs,
            gallons.source,
        )
    active_pct = cast(float, product.active_pct)
    return Figure(
        lb_per_acre / (active_pct / 100) * spray.OZ_PER_LB,
        "oz/acre",
        "lb active per acre / share active × 16",
        (Term("rate", lb_per_acre, "lb/acre"), Term("active", active_pct, "%")),
        "Pacific Northwest Weed Management Handbook: lb × 100 / percent",
    )


def product_name(product: Product) -> str:
    """The ingredient with its strength, as printed."""
    if product.form == "liquid":
        return f"{product.active_ingredient}, {product.lb_active_per_gal:g} lb/gal"
    return f"{product.active_ingredient}, {product.active_pct:g} % dry"


def _cost(amount: float, unit: str, size: float, price: Decimal) -> Figure:
    return Figure(
        to_cents(exact(amount) * price / exact(size)),
        "$",
        "amount × price of a container / its size",
        (Term("amount", amount, unit), Term("container", size, unit), Term("price", price, "$")),
        PRICE_SOURCE,
    )


def _amounts(
    rate: Figure, per_acre: float, small: str, split: spray.Loads, acres: float
) -> tuple[Figure, Figure]:
    rate_term = Term("rate", per_acre, f"{small}/acre")
    return (
        Figure(
            split.acres_per_tank * per_acre,
            small,
            "acres per tank × rate",
            (Term("acres per tank", split.acres_per_tank, "acre"), rate_term),
            spray.TANK_SOURCE,
        ),
        Figure(
            split.last_acres * per_acre,
            small,
            "acres left × rate",
            (Term("acres left", split.last_acres, "acre"), rate_term),
            spray.TANK_SOURCE,
        ),
    )


def _product_part(
    ingredient: str, lb_per_acre: float, product: Product | None, split: spray.Loads, acres: float
) -> TankPart:
    if product is None:
        rate = Figure(lb_per_acre, "lb/acre", "rate of the step", (), "reference/steps.csv")
        per_tank, last = _amounts(rate, lb_per_acre, "lb", split, acres)
        whole = Figure(
            lb_per_acre * acres, "lb", "rate × acres", (Term("area", acres, "acre"),), "reference/steps.csv"
        )
        return TankPart(
            name=ingredient,
            active_ingredient=ingredient,
            rate=rate,
            per_full_tank=per_tank,
            in_last_load=last,
            total=whole,
            cost=None,
        )
    rate = product_rate(product, lb_per_acre)
    per_acre = float(rate.value)
    small, large, divisor = (
        ("fl oz", "gal", spray.FL_OZ_PER_GAL) if product.form == "liquid" else ("oz", "lb", spray.OZ_PER_LB)
    )
    per_tank, last = _amounts(rate, per_acre, small, split, acres)
    amount = per_acre * acres / divisor
    whole = Figure(
        amount,
        large,
        f"rate × acres / {divisor}",
        (Term("rate", per_acre, f"{small}/acre"), Term("area", acres, "acre")),
        spray.TANK_SOURCE,
    )
    return TankPart(
        name=product_name(product),
        active_ingredient=ingredient,
        rate=rate,
        per_full_tank=per_tank,
        in_last_load=last,
        total=whole,
        cost=_cost(amount, large, product.container_size, product.price_usd_per_container),
    )


def _adjuvant_part(
    kind: str, amount: str, prices: Prices, split: spray.Loads, carrier_gal_per_acre: float, acres: float
) -> TankPart:
    by_volume = amount.endswith("%")
    number = float(amount.rstrip("%"))
    unit = "gal" if by_volume else "lb"
    source = (
        "adjuvant by volume or per 100 gal: Pacific Northwest Weed Management Handbook; the label governs"
    )
    rate = Figure(number, "% by volume" if by_volume else "lb per 100 gal", "rate of the step", (), source)

    def part(gallons: float) -> Figure:
        return Figure(
            gallons * number / 100,
            unit,
            "carrier × rate / 100",
            (Term("carrier", gallons, "gal"), Term("rate", number, rate.unit)),
            source,
        )

    whole = part(acres * carrier_gal_per_acre)
    listed = prices.adjuvants.get(kind)
    cost = (
        _cost(float(whole.value), unit, listed.container_size, listed.price_usd_per_container)
        if listed
        else None
    )
    return TankPart(
        name=kind,
        active_ingredient="",
        rate=rate,
        per_full_tank=part(split.acres_per_tank * carrier_gal_per_acre),
        in_last_load=part(split.last_gal),
        total=whole,
        cost=cost,
    )


def tank_mix(task: Task, step: tables.Step, conversion: Conversion, job: Job, prices: Prices) -> TankMix:
    """What one spray task needs, load by load."""
    carrier, tank_gal = job.terms.carrier_gal_per_acre, job.terms.tank_gal
    acres = task.acres
    split = spray.loads(acres, carrier, tank_gal)
    figures = spray.tank(acres, carrier, tank_gal, 0)
    chosen = [
        (name, rate, choose_product(name, conversion, prices))
        for name, rate in chemicals_for(step, conversion)
    ]
    parts = [_product_part(name, rate, product, split, acres) for name, rate, product in chosen]
    poured = [(name, product.form if product else "liquid") for name, _, product in chosen]
    poured += [(kind, "liquid") for kind, _ in step.adjuvants]
    parts += [_adjuvant_part(kind, amount, prices, split, carrier, acres) for kind, amount in step.adjuvants]
    return TankMix(
        task=task.key,
        field=task.field,
        label=task.label,
        acres=acres,
        carrier_gal_per_acre=carrier,
        carrier_gal=Figure(
            acres * carrier,
            "gal",
            "acres × volume per acre",
            (Term("area", acres, "acre"), Term("volume", carrier, "gal/acre")),
            spray.TANK_SOURCE,
        ),
        tank_gal=tank_gal,
        acres_per_tank=figures["acres_per_tank"],
        full_loads=split.full,
        last_load_gal=figures["last_load_gal"],
        last_load_acres=split.last_acres,
        parts=tuple(parts),
        order=filling.order(poured),
        jar_test=filling.JAR_TEST if len(poured) > 1 else "",
        leftover=filling.left_over(split, tank_gal),
    )


def field_tasks(conversion: Conversion, slots: Sequence[calendar.Slot], prices: Prices) -> tuple[Task, ...]:
    """The dated steps as tasks, with acres, plants, hours and cautions; none where no ground is left for it.

    Raises UnknownChoice for a tree.
    """
    planting = field_trees(conversion)
    tasks = []
    for slot in slots:
        step = slot.step
        acres = worked_acres(step, conversion)
        if not acres and slot.done_on is None:
            continue
        by_plant = tables.operations()[step.operation].plants_per_hour
        plants = worked_on(step, planting) if by_plant else 0
        hours = (
            work.plant_hours(plants, step.operation)
            if by_plant
            else work.hours(acres, work.capacity(step.operation, prices.work.get(step.operation)))
        )
        tasks.append(
            Task(
                key=f"{conversion.field}/{step.step}",
                field=conversion.field,
                step=step.step,
                label=step.label,
                why=step.why,
                operation=step.operation,
                phase=step.phase,
                season=step.season,
                earliest=slot.earliest,
                latest=slot.latest,
                opens=calendar.moment_label(step.opens, step.opens_days),
                closes=calendar.moment_label(step.closes, step.closes_days),
                after=slot.after,
                wait_days=step.wait_days if slot.after else 0,
                acres=acres,
                hours=hours,
                conditions=step.conditions,
                cautions=tuple(tables.cautions()[key].brief for key in step.cautions),
                done_on=slot.done_on,
                source=step.source,
                plants=plants,
            )
        )
    return tuple(tasks)


def start_for(conversion: Conversion, today: date) -> date:
    """Only the future is planned: the later of the wished start and today."""
    return max(conversion.start_on, today)
