"""Machines, slopes, soil loss, stands and degree days against printed examples; units against standards."""

from __future__ import annotations

import math
from decimal import Decimal

import pytest

from plans.planning import seed, spray, work
from plans.planning.soil import UNIT_LENGTH_FT
from plans.planning.sprayday import wet_bulb_c
from plans.planning.stand import verdict
from tests.planning import make
from tests.published.reckoned import Printed, check

A3_24 = "Iowa State Extension, AgDM A3-24, Estimating the Field Capacity of Farm Machines, table 1"
PROGRESSIVE = "Progressive Forage, Farm field equipment: efficiency versus capacity"
PM_696 = "Iowa State Extension, PM 696, 2001: chisel plow 11 ft 3 in, 5.5 mph, 85 %"
CONTEST = "National Agricultural Technology contest practice item: 200 yards in 43.5 s"
AGRON_541 = "Iowa State University, Agronomy 541, lesson 2b: the 86/50 rule"
MRCC = "Midwestern Regional Climate Center: mean 75 F, base 65 F"
REFERENCE = "worked degree-unit example, online reference page: max 85, min 60, base 50"
NOTE = "posted worked note on percent and degree"
CODER = "Coder, University of Georgia Warnell School, Number of Trees per Acre by Spacing Distance"
WOOD = "Kentucky forestry manual, trees per acre, square spacing"
RUSLE = "Michigan State University, RUSLE LS table reprinted from USDA Agriculture Handbook 703"
USLE = "USDA Agriculture Handbook 537, table 3 [from memory]"
CHART = "text-book example 11.1, central Indiana watershed; read off a chart 1.6 % high"
FOUNTAIN = "USDA Agriculture Handbook 537, Fountain County, Indiana [from memory]"
OSU = (
    "Oklahoma State University, switchgrass establishment evaluation: throws of 15, 14, 20 and 21 of 25 cells"
)
VOGEL = "Vogel and Masters 2001, Journal of Range Management 54:653-655: plants/m² is 0.4 × frequency %"


def machine(width: float, mph: float, efficiency: float) -> dict[str, float]:
    return {"width_ft": width, "speed_mph": mph, "efficiency_pct": efficiency}


def days(high: float, low: float, base: float, cap: float | None = None) -> dict[str, object]:
    given: dict[str, object] = {"max_f": [high], "min_f": [low], "base_f": base}
    return given if cap is None else given | {"cap_f": cap}


def hill(slope: float, length: float) -> dict[str, float]:
    return {"slope_pct": slope, "slope_length_ft": length}


DEGREES_17 = {"rise_ft": 100 * math.sin(math.radians(17)), "run_ft": 100 * math.cos(math.radians(17))}
GRID = {"hits": 15 + 14 + 20 + 21, "cells": 4 * 25}
INDIANA = hill(8, 200) | {"r": 185, "k": 0.37, "c": 0.119, "p": 0.60}

PRINTED = [
    Printed("spreader 40 ft", "acres_per_hour", machine(40, 6, 70), 20.4, 0.05, A3_24),
    Printed("spreader 60 ft", "acres_per_hour", machine(60, 12, 68), 59.3, 0.05, A3_24),
    Printed("no lost time", "acres_per_hour", machine(30, 5, 100), 18.2, 0.05, PROGRESSIVE),
    Printed("no filling", "acres_per_hour", machine(30, 5, 80), 14.5, 0.05, PROGRESSIVE),
    Printed("filled in the field", "acres_per_hour", machine(30, 5, 60), 10.9, 0.05, PROGRESSIVE),
    Printed("chisel plow", "acres_per_hour", machine(11.25, 5.5, 85), 6.375, 0.001, PM_696),
    Printed("spreader speed", "speed_mph", {"distance_ft": 600, "seconds": 43.5}, 9.404389, 1e-5, CONTEST),
    Printed("88 ft in 12 s", "speed_mph", {"distance_ft": 88, "seconds": 12}, 5.0, 0.001, A3_24),
    Printed("88 ft in 20 s", "speed_mph", {"distance_ft": 88, "seconds": 20}, 3.0, 0.001, A3_24),
    Printed("plain day", "growing_degree_days", days(70, 50, 50, 86), 10, 0, AGRON_541),
    Printed("both ends held", "growing_degree_days", days(90, 40, 50, 86), 18, 0, AGRON_541),
    Printed("same day unheld", "growing_degree_days", days(90, 40, 50), 15, 0, AGRON_541),
    Printed("most in a day", "growing_degree_days", days(95, 88, 50, 86), 36, 0, AGRON_541),
    Printed("mean less base", "growing_degree_days", days(85, 65, 65), 10, 0, MRCC),
    Printed("cold day", "growing_degree_days", days(50, 30, 65), 0, 0, MRCC),
    Printed("degree units", "growing_degree_days", days(85, 60, 50), 22.5, 0, REFERENCE),
    Printed("17 percent", "slope", {"rise_ft": 17, "run_ft": 100}, 9.648, 0.001, NOTE, "degrees"),
    Printed("17 degrees", "slope", DEGREES_17, 30.573, 0.001, NOTE, "percent"),
    Printed("trees at 9 ft", "plants_per_acre", {"row_ft": 9, "plant_ft": 9}, 538, 0.5, CODER),
    Printed("trees at 10 ft", "plants_per_acre", {"row_ft": 10, "plant_ft": 10}, 436, 0.5, WOOD),
    Printed("RUSLE 4 %, 200 ft", "ls_factor", hill(4, 200), 0.67, 0.01, RUSLE, "rusle"),
    Printed("RUSLE 6 %, 100 ft", "ls_factor", hill(6, 100), 0.78, 0.01, RUSLE, "rusle"),
    Printed("RUSLE 8 %, 100 ft", "ls_factor", hill(8, 100), 1.04, 0.01, RUSLE, "rusle"),
    Printed("RUSLE 8 %, 300 ft", "ls_factor", hill(8, 300), 1.77, 0.01, RUSLE, "rusle"),
    Printed("RUSLE 10 %, 200 ft", "ls_factor", hill(10, 200), 1.98, 0.01, RUSLE, "rusle"),
    Printed("RUSLE 12 %, 100 ft", "ls_factor", hill(12, 100), 1.79, 0.01, RUSLE, "rusle"),
    Printed("USLE 8 %, 200 ft", "ls_factor", hill(8, 200), 1.41, 0.01, USLE, "usle"),
    Printed("USLE 2 %, 300 ft", "ls_factor", hill(2, 300), 0.280, 0.002, USLE, "usle"),
    Printed("USLE 4 %, 100 ft", "ls_factor", hill(4, 100), 0.400, 0.003, USLE, "usle"),
    Printed("USLE 20 %, 100 ft", "ls_factor", hill(20, 100), 4.08, 0.025, USLE, "usle"),
    Printed("USLE unit plot", "ls_factor", hill(9, UNIT_LENGTH_FT), 1.0, 0.001, USLE, "usle"),
    Printed("USLE 6 %, 250 ft", "ls_factor", hill(6, 250), 1.08, 0.02, CHART, "usle"),
    Printed("soil loss", "soil_loss", INDIANA, 6.9, 0.06, FOUNTAIN, "usle"),
    Printed("stand", "frequency_grid", GRID, 70, 0, OSU, "frequency_pct"),
    Printed("plants a square metre", "frequency_grid", GRID, 28.0, 0, VOGEL, "plants_per_m2"),
    Printed("plants a square foot", "frequency_grid", GRID, 2.60, 0.01, VOGEL, "plants_per_sqft"),
]


