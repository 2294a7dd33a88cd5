"""Seed arithmetic against printed examples."""

from __future__ import annotations

import pytest

from plans.planning import seed, tables
from tests.planning import make
from tests.published.reckoned import Printed, answer, check

TXDOT = "Texas Department of Transportation, Pure Live Seed page, bermudagrass example"
PENN_STATE = "Penn State Extension, Calculating the Price of Pure Live Seed, 2023"
ALLAMAKEE = "Allamakee Soil and Water Conservation District (Iowa), Calculate Seeding Rates in PLS"
JOB_SHEET = (
    "USDA-SCS Conservation Job Sheet ND-20, 1980, as table 4 of USGS Northern Prairie, Establishment of "
    "Seeded Grasslands; printed to 0.05"
)
WHEAT = "University of Kentucky, wheat seeding-rate sheet (Bitzer and Herbek), table of seeds per lb"
BWSR = (
    "Minnesota Board of Water and Soil Resources, Conservation Dry Northwest mix; seeds/lb implied by "
    "its columns"
)
NORTHERN_IOWA = "University of Northern Iowa, prairie planting record, seeding area 9, 2021"
SOUTHEAST = (
    "Southeast Farm Press, extension agronomist on drill calibration: 24 openers, 7.5 in, 145.2 ft = "
    "1/20 acre"
)
FACTOR = "University of Kentucky factors in No-Till Farmer: grams per row over 150 ft for 1 lb/acre"
AGRONOMY_212 = "Iowa State University, Agronomy 212 calculations: 200,000 seeds an acre in 15 in rows"


def lot(purity: float, germination: float, dormant: float | None = None, **more: float) -> dict[str, float]:
    given = {"purity_pct": purity, "germination_pct": germination, **more}
    return given if dormant is None else given | {"dormant_pct": dormant}


def catch(spacing: float, **more: float) -> dict[str, float]:
    return {"rows": 1, "row_spacing_in": spacing, "distance_ft": 150} | more


PRINTED = [
    Printed("bermudagrass PLS", "pls_pct", lot(85, 75), 63.75, 0.01, TXDOT),
    Printed("bermudagrass bulk", "bulk_lb", lot(85, 75, pls_lb=1), 1.5686, 0.001, TXDOT),
    Printed("turf seed PLS", "pls_pct", lot(92, 80), 73.6, 0.01, PENN_STATE),
    Printed("turf seed bulk", "bulk_lb", lot(92, 80, pls_lb=1), 1.3587, 0.001, PENN_STATE),
    Printed("lot A PLS", "pls_pct", lot(85, 60), 51.0, 0.01, PENN_STATE),
    Printed("lot A bulk", "bulk_lb", lot(85, 60, pls_lb=1), 1.9608, 0.001, PENN_STATE),
    Printed(
        "lot A price", "price_per_pls_lb", lot(85, 60, price_per_bulk_lb=1.95), 3.8235, 0.005, PENN_STATE
    ),
    Printed("dormant seed counts", "pls_pct", lot(98.75, 88, 5), 91.8375, 0.01, ALLAMAKEE),
    Printed("table 4, 90 and 80 %", "bulk_lb", lot(90, 80, pls_lb=1), 1.4, 0.05, JOB_SHEET),
    Printed("table 4, 70 and 60 %", "bulk_lb", lot(70, 60, pls_lb=1), 2.4, 0.05, JOB_SHEET),
    Printed("table 4, 50 and 50 %", "bulk_lb", lot(50, 50, pls_lb=1), 4.0, 0.05, JOB_SHEET),
    Printed(
        "wheat, 35 seeds", "pls_lb_per_acre", {"seeds_per_sqft": 35, "seeds_per_lb": 12_000}, 127, 0.5, WHEAT
    ),
    Printed(
        "wheat, 30 seeds", "pls_lb_per_acre", {"seeds_per_sqft": 30, "seeds_per_lb": 16_000}, 82, 0.5, WHEAT
    ),
    Printed(
        "big bluestem density",
        "seeds_per_sqft",
        {"pls_lb_per_acre": 1.5, "seeds_per_lb": 160_000},
        5.51,
        0.01,
        BWSR,
    ),
    Printed(
        "sand dropseed density",
        "seeds_per_sqft",
        {"pls_lb_per_acre": 0.08, "seeds_per_lb": 3_200_000},
        5.88,
        0.01,
        BWSR,
    ),
    Printed(
        "indiangrass density",
        "seeds_per_sqft",
        {"pls_lb_per_acre": 1.0, "seeds_per_lb": 192_000},
        4.41,
        0.01,
        BWSR,
    ),
    Printed(
        "big bluestem rate",
        "pls_lb_per_acre",
        {"seeds_per_sqft": 1.00, "seeds_per_lb": 160_000},
        0.272,
        0.001,
        f"{NORTHERN_IOWA}; seeds/lb from {BWSR}",
    ),
    Printed(
        "sideoats rate",
        "pls_lb_per_acre",
        {"seeds_per_sqft": 2.08, "seeds_per_lb": 96_000},
        0.944,
        0.001,
        f"{NORTHERN_IOWA}; seeds/lb implied by the Minnesota mix (1.4 lb = 3.09 seeds/ft²)",
    ),
    Printed(
        "twentieth of an acre",
        "drill_lb_per_acre",
        {"grams": 453.59237, "rows": 24, "row_spacing_in": 7.5, "distance_ft": 145.2},
        20.0,
        0.001,
        SOUTHEAST,
    ),
    Printed("factor at 6 in", "drill_catch_g", catch(6, lb_per_acre=1), 0.78, 0.005, FACTOR),
    Printed("factor at 7 in", "drill_catch_g", catch(7, lb_per_acre=1), 0.91, 0.005, FACTOR),
    Printed("factor at 7.5 in", "drill_catch_g", catch(7.5, lb_per_acre=1), 0.98, 0.005, FACTOR),
    Printed("factor at 8 in", "drill_catch_g", catch(8, lb_per_acre=1), 1.04, 0.005, FACTOR),
    Printed("factor turned round", "drill_lb_per_acre", catch(7, grams=0.9111), 1.0, 0.001, FACTOR),
    Printed(
        "seeds per row foot",
        "seeds_per_row_ft",
        {"seeds_per_sqft": 200_000 / 43_560, "row_spacing_in": 15},
        5.74,
        0.01,
        AGRONOMY_212,
    ),
    Printed(
        "wheat seeds per row foot",
        "seeds_per_row_ft",
        {"seeds_per_sqft": 35, "row_spacing_in": 7},
        20.417,
        0.001,
        WHEAT,
    ),
]


