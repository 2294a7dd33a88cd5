"""Seed: conversions that come back to where they began, drill catches, mixes and what is weighed out."""

from __future__ import annotations

from dataclasses import replace
from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from plans.planning import seed, tables
from plans.planning.job import Mix
from tests.planning import make
from tests.planning.make import mix

pct = st.floats(1, 100)
amounts = st.floats(1e-3, 1e4)
counts = st.floats(100, 1e7)
SPECIES = sorted(name for name, row in tables.species().items() if row.group != "plot")


@st.composite
def mixes(draw: st.DrawFn) -> Mix:
    """A mix of 1 to 12 species in lb PLS per acre."""
    names = draw(st.lists(st.sampled_from(SPECIES), min_size=1, max_size=12, unique=True))
    return mix(*((name, draw(st.floats(0.01, 20))) for name in names))


@given(pls_lb=amounts, purity=pct, live=pct)
def test_bulk_and_pls_turn_round(pls_lb: float, purity: float, live: float) -> None:
    bulk = float(seed.bulk_lb(pls_lb, purity, live).value)
    share = float(seed.pls_pct(purity, live).value)
    assert bulk * share / 100 == pytest.approx(pls_lb, rel=1e-12)
    assert bulk >= pls_lb * (1 - 1e-12)


@given(price=amounts, purity=pct, germination=st.floats(1, 60), dormant=st.floats(0, 40))
def test_a_pls_price_buys_the_same_seed_as_the_bulk_price(
    price: float, purity: float, germination: float, dormant: float
) -> None:
    per_pls = float(seed.price_per_pls_lb(price, purity, germination, dormant).value)
    bulk = float(seed.bulk_lb(1, purity, germination, dormant).value)
    assert per_pls == pytest.approx(bulk * price, rel=1e-12)


@given(density=st.floats(0.01, 500), count=counts)
def test_density_and_rate_turn_round(density: float, count: float) -> None:
    rate = float(seed.pls_lb_per_acre(density, count).value)
    assert float(seed.seeds_per_sqft(rate, count).value) == pytest.approx(density, rel=1e-12)


@given(rate=amounts, rows=st.integers(1, 40), spacing=st.floats(4, 40), distance=st.floats(10, 2000))
def test_catch_and_rate_turn_round(rate: float, rows: int, spacing: float, distance: float) -> None:
    grams = float(seed.drill_catch_g(rate, rows, spacing, distance).value)
    assert float(seed.drill_lb_per_acre(grams, rows, spacing, distance).value) == pytest.approx(
        rate, rel=1e-12
    )


@given(mixes())
def test_the_three_bases_say_the_same(written: Mix) -> None:
    rates = seed.mix_rates(written, {})
    density = sum(rate.seeds_per_sqft for rate in rates)
    by_seed = mix(
        *((rate.species, rate.share_of_seed_pct) for rate in rates),
        basis="share of seed",
        seeds_per_sqft=density,
    )
    by_weight = mix(
        *((rate.species, rate.share_of_weight_pct) for rate in rates),
        basis="share of weight",
        seeds_per_sqft=density,
    )
    for other in (by_seed, by_weight):
        for first, second in zip(rates, seed.mix_rates(other, {}), strict=True):
            assert second.pls_lb_per_acre == pytest.approx(first.pls_lb_per_acre, rel=1e-9)
            assert second.share_of_seed_pct == pytest.approx(first.share_of_seed_pct, rel=1e-9)
            assert second.share_of_weight_pct == pytest.approx(first.share_of_weight_pct, rel=1e-9)


@given(mixes())
def test_shares_sum_to_a_hundred(written: Mix) -> None:
    rates = seed.mix_rates(written, {})
    assert sum(rate.share_of_seed_pct for rate in rates) == pytest.approx(100)
    assert sum(rate.share_of_weight_pct for rate in rates) == pytest.approx(100)


