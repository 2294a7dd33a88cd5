"""On the road: ball and ratings, brakes by the limit entered, plugs and lamps, width."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest

from plans.planning.rig import Road, Tractor, rig_check
from tests.planning.rigs import CUTTER, DRILL, FLATBED, LOADED, ROAD, TRACTOR, TRUCK, answer, said


@pytest.mark.parametrize(
    ("truck", "towed", "verdict", "words"),
    [
        ({}, {}, "yes", "4,000 lb is within"),
        ({"coupler": "ball 1 7/8"}, {}, "no", "mount with a 2 in ball, stamped for 4,000 lb or more"),
        ({"coupler": "pintle"}, {}, "no", "do not match"),
        ({"coupler": None}, {}, "unknown", "stamped on the ball"),
        ({"tow_rating_lb": 3999}, {}, "no", "4,000 lb is over the truck's tow rating, 3,999 lb"),
        ({"hitch_rating_lb": 3500}, {}, "no", "least stamp"),
        ({"combined_rating_lb": 10000}, {}, "no", "10,500 lb is over the truck's combined rating"),
        ({}, {"rated_gross_lb": 3500}, "no", "plate of what is towed"),
        ({"tow_rating_lb": None}, {}, "unknown", "read the plates"),
        ({}, {"load_lb": None}, "unknown", "3,500 lb or more (not known: its load)"),
        ({"tongue_rating_lb": 450}, {}, "no", "over its rating"),
        ({}, {"tongue_lb": 200}, "unknown", "400 to 600 lb"),
        ({}, {"tongue_lb": None}, "unknown", "Weigh the tongue"),
        ({}, {"chains": False}, "unknown", "two chains stamped for 4,000 lb or more"),
        ({}, {"road_mph": None}, "unknown", "20 mph"),
        ({}, {"attaches": "three-point"}, "no", "no wheels of its own"),
    ],
)
def test_tow(truck: dict[str, Any], towed: dict[str, Any], verdict: str, words: str) -> None:
    road = Road(vehicle=replace(TRUCK, **truck), brakes_over_lb=5000)
    rig = TRACTOR, replace(DRILL, **towed)
    assert answer("tow", *rig, road=road) == verdict
    assert words in said("tow", *rig, road=road)


def test_a_trailer_that_carries_the_tractor_weighs_with_it() -> None:
    """1,500 trailer, 900 cutter, 500 other, 5,000 tractor: 7,900 lb against a plate of 7,000."""
    assert answer("tow", TRACTOR, CUTTER, road=LOADED) == "yes"
    both = replace(LOADED, with_tractor=True)
    assert "7,900 lb is over the plate of what is towed" in said("tow", TRACTOR, CUTTER, road=both)
    assert answer("tow", TRACTOR, CUTTER, road=both) == "no"


@pytest.mark.parametrize(
    ("limit_lb", "brakes", "verdict"),
    [
        (3000, "none", "no"),
        (4000, "none", "yes"),
        (4000, None, "yes"),
        (None, "none", "unknown"),
        (3000, None, "unknown"),
        (3000, "surge", "yes"),
        (3000, "air", "unknown"),
    ],
)
def test_brakes_above_the_limit_that_was_entered(limit_lb: float | None, brakes: Any, verdict: str) -> None:
    rig = TRACTOR, replace(DRILL, brakes=brakes, breakaway=True)
    road = Road(vehicle=TRUCK, brakes_over_lb=limit_lb)
    assert answer("brakes", *rig, road=road) == verdict
    assert "state law differs" in said("brakes", *rig, road=road)


@pytest.mark.parametrize(("controller", "verdict"), [(True, "yes"), (False, "no"), (None, "unknown")])
def test_electric_brakes_need_a_controller(controller: bool | None, verdict: str) -> None:
    road = replace(LOADED, vehicle=replace(TRUCK, brake_controller=controller))
    assert answer("brakes", TRACTOR, replace(CUTTER, weight_lb=2800), road=road) == verdict


def test_brakes_above_the_limit_come_with_a_breakaway() -> None:
    road = replace(LOADED, trailer=replace(FLATBED, breakaway=None))
    assert answer("brakes", TRACTOR, replace(CUTTER, weight_lb=2800), road=road) == "unknown"
    assert answer("brakes", TRACTOR, CUTTER, road=road) == "yes"


def test_an_unbraked_implement_behind_the_tractor() -> None:
    """Source: 1.5 times the tractor's weight, memory."""
    assert answer("brakes", replace(TRACTOR, weight_lb=2700), DRILL, road=Road()) == "yes"
    assert answer("brakes", replace(TRACTOR, weight_lb=2600), DRILL, road=Road()) == "no"
    assert answer("brakes", Tractor(), DRILL, road=Road()) == "unknown"
    assert answer("tow", replace(TRACTOR, drawbar_load_lb=500), DRILL, road=Road()) == "no"


@pytest.mark.parametrize(
    ("mine", "its", "brakes", "verdict", "words"),
    [
        ("7 blade", "7 blade", "electric", "yes", "one kind"),
        ("7 blade", "4 flat", "none", "yes", "plug adapter, 7-way blade (SAE J2863) to 4-pin flat"),
        ("4 flat", "7 blade", "surge", "yes", "plug adapter, 4-pin flat to 7-way blade"),
        ("4 flat", "7 blade", "electric", "no", "electric brakes dead"),
        ("4 flat", "7 blade", None, "unknown", "electric brakes"),
        ("none", "4 flat", "none", "no", "magnetic lamps"),
        (None, "4 flat", "none", "unknown", "Count the pins"),
        ("7 blade", "none", "none", "unknown", "lamp bar"),
    ],
)
def test_plugs(mine: Any, its: Any, brakes: Any, verdict: str, words: str) -> None:
    lamps = None if its == "none" else True
    road = Road(
        vehicle=replace(TRUCK, plug=mine), trailer=replace(FLATBED, plug=its, brakes=brakes, lamps_work=lamps)
    )
    assert answer("lights", TRACTOR, CUTTER, road=road) == verdict
    assert words in said("lights", TRACTOR, CUTTER, road=road)


@pytest.mark.parametrize(("work", "verdict"), [(True, "yes"), (False, "no"), (None, "unknown")])
def test_lamps_are_tried(work: bool | None, verdict: str) -> None:
    assert answer("lights", TRACTOR, replace(CUTTER, lamps_work=work), road=Road()) == verdict


def test_what_goes_slowly_carries_an_emblem() -> None:
    bare = replace(CUTTER, emblem=False)
    assert "slow-moving-vehicle emblem with its bracket" in rig_check(TRACTOR, bare, 6, Road()).bring
    assert answer("lights", TRACTOR, replace(DRILL, emblem=None), road=Road()) == "unknown"
    assert "emblem" not in said("lights", TRACTOR, replace(DRILL, emblem=None), road=ROAD)


@pytest.mark.parametrize(("width_in", "verdict"), [(102, "yes"), (103, "unknown"), (None, "unknown")])
def test_transport_width(width_in: float | None, verdict: str) -> None:
    wide = replace(DRILL, width_in=width_in)
    assert answer("transport width", TRACTOR, wide, road=ROAD) == verdict
    assert ("vary by state" in said("transport width", TRACTOR, wide, road=ROAD)) == (width_in == 103)


def test_without_a_road_nothing_of_it_is_compared() -> None:
    parts = {point.part for point in rig_check(TRACTOR, DRILL, 6).points}
    assert not parts & {"tow", "brakes", "lights", "transport width"}
