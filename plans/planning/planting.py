"""Trees, shrubs and food plots: how many plants, what they cost, what the soil test asks for.

Sources: plants per acre as in Coder, University of Georgia; the triangular factor 2/√3 = 1.155 is geometry
(tables that give 555 for 10 ft count circles and are 27 % off); fertilizer grades are the per cent by weight
of N, P2O5 and K2O on the bag; lime by effective calcium carbonate as in Cornell's certified-adviser course
and by effective neutralizing power as in University of Minnesota's food-plot page.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal
from typing import Literal

from plans.planning import tables, work
from plans.planning.figures import Figure, Term
from plans.planning.job import Level
from plans.planning.money import to_cents, total
from plans.planning.price_list import parse_grade

SQFT_PER_ACRE = 43_560
TRIANGLE = 2 / math.sqrt(3)
GEOMETRY = "geometry of an equilateral triangle; nurseries add 15 %"
STRIP_SOURCE = "a plant stands at both ends of a row: arithmetic"
BAG_SOURCE = "per cent by weight on the bag: University of Minnesota and University of Arkansas Extension"
LIME_SOURCE = "lime is judged by purity and fineness: Cornell certified crop adviser course, soil fertility"
SCREEN_SHARES = {"20-60 mesh": 0.40, "60-100 mesh": 0.80, "through 100 mesh": 1.00}

Nutrient = Literal["N", "P2O5", "K2O"]
NUTRIENTS: tuple[Nutrient, ...] = ("N", "P2O5", "K2O")


def plants_per_acre_triangular(spacing_ft: float) -> Figure:
    """Plants on an acre [plants], each `spacing_ft` [ft] from its six neighbors: square × 2/√3.

    Source: geometry; nurseries add 15 % to the square count (common practice).
    """
    square = work.plants_per_acre(spacing_ft, spacing_ft)
    return Figure(
        float(square.value) * TRIANGLE,
        "plants",
        "43,560 / (spacing × spacing) × 1.155",
        (Term("spacing", spacing_ft, "ft"),),
        GEOMETRY,
    )


def plants_in_strip(rows: int, length_ft: float, plant_ft: float) -> Figure:
    """Plants in a strip, `plant_ft` [ft] apart in each row [plants]: rows × (length / spacing + 1).

    A strip is not area over spacing: that misses the plant at the end of every row. Source: geometry.
    """
    return Figure(
        float(rows * (math.floor(length_ft / plant_ft + 1e-9) + 1)),
        "plants",
        "rows × (whole spaces in the length + 1)",
        (Term("rows", rows), Term("length", length_ft, "ft"), Term("plants", plant_ft, "ft")),
        STRIP_SOURCE,
    )


def plants_on(acres: float, per_acre: Figure) -> Figure:
    """Whole plants for an area [plants], rounded to the nearest. Source: arithmetic; common practice."""
    return Figure(
        float(math.floor(acres * float(per_acre.value) + 0.5)),
        "plants",
        "acres × plants per acre",
        (Term("area", acres, "acre"), Term("per acre", float(per_acre.value), "plants")),
        per_acre.source,
    )


def to_order(plants: int, replaced_pct: float) -> Figure:
    """Plants to order [plants] when a share will be replaced: plants × (1 + share), rounded up.

    Source: common practice; the share is the planter's own.
    """
    return Figure(
        float(math.ceil(plants * (100 + replaced_pct) / 100 - 1e-9)),
        "plants",
        "plants × (1 + share replaced), rounded up",
        (Term("plants", plants), Term("share replaced", replaced_pct, "%")),
    )


def fence_ft(length_ft: float, width_ft: float) -> Figure:
    """Fence round a block [ft]: 2 × (length + width). Source: geometry."""
    return Figure(
        2 * (length_ft + width_ft),
        "ft",
        "2 × (length + width)",
        (Term("length", length_ft, "ft"), Term("width", width_ft, "ft")),
    )


def tubes(plants: int, share_pct: float = 100.0) -> Figure:
    """Tubes [tubes], one to a plant of the share that gets one, rounded up. Source: common practice."""
    return Figure(
        float(math.ceil(plants * share_pct / 100 - 1e-9)),
        "tubes",
        "plants × share in tubes, rounded up",
        (Term("plants", plants), Term("in tubes", share_pct, "%")),
    )


def planting_cost(items: Mapping[str, tuple[float, Decimal]]) -> dict[str, Figure]:
    """Cost of each item and of all [$] from its amount and unit price; each line is rounded to the cent.

    Source: arithmetic, rounded as plans.planning.money says.
    `items` maps what is bought (plants, tubes, feet of fence) to amount and price. Raises ValueError for an
    item called `total`.
    """
    if "total" in items:
        raise ValueError("items: 'total' is the sum of the others; give that item another name")
    found = {
        name: Figure(
            to_cents(Decimal(str(amount)) * price),
            "$",
            "amount × price each",
            (Term("amount", amount), Term("price each", price, "$")),
            "price list of the practice",
        )
        for name, (amount, price) in items.items()
    }
    every = tuple(Term(name, figure.value, "$") for name, figure in found.items())
    found["total"] = Figure(
        total(Decimal(figure.value) for figure in found.values()), "$", "sum of the items", every
    )
    return found


@dataclass(frozen=True, slots=True)
class Grade:
    """A fertilizer's per cent of N, P2O5 and K2O by weight."""

    n_pct: float
    p2o5_pct: float
    k2o_pct: float

    def __str__(self) -> str:
        return f"{self.n_pct:g}-{self.p2o5_pct:g}-{self.k2o_pct:g}"

    def pct(self, nutrient: Nutrient) -> float:
        return {"N": self.n_pct, "P2O5": self.p2o5_pct, "K2O": self.k2o_pct}[nutrient]