@pytest.mark.parametrize("case", PRINTED, ids=lambda case: case.name)
def test_printed(case: Printed) -> None:
    check(case)


@pytest.mark.parametrize(
    ("frequency", "forage", "cover"),
    [(70, True, True), (40, True, True), (39, False, True), (25, False, True), (24, False, False)],
)
def test_pass_marks_of_a_stand(frequency: float, forage: bool, cover: bool) -> None:
    """40 % for harvest, 25 % for conservation.

    Source: Schmer and others 2006, Crop Science 46:157-161; NDSU 2004.
    """
    words = verdict(frequency)
    assert words.startswith("enough") == cover
    assert ("enough for forage" in words) == forage


@pytest.mark.parametrize(
    ("temp_c", "humidity_pct", "wet_bulb"),
    [(20, 50, 13.7), (25, 40, 25 - 8.62), (30, 30, 30 - 11.63), (15, 80, 15 - 2.27)],
)
def test_wet_bulb(temp_c: float, humidity_pct: float, wet_bulb: float) -> None:
    """20 °C and 50 % give 13.7 °C.

    Source: Stull 2011, JAMC 50:2267 [from memory]; the others from its equation.
    """
    assert wet_bulb_c(temp_c, humidity_pct) == pytest.approx(wet_bulb, abs=0.01)


@pytest.mark.parametrize(("acres", "dollars"), [(5, "140.00"), (10, "140.00"), (20, "280.00")])
def test_a_rate_by_the_acre_has_a_least_charge(acres: float, dollars: str) -> None:
    """Drill at $14/acre, at least $140.

    Source: tariff of Clearwater Soil and Water Conservation District, Minnesota.
    """
    prices = make.priced("work", "no_till_drilling", rate_usd=Decimal("14"), minimum_usd=Decimal("140"))
    lines = make.plan(make.conversion(acres=acres), price_list=prices).estimate.lines
    assert next(line for line in lines if line.label == "Drill the mix").cost.value == Decimal(dollars)


UNITS = [
    ("acre, ft²", seed.SQFT_PER_ACRE, 43_560, "NIST Handbook 44, appendix C: 1 acre = 43 560 square feet"),
    ("acre, ft² (plants)", work.SQFT_PER_ACRE, 43_560, "NIST Handbook 44, appendix C"),
    ("pound, g", seed.GRAMS_PER_LB, 453.59237, "NIST SP 811, appendix B: 1 lb = 453.592 37 g exactly"),
    ("gallon, fl oz", spray.FL_OZ_PER_GAL, 128, "NIST Handbook 44, appendix C: liquid measure"),
    ("pound, oz", spray.OZ_PER_LB, 16, "NIST Handbook 44, appendix C: avoirdupois weight"),
    ("mile an hour, ft/min", spray.FT_PER_MIN_PER_MPH, 5_280 / 60, "NIST Handbook 44: 1 mile = 5280 ft"),
    ("field capacity", work.CAPACITY_CONSTANT, 43_560 / 5_280, "Iowa State AgDM A3-24: 8.25"),
    ("boom", spray.BOOM_CONSTANT, 43_560 * 12 / 88, "University of Florida IFAS WG013: 5,940"),
]


@pytest.mark.parametrize(
    ("constant", "standard"), [(ours, theirs) for _, ours, theirs, _ in UNITS], ids=[u[0] for u in UNITS]
)
def test_constants(constant: float, standard: float) -> None:
    assert constant == standard
