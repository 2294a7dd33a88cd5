"""Seed: pure live seed, seeds per square foot, a mix in any basis, bulk to weigh out, drill calibration.

Sources: the pure-live-seed arithmetic is that of state seed laws as printed by Texas A&M AgriLife
(McGinty, seeding rangeland), Penn State Extension (Calculating the Price of Pure Live Seed, 2023) and
the Allamakee Soil and Water Conservation District; drill arithmetic as in University of Kentucky and
Southeast Farm Press calibration sheets.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from plans.planning import tables
from plans.planning.figures import Figure, Term
from plans.planning.job import Mix
from plans.planning.price_list import SeedPrice

SQFT_PER_ACRE = 43_560
GRAMS_PER_LB = 453.59237
INCHES_PER_FOOT = 12

PLS_SOURCE = "pure live seed = purity × (germination + dormant): Texas A&M AgriLife, seeding rangeland"
DENSITY_SOURCE = "43,560 square feet in an acre: arithmetic, as in USDA NRCS and university seeding sheets"
DRILL_SOURCE = "pounds caught over the area run: University of Kentucky and Southeast Farm Press drill sheets"


def _check_lot(purity_pct: float, germination_pct: float, dormant_pct: float) -> float:
    live = germination_pct + dormant_pct
    if not 0 < purity_pct <= 100:
        raise ValueError(f"purity_pct: {purity_pct:g} is not over 0 and at most 100")
    if not 0 < live <= 100:
        raise ValueError(
            f"germination_pct + dormant_pct: {live:g} is not over 0 and at most 100; "
            "a tetrazolium result replaces both and is given as germination_pct alone"
        )
    return live


def pls_pct(purity_pct: float, germination_pct: float, dormant_pct: float = 0) -> Figure:
    """Share of a bag's weight that is the named species and alive [%].

    Source: Texas A&M AgriLife; Penn State Extension 2023. Dormant and hard seed count as alive.
    Raises ValueError outside 0-100 %.
    """
    live = _check_lot(purity_pct, germination_pct, dormant_pct)
    return Figure(
        purity_pct * live / 100,
        "%",
        "purity × (germination + dormant) / 100",
        (
            Term("purity", purity_pct, "%"),
            Term("germination", germination_pct, "%"),
            Term("dormant", dormant_pct, "%"),
        ),
        PLS_SOURCE,
    )


def bulk_lb(pls_lb: float, purity_pct: float, germination_pct: float, dormant_pct: float = 0) -> Figure:
    """Bulk seed that holds `pls_lb` of pure live seed [lb]. Source: Penn State Extension 2023."""
    share = pls_pct(purity_pct, germination_pct, dormant_pct)
    return Figure(
        pls_lb / (float(share.value) / 100),
        "lb",
        "pure live seed / (purity × (germination + dormant))",
        (Term("pure live seed", pls_lb, "lb"), *share.inputs),
        PLS_SOURCE,
    )


def price_per_pls_lb(
    price_per_bulk_lb: float, purity_pct: float, germination_pct: float, dormant_pct: float = 0
) -> Figure:
    """Price of a pound of pure live seed from a bulk price [$]. Source: Penn State Extension 2023.

    A price already stated per PLS pound must not be put through this.
    """
    share = pls_pct(purity_pct, germination_pct, dormant_pct)
    return Figure(
        price_per_bulk_lb / (float(share.value) / 100),
        "$",
        "price per bulk lb / (purity × (germination + dormant))",
        (Term("price per bulk lb", price_per_bulk_lb, "$"), *share.inputs),
        PLS_SOURCE,
    )


def seeds_per_sqft(pls_lb_per_acre: float, seeds_per_lb: float) -> Figure:
    """Live seeds on a square foot [seeds/ft²] = lb/acre × seeds/lb / 43,560. Source: Minnesota BWSR mixes."""
    return Figure(
        pls_lb_per_acre * seeds_per_lb / SQFT_PER_ACRE,
        "seeds/ft²",
        "lb PLS per acre × seeds per lb / 43,560",
        (Term("rate", pls_lb_per_acre, "lb/acre"), Term("count", seeds_per_lb, "seeds/lb")),
        DENSITY_SOURCE,
    )


def pls_lb_per_acre(seeds_per_sqft: float, seeds_per_lb: float) -> Figure:
    """Pure live seed for a density [lb/acre]: seeds/ft² × 43,560 / seeds/lb (University of Kentucky)."""
    if seeds_per_lb <= 0:
        raise ValueError("seeds_per_lb: must be over 0")
    return Figure(
        seeds_per_sqft * SQFT_PER_ACRE / seeds_per_lb,
        "lb/acre",
        "seeds per ft² × 43,560 / seeds per lb",
        (Term("density", seeds_per_sqft, "seeds/ft²"), Term("count", seeds_per_lb, "seeds/lb")),
        DENSITY_SOURCE,
    )


def drill_lb_per_acre(grams: float, rows: float, row_spacing_in: float, distance_ft: float) -> Figure:
    """Rate that a catch means [lb/acre], bulk and carrier included, as caught from `rows` openers.

    grams / 453.59237 × 43,560 / (rows × spacing in ft × distance). Source: University of Kentucky factor,
    No-Till Farmer; Southeast Farm Press drill calibration.
    """
    area_sqft = rows * row_spacing_in / INCHES_PER_FOOT * distance_ft
    return Figure(
        grams / GRAMS_PER_LB * SQFT_PER_ACRE / area_sqft,
        "lb/acre",
        "grams / 453.59 × 43,560 / (rows × spacing / 12 × distance)",
        (
            Term("caught", grams, "g"),
            Term("openers", rows),
            Term("spacing", row_spacing_in, "in"),
            Term("distance", distance_ft, "ft"),
        ),
        DRILL_SOURCE,
    )


def drill_catch_g(lb_per_acre: float, rows: float, row_spacing_in: float, distance_ft: float) -> Figure:
    """What a catch should weigh [g] for a bulk rate; the inverse of `drill_lb_per_acre`. Source: as there."""
    area_sqft = rows * row_spacing_in / INCHES_PER_FOOT * distance_ft
    return Figure(
        lb_per_acre * GRAMS_PER_LB * area_sqft / SQFT_PER_ACRE,
        "g",
        "lb per acre × 453.59 × (rows × spacing / 12 × distance) / 43,560",
        (
            Term("rate", lb_per_acre, "lb/acre"),
            Term("openers", rows),
            Term("spacing", row_spacing_in, "in"),
            Term("distance", distance_ft, "ft"),
        ),
        DRILL_SOURCE,
    )


def drill_wheel_g(
    lb_per_acre: float, turns: float, wheel_circumference_ft: float, rows: float, row_spacing_in: float
) -> Figure:
    """What the openers should drop [g] over turns of the drive wheel, for a bulk rate [lb/acre].

    The distance is turns × rolling circumference, measured in the field. Source: University of Maryland,
    calibrating a grain drill (2019).
    """
    distance_ft = turns * wheel_circumference_ft
    catch = drill_catch_g(lb_per_acre, rows, row_spacing_in, distance_ft)
    wheel = (Term("turns", turns), Term("circumference", wheel_circumference_ft, "ft"))
    return Figure(
        catch.value,
        catch.unit,
        f"distance = turns × circumference; {catch.formula}",
        (*wheel, *catch.inputs),
        DRILL_SOURCE,
    )


def seeds_per_row_ft(seeds_per_sqft: float, row_spacing_in: float) -> Figure:
    """Seeds in a foot of row [seeds/ft] = seeds/ft² × spacing / 12. Source: Iowa State Agronomy 212."""
    return Figure(
        seeds_per_sqft * row_spacing_in / INCHES_PER_FOOT,
        "seeds/ft",
        "seeds per ft² × row spacing / 12",
        (Term("density", seeds_per_sqft, "seeds/ft²"), Term("spacing", row_spacing_in, "in")),
        "Iowa State University, Agronomy 212 calculations",
    )


@dataclass(frozen=True, slots=True)
class Rate:
    """One species of a mix in every basis; `pls_lb_per_acre` is for the mix as written, before any factor."""

    species: str
    seeds_per_lb: float
    pls_lb_per_acre: float
    seeds_per_sqft: float
    share_of_seed_pct: float
    share_of_weight_pct: float


def count_for(name: str, lot: SeedPrice | None) -> float:
    """Seeds per pound: the lot's own count, else the table's. Raises ValueError if neither is known."""
    if lot is not None and lot.seeds_per_lb is not None:
        return lot.seeds_per_lb
    plant = tables.species().get(name)
    if plant is None:
        raise ValueError(
            f"{name!r} is not in reference/species.csv and has no listed lot with its own seeds_per_lb"
        )
    return plant.seeds_per_lb


def mix_rates(mix: Mix, lots: Mapping[str, SeedPrice]) -> tuple[Rate, ...]:
    """The mix's lines in every basis, in the mix's order.

    Share of seed: density = share × target. Share of weight: total weight is the one whose seeds add up to
    the target density. Raises ValueError for a species whose seed count is unknown.
    Source: seeds per acre arithmetic as in Minnesota BWSR and USDA NRCS seeding sheets.
    """
    try:
        counts = [count_for(line.species, lots.get(line.species)) for line in mix.lines]
    except ValueError as unknown:
        raise ValueError(f"mix {mix.name!r}, species: {unknown}") from None
    if mix.basis == "lb PLS per acre":
        pounds = [line.amount for line in mix.lines]
    else:
        total = sum(line.amount for line in mix.lines)
        target = mix.seeds_per_sqft or 0.0
        if mix.basis == "share of seed":
            pounds = [
                line.amount / total * target * SQFT_PER_ACRE / count
                for line, count in zip(mix.lines, counts, strict=True)
            ]
        else:
            seeds_per_mix_lb = sum(
                line.amount / total * count for line, count in zip(mix.lines, counts, strict=True)
            )
            mix_lb = target * SQFT_PER_ACRE / seeds_per_mix_lb
            pounds = [line.amount / total * mix_lb for line in mix.lines]
    densities = [lb * count / SQFT_PER_ACRE for lb, count in zip(pounds, counts, strict=True)]
    all_seeds, all_pounds = sum(densities), sum(pounds)
    return tuple(
        Rate(line.species, count, lb, density, 100 * density / all_seeds, 100 * lb / all_pounds)
        for line, count, lb, density in zip(mix.lines, counts, pounds, densities, strict=True)
    )
