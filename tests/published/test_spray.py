"""Spray arithmetic against printed examples."""

from __future__ import annotations

import pytest

from plans.planning import tables
from tests.published.reckoned import Printed, answer, check

EXAM = (
    "Florida pest control examination study pages, calculations, p. 213, method II: 12 gal, 660 ft, 10 "
    "ft swath"
)
BAND = (
    "University of Florida, sprayer calibration for band spraying: 16 fl oz from one tip in 300 ft, 15 "
    "in band"
)
SAFETY = "agrochemical safety text, example 4: 3.5 acres, 15 gal/acre, 3 lb/acre"
COUNTY = "county weed calibration sheet: 50 gal load, 100 gal/acre, 7 fl oz/acre"
PINTS = "Pacific Northwest Weed Management Handbook, table of pints of material per acre"
CASADY = (
    "W. Casady, University of Missouri (method of guide G1272): 2,4-D, 4 lb/gal, 20 gal/acre, 500 gal tank"
)
WASHBURN = "Washburn and Barnes 2000, Native Plants Journal 1:61-69: imazapic 0.07 kg/ha is 1 oz ai/acre"
TURF = "Oklahoma State University turf program, sprayer calibration: 200 ft in 45 s"
ALBANY = "Albany County (Wyoming) Weed and Pest District: boomless, 480 fl oz/min, 5 mph, 222 in, prints 20"
RANGE = "Pacific Northwest Weed Management Handbook, imazapic: 2 and 12 fl oz of 2 lb/gal"
GLYPHOSATE_MATH = "Iowa State University Extension, Glyphosate math: 128 / lb ae per gal"
BULLETIN = "University of Illinois bulletin, issue 10, 2006: 2 gal hand sprayer at 0.5 % v/v"
SURFACTANT = "Pacific Northwest Weed Management Handbook: 0.25 % v/v is 1 pint in 50 gal"

GPM_OF_12_GAL_IN_660_FT = 12 / (660 / 440)  # at 5 mph, 440 ft a minute
GPM_OF_16_OZ_IN_300_FT = 16 / 128 / (300 / 264)  # at 3 mph, 264 ft a minute


def pints(lb_per_acre: float, lb_per_gal: float) -> dict[str, float]:
    return {"lb_ae_per_acre": lb_per_acre, "lb_ae_per_gal": lb_per_gal}


def tank(acres: float, gal_per_acre: float, tank_gal: float, rate: float) -> dict[str, float]:
    return {"acres": acres, "gal_per_acre": gal_per_acre, "tank_gal": tank_gal, "rate_per_acre": rate}


def boom(gpm: float, mph: float, spacing: float) -> dict[str, float]:
    return {"nozzle_gal_per_min": gpm, "speed_mph": mph, "spacing_in": spacing}


PRINTED = [
    Printed("swath", "sprayer_gal_per_acre", boom(GPM_OF_12_GAL_IN_660_FT, 5, 120), 79.2, 0.05, EXAM),
    Printed("band", "sprayer_gal_per_acre", boom(GPM_OF_16_OZ_IN_300_FT, 3, 15), 14.52, 0.02, BAND),
    Printed(
        "band, both tips", "sprayer_gal_per_acre", boom(2 * GPM_OF_16_OZ_IN_300_FT, 3, 15), 29.04, 0.04, BAND
    ),
    Printed("boomless", "sprayer_gal_per_acre", boom(480 / 128, 5, 222), 20.068, 0.01, ALBANY),
    Printed("carrier", "tank", tank(3.5, 15, 100, 3), 52.5, 0.01, SAFETY, "last_load_gal"),
    Printed("product", "tank", tank(3.5, 15, 100, 3), 10.5, 0.01, SAFETY, "total_product"),
    Printed("product in a load", "tank", tank(10, 100, 50, 7), 3.5, 0.01, COUNTY, "product_per_tank"),
    Printed("acres a tank", "tank", tank(100, 20, 500, 3), 25, 0.01, CASADY, "acres_per_tank"),
    Printed("pints a tank", "tank", tank(100, 20, 500, 3), 75, 0.01, CASADY, "product_per_tank"),
    Printed("2,4-D", "acid_to_product", pints(1.5, 4), 0.375, 0.001, CASADY),
    Printed("1 lb of 4 lb/gal", "acid_to_product", pints(1.0, 4), 2 / 8, 0.001, PINTS),
    Printed("0.5 lb of 3 lb/gal", "acid_to_product", pints(0.5, 3), 1.33 / 8, 0.001, PINTS),
    Printed("2 lb of 3 lb/gal", "acid_to_product", pints(2.0, 3), 5.33 / 8, 0.001, PINTS),
    Printed("0.75 lb of 4 lb/gal", "acid_to_product", pints(0.75, 4), 1.5 / 8, 0.001, PINTS),
    Printed("0.5 lb of 2.64 lb/gal", "acid_to_product", pints(0.5, 2.64), 1.5 / 8, 0.02 / 8, PINTS),
    Printed("2 lb of 5 lb/gal", "acid_to_product", pints(2, 5), 3.2 / 8, 0.001, PINTS),
    Printed(
        "imazapic at planting", "acid_to_product", pints(0.07 * 0.892179, 2), 4.0 / 128, 0.01 / 128, WASHBURN
    ),
    Printed("imazapic, lowest", "acid_to_product", pints(0.03125, 2), 2 / 128, 1e-9, RANGE),
    Printed("imazapic, highest", "acid_to_product", pints(0.1875, 2), 12 / 128, 1e-9, RANGE),
    Printed("1 lb ae of 4.5", "acid_to_product", pints(1, 4.5), 28.44 / 128, 0.01 / 128, GLYPHOSATE_MATH),
    Printed("1 lb ae of 4.0", "acid_to_product", pints(1, 4.0), 32.00 / 128, 0.01 / 128, GLYPHOSATE_MATH),
    Printed("stopwatch", "speed_mph", {"distance_ft": 200, "seconds": 45}, 3.0303, 0.001, TURF),
    Printed("hand sprayer", "volume_pct", {"volume": 256, "pct": 0.5}, 1.28, 0.005, BULLETIN),
    Printed("surfactant", "volume_pct", {"volume": 50, "pct": 0.25}, 1 / 8, 0.001, SURFACTANT),
]


