"""What jobs need, what the shed holds and what suppliers offer, each in the unit that a need is counted in.

Seed is counted in pounds of pure live seed (PLS), whatever it is weighed or priced in. Products and adjuvants
go by the name that a tank mix prints, so two strengths of an ingredient are never poured for one another.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from fractions import Fraction
from typing import Literal

from plans.planning import seed
from plans.planning.calendar import SOWING
from plans.planning.fields import product_name
from plans.planning.figures import Figure, Term
from plans.planning.money import exact
from plans.planning.plan import FieldSeed, Plan, SeedLine, Task
from plans.planning.price_list import PriceBasis, PriceList

Kind = Literal["seed", "product", "supply"]
KINDS: tuple[Kind, ...] = ("seed", "product", "supply")
PLS_LB = "lb PLS"
SAME_TO = 6
"""Decimals to which amounts count: a millionth of a pound or gallon is less than any scale shows."""


def measured(value: float | Decimal) -> Fraction:
    """An amount as it counts, to a millionth of its unit, so that the noise of floats buys no bag."""
    return Fraction(round(exact(value), SAME_TO))


@dataclass(frozen=True, slots=True, kw_only=True)
class Need:
    """What one task takes of one thing. `amount` is in lb PLS, gal, lb, plants or whatever is counted."""

    kind: Kind
    name: str
    amount: Figure
    needed_on: date
    """The first day on which the task may be done."""
    plan_id: str
    plan_title: str
    field: str
    task: str
    """Key of the task, unique in its plan."""

    @property
    def key(self) -> tuple[Kind, str, str]:
        return self.kind, self.name, self.amount.unit


@dataclass(frozen=True, slots=True, kw_only=True)
class SeedTest:
    """A lot's analysis. A tetrazolium result goes in germination_pct alone.

    Raises ValueError outside 0-100 %.
    """

    purity_pct: float
    germination_pct: float
    dormant_pct: float = 0.0
    tested_on: date | None = None

    def __post_init__(self) -> None:
        seed.pls_pct(self.purity_pct, self.germination_pct, self.dormant_pct)

    @property
    def pls(self) -> Figure:
        """Pure live seed in the lot [%]. Source: Texas A&M AgriLife."""
        return seed.pls_pct(self.purity_pct, self.germination_pct, self.dormant_pct)

    @property
    def pls_share(self) -> Fraction:
        """Pure live seed in a pound of bulk, 0 to 1, exactly."""
        live = Fraction(exact(self.germination_pct)) + Fraction(exact(self.dormant_pct))
        return Fraction(exact(self.purity_pct)) * live / 10_000


@dataclass(frozen=True, slots=True, kw_only=True)
class SeedStock:
    """A seed lot in the shed, as it weighs."""

    species: str
    lot: str
    test: SeedTest
    bulk_lb: float
    key: str = ""
    """The asker's own, carried to each use of the lot."""


@dataclass(frozen=True, slots=True, kw_only=True)
class ShelfStock:
    """Anything else in the shed: what is left in containers of a product, plants, tubes."""

    kind: Kind
    name: str
    unit: str
    amount: float
    lot: str = ""
    key: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class SeedOffer:
    """A lot for sale, in whole bags or, with no bag, loose by the ounce."""

    species: str
    supplier: str
    lot: str
    test: SeedTest
    price_usd_per_lb: Decimal
    basis: PriceBasis
    """Whether the price is for a pound of bulk seed or of PLS."""
    bag_basis: PriceBasis = "bulk"
    """What the bag, the minimum, what is available and a loose ounce are weighed in."""
    bag_lb: float | None = None
    minimum_lb: float = 0.0
    available_lb: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class PackOffer:
    """A container of a product, or a piece of anything counted, for sale."""

    kind: Kind
    name: str
    unit: str
    size: float
    """In `unit`."""
    price_usd: Decimal
    supplier: str = ""
    minimum_packs: int = 0
    available_packs: int | None = None


