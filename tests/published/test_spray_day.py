"""Calibration and the air of a spray day against printed examples and limits."""

from __future__ import annotations

import math
from typing import Any

import pytest

from plans.planning.calibration import SWATH_CONSTANT
from plans.planning.reckoner import reckon
from plans.planning.spray import nozzle_catch_128th
from plans.planning.sprayday import Air, spray_day, wet_bulb_c
from tests.published.reckoned import Printed, check

EXAM = "Florida pest control examination study pages, p. 213, method II: 12 gal over 660 ft of 10 ft swath"
HAND = "hand-sprayer note citing Virginia Cooperative Extension 456-502: 1.5 gal on 1,000 ft² prints 65"
SQUARE = "extension slides on the 1/128 method: 40 fl oz on 18.5 ft square prints 40"
ALBANY = "Albany County (Wyoming) Weed and Pest District: 480 fl oz/min, 5 mph, 222 in prints 20"
EIGHTH = "Clemson University, spray calibration: boomless, 5,445 / swath ft; pints caught are gal/acre"


def wand(gpm: float, mph: float, swath: float) -> dict[str, float]:
    return {"nozzle_gal_per_min": gpm, "speed_mph": mph, "swath_ft": swath}


def driven(gallons: float, distance: float, swath: float) -> dict[str, float]:
    return {"gallons": gallons, "distance_ft": distance, "swath_ft": swath}


def spot(gallons: float, area: float) -> dict[str, float]:
    return {"gallons": gallons, "sprayed_sqft": area}


PRINTED = [
    Printed("refill", "refill_gal_per_acre", driven(12, 660, 10), 79.2, 0.05, EXAM),
    Printed("hand", "spot_gal_per_acre", spot(1.5, 1000), 65.34, 0.01, HAND),
    Printed("hand, as printed", "spot_gal_per_acre", spot(1.5, 1000), 65, 0.5, HAND),
    Printed("square", "spot_gal_per_acre", spot(40 / 128, 18.5**2), 39.77, 0.01, SQUARE),
    Printed("square, as printed", "spot_gal_per_acre", spot(40 / 128, 18.5**2), 40, 0.5, SQUARE),
    Printed("boomless", "boomless_gal_per_acre", wand(480 / 128, 5, 222 / 12), 20.068, 0.001, ALBANY),
    Printed("eighth, 20 ft", "refill_gal_per_acre", driven(15 / 8, 5445 / 20, 20), 15, 1e-6, EIGHTH),
    Printed("eighth, 30 ft", "refill_gal_per_acre", driven(10 / 8, 5445 / 30, 30), 10, 1e-6, EIGHTH),
]


@pytest.mark.parametrize("case", PRINTED, ids=lambda case: case.name)
def test_printed(case: Printed) -> None:
    check(case)


def test_the_swath_constant() -> None:
    """Source: Mesa County weed district, stationary calibration: 495."""
    assert SWATH_CONSTANT == 495


@pytest.mark.parametrize(("spacing_in", "course_ft"), [(12, 340), (20, 204), (40, 102)])
def test_course_by_spacing(spacing_in: float, course_ft: float) -> None:
    """Source: Clemson University, 1/128-acre courses (its "120 - 204" is a misprint of 20)."""
    shown = {term.name: term.value for term in nozzle_catch_128th(spacing_in, 15).inputs}
    assert float(shown["course"]) == pytest.approx(course_ft, abs=0.5)


@pytest.mark.parametrize(
    ("caught", "replace"),
    [([20, 20, 20, 20, 23.0], "nozzle 5"), ([20, 20, 20, 20, 21.9], "none"), ([20, 20, 20, 16], "nozzle 4")],
)
def test_a_nozzle_over_ten_percent_off_the_mean_is_replaced(caught: list[float], replace: str) -> None:
    """Source: University of Florida IFAS: replace any nozzle more than 10 % off the mean."""
    found = reckon("nozzle_wear", f'{{"ounces": {caught}}}')
    assert found["replace"] == replace