@pytest.mark.parametrize("case", PRINTED, ids=lambda case: case.name)
def test_printed(case: Printed) -> None:
    check(case)


@pytest.mark.parametrize(("spacing_in", "course_ft"), [(20, 204), (30, 136), (18, 227), (10, 408)])
def test_course_of_a_128th_of_an_acre(spacing_in: float, course_ft: float) -> None:
    """Catching 1 fl oz from a nozzle over the printed course is 1 gal/acre. Source: LSU AgCenter."""
    minutes = course_ft / (3 * 88)
    caught = boom(1 / 128 / minutes, 3, spacing_in)
    assert answer("sprayer_gal_per_acre", caught) == pytest.approx(1, rel=0.005)


INGREDIENTS = [
    # Pacific Northwest Weed Management Handbook: imazapic 2 to 12 fl oz of 2 lb/gal
    ("imazapic", "rate_low_lb_per_acre", 0.031),
    ("imazapic", "rate_high_lb_per_acre", 0.1875),
    ("imazapic", "season_max_lb_per_acre", 0.1875),
    # most broad labels, 6 lb ae/acre/year [from memory]
    ("glyphosate", "season_max_lb_per_acre", 6.0),
    # Pheasants Forever 2018: drill 10 to 14 days after the last spray
    ("glyphosate", "wait_before_seeding_days", 10),
    # University of Florida IFAS: 1.5 lb ae/acre/year
    ("imazapyr", "season_max_lb_per_acre", 1.5),
    # Kansas State University on sericea: 0.5 to 1 lb ae, from 1 to 2 pt of 4 lb/gal
    ("triclopyr ester", "rate_low_lb_per_acre", 0.5),
]


@pytest.mark.parametrize(("ingredient", "column", "printed"), INGREDIENTS)
def test_ingredient_table(ingredient: str, column: str, printed: float) -> None:
    assert getattr(tables.ingredients()[ingredient], column) == printed


@pytest.mark.parametrize(
    ("ingredient", "restricted"), [("picloram", "yes"), ("atrazine", "yes"), ("glyphosate", "no")]
)
def test_restricted_use(ingredient: str, restricted: str) -> None:
    """Picloram and atrazine are federally restricted.

    Source: registered labels; EPA list under 40 CFR 152.175.
    """
    assert tables.ingredients()[ingredient].restricted_use == restricted


TOLERANCES = [
    # USDA-ARS, Mitchell 2010: imazapic is not recommended on new switchgrass
    ("switchgrass", "imazapic", "at planting", ("sensitive",)),
    # Washburn and Barnes 2000: three bluestem-type grasses gained, purple coneflower was reduced at 0.07
    # kg/ha
    ("big bluestem", "imazapic", "at planting", ("tolerant",)),
    ("little bluestem", "imazapic", "at planting", ("tolerant",)),
    ("indiangrass", "imazapic", "at planting", ("tolerant",)),
    ("purple prairie clover", "imazapic", "at planting", ("tolerant",)),
    ("purple coneflower", "imazapic", "at planting", ("moderate", "sensitive", "unknown")),
    # Shinn and Thill 2004, Weed Technology 18(1): seeded cool-season grasses lost 12 to 26 %
    ("Canada wildrye", "imazapic", "at planting", ("moderate", "sensitive")),
    # mode of action: grass killers take green wildryes
    ("Virginia wildrye", "clethodim", "seedling", ("sensitive",)),
    # nobody tried it
    ("a plant in no table", "imazapic", "at planting", ("unknown",)),
]


@pytest.mark.parametrize(("plant", "ingredient", "timing", "allowed"), TOLERANCES)
def test_tolerance_table(plant: str, ingredient: str, timing: str, allowed: tuple[str, ...]) -> None:
    assert tables.tolerance(plant, ingredient, timing).tolerance in allowed
