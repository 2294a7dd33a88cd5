"""The rounding policy, worked with a pencil, and textbook identities of margin and markup."""

from __future__ import annotations

from dataclasses import replace
from decimal import Decimal

import pytest

from plans.planning.job import Stage, Taxes
from plans.planning.money import percent_of, price_from_cost, split, to_cents
from tests.planning import make

ROUNDING = [
    # half up, away from zero for a credit: IEEE 754-2019, 4.3.1, roundTiesToAway
    ("2.344", "2.34"),
    ("2.345", "2.35"),
    ("2.3449999", "2.34"),
    ("0.005", "0.01"),
    ("-2.345", "-2.35"),
    (2.675, "2.68"),  # binary 2.67499…: read by its shortest decimal text
    (1.005, "1.01"),
    (10, "10.00"),
]


@pytest.mark.parametrize(("amount", "cents"), ROUNDING, ids=str)
def test_half_up(amount: float | str, cents: str) -> None:
    assert to_cents(amount) == Decimal(cents)


PRICES = [
    # cost, overhead %, way, %, price worked by hand
    ("100.00", 0, "margin on price", 25, "133.33"),
    ("100.00", 0, "markup on cost", 25, "125.00"),
    ("75.00", 0, "margin on price", 25, "100.00"),
    ("100.00", 12, "margin on price", 18, "136.59"),  # 112.00 / 0.82 = 136.5853…
    ("100.00", 12, "markup on cost", 18, "132.16"),  # 112.00 x 1.18
    ("0.10", 0, "margin on price", 20, "0.13"),  # 0.125, half up
    ("0.01", 0, "markup on cost", 50, "0.02"),  # 0.015, half up
    ("349.60", 0, "margin on price", 0, "349.60"),
]


@pytest.mark.parametrize(("cost", "overhead", "pricing", "pct", "price"), PRICES)
def test_price_of_a_line(cost: str, overhead: float, pricing: str, pct: float, price: str) -> None:
    assert price_from_cost(Decimal(cost), overhead, pricing, pct) == Decimal(price)


IDENTITIES = [
    # margin / (100 - margin) = markup: any cost-accounting text
    (20, 25),
    (25, 33 + 1 / 3),
    (33 + 1 / 3, 50),
    (50, 100),
    (75, 300),
]


@pytest.mark.parametrize(("margin", "markup"), IDENTITIES)
def test_a_margin_is_a_larger_markup(margin: float, markup: float) -> None:
    cost = Decimal("1234.56")
    by_margin = price_from_cost(cost, 0, "margin on price", margin)
    assert by_margin == price_from_cost(cost, 0, "markup on cost", markup)
    assert by_margin > price_from_cost(cost, 0, "markup on cost", margin)
    assert (by_margin - cost) / by_margin * 100 == pytest.approx(Decimal(margin), abs=Decimal("0.001"))


@pytest.mark.parametrize(
    ("amount", "shares", "parts"),
    [
        ("100.00", (1, 1, 1), ("33.33", "33.34", "33.33")),
        ("0.01", (50, 50), ("0.01", "0.00")),
        ("0.05", (25, 25, 25, 25), ("0.01", "0.02", "0.01", "0.01")),
        ("1000.01", (25, 50, 15, 10), ("250.00", "500.01", "150.00", "100.00")),
    ],
)
def test_payments_add_up(amount: str, shares: tuple[float, ...], parts: tuple[str, ...]) -> None:
    """Running totals rounded half up. Source: our own policy, worked by hand."""
    assert split(Decimal(amount), shares) == tuple(Decimal(part) for part in parts)


def test_percent_of_a_printed_amount() -> None:
    assert percent_of(Decimal("10.10"), 4.225) == Decimal("0.43")  # 0.426725


def test_a_whole_estimate_by_pencil() -> None:
    """20 acres drilled at $14 an acre; every figure below was worked by hand by the policy in `estimate`."""
    drilling = replace(
        next(rate for rate in make.prices().work if rate.operation == "no_till_drilling"),
        rate_usd=Decimal("14"),
        minimum_usd=Decimal("140"),
    )
    terms = make.terms(
        overhead_pct=10,
        pricing="margin on price",
        pricing_pct=20,
        contingency_pct=5,
        discount_pct=2,
        taxes=Taxes(work_pct=6),
        stages=(Stage(label="first", share_pct=30), Stage(label="rest", share_pct=70)),
    )
    prices = make.prices(
        seed=(), products=(), adjuvants=(), work=(drilling,), hauling_usd_per_mile=Decimal(0)
    )
    estimate = make.plan(make.conversion(acres=20), price_list=prices, terms=terms).estimate
    (line,) = estimate.lines
    assert line.cost.value == Decimal("280.00")
    assert line.price.value == Decimal("385.00")  # 280 x 1.1 / 0.8
    total = estimate.total
    assert total.work.dollars == Decimal("385.00")
    assert total.contingency.dollars == Decimal("19.25")
    assert total.discount.dollars == Decimal("-8.09")  # 2 % of 404.25 is 8.085
    assert total.tax.dollars == Decimal("23.77")  # 6 % of 396.16 is 23.7696
    assert total.total.dollars == Decimal("419.93")
    assert [stage.amount.dollars for stage in estimate.stages] == [Decimal("125.98"), Decimal("293.95")]
    assert estimate.cost_share and estimate.cost_share.value == Decimal("3000.00")  # 20 acres x $150
    assert estimate.after_cost_share
    assert estimate.after_cost_share.dollars == Decimal("419.93") - Decimal("3000.00")
