"""Spray: calibration turned round, tank loads that add up, adjuvants."""

from __future__ import annotations

import math
from dataclasses import replace
from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from plans.planning import spray, work
from tests.planning import make

acres = st.floats(0.1, 2000)
volumes = st.floats(1, 100)
tanks = st.floats(1, 5000)


@given(gpm=st.floats(0.01, 20), mph=st.floats(0.5, 15), spacing=st.floats(5, 300))
def test_sprayer_forms_turn_round(gpm: float, mph: float, spacing: float) -> None:
    volume = float(spray.sprayer_gal_per_acre(gpm, mph, spacing).value)
    assert float(spray.nozzle_gal_per_min(volume, mph, spacing).value) == pytest.approx(gpm, rel=1e-12)


@given(gpm=st.floats(0.01, 20), mph=st.floats(0.5, 15), feet=st.floats(1, 30))
def test_a_boom_covers_what_its_pace_says(gpm: float, mph: float, feet: float) -> None:
    """gal/acre × acres an hour is the flow of an hour, at full field efficiency."""
    volume = float(spray.sprayer_gal_per_acre(gpm, mph, feet * 12).value)
    pace = float(work.acres_per_hour(feet, mph, 100).value)
    assert volume * pace == pytest.approx(60 * gpm, rel=1e-9)


@given(acres=acres, volume=volumes, tank_gal=tanks)
def test_full_loads_and_the_last_make_the_field(acres: float, volume: float, tank_gal: float) -> None:
    split = spray.loads(acres, volume, tank_gal)
    assert split.full * split.acres_per_tank + split.last_acres == pytest.approx(acres, rel=1e-6)
    assert split.full * tank_gal + split.last_gal == pytest.approx(acres * volume, rel=1e-6)
    assert 0 <= split.last_gal <= tank_gal * (1 + 1e-9)
    assert split.count == split.full + (split.last_gal > 0)


@given(acres=acres, volume=volumes, tank_gal=tanks, rate=st.floats(0, 200))
def test_product_of_the_loads_is_the_product_of_the_field(
    acres: float, volume: float, tank_gal: float, rate: float
) -> None:
    found = {key: float(figure.value) for key, figure in spray.tank(acres, volume, tank_gal, rate).items()}
    loads = found["full_loads"] * found["product_per_tank"] + found["last_load_product"]
    assert loads == pytest.approx(found["total_product"], rel=1e-6, abs=1e-9)
    assert found["total_product"] == pytest.approx(acres * rate)


@pytest.mark.parametrize("fills", [1, 2, 3, 7])
def test_tanks_that_come_out_even_leave_no_part_load(fills: int) -> None:
    split = spray.loads(fills * 200 / 15, 15, 200)
    assert (split.full, split.last_gal, split.count) == (fills, 0, fills)


def test_a_part_load_takes_product_for_its_own_acres() -> None:
    """37 acres, 15 gal/acre, 300 gal, 2 qt/acre: 20 acres a tank, 40 and 34 qt, 555 gal."""
    found = {key: float(figure.value) for key, figure in spray.tank(37, 15, 300, 2).items()}
    assert found == pytest.approx(
        {
            "acres_per_tank": 20,
            "product_per_tank": 40,
            "loads": 2,
            "full_loads": 1,
            "last_load_gal": 255,
            "last_load_product": 34,
            "total_product": 74,
        }
    )


@given(acres=st.floats(0.5, 400), volume=volumes, tank_gal=st.floats(25, 2000))
def test_every_part_of_a_tank_mix_adds_up(acres: float, volume: float, tank_gal: float) -> None:
    terms = make.terms(carrier_gal_per_acre=volume, tank_gal=tank_gal)
    for mixed in make.plan(make.conversion(acres=acres), terms=terms).tanks:
        for part in mixed.parts:
            scale = {("gal", "fl oz"): 128, ("lb", "oz"): 16}.get(
                (part.total.unit, part.per_full_tank.unit), 1
            )
            loads = mixed.full_loads * float(part.per_full_tank.value) + float(part.in_last_load.value)
            assert loads == pytest.approx(float(part.total.value) * scale, rel=1e-6)


def test_ammonium_sulfate_goes_by_the_hundred_gallons() -> None:
    """17 lb in 100 gal: 255 gal take 43.35 lb."""
    (first, *_) = make.plan(
        make.conversion(acres=17), terms=make.terms(carrier_gal_per_acre=15, tank_gal=300)
    ).tanks
    sulfate = next(part for part in first.parts if part.name == "ammonium sulfate")
    assert sulfate.total.unit == "lb"
    assert sulfate.total.value == pytest.approx(43.35)


def test_surfactant_goes_by_volume() -> None:
    """0.25 % of the carrier; a spot spray on 30 % of 100 acres at 10 gal/acre takes 0.75 gal."""
    brush = make.conversion(kill_program="brush_clear_kill", cover="brushy old field", acres=100)
    mixed = make.plan(brush, terms=make.terms(carrier_gal_per_acre=10, tank_gal=300)).tanks
    sprouts = next(tank for tank in mixed if tank.task.endswith("/spray_sprouts"))
    surfactant = next(part for part in sprouts.parts if part.name == "non-ionic surfactant")
    assert sprouts.carrier_gal.value == pytest.approx(300)
    assert surfactant.total.value == pytest.approx(0.75)


@pytest.mark.parametrize(("strength", "ounces"), [(3.0, 64.0), (4.0, 48.0), (4.5, 1.5 / 4.5 * 128)])
def test_dosed_by_the_acid_and_not_by_the_quart(strength: float, ounces: float) -> None:
    prices = make.priced("products", "glyphosate", lb_active_per_gal=strength)
    (first, *_) = make.plan(make.conversion(), price_list=prices).tanks
    assert first.parts[0].rate.value == pytest.approx(ounces)


def test_a_dry_product_is_weighed() -> None:
    """0.75 lb of a 75 % dry product is 16 oz an acre."""
    prices = make.priced("products", "glyphosate", form="dry", lb_active_per_gal=None, active_pct=75)
    stubble = make.conversion(kill_program="stubble_burndown", cover="crop stubble", acres=10)
    (first, *_) = make.plan(stubble, price_list=prices).tanks
    assert (first.parts[0].rate.value, first.parts[0].rate.unit) == (pytest.approx(16), "oz/acre")
    assert (first.parts[0].total.value, first.parts[0].total.unit) == (pytest.approx(10), "lb")


def test_at_the_edge_of_water_a_product_labelled_for_it_is_chosen() -> None:
    listed = make.prices()
    glyphosate = listed.products[0]
    aquatic = replace(
        glyphosate, aquatic_label=True, lb_active_per_gal=4.0, price_usd_per_container=Decimal(500)
    )
    prices = replace(listed, products=(*listed.products, aquatic))
    for distance, strength in ((10.0, "4 lb/gal"), (400.0, "3 lb/gal"), (None, "3 lb/gal")):
        (first, *_) = make.plan(make.conversion(water_within_ft=distance), price_list=prices).tanks
        assert strength in first.parts[0].name


@given(feet=st.floats(0, 1000), run=st.floats(1, 1000))
def test_percent_and_degrees(feet: float, run: float) -> None:
    found = work.slope(feet, run)
    tangent = math.tan(math.radians(float(found["degrees"].value)))
    assert 100 * tangent == pytest.approx(float(found["percent"].value), abs=1e-6)