Stock = SeedStock | ShelfStock
Offer = SeedOffer | PackOffer


def _seed_amount(task: Task, sown: FieldSeed, line: SeedLine) -> Figure:
    if abs(task.acres - sown.acres) < 1e-9:
        figure = line.pls_lb
        return Figure(figure.value, PLS_LB, figure.formula, figure.inputs, figure.source)
    rate = float(line.pls_lb_per_acre.value)
    return Figure(
        rate * task.acres,
        PLS_LB,
        "lb PLS per acre × acres sown",
        (Term("rate", rate, "lb/acre"), Term("area", task.acres, "acre")),
        line.pls_lb.source,
    )


def needs_of(plan: Plan, plan_id: str, plan_title: str = "") -> tuple[Need, ...]:
    """What the plan's tasks that are not done take, each on its task's earliest day.

    Seed [lb PLS] for every sowing of the field, on the acres sown; products and adjuvants [gal or lb];
    plants, tubes, fertilizer and the like [their own unit]. A product without a listed price is needed in
    lb of its active ingredient. `plan_title` is the job's where none is given.
    """
    by_field = {sown.field: sown for sown in plan.seed}
    ahead = {task.key: task for task in plan.tasks if task.done_on is None}

    def parts() -> Iterator[tuple[Kind, str, Figure, Task]]:
        for task in ahead.values():
            if task.operation in SOWING and task.field in by_field:
                sown = by_field[task.field]
                for line in sown.lines:
                    yield "seed", line.species, _seed_amount(task, sown, line), task
        for tank in plan.tanks:
            if tank.task in ahead:
                for part in tank.parts:
                    yield "product", part.name, part.total, ahead[tank.task]
        for material in plan.materials:
            if material.task in ahead:
                yield "supply", material.name, material.amount, ahead[material.task]

    return tuple(
        Need(
            kind=kind,
            name=name,
            amount=amount,
            needed_on=task.earliest,
            plan_id=plan_id,
            plan_title=plan_title or plan.job.title,
            field=task.field,
            task=task.key,
        )
        for kind, name, amount, task in parts()
        if amount.value
    )


def offers_of(prices: PriceList) -> tuple[Offer, ...]:
    """The practice's price list as offers: seed loose, everything else by its container or piece."""
    found: list[Offer] = [
        SeedOffer(
            species=lot.species,
            supplier=lot.supplier,
            lot=lot.lot,
            test=SeedTest(
                purity_pct=lot.purity_pct,
                germination_pct=lot.germination_pct,
                dormant_pct=lot.dormant_pct,
                tested_on=lot.tested_on,
            ),
            price_usd_per_lb=lot.price_usd_per_lb,
            basis=lot.basis,
            bag_basis=lot.basis,
        )
        for lot in prices.seed
    ]

    def pack(kind: Kind, name: str, unit: str, size: float, price: Decimal, supplier: str = "") -> None:
        found.append(
            PackOffer(kind=kind, name=name, unit=unit, size=size, price_usd=price, supplier=supplier)
        )

    for product in prices.products:
        unit = "gal" if product.form == "liquid" else "lb"
        pack("product", product_name(product), unit, product.container_size, product.price_usd_per_container)
    for adjuvant in prices.adjuvants:
        unit = "lb" if adjuvant.kind == "ammonium sulfate" else "gal"
        pack("product", adjuvant.kind, unit, adjuvant.container_size, adjuvant.price_usd_per_container)
    for plant in prices.plants:
        name = f"{plant.species}, {plant.stock}"
        pack("supply", name, "plants", 1, plant.price_usd_each, plant.supplier)
    for supply in prices.supplies:
        name, unit = {
            "tube": ("tubes with stakes", "tubes"),
            "fence": ("fence, built", "ft"),
            "lime": ("lime, spread", "tons"),
            "fertilizer": (f"fertilizer {supply.grade}", "lb"),
        }[supply.kind]
        pack("supply", name, unit, supply.container_lb or 1, supply.price_usd)
    return tuple(found)
