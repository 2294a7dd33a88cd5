"""Printed answers that are wrong: ours must differ from the print and agree with its own inputs."""

from __future__ import annotations

from dataclasses import dataclass

import pytest

from tests.published.reckoned import answer


@dataclass(frozen=True)
class Wrong:
    name: str
    reckoning: str
    inputs: dict[str, float]
    printed: float
    right: float
    why: str
    part: str = ""


WRONG = [
    Wrong(
        "live seed of 55 lb",
        "bulk_lb",
        {"pls_lb": 45.9, "purity_pct": 98.75, "germination_pct": 88, "dormant_pct": 5},
        55,
        49.98,
        "Allamakee SWCD prints 45.9 lb live in 55 lb; that is 50 × 0.9183",
    ),
    Wrong(
        "early rounding of a price",
        "price_per_pls_lb",
        {"price_per_bulk_lb": 1.95, "purity_pct": 85, "germination_pct": 60},
        3.90,
        3.8235,
        "Penn State 2023 prints $3.90 with 1.96 lb rounded to 2",
    ),
    Wrong(
        "early rounding of bulk",
        "bulk_lb",
        {"pls_lb": 1, "purity_pct": 85, "germination_pct": 75},
        1.56,
        1.5686,
        "TxDOT prints 1.56 = 1 / 0.64; 63.75 % is the share",
    ),
    Wrong(
        "rounded cell",
        "pls_lb_per_acre",
        {"seeds_per_sqft": 35, "seeds_per_lb": 10_000},
        150,
        152.46,
        "University of Kentucky wheat sheet rounds this cell down",
    ),
    Wrong(
        "missing 88",
        "sprayer_gal_per_acre",
        {"nozzle_gal_per_min": 20 / 128, "speed_mph": 5, "spacing_in": 48},
        327,
        3.867,
        "Florida examination pages, p. 213, method I: the working leaves out 88 ft/min per mph",
    ),
    Wrong(
        "88 gal an acre",
        "sprayer_gal_per_acre",
        {"nozzle_gal_per_min": 101 / 128, "speed_mph": 3, "spacing_in": 18},
        88,
        86.797,
        "Oklahoma State University turf program prints 88",
    ),
    Wrong(
        "one percent by weight",
        "volume_pct",
        {"volume": 128, "pct": 1},
        1.34,
        1.28,
        "Virginia DWR's 1.34 oz is 1 % of 8.34 lb; Kansas State prints 1.33 fl oz",
    ),
    Wrong(
        "circles for squares",
        "plants_per_acre",
        {"row_ft": 10, "plant_ft": 10},
        555,
        435.6,
        "a Kentucky forestry manual's 555 trees at 10 ft stand in circles",
    ),
    Wrong(
        "percent taken for degrees",
        "slope",
        {"rise_ft": 15, "run_ft": 100},
        15,
        8.531,
        "15 % is 8.5 degrees: geometry",
        "degrees",
    ),
]


@pytest.mark.parametrize("case", WRONG, ids=lambda case: case.name)
def test_ours_is_right(case: Wrong) -> None:
    ours = answer(case.reckoning, case.inputs, case.part)
    assert ours == pytest.approx(case.right, rel=5e-4), case.why
    assert abs(ours - case.printed) > 0.004 * case.printed