def psychrometer_wet_bulb_c(temp_c: float, humidity_pct: float) -> float:
    """The wet bulb that an aspirated psychrometer shows at 1013.25 hPa, by halving.

    Source: WMO Guide to Instruments and Methods of Observation (WMO-No. 8), annex 4.B
    [from memory]: saturation over water 6.112 exp(17.62 t / (243.12 + t)),
    coefficient 6.53e-4 (1 + 0.000944 t').
    """

    def saturated(temp: float) -> float:
        return 6.112 * math.exp(17.62 * temp / (243.12 + temp))

    pressure = humidity_pct / 100 * saturated(temp_c)
    low, high = -60.0, temp_c
    for _ in range(80):
        wet = (low + high) / 2
        shown = saturated(wet) - 6.53e-4 * (1 + 0.000944 * wet) * 1013.25 * (temp_c - wet)
        low, high = (wet, high) if shown < pressure else (low, wet)
    return (low + high) / 2


@pytest.mark.parametrize("temp_c", [10, 20, 30, 40])
@pytest.mark.parametrize("humidity_pct", [30, 50, 70, 90])
def test_wet_bulb_against_a_psychrometer(temp_c: float, humidity_pct: float) -> None:
    """Source: Stull 2011, errors of -1.0 to +0.65 °C [from memory]; 0.05 more for WMO's other equation."""
    off = wet_bulb_c(temp_c, humidity_pct) - psychrometer_wet_bulb_c(temp_c, humidity_pct)
    assert -1.0 <= off <= 0.70


def air(**changes: Any) -> Air:
    """A good day: 72 °F, 55 %, 5 mph, part cloud, 11 o'clock."""
    good = {"temp_f": 72, "humidity_pct": 55, "wind_mph": 5, "cloud": "partly cloudy", "hour": 11}
    return Air(**(good | changes))


DAYS: list[tuple[str, dict[str, Any], str]] = [
    ("3 to 8 mph: pesticidestewardship.org", {"wind_mph": 3}, "go"),
    ("3 to 8 mph: pesticidestewardship.org", {"wind_mph": 8}, "go"),
    ("under 3 mph rule out an inversion: 2,4-D label text", {"wind_mph": 2}, "wait"),
    ("8 mph, cautious among 8, 10 and 15", {"wind_mph": 9}, "wait"),
    ("over 10 mph drift rises: label advisory", {"wind_mph": 11}, "no"),
    ("the label governs", {"wind_mph": 12, "label_wind_max_mph": 15}, "go"),
    ("the label governs", {"wind_mph": 7, "label_wind_max_mph": 5}, "no"),
    ("inversions until 1 h after sunrise: GRDC 10.8", {"hour": 7, "sunrise_hour": 6.5}, "wait"),
    ("inversions from 1-2 h before sunset: GRDC 10.8", {"hour": 18, "sunset_hour": 19.5}, "wait"),
    ("outside both: GRDC 10.8", {"hour": 9, "sunrise_hour": 6.5, "sunset_hour": 19.5}, "go"),
    ("hanging smoke: pesticidestewardship.org", {"smoke_or_fog_hangs": True}, "no"),
    ("glyphosate above 50 °F [from memory]", {"temp_f": 48}, "wait"),
    ("esters not above 80 to 85 °F [from memory]", {"temp_f": 81, "ester": True}, "no"),
    ("not esters alone", {"temp_f": 81}, "go"),
    ("avoid above 28 °C: help page", {"temp_f": 84, "humidity_pct": 60}, "wait"),
    ("none above 90 °F [from memory]", {"temp_f": 91, "humidity_pct": 60}, "no"),
    ("40 % or more [from memory]", {"temp_f": 60, "humidity_pct": 38}, "wait"),
    ("avoid above 90 to 95 %: help page", {"humidity_pct": 92}, "wait"),
    ("Delta T under 2: Australian guideline", {"temp_f": 60, "humidity_pct": 89}, "wait"),
    ("Delta T 8 to 10: Australian guideline", {"temp_f": 77, "humidity_pct": 41}, "wait"),
    ("Delta T over 10: Australian guideline", {"temp_f": 86, "humidity_pct": 30}, "no"),
]


@pytest.mark.parametrize(("source", "changes", "verdict"), DAYS)
def test_verdict(source: str, changes: dict[str, Any], verdict: str) -> None:
    found = spray_day(air(**changes))
    assert found["verdict"] == verdict, source
    assert (verdict == "go") == ("none" in found["reasons"])


def test_a_verdict_grants_no_permission() -> None:
    assert "safe" not in str(spray_day(air())).lower()
