"""Buying: by hand, against brute force, and that nothing is lost between bag and field."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta
from decimal import Decimal
from fractions import Fraction
from itertools import product
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from plans.planning.buying import (
    BuyLine,
    Need,
    PackOffer,
    SeedOffer,
    SeedStock,
    SeedTest,
    ShelfStock,
    buy_list,
    needs_of,
    offers_of,
)
from plans.planning.figures import Figure
from plans.planning.money import to_cents
from plans.planning.splitting import Pack, cheapest_split
from tests.planning import make

SPRING = date(2028, 4, 13)
BY = date(2028, 12, 31)
HALF = SeedTest(purity_pct=80, germination_pct=55, dormant_pct=7.5, tested_on=date(2027, 12, 1))
"""Half of a bag is pure live seed."""


def need(amount: float, field: str = "Ridge", on: date = SPRING, **changes: Any) -> Need:
    asked = {"kind": "seed", "name": "switchgrass", "plan_id": "1", "plan_title": "A job"}
    unit = changes.pop("unit", "lb PLS")
    made = asked | {"field": field, "task": f"{field}/drill", "needed_on": on} | changes
    return Need(amount=Figure(amount, unit, "as tried"), **made)


def gallons(amount: float, **changes: Any) -> Need:
    return need(amount, **({"kind": "product", "name": "glyphosate, 3 lb/gal", "unit": "gal"} | changes))


def jug(size: float, price: str, **changes: Any) -> PackOffer:
    made = {"kind": "product", "name": "glyphosate, 3 lb/gal", "unit": "gal", "supplier": "Co-op"}
    return PackOffer(size=size, price_usd=Decimal(price), **(made | changes))


def lot(**changes: Any) -> SeedOffer:
    made = {"species": "switchgrass", "supplier": "Larkfield", "lot": "L-1", "test": HALF, "basis": "PLS"}
    return SeedOffer(**(made | {"price_usd_per_lb": Decimal("9.00"), "bag_lb": 25} | changes))


def stock(bulk_lb: float, name: str = "S-1", **changes: Any) -> SeedStock:
    return SeedStock(species="switchgrass", lot=name, bulk_lb=bulk_lb, test=replace(HALF, **changes))


def only(*args: Any) -> BuyLine:
    (line,) = buy_list(*args, BY).lines
    return line


def test_a_worked_order_of_seed() -> None:
    """40 lb PLS less 10 (20 bulk) in the shed is 30; a bag of 25 bulk is 12.5: 3 bags, 7.5 over."""
    line = only([need(25), need(15, "Creek")], [stock(20)], [lot()])
    assert [figure.value for figure in (line.needed, line.from_shed, line.to_buy)] == [40, 10, 30]
    (bought,) = line.purchases
    assert (bought.packs, bought.order) == (3, "3 bags of 25 lb bulk")
    assert (bought.bought.value, bought.bulk_lb and bought.bulk_lb.value) == (37.5, 75)
    assert bought.cost.dollars == Decimal("337.50")
    assert (bought.left.value, bought.left_bulk_lb and bought.left_bulk_lb.value) == (7.5, 15)
    assert bought.left_value.dollars == Decimal("67.50")
    assert "80 %" in bought.bought.working


def test_a_pls_price_is_put_on_pls_pounds_and_a_bulk_price_on_bulk_pounds() -> None:
    """Bought 37.5 lb PLS in 75 lb bulk: $9 a pound is $337.50 by PLS and $675 by bulk."""
    costs = {basis: only([need(30)], [], [lot(basis=basis)]).cost.dollars for basis in ("PLS", "bulk")}
    assert costs == {"PLS": Decimal("337.50"), "bulk": Decimal("675.00")}


def test_the_dearer_bulk_price_may_be_the_cheaper_seed() -> None:
    """At $5 a bulk pound seed of 90 % is $5.56 a PLS pound; at $4 seed of 50 % is $8."""
    clean = SeedTest(purity_pct=100, germination_pct=90, tested_on=HALF.tested_on)
    offers = [
        lot(lot="chaff", basis="bulk", price_usd_per_lb=Decimal(4), bag_lb=1),
        lot(lot="clean", basis="bulk", price_usd_per_lb=Decimal(5), bag_lb=1, test=clean),
    ]
    assert [one.lot for one in only([need(45)], [], offers).purchases] == ["clean"]


def test_a_bag_weighed_in_pls_holds_what_it_says() -> None:
    (bought,) = only([need(30)], [], [lot(bag_basis="PLS")]).purchases
    assert (bought.packs, bought.bought.value, bought.order) == (2, 50, "2 bags of 25 lb PLS")
    assert bought.bulk_lb is not None and bought.bulk_lb.value == 100


def test_loose_seed_goes_by_the_ounce_from_its_minimum_on() -> None:
    loose = lot(bag_lb=None, bag_basis="PLS")
    assert only([need(0.07)], [], [loose]).purchases[0].order == "0.125 lb PLS, loose"
    assert only([need(0.07)], [], [replace(loose, minimum_lb=5)]).bought.value == 5


def test_seven_gallons_of_spray() -> None:
    """2.5 gal at $55, 30 gal at $540, 1 gal at $20: 2.5 × 2 + 1 × 2 = 7 gal at $150 beats 2.5 × 3 at $165."""
    offers = [jug(2.5, "55.00"), jug(30, "540.00"), jug(1, "20.00")]
    line = only([gallons(7)], [], offers)
    assert [one.order for one in line.purchases] == ["7 gal"]
    assert line.cost.dollars == Decimal("140.00")
    line = only([gallons(7)], [], [*offers[:2], jug(1, "24.00")])
    assert [one.order for one in line.purchases] == ["2 gal", "2 × 2.5 gal"]
    assert line.cost.dollars == Decimal("158.00")


def test_rounding_is_done_once_for_all_fields() -> None:
    """Three fields of 1 gal take two jugs of 2.5 gal, not three; 2 gal are over after all of them."""
    line = only([gallons(1, field=name) for name in "ABC"], [], [jug(2.5, "55.00")])
    assert (line.purchases[0].packs, line.left_over.value) == (2, 2)


def test_the_shed_serves_the_earliest_need_and_every_pound_is_traced_both_ways() -> None:
    later = need(12, "Creek", SPRING + timedelta(7), plan_id="2")
    found = buy_list([later, need(8)], [stock(20)], [lot()], BY)
    (line,) = found.lines
    (draw,) = line.draws
    assert [(use.field, use.amount.value) for use in draw.uses] == [("Ridge", 8), ("Creek", 2)]
    assert [use.bulk_lb and use.bulk_lb.value for use in draw.uses] == [16, 4]
    assert [(use.lot, use.amount.value) for use in found.uses_of("2", "Creek")] == [("S-1", 2), ("L-1", 10)]
    assert not buy_list([later], [], [lot()], SPRING).lines


def test_seed_past_its_test_is_taken_last_and_never_without_a_word() -> None:
    shed = [stock(20, "old", tested_on=date(2026, 1, 1)), stock(20, "new"), stock(20, "bare", tested_on=None)]
    line = only([need(8)], shed, [])
    assert [draw.lot for draw in line.draws if draw.uses] == ["new"]
    assert not line.notes
    line = only([need(30)], shed, [])
    assert len(line.notes) == 2 and "tested 833 days" in line.notes[1] and "no test date" in line.notes[0]
    stale = lot(test=replace(HALF, tested_on=date(2026, 1, 1)))
    assert "ask for a newer test" in only([need(8)], [], [stale]).notes[0]
    year = {"tested_on": SPRING - timedelta(365)}
    assert not only([need(8)], [stock(20, **year)], []).notes


def test_bulk_is_weighed_by_each_lots_own_test() -> None:
    poor = stock(20, "poor", purity_pct=40)
    uses = only([need(15)], [stock(20, "good"), poor], []).uses
    assert {use.lot: use.bulk_lb and use.bulk_lb.value for use in uses} == {"good": 20, "poor": 20}


def test_what_nobody_sells_is_said() -> None:
    line = only([need(30)], [], [lot(available_lb=30)])
    assert (line.bought.value, line.short and line.short.value, line.left_over.value) == (12.5, 17.5, 0)
    assert "no offer for 17.5 lb PLS" in line.notes[0]


def test_another_strength_is_never_poured_for_one() -> None:
    shed = ShelfStock(kind="product", name="glyphosate, 4 lb/gal", unit="gal", amount=30)
    assert only([gallons(5)], [shed], []).short is not None


def test_the_order_of_typing_changes_nothing() -> None:
    needs = [need(25), need(15, "Creek"), gallons(7)]
    shed = [stock(20), stock(4, "S-0")]
    offers = [lot(), lot(supplier="Abel", lot="L-2"), jug(2.5, "55.00"), jug(30, "540.00")]
    assert buy_list(needs, shed, offers, BY) == buy_list(needs[::-1], shed[::-1], offers[::-1], BY)


def test_an_impossible_test_or_bag_is_refused_by_name() -> None:
    with pytest.raises(ValueError, match="purity_pct"):
        SeedTest(purity_pct=0, germination_pct=80)
    with pytest.raises(ValueError, match="offers of switchgrass: bag_lb"):
        only([need(1)], [], [lot(bag_lb=0)])
    with pytest.raises(ValueError, match="switchgrass: -1 is under 0"):
        only([need(1)], [stock(-2)], [])


PACKS = st.builds(
    Pack,
    st.integers(1, 60).map(lambda tenths: Fraction(tenths, 10)),
    st.integers(0, 9_000).map(lambda cents: Fraction(cents, 100)),
    st.integers(0, 3),
    st.none() | st.integers(0, 5),
)


def cheapest_by_trying(amount: Fraction, packs: list[Pack]) -> tuple[Fraction, Fraction] | None:
    tops = [int(amount / pack.holds) + 1 + pack.least for pack in packs]
    tops = [top if pack.most is None else min(top, pack.most) for top, pack in zip(tops, packs, strict=True)]
    found = []
    for counts in product(*(range(top + 1) for top in tops)):
        taken = list(zip(counts, packs, strict=True))
        holds = sum((count * pack.holds for count, pack in taken), Fraction(0))
        if holds >= amount and not any(0 < count < pack.least for count, pack in taken):
            found.append((sum((count * pack.usd for count, pack in taken), Fraction(0)), holds))
    return min(found, default=None)


@settings(max_examples=60, deadline=None)
@given(st.integers(1, 90), st.lists(PACKS, min_size=1, max_size=3))
def test_the_split_is_the_cheapest_there_is(tenths: int, packs: list[Pack]) -> None:
    amount = Fraction(tenths, 10)
    taken = list(zip(cheapest_split(amount, packs), packs, strict=True))
    cost = sum((count * pack.usd for count, pack in taken), Fraction(0))
    holds = sum((count * pack.holds for count, pack in taken), Fraction(0))
    best = cheapest_by_trying(amount, packs)
    if best is None:
        assert holds < amount
    else:
        assert (cost, holds) == best


AMOUNTS = st.floats(0.01, 200, allow_nan=False)
PERCENTS = st.integers(500, 5_000).map(lambda hundredths: hundredths / 100)
TESTS = st.builds(
    SeedTest,
    purity_pct=PERCENTS,
    germination_pct=PERCENTS,
    dormant_pct=PERCENTS,
    tested_on=st.none() | st.dates(date(2025, 1, 1), date(2028, 1, 1)),
)


@settings(max_examples=60, deadline=None)
@given(
    st.lists(AMOUNTS, min_size=1, max_size=4),
    st.lists(st.tuples(AMOUNTS, TESTS), max_size=3),
    st.lists(st.tuples(TESTS, st.sampled_from(["PLS", "bulk"]), st.none() | st.just(10.0)), max_size=3),
)
def test_nothing_is_lost_and_no_field_goes_short(amounts: list[float], shed: list, sold: list) -> None:
    needs = [need(amount, f"F{n}", SPRING + timedelta(n)) for n, amount in enumerate(amounts)]
    lots = [
        SeedStock(species="switchgrass", lot=f"S{n}", bulk_lb=lb, test=t) for n, (lb, t) in enumerate(shed)
    ]
    offers = [lot(lot=f"L{n}", test=t, basis=basis, bag_lb=bag) for n, (t, basis, bag) in enumerate(sold)]
    line = only(needs, lots, offers)
    used = sum(float(use.amount.value) for use in line.uses)
    on_hand = sum(float(draw.on_hand.value) for draw in line.draws)
    left = sum(float(source.left.value) for source in (*line.draws, *line.purchases))
    assert on_hand + float(line.bought.value) == pytest.approx(used + left)
    short = float(line.short.value) if line.short else 0.0
    assert used + short == pytest.approx(float(line.needed.value))
    assert not (offers and line.short)
    for one in needs if offers else ():
        given_ = sum(float(use.amount.value) for use in line.uses if use.field == one.field)
        assert given_ == pytest.approx(float(one.amount.value), abs=1e-6)
    assert line.cost.dollars == sum((one.cost.dollars for one in line.purchases), Decimal(0))
    for use in line.uses:
        assert use.bulk_lb is not None and float(use.bulk_lb.value) >= float(use.amount.value)


def test_what_a_plan_needs_is_what_its_tasks_ahead_take() -> None:
    plan = make.plan()
    needs = needs_of(plan, "7")
    seed = {one.name: one.amount.value for one in needs if one.kind == "seed"}
    assert seed == {line.species: line.pls_lb.value for line in plan.seed[0].lines}
    assert {one.needed_on for one in needs if one.kind == "seed"} == {
        task.earliest for task in plan.tasks if task.step == "drill"
    }
    sprayed = sum(float(one.amount.value) for one in needs if one.name == "glyphosate, 3 lb/gal")
    parts = [part for tank in plan.tanks for part in tank.parts if part.name == "glyphosate, 3 lb/gal"]
    assert sprayed == pytest.approx(sum(float(part.total.value) for part in parts))
    assert {one.plan_title for one in needs} == {plan.job.title}


def test_a_step_done_needs_nothing() -> None:
    done = make.conversion(log=make.log(kill_fall=date(2027, 10, 1)))
    steps = {one.task.split("/")[1] for one in needs_of(make.plan(done, today=date(2027, 11, 1)), "7")}
    assert "kill_spring" in steps and "kill_fall" not in steps


def test_trees_and_tubes_are_needed_by_the_piece() -> None:
    plan = make.plan(make.planting())
    units = {one.amount.unit for one in needs_of(plan, "7") if one.kind == "supply"}
    assert {"plants", "tubes"} <= units


def test_the_price_list_covers_the_example_and_costs_no_less_than_what_is_used() -> None:
    file = make.example()
    plan = make.plan(*file.job.conversions, price_list=file.prices)
    found = buy_list(needs_of(plan, "7"), [], offers_of(file.prices), date(2040, 1, 1))
    assert not [line.name for line in found.lines if line.short]
    for line in found.lines:
        used = float(line.cost.dollars) - float(sum(one.left_value.dollars for one in line.purchases))
        assert used >= 0 and float(line.bought.value) >= float(line.to_buy.value) - 1e-6
    assert found.cost.dollars == to_cents(sum(line.cost.dollars for line in found.lines))