@pytest.mark.parametrize("case", PRINTED, ids=lambda case: case.name)
def test_printed(case: Printed) -> None:
    check(case)


def test_a_stand_goal_is_divided_by_what_survives() -> None:
    """1,100,000 plants an acre, 15 % loss, 12,500 seeds/lb, 95 % germination: 108.98 lb, printed 110.

    Stand / (1 - loss) / (seeds/lb x germination). Source: NDSU and University of Minnesota, small grains.
    """
    density = 1_100_000 / (1 - 0.15) / 43_560
    live = answer("pls_lb_per_acre", {"seeds_per_sqft": density, "seeds_per_lb": 12_500})
    assert answer("bulk_lb", lot(100, 95, pls_lb=live)) == pytest.approx(108.98, abs=0.05)


def test_oats_are_a_quarter_of_the_seeds_and_nine_tenths_of_the_weight() -> None:
    """Oats 11.13 seeds/ft² in 37.88 lb, 25.12 % of 44.31 seeds/ft² and 89.5 % of 42.32 lb.

    Source: Minnesota BWSR pilot mixes, Pollinator Plot Northwest, 2018; all but the oats are lumped together.
    """
    oats_per_lb, rest_per_lb = 11.13 * 43_560 / 37.88, (44.31 - 11.13) * 43_560 / (42.32 - 37.88)
    lots = {
        "oats": _counted("oats", oats_per_lb),
        "big bluestem": _counted("big bluestem", rest_per_lb),
    }
    oats, rest = seed.mix_rates(make.mix(("oats", 37.88), ("big bluestem", 4.44)), lots)
    assert oats.share_of_seed_pct == pytest.approx(25.12, abs=0.05)
    assert oats.share_of_weight_pct == pytest.approx(89.5, abs=0.05)
    assert oats.seeds_per_sqft + rest.seeds_per_sqft == pytest.approx(44.31, abs=0.01)


def _counted(species: str, seeds_per_lb: float):
    row = make.example().prices.seed[0]
    return type(row)(
        species=species,
        price_usd_per_lb=row.price_usd_per_lb,
        basis="PLS",
        purity_pct=90,
        germination_pct=90,
        seeds_per_lb=seeds_per_lb,
    )