def grade(text: str) -> Grade:
    """A grade as printed on the bag, `18-46-0`. Raises ValueError for anything else."""
    return Grade(*parse_grade(text))


def nutrients_in(lb: float, bag: Grade) -> dict[str, Figure]:
    """Nutrients in so much fertilizer [lb]: weight × per cent / 100. Source: Minnesota Extension."""
    return {
        nutrient: Figure(
            lb * bag.pct(nutrient) / 100,
            "lb",
            "fertilizer × per cent on the bag",
            (Term("fertilizer", lb, "lb"), Term(nutrient, bag.pct(nutrient), "%")),
            BAG_SOURCE,
        )
        for nutrient in NUTRIENTS
    }


@dataclass(frozen=True, slots=True)
class Feed:
    """Fertilizer for a need [lb/acre]: product by grade, what it supplies, what it leaves short."""

    products: Mapping[str, Figure]
    supplied: Mapping[str, Figure]
    short: Mapping[str, Figure]


def fertilizer(need_lb_per_acre: Mapping[Nutrient, float], bags: Sequence[Grade]) -> Feed:
    """Product by grade for N, P2O5 and K2O [lb/acre], never more of any nutrient than is needed.

    Bags with several nutrients come first, each until one of its nutrients is met; single ones fill up.
    What no bag can give without overshooting is left short and said. Source: Arkansas Extension (weight =
    nutrient / per cent).
    """
    left = {nutrient: float(need_lb_per_acre.get(nutrient, 0)) for nutrient in NUTRIENTS}
    for nutrient, amount in left.items():
        if amount < 0:
            raise ValueError(f"{nutrient}: {amount:g} lb/acre is under 0")
    need = dict(left)
    products: dict[str, Figure] = {}

    def breadth(bag: Grade) -> tuple[int, float]:
        parts = [bag.pct(nutrient) for nutrient in NUTRIENTS]
        return -sum(part > 0 for part in parts), -sum(parts)

    for bag in sorted(dict.fromkeys(bags), key=breadth):
        carried = [nutrient for nutrient in NUTRIENTS if bag.pct(nutrient) > 0]
        first = min(carried, key=lambda nutrient: left[nutrient] / bag.pct(nutrient))
        pounds = left[first] / bag.pct(first) * 100
        if pounds <= 1e-9:
            continue
        products[str(bag)] = Figure(
            pounds,
            "lb/acre",
            f"{first} still needed / per cent of {first}",
            (Term(f"{first} needed", left[first], "lb/acre"), Term(first, bag.pct(first), "%")),
            BAG_SOURCE,
        )
        for nutrient in carried:
            left[nutrient] = max(0.0, left[nutrient] - pounds * bag.pct(nutrient) / 100)
        left[first] = 0.0

    def figures(amounts: Mapping[Nutrient, float], formula: str) -> dict[str, Figure]:
        return {
            nutrient: Figure(
                amount, "lb/acre", formula, (Term("needed", need[nutrient], "lb/acre"),), BAG_SOURCE
            )
            for nutrient, amount in amounts.items()
        }

    return Feed(
        products,
        figures({name: need[name] - left[name] for name in NUTRIENTS}, "given by the products"),
        figures(left, "needed - given"),
    )


