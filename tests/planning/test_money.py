"""Money: parts sum to the whole, totals are sums of printed lines, a dearer input is never cheaper."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from datetime import date
from decimal import ROUND_HALF_UP, Decimal
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from plans.planning.job import CostShare, Stage, Taxes, Terms
from plans.planning.money import percent_of, price_from_cost, split, to_cents, total
from plans.planning.plan import CATEGORIES, Estimate
from plans.planning.price_list import PriceList
from tests.planning import make

CENT = Decimal("0.01")
dollars = st.decimals(0, 1_000_000, places=2)
rates = st.decimals(Decimal("0.01"), 500, places=2)
shares = st.lists(st.floats(0.001, 100), min_size=1, max_size=12)
percents = st.floats(0, 60).map(lambda pct: round(pct, 3))
pricings = st.sampled_from(["margin on price", "markup on cost"])


@given(amount=st.decimals(-1_000_000, 1_000_000, places=2), parts=shares)
def test_parts_sum_to_the_whole_each_within_a_cent(amount: Decimal, parts: list[float]) -> None:
    cut = split(amount, parts)
    assert sum(cut) == amount
    whole = sum(Decimal(str(part)) for part in parts)
    for got, part in zip(cut, parts, strict=True):
        assert got == got.quantize(CENT)
        assert abs(got - amount * Decimal(str(part)) / whole) <= CENT


@pytest.mark.parametrize("wrong", [(), (0,), (0, 0), (50, -1)])
def test_shares_that_share_nothing_are_refused(wrong: Sequence[float]) -> None:
    with pytest.raises(ValueError, match="shares"):
        split(Decimal("10.00"), wrong)


@given(st.decimals(-10_000, 10_000, places=5))
def test_a_cent_is_half_up_and_never_further_than_half_a_cent(amount: Decimal) -> None:
    cents = to_cents(amount)
    assert abs(cents - amount) <= CENT / 2
    assert cents == amount.quantize(CENT, rounding=ROUND_HALF_UP)
    assert to_cents(-amount) == -cents


@given(first=dollars, more=dollars, overhead=percents, pricing=pricings, pct=percents)
def test_a_dearer_line_is_never_cheaper(
    first: Decimal, more: Decimal, overhead: float, pricing: str, pct: float
) -> None:
    price = price_from_cost(first, overhead, pricing, pct)
    assert price_from_cost(first + more, overhead, pricing, pct) >= price >= first


@pytest.mark.parametrize(
    ("pricing", "pct"), [("margin on price", 100), ("margin on price", 150), ("guess", 10)]
)
def test_a_price_that_cannot_be_is_refused(pricing: str, pct: float) -> None:
    with pytest.raises(ValueError, match="100 %|guess"):
        price_from_cost(Decimal(1), 0, pricing, pct)


@st.composite
def business(draw: st.DrawFn) -> Terms:
    parts = draw(st.lists(st.integers(1, 50), min_size=0, max_size=5))
    whole = sum(parts)
    stages = [100 * part / whole for part in parts[:-1]]
    stages += [100 - sum(stages)] if parts else []
    return make.terms(
        overhead_pct=draw(percents),
        pricing=draw(pricings),
        pricing_pct=draw(percents),
        contingency_pct=draw(percents),
        discount_pct=draw(percents),
        taxes=Taxes(
            work_pct=draw(percents),
            seed_pct=draw(percents),
            spray_pct=draw(percents),
            hauling_pct=draw(percents),
        ),
        cost_share=draw(st.none() | st.builds(CostShare, label=st.just("county"), usd_per_acre=dollars)),
        stages=tuple(Stage(label=f"stage {n}", share_pct=share) for n, share in enumerate(stages)),
    )


def estimated(terms: Terms, price_list: PriceList | None = None, **changes: Any) -> Estimate:
    first = make.conversion(field="A", mix=make.grass_mix(), **changes)
    second = make.conversion(field="B", seeding="dormant", acres=4.3)
    return make.plan(first, second, terms=terms, price_list=price_list).estimate


@given(terms=business(), acres=st.floats(0.2, 300))
def test_every_total_is_the_sum_of_printed_amounts(terms: Terms, acres: float) -> None:
    found = estimated(terms, acres=acres)
    for amount in (line.price.value for line in found.lines):
        assert amount == Decimal(amount).quantize(CENT)
    for year in found.years:
        for category in CATEGORIES:
            lines = [line for line in found.lines if (line.year, line.category) == (year.year, category)]
            assert getattr(year, category).dollars == total(Decimal(line.price.value) for line in lines)
        row = (year.work, year.seed, year.spray, year.hauling, year.contingency, year.discount, year.tax)
        assert year.total.dollars == sum(amount.dollars for amount in row)
    for column in (*CATEGORIES, "contingency", "discount", "tax", "total"):
        assert getattr(found.total, column).dollars == sum(
            getattr(year, column).dollars for year in found.years
        )
    assert found.direct_cost.dollars == sum(Decimal(line.cost.value) for line in found.lines)
    assert {line.year for line in found.lines} == {year.year for year in found.years}


@given(terms=business())
def test_contingency_discount_and_tax_are_reckoned_on_printed_prices(terms: Terms) -> None:
    """The policy once more, in other words than the estimate's own."""
    found = estimated(terms)
    for year in found.years:
        contingency = discount = tax = Decimal(0)
        for category in CATEGORIES:
            printed = getattr(year, category).dollars
            added = percent_of(printed, terms.contingency_pct)
            taken = percent_of(printed + added, terms.discount_pct)
            contingency += added
            discount -= taken
            tax += percent_of(printed + added - taken, getattr(terms.taxes, f"{category}_pct"))
        found_sums = tuple(figure.dollars for figure in (year.contingency, year.discount, year.tax))
        assert found_sums == (contingency, discount, tax)


