"""Hitches, shafts, couplers, plugs and balls against the standards, as far as they were read.

Memory is marked as such: such a row holds a value to what the trade says, not to print.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, get_args

import pytest

from plans.planning import rig_tables
from plans.planning.rig_tables import limits


@pytest.mark.parametrize(
    ("category", "lower_in", "upper_in", "spread_in", "lower_mm", "upper_mm"),
    [
        ("0", 5 / 8, 5 / 8, 20, 15.9, 15.9),
        ("1", 7 / 8, 3 / 4, 28, 22, 19),
        ("2", 1 + 1 / 8, 1, 34, 28.4, 25.4),
        ("3", 1 + 7 / 16, 1 + 1 / 4, 40, 36.6, 31.8),
        ("4", 2, 1 + 3 / 4, 46, 50.8, 44.5),
    ],
)
def test_hitch_categories(
    category: str, lower_in: float, upper_in: float, spread_in: float, lower_mm: float, upper_mm: float
) -> None:
    """Source: ISO 730 / ASAE S217: inch table of a hardware wiki citing tractor data; millimetres memory."""
    row = rig_tables.hitches()[category]
    assert (row.lower_pin_in, row.upper_pin_in, row.spread_in) == (lower_in, upper_in, spread_in)
    assert row.lower_pin_in * 25.4 == pytest.approx(lower_mm, abs=0.3)
    assert row.upper_pin_in * 25.4 == pytest.approx(upper_mm, abs=0.3)


@pytest.mark.parametrize(
    ("category", "low_hp", "high_hp"),
    [("0", 0, 20), ("1", 20, 45), ("2", 40, 100), ("3", 80, 225), ("4", 180, None)],
)
def test_power_by_category(category: str, low_hp: float, high_hp: float | None) -> None:
    """Source: the same inch table."""
    row = rig_tables.hitches()[category]
    assert (row.power_low_hp, row.power_high_hp) == (low_hp, high_hp)


@pytest.mark.parametrize(("narrow", "next_smaller"), [("1N", "0"), ("2N", "1"), ("3N", "2"), ("4N", "3")])
def test_narrow_categories(narrow: str, next_smaller: str) -> None:
    """Source: ISO 730:2009 excerpt 3.1.5 and an implement manual (3N: 36.6 mm pins, 825 mm)."""
    found = rig_tables.hitches()
    assert found[narrow].lower_pin_in == found[narrow.removesuffix("N")].lower_pin_in
    assert found[narrow].spread_in == found[next_smaller].spread_in
    assert found["3N"].shoulder_mm == 825


@pytest.mark.parametrize(
    ("key", "rpm", "splines", "shaft_mm", "form", "drawbar_in"),
    [
        ("type 1", 540, 6, 35, "straight", 14),
        ("type 2", 1000, 21, 35, "involute", 16),
        ("type 3", 1000, 20, 45, "involute", 20),
        ("type 4", 1300, 22, 57.5, "involute", None),
        ("old 540", 540, 6, 28.6, "straight", None),
    ],
)
def test_pto_shafts(
    key: str, rpm: int, splines: int, shaft_mm: float, form: str, drawbar_in: float | None
) -> None:
    """Source: ISO 500-1 (2014) / ASAE S203, encyclopaedia table; old shaft: a tractor data article.

    The distance to the drawbar pin is ASAE S203 from memory.
    """
    row = rig_tables.pto_shafts()[key]
    assert (row.rpm, row.splines, row.form, row.drawbar_in) == (rpm, splines, form, drawbar_in)
    assert row.shaft_in * 25.4 == pytest.approx(shaft_mm, abs=0.6)


def test_the_agricultural_coupler_is_the_half_inch() -> None:
    """Source: ISO 5675 / ISO 7241 series A excerpt: size 12.5, female on the tractor."""
    row = rig_tables.couplers()["A"]
    assert row.usual_size_in == 0.5 and "female half on the tractor" in row.known_by


@pytest.mark.parametrize(
    ("key", "pins", "standard"),
    [
        ("7 round", 7, "SAE J560"),
        ("7 blade", 7, "SAE J2863"),
        ("7 round small", 7, "ISO 1724"),
        ("4 flat", 4, ""),
    ],
)
def test_plugs(key: str, pins: int, standard: str) -> None:
    """Source: the standards named; memory."""
    row = rig_tables.plugs()[key]
    assert row.pins == pins and standard in row.label and row.status == "memory"


def test_balls() -> None:
    """Source: SAE J684 classes and trailer practice, 1 7/8, 2 and 2 5/16 in; memory."""
    sizes = [row.ball_in for row in rig_tables.tow_couplers().values() if row.key.startswith("ball")]
    assert sizes == [1.875, 2, 2.3125]


@pytest.mark.parametrize(
    ("key", "value", "source"),
    [
        ("lift_behind", 24, "OECD code and ASAE S349 practice; memory"),
        ("front_axle", 20, "ASAE EP496 practice; memory"),
        ("tongue_low", 10, "trailer practice; memory"),
        ("tongue_high", 15, "trailer practice; memory"),
        ("brakes_over", 3000, "federal and state rules; memory"),
        ("legal_width", 102, "8.5 ft, the usual width without a posting; memory"),
    ],
)
def test_limits(key: str, value: float, source: str) -> None:
    assert source and limits()[key].value == value


@pytest.mark.parametrize(
    "rows",
    [
        rig_tables.hitches(),
        rig_tables.pto_shafts(),
        rig_tables.pto_adapters(),
        rig_tables.couplers(),
        rig_tables.coupler_adapters(),
        rig_tables.plugs(),
        rig_tables.tow_couplers(),
        rig_tables.machines(),
        rig_tables.limits(),
    ],
)
def test_what_is_seen_and_what_is_memory_is_said(rows: Mapping[object, Any]) -> None:
    for row in rows.values():
        marks = ("(seen)" in row.source or ", seen)" in row.source, "[from memory]" in row.source)
        assert marks == {"seen": (True, False), "memory": (False, True), "mixed": (True, True)}[row.status]


@pytest.mark.parametrize(
    ("kind", "known"),
    [
        (rig_tables.HitchCategory, rig_tables.hitches()),
        (rig_tables.PtoKey, rig_tables.pto_shafts()),
        (rig_tables.CouplerSeries, rig_tables.couplers()),
        (rig_tables.PlugKey, rig_tables.plugs()),
        (rig_tables.TowCouplerKey, rig_tables.tow_couplers()),
        (rig_tables.MachineKey, rig_tables.machines()),
    ],
)
def test_every_key_that_may_be_given_has_its_row(kind: object, known: object) -> None:
    assert set(get_args(kind)) == set(known)  # type: ignore[call-overload]