def test_one_grass_to_three_forbs() -> None:
    """40 seeds/ft² at one to three: 10 grass, 30 forb.

    Source: Iowa State Farm Progress Reports 2016, CP-42 trial.
    """
    mix = make.mix(("big bluestem", 25), ("black-eyed Susan", 75), basis="share of seed", seeds_per_sqft=40)
    assert [rate.seeds_per_sqft for rate in seed.mix_rates(mix, {})] == pytest.approx([10, 30], abs=1e-9)


PLANTING_LIST = [
    # oz/acre; seeds/ft² reckoned from the list's ounces and the USDA PLANTS counts
    ("big bluestem", 8, 1.66),
    ("Canada wildrye", 32, 5.23),
    ("switchgrass", 8, 2.97),
    ("little bluestem", 16, 5.85),
    ("indiangrass", 16, 4.01),
]


@pytest.mark.parametrize(("species", "ounces", "density"), PLANTING_LIST, ids=lambda value: str(value))
def test_prairie_planting_list(species: str, ounces: float, density: float) -> None:
    """Source: Kellogg Biological Station LTER protocol 142 (ounces); USDA NRCS PLANTS, 2026 (seeds per
    lb)."""
    mix = make.mix(*((name, oz / 16) for name, oz, _ in PLANTING_LIST))
    rates = {rate.species: rate for rate in seed.mix_rates(mix, {})}
    assert rates[species].seeds_per_sqft == pytest.approx(density, abs=0.01)
    assert sum(rate.pls_lb_per_acre for rate in rates.values()) == pytest.approx(5.00)  # 80 oz, as printed


def test_wildrye_is_two_fifths_of_the_weight_and_a_quarter_of_the_seeds() -> None:
    """Source: the same list: 32 of 80 oz; 5.23 of 19.7 seeds/ft²."""
    mix = make.mix(*((name, oz / 16) for name, oz, _ in PLANTING_LIST))
    wildrye = next(rate for rate in seed.mix_rates(mix, {}) if rate.species == "Canada wildrye")
    assert wildrye.share_of_weight_pct == pytest.approx(40)
    assert wildrye.share_of_seed_pct == pytest.approx(26.5, abs=0.05)


COUNTS = [
    # USDA NRCS PLANTS Database, characteristics, read in a 2026 snapshot
    ("big bluestem", 144_240),
    ("indiangrass", 174_720),
    ("little bluestem", 255_000),
    ("switchgrass", 259_000),
    ("sideoats grama", 159_200),
    ("Canada wildrye", 114_000),
    ("blue grama", 825_000),
    ("purple prairie clover", 317_000),
    ("black-eyed Susan", 1_575_760),
]


@pytest.mark.parametrize(("species", "seeds_per_lb"), COUNTS)
def test_seed_counts_of_the_plants_database(species: str, seeds_per_lb: float) -> None:
    assert tables.species()[species].seeds_per_lb == seeds_per_lb


SPREADS = [
    # highest printed count / lowest: USDA PLANTS against Minnesota BWSR, University of Northern Iowa and
    # TxDOT
    ("sand dropseed", 1.75),
    ("sideoats grama", 1.66),
    ("upright prairie coneflower", 1.67),
    ("oats", 1.52),
    ("prairie dropseed", 4.7),
]


@pytest.mark.parametrize(("species", "spread"), SPREADS)
def test_sources_disagree_on_seed_counts(species: str, spread: float) -> None:
    row = tables.species()[species]
    assert row.seeds_per_lb_high / row.seeds_per_lb_low == pytest.approx(spread, rel=0.02)


FULL_RATES = [
    # lb PLS/acre, drill or broadcast: Texas A&M AgriLife (McGinty), Seeding Rangeland, table of full rates
    ("big bluestem", 6.0),
    ("indiangrass", 4.5),
    ("little bluestem", 3.4),
    ("sideoats grama", 4.5),
    ("switchgrass", 2.0),
    ("sand dropseed", 1.0),
]


@pytest.mark.parametrize(("species", "lb_per_acre"), FULL_RATES)
def test_full_rates_of_range_seeding(species: str, lb_per_acre: float) -> None:
    row = tables.species()[species]
    assert row.full_stand_lb_pls_per_acre_low <= lb_per_acre <= row.full_stand_lb_pls_per_acre_high