@given(terms=business())
def test_payments_sum_to_the_price(terms: Terms) -> None:
    found = estimated(terms)
    assert len(found.stages) == len(terms.stages)
    if found.stages:
        assert sum(stage.amount.dollars for stage in found.stages) == found.total.total.dollars
        assert all(stage.amount.dollars >= 0 for stage in found.stages)


@given(terms=business())
def test_cost_share_never_changes_the_price(terms: Terms) -> None:
    with_share, without = estimated(terms), estimated(replace(terms, cost_share=None))
    assert with_share.total == without.total and with_share.stages == without.stages
    assert (with_share.cost_share is None) == (terms.cost_share is None)
    if with_share.cost_share is not None:
        left = with_share.total.total.dollars - with_share.cost_share.dollars
        assert with_share.after_cost_share.dollars == left


ROWS = [
    ("work", "boom_spraying", "rate_usd"),
    ("work", "no_till_drilling", "rate_usd"),
    ("work", "rotary_mowing", "minimum_usd"),
    ("work", "spot_spraying", "rate_usd"),
    ("seed", "indiangrass", "price_usd_per_lb"),
    ("products", "glyphosate", "price_usd_per_container"),
    ("adjuvants", "ammonium sulfate", "price_usd_per_container"),
]


@pytest.mark.parametrize(("part", "row", "column"), ROWS, ids=[f"{row} {column}" for _, row, column in ROWS])
@settings(max_examples=25)
@given(price=rates, more=rates, terms=business())
def test_the_job_never_gets_cheaper_as_a_cost_rises(
    part: str, row: str, column: str, price: Decimal, more: Decimal, terms: Terms
) -> None:
    low = estimated(terms, make.priced(part, row, **{column: price}))
    high = estimated(terms, make.priced(part, row, **{column: price + more}))
    assert high.direct_cost.dollars >= low.direct_cost.dollars
    assert high.total.total.dollars >= low.total.total.dollars


@given(low=rates, more=rates)
def test_hauling_is_trips_times_miles(low: Decimal, more: Decimal) -> None:
    one, two = (estimated(make.terms(), make.prices(hauling_usd_per_mile=rate)) for rate in (low, low + more))
    assert two.total.hauling.dollars >= one.total.hauling.dollars > 0
    for line in one.lines:
        if line.category == "hauling":
            miles = Decimal(str(line.quantity.value))
            assert miles % 46 == 0, "the farm is 46 miles there and back"
            assert line.cost.value == to_cents(miles * low)


def test_fields_worked_the_same_day_share_a_trip_and_its_minimum() -> None:
    facts = {"mix": make.grass_mix(), "acres": 2}
    apart = [make.plan(make.conversion(field=name, **facts)).estimate for name in "AB"]
    together = make.plan(*(make.conversion(field=name, **facts) for name in "AB")).estimate
    drilling = [line for line in together.lines if line.label == "Drill the mix"]
    assert [line.fields for line in drilling] == [("A", "B")]
    assert drilling[0].cost.value == Decimal("280.00")  # one minimum for both, not 4 acres at $38
    assert together.total.hauling.dollars == apart[0].total.hauling.dollars
    assert together.total.total.dollars < sum(one.total.total.dollars for one in apart)


def test_two_steps_of_one_field_are_two_trips() -> None:
    """Both clippings could be done on one day of their windows; the second waits for weeds to come back."""
    lines = make.plan(make.conversion(field="A")).estimate.lines
    clips = [line for line in lines if line.label.startswith("Clip weeds")]
    assert [line.fields for line in clips] == [("A",), ("A",)]
    assert len({line.label for line in clips}) == 2


def test_what_is_done_is_not_priced_again() -> None:
    done = make.log(kill_fall=date(2026, 10, 1))
    after = make.plan(make.conversion(log=done, start_on=date(2027, 3, 1))).estimate
    assert not [line for line in after.lines if line.label.startswith("First kill")]
    sprayed = [line for line in after.lines if line.label.startswith("glyphosate") and line.year == 2027]
    assert [line.quantity.value for line in sprayed] == pytest.approx([1.5 * 11.2 / 3])


def test_a_line_shows_its_rule_and_its_numbers() -> None:
    line = next(line for line in make.plan().estimate.lines if line.label == "Drill the mix")
    for words in ("$425.60", "12 %", "18 %", "margin"):
        assert words in line.price.working
    assert line.price.shown == f"${line.price.value}"