@given(written=mixes(), acres=st.floats(0.1, 500))
def test_what_a_field_needs_is_its_rate_on_its_acres(written: Mix, acres: float) -> None:
    (field,) = make.plan(make.conversion(mix=written, acres=acres)).seed
    assert field.pls_lb_per_acre.value == pytest.approx(sum(amount.amount for amount in written.lines))
    for line in field.lines:
        assert line.pls_lb.value == pytest.approx(float(line.pls_lb_per_acre.value) * acres)
        if line.bulk_lb is not None:
            assert float(line.bulk_lb.value) >= float(line.pls_lb.value)


@pytest.mark.parametrize(
    ("seeding", "rate_is_for", "factor"),
    [
        ("drill", "drilled", 1),
        ("dormant", "drilled", 1),
        ("broadcast", "drilled", 1.5),
        ("broadcast", "broadcast", 1),
    ],
)
def test_a_drilled_rate_is_raised_once_for_broadcasting(
    seeding: str, rate_is_for: str, factor: float
) -> None:
    written = make.grass_mix(rate_is_for=rate_is_for)
    (field,) = make.plan(make.conversion(mix=written, seeding=seeding)).seed
    assert float(field.pls_lb_per_acre.value) == pytest.approx(6.5 * factor)


@pytest.mark.parametrize(("basis", "dollars"), [("PLS", "100.00"), ("bulk", "200.00")])
def test_a_pls_price_is_never_divided_again(basis: str, dollars: str) -> None:
    """10 PLS lb at $10; the lot is half live, so 20 bulk lb."""
    lot = {"purity_pct": 80, "germination_pct": 62.5, "dormant_pct": 0, "price_usd_per_lb": Decimal(10)}
    prices = make.priced("seed", "indiangrass", basis=basis, **lot)
    (field,) = make.plan(make.conversion(mix=mix(("indiangrass", 1)), acres=10), price_list=prices).seed
    assert field.lines[0].cost and field.lines[0].cost.value == Decimal(dollars)
    assert field.lines[0].bulk_lb and field.lines[0].bulk_lb.value == pytest.approx(20)


def test_the_lots_own_count_wins() -> None:
    prices = make.priced("seed", "indiangrass", seeds_per_lb=100_000)
    written = mix(("indiangrass", 100), basis="share of seed", seeds_per_sqft=20)
    (field,) = make.plan(make.conversion(mix=written), price_list=prices).seed
    assert field.pls_lb_per_acre.value == pytest.approx(20 * 43_560 / 100_000)


def test_of_several_lots_the_cheapest_live_pound_is_bought() -> None:
    listed = make.prices()
    row = next(lot for lot in listed.seed if lot.species == "indiangrass")
    bulk = {"basis": "bulk", "purity_pct": 50, "germination_pct": 50, "dormant_pct": 0}
    dearer = replace(row, lot="looks cheap", price_usd_per_lb=Decimal(5), **bulk)  # $20 a PLS lb
    cheaper = replace(
        row, lot="is cheap", price_usd_per_lb=Decimal("3.50"), **bulk
    )  # $14; the list's own is 15
    for lots, chosen in (((dearer,), "DEMO-102"), ((dearer, cheaper), "is cheap")):
        prices = replace(listed, seed=(*lots, *listed.seed))
        (field,) = make.plan(make.conversion(mix=mix(("indiangrass", 5))), price_list=prices).seed
        assert field.lines[0].lot == chosen


@pytest.mark.parametrize(
    ("purity", "germination", "dormant"), [(0, 50, 0), (101, 50, 0), (50, 0, 0), (50, 90, 20)]
)
def test_a_lot_that_cannot_be_is_refused(purity: float, germination: float, dormant: float) -> None:
    with pytest.raises(ValueError, match="purity_pct|germination_pct"):
        seed.pls_pct(purity, germination, dormant)


def test_needs_of_the_job_are_the_fields_together() -> None:
    both = make.plan(
        make.conversion(field="A", mix=make.grass_mix(), acres=3),
        make.conversion(field="B", mix=make.grass_mix(), acres=4),
    )
    for need in both.seed_needs:
        lines = [line for field in both.seed for line in field.lines if line.species == need.species]
        assert float(need.pls_lb.value) == pytest.approx(sum(float(line.pls_lb.value) for line in lines))
        assert need.cost and need.cost.value == sum(line.cost.value for line in lines if line.cost)
