"""Filling the tank: what goes in after what, and what is left over."""

from __future__ import annotations

import pytest

from plans.planning import filling, tables
from plans.planning.spray import loads
from tests.planning import make


def said(*parts: tuple[str, str]) -> str:
    return " / ".join(filling.order(parts))


def test_the_printed_order() -> None:
    """Source: South Dakota State University Extension, preparing spray solutions: mixing order."""
    words = said(
        ("methylated seed oil", "liquid"),
        ("triclopyr ester", "liquid"),
        ("glyphosate", "liquid"),
        ("metsulfuron", "dry"),
        ("ammonium sulfate", "liquid"),
    )
    order = ["water", "sulfate", "metsulfuron", "glyphosate", "triclopyr", "seed oil", "Top up"]
    places = [words.index(word) for word in order]
    assert places == sorted(places)


def test_only_what_is_in_the_mix_is_named() -> None:
    assert len(filling.order([("glyphosate", "liquid")])) == 3


def test_what_the_order_names_is_known() -> None:
    known = {*tables.ingredients(), "water", "top", "dry", "liquid", "ammonium sulfate"}
    known |= {kind for step in tables.steps().values() for kind, _ in step.adjuvants}
    known |= {"methylated seed oil", "crop oil concentrate", "non-ionic surfactant"}
    assert {name for step in filling.fill_steps() for name in step.holds} <= known


@pytest.mark.parametrize(("acres", "words"), [(37, "45 gal over"), (40, "come out even")])
def test_what_a_whole_last_tank_would_leave(acres: float, words: str) -> None:
    """300 gal at 15 gal/acre: 37 acres leave a load of 255 gal."""
    assert words in filling.left_over(loads(acres, 15, 300), 300)


def test_a_tank_mix_of_a_plan_says_how_it_is_filled() -> None:
    for tank in make.plan().tanks:
        assert tank.order[0].endswith("agitator") and tank.leftover
        assert bool(tank.jar_test) == (len(tank.parts) > 1)
