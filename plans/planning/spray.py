"""Spray: rates to product, tank loads, adjuvants, calibration.

Sources: sprayer arithmetic as printed by University of Florida IFAS (WG013), University of Missouri
(G1270, G1272), the Pacific Northwest Weed Management Handbook and Iowa State University (glyphosate math).
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from plans.planning.figures import Figure, Term

FL_OZ_PER_GAL = 128
OZ_PER_LB = 16
BOOM_CONSTANT = 5_940
"""gal/acre × mph × inches to gal/min: 43,560 × 12 / 88."""
FT_PER_MIN_PER_MPH = 88

BOOM_SOURCE = "5,940 equation: University of Florida IFAS WG013; University of Missouri G1270"
TANK_SOURCE = "tank over volume per acre: University of Missouri G1272 (W. Casady)"
ACID_SOURCE = (
    "pounds per acre / pounds per gallon: Pacific Northwest Weed Management Handbook; Iowa State University"
)


def sprayer_gal_per_acre(nozzle_gal_per_min: float, speed_mph: float, spacing_in: float) -> Figure:
    """Spray volume [gal/acre] = 5,940 × gal/min / (mph × nozzle spacing in inches). Source: IFAS WG013."""
    return Figure(
        BOOM_CONSTANT * nozzle_gal_per_min / (speed_mph * spacing_in),
        "gal/acre",
        "5,940 × gal per minute / (mph × spacing)",
        (
            Term("nozzle", nozzle_gal_per_min, "gal/min"),
            Term("speed", speed_mph, "mph"),
            Term("spacing", spacing_in, "in"),
        ),
        BOOM_SOURCE,
    )


def nozzle_gal_per_min(gal_per_acre: float, speed_mph: float, spacing_in: float) -> Figure:
    """Output one nozzle needs [gal/min] = gal/acre × mph × inches / 5,940. Source: Missouri G1270."""
    return Figure(
        gal_per_acre * speed_mph * spacing_in / BOOM_CONSTANT,
        "gal/min",
        "gal per acre × mph × spacing / 5,940",
        (
            Term("volume", gal_per_acre, "gal/acre"),
            Term("speed", speed_mph, "mph"),
            Term("spacing", spacing_in, "in"),
        ),
        BOOM_SOURCE,
    )


def speed_mph(distance_ft: float, seconds: float) -> Figure:
    """Ground speed [mph] = ft × 60 / (s × 88). Source: Iowa State A3-24; University of Kentucky AEN-73."""
    return Figure(
        distance_ft * 60 / (seconds * FT_PER_MIN_PER_MPH),
        "mph",
        "feet × 60 / (seconds × 88)",
        (Term("distance", distance_ft, "ft"), Term("time", seconds, "s")),
        "88 feet a minute is 1 mph: Iowa State University AgDM A3-24; University of Kentucky AEN-73",
    )


def volume_pct(volume: float, pct: float) -> Figure:
    """A share by volume [the unit of `volume`]. Source: PNW Handbook (0.25 % is 1 pt in 50 gal)."""
    return Figure(
        volume * pct / 100,
        "same unit",
        "volume × percent / 100",
        (Term("volume", volume), Term("share", pct, "%")),
        "share by volume: Pacific Northwest Weed Management Handbook",
    )


def acid_to_product(lb_ae_per_acre: float, lb_ae_per_gal: float) -> Figure:
    """Product for an acid rate [gal/acre] = lb ae/acre / lb ae/gal. Source: Iowa State, glyphosate math."""
    return Figure(
        lb_ae_per_acre / lb_ae_per_gal,
        "gal/acre",
        "lb acid per acre / lb acid per gallon",
        (Term("rate", lb_ae_per_acre, "lb/acre"), Term("strength", lb_ae_per_gal, "lb/gal")),
        ACID_SOURCE,
    )


def nozzle_catch_128th(spacing_in: float, ounces: float) -> Figure:
    """Spray volume [gal/acre] by the 1/128-acre method: fluid ounces caught from one nozzle over the course.

    The course is 43,560 / 128 square feet over the spacing, about 4,084 / inches feet; there an ounce caught
    is a gallon an acre. Source: Clemson, LSU AgCenter and NC State calibration sheets.
    """
    course_ft = 43_560 / FL_OZ_PER_GAL * 12 / spacing_in
    return Figure(
        ounces,
        "gal/acre",
        "fl oz caught over 1/128 acre = gal per acre",
        (Term("spacing", spacing_in, "in"), Term("course", course_ft, "ft"), Term("caught", ounces, "fl oz")),
        "1/128-acre method: LSU AgCenter, Ounces Equal Gallons; Clemson University",
    )


def course_128th_ft(spacing_in: float) -> Figure:
    """Length [ft] on which one nozzle covers 1/128 acre. Source: LSU AgCenter, Ounces Equal Gallons."""
    return Figure(
        43_560 / FL_OZ_PER_GAL * 12 / spacing_in,
        "ft",
        "43,560 / 128 × 12 / nozzle spacing",
        (Term("spacing", spacing_in, "in"),),
        "1/128-acre method: LSU AgCenter, Ounces Equal Gallons; Clemson University",
    )


def seconds_over(distance_ft: float, speed_mph: float) -> Figure:
    """Time to drive a distance [s] = ft × 60 / (mph × 88); the inverse of `speed_mph`. Source: as there."""
    return Figure(
        distance_ft * 60 / (speed_mph * FT_PER_MIN_PER_MPH),
        "s",
        "feet × 60 / (mph × 88)",
        (Term("distance", distance_ft, "ft"), Term("speed", speed_mph, "mph")),
        "88 feet a minute is 1 mph: Iowa State University AgDM A3-24; University of Kentucky AEN-73",
    )


def nozzle_target_128th(gal_per_acre: float) -> Figure:
    """What one nozzle should let out over 1/128 acre [fl oz]; the inverse of `nozzle_catch_128th`.

    Source: LSU AgCenter, Ounces Equal Gallons.
    """
    return Figure(
        gal_per_acre,
        "fl oz",
        "gal per acre = fl oz caught over 1/128 acre",
        (Term("volume", gal_per_acre, "gal/acre"),),
        "1/128-acre method: LSU AgCenter, Ounces Equal Gallons; Clemson University",
    )


@dataclass(frozen=True, slots=True)
class Loads:
    """How an area splits into tank loads; the last load is a part load unless the tanks come out even."""

    acres_per_tank: float
    full: int
    last_gal: float
    last_acres: float

    @property
    def count(self) -> int:
        return self.full + (1 if self.last_gal else 0)


def loads(acres: float, gal_per_acre: float, tank_gal: float) -> Loads:
    """Full loads and the part load for its own acres. Units: acres, gal/acre, gal. Source: Missouri G1272."""
    acres_per_tank = tank_gal / gal_per_acre
    full = math.floor(acres / acres_per_tank + 1e-9)
    last_acres = max(0.0, acres - full * acres_per_tank)
    if last_acres < 1e-9 * acres_per_tank:
        last_acres = 0.0
    return Loads(acres_per_tank, full, last_acres * gal_per_acre, last_acres)


def tank(acres: float, gal_per_acre: float, tank_gal: float, rate_per_acre: float) -> dict[str, Figure]:
    """Acres and product per tank, loads, total; product [the rate's unit]. Source: Missouri G1272."""
    split = loads(acres, gal_per_acre, tank_gal)
    volume = Term("volume", gal_per_acre, "gal/acre")
    rate = Term("rate", rate_per_acre, "per acre")
    area = Term("area", acres, "acre")
    return {
        "acres_per_tank": Figure(
            split.acres_per_tank,
            "acre",
            "tank / volume per acre",
            (Term("tank", tank_gal, "gal"), volume),
            TANK_SOURCE,
        ),
        "product_per_tank": Figure(
            split.acres_per_tank * rate_per_acre,
            "same unit",
            "acres per tank × rate",
            (Term("acres per tank", split.acres_per_tank, "acre"), rate),
            TANK_SOURCE,
        ),
        "loads": Figure(
            split.count,
            "loads",
            "acres / acres per tank, rounded up",
            (area, Term("acres per tank", split.acres_per_tank, "acre")),
            TANK_SOURCE,
        ),
        "full_loads": Figure(
            split.full,
            "loads",
            "acres / acres per tank, whole",
            (area, Term("tank", tank_gal, "gal"), volume),
            TANK_SOURCE,
        ),
        "last_load_gal": Figure(
            split.last_gal,
            "gal",
            "acres left × volume per acre",
            (Term("acres left", split.last_acres, "acre"), volume),
            TANK_SOURCE,
        ),
        "last_load_product": Figure(
            split.last_acres * rate_per_acre,
            "same unit",
            "acres left × rate",
            (Term("acres left", split.last_acres, "acre"), rate),
            TANK_SOURCE,
        ),
        "total_product": Figure(
            acres * rate_per_acre, "same unit", "acres × rate", (area, rate), TANK_SOURCE
        ),
    }