def plot_need(species: str, phosphorus: Level, potassium: Level) -> dict[str, Figure]:
    """N, P2O5 and K2O for a plot crop [lb/acre] by what the soil test calls its phosphorus and potassium.

    Source: reference/soil_test.csv, coarse; the laboratory's own recommendation goes first. Raises
    ValueError for a crop that is not in reference/plots.csv.
    """
    crop = tables.plot_crops().get(species)
    if crop is None:
        raise ValueError(f"species: {species!r} is not one of: {', '.join(tables.plot_crops())}")
    levels = {"N": "any", "P2O5": phosphorus, "K2O": potassium}
    return {
        row.nutrient: Figure(
            row.lb_per_acre,
            "lb/acre",
            "looked up by the kind of crop and the soil test",
            (Term("crop", crop.feeds_as), Term("soil test", row.soil_test)),
            row.source,
        )
        for row in tables.soil_needs()
        if row.feeds_as == crop.feeds_as and row.soil_test == levels[row.nutrient]
    }


def lime_tons(recommended_tons: float, basis_ecce_pct: float, product_ecce_pct: float) -> Figure:
    """Lime of this product [tons/acre] for a laboratory's tons of another effectiveness.

    tons × effectiveness meant / effectiveness bought (effective calcium carbonate equivalent, ECCE).
    Source: Cornell certified-adviser course: a recommendation is adjusted for the quality of the lime.
    """
    return Figure(
        recommended_tons * basis_ecce_pct / product_ecce_pct,
        "tons/acre",
        "tons recommended × ECCE meant / ECCE of the product",
        (
            Term("recommended", recommended_tons, "tons/acre"),
            Term("ECCE meant", basis_ecce_pct, "%"),
            Term("ECCE of the product", product_ecce_pct, "%"),
        ),
        LIME_SOURCE,
    )


def lime_tons_by_pounds(lb_per_acre: float, lb_per_ton: float) -> Figure:
    """Lime [tons/acre] for a recommendation in pounds of neutralizing material (ENM, ENP) an acre.

    Source: University of Minnesota, food plots: 3,000 lb/acre at 1,000 lb a ton is 3 tons.
    """
    return Figure(
        lb_per_acre / lb_per_ton,
        "tons/acre",
        "lb per acre recommended / lb in a ton of the product",
        (Term("recommended", lb_per_acre, "lb/acre"), Term("in a ton", lb_per_ton, "lb")),
        "University of Minnesota Extension, fertilizing wildlife food plots",
    )


def lime_ecce_pct(pass_20_pct: float, pass_60_pct: float, pass_100_pct: float, cce_pct: float) -> Figure:
    """Effective calcium carbonate equivalent [%] from a sieve test and purity.

    40 % of what lies between 20 and 60 mesh, 80 % of what lies between 60 and 100, all that passes 100, times
    the calcium carbonate equivalent. Source: Cornell certified-adviser course; states use other screens.
    Raises ValueError when a finer sieve passes more than a coarser one.
    """
    if not 100 >= pass_20_pct >= pass_60_pct >= pass_100_pct >= 0:
        raise ValueError("pass_20_pct, pass_60_pct, pass_100_pct: each finer sieve must pass less, 100 to 0")
    shares = (pass_20_pct - pass_60_pct, pass_60_pct - pass_100_pct, pass_100_pct)
    fineness = sum(share * weight for share, weight in zip(shares, SCREEN_SHARES.values(), strict=True))
    return Figure(
        fineness * cce_pct / 100,
        "%",
        "(0.4 × 20-60 mesh + 0.8 × 60-100 mesh + 1.0 × through 100) × purity",
        (
            *(Term(name, share, "%") for name, share in zip(SCREEN_SHARES, shares, strict=True)),
            Term("calcium carbonate equivalent", cce_pct, "%"),
        ),
        LIME_SOURCE,
    )


def lime_wanted(species: str, ph: float) -> bool:
    """Whether the soil is sourer than the crop likes, so that a lime recommendation should be asked for.

    Source: reference/plots.csv. Raises KeyError for a crop that is not in it.
    """
    return ph < tables.plot_crops()[species].ph_low
