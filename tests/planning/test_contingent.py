"""The range of the price: exact against every combination, and each step at what it costs when it is firm."""

from __future__ import annotations

from dataclasses import replace
from datetime import date
from decimal import Decimal
from fractions import Fraction
from itertools import product

import pytest
from hypothesis import given
from hypothesis import strategies as st

from plans.planning import tables
from plans.planning.calendar import SOWING
from plans.planning.contingent import enough_in
from plans.planning.job import Conversion, Taxes
from plans.planning.plan import PriceRange
from tests.planning import make
from tests.planning.make import conversion, grass_mix, log

CENTS = st.integers(0, 5_000_000).map(lambda cents: Decimal(cents) / 100)
EXTRAS = st.lists(st.tuples(st.integers(1, 99), CENTS), max_size=8)
PLAIN = make.terms(contingency_pct=0, discount_pct=0, taxes=Taxes())


def by_hand(base: Decimal, extras: list[tuple[int, Decimal]], case: int) -> Decimal:
    """Every combination of coming and not coming, with its probability, in order of its sum."""
    sums = []
    for coming in product((False, True), repeat=len(extras)):
        chance, amount = Fraction(1), base
        for comes, (likelihood, price) in zip(coming, extras, strict=True):
            chance *= Fraction(likelihood if comes else 100 - likelihood, 100)
            amount += price if comes else 0
        sums.append((amount, chance))
    reached = Fraction(0)
    for amount, chance in sorted(sums):
        reached += chance
        if reached >= Fraction(case, 100):
            return amount
    raise AssertionError("probabilities do not sum to one")


@given(base=CENTS, extras=EXTRAS)
def test_quantiles_are_those_of_every_combination(base: Decimal, extras: list[tuple[int, Decimal]]) -> None:
    cases = (10, 50, 90)
    assert enough_in(base, extras, cases) == [by_hand(base, extras, case) for case in cases]


def test_a_step_that_comes_in_exactly_ten_of_a_hundred_cases() -> None:
    """At 90 of 100 cases the firm price is just enough; at 89 % likely-not it no longer is."""
    assert enough_in(Decimal(100), [(10, Decimal(5))], (90,)) == [Decimal(100)]
    assert enough_in(Decimal(100), [(11, Decimal(5))], (90,)) == [Decimal(105)]


def ranged(*conversions: Conversion, **changes: object) -> tuple[Decimal, PriceRange]:
    estimate = make.plan(*conversions, **changes).estimate  # type: ignore[arg-type]
    assert estimate.range is not None
    return estimate.total.total.dollars, estimate.range


def test_the_firm_price_is_the_least_and_holds_none_of_them() -> None:
    firm, found = ranged(conversion())
    assert firm == found.p10.dollars <= found.p50.dollars <= found.p90.dollars
    assert found.p90.dollars <= firm + sum(step.price.dollars for step in found.steps)
    labels = {line.label for line in make.plan(conversion()).estimate.lines}
    assert not labels & {step.label for step in found.steps}
    assert {step.step for step in found.steps} == {
        "kill_again_sod",
        "clip_again",
        "spot_again_2",
        "overseed_2",
    }


def test_a_third_kill_costs_the_same_firm_as_possible() -> None:
    """Apart from tax and contingency, which are rounded by year."""
    without, found = ranged(conversion(), terms=PLAIN)
    (third,) = [step for step in found.steps if step.step == "kill_again_sod"]
    with_it, left = ranged(conversion(options=("kill_again",)), terms=PLAIN)
    assert with_it - without == third.price.dollars
    assert "kill_again_sod" not in {step.step for step in left.steps}


def test_overseeding_buys_its_share_of_the_seed() -> None:
    _, found = ranged(
        conversion(), terms=make.terms(contingency_pct=0, taxes=Taxes(), overhead_pct=0, pricing_pct=0)
    )
    (over,) = [step for step in found.steps if step.step == "overseed_2"]
    (seed,) = [term.value for term in over.price.inputs if term.name == "seed"]
    share = tables.steps()["overseed_2"].share_pct
    whole = make.plan(conversion()).seed[0]
    bought = sum(line.cost.dollars for line in whole.lines if line.cost)
    assert Decimal(seed) == pytest.approx(bought * Decimal(str(share)) / 100, abs=Decimal("0.10"))


def test_two_fields_share_a_trip() -> None:
    _, one = ranged(conversion(field="A"))
    _, two = ranged(conversion(field="A"), conversion(field="B"))
    for alone, both in zip(one.steps, two.steps, strict=True):
        assert both.fields == ("A", "B")
        assert alone.price.dollars < both.price.dollars < 2 * alone.price.dollars


def test_what_has_no_price_is_named_and_not_guessed() -> None:
    listed = make.prices(work=tuple(rate for rate in make.prices().work if rate.operation != "spot_spraying"))
    _, found = ranged(conversion(), price_list=listed)
    assert found.unpriced == (tables.steps()["spot_again_2"].label,)
    assert "spot_again_2" not in {step.step for step in found.steps}


def test_a_sown_field_needs_no_third_kill() -> None:
    done = log(kill_fall=date(2025, 10, 1), kill_spring=date(2026, 4, 10), drill=date(2026, 5, 1))
    _, found = ranged(conversion(log=done, mix=grass_mix()))
    assert {step.step for step in found.steps} == {"clip_again", "spot_again_2", "overseed_2"}


def test_a_released_stand_is_not_clipped_nor_overseeded_but_may_be_sprayed_again() -> None:
    made = conversion(
        kill_program="release_native",
        seeding="none",
        cover="failed native stand",
        options=("release_imazapic",),
        mix=grass_mix(),
    )
    _, found = ranged(made)
    assert {step.step for step in found.steps} == {"spot_again_2"}
    assert found.unpriced == (tables.steps()["release_again"].label,), "clethodim is not listed"


WAYS = [
    (program.key, seeding)
    for program in tables.programs().values()
    for seeding in program.seedings
    if set(tables.seedings()[seeding].purposes) <= tables.purposes().keys()
]
"""The ways to native cover; a plot has a burndown of its own before every sowing."""


@pytest.mark.parametrize(("program", "seeding"), WAYS)
def test_a_kill_may_be_repeated_in_every_program_and_its_option_makes_it_firm(
    program: str, seeding: str
) -> None:
    cover = tables.programs()[program].covers[0]
    made = conversion(kill_program=program, seeding=seeding, cover=cover, mix=grass_mix())
    without = make.plan(made)
    found = without.estimate.range
    assert found is not None
    possible = {*(step.label for step in found.steps), *found.unpriced}
    plan = make.plan(replace(made, options=("kill_again",)))
    usual = {task.step for task in without.tasks}
    again = [task for task in plan.tasks if task.step not in usual]
    assert again
    assert {task.label for task in again} <= possible
    assert all((task.latest - task.earliest).days >= 7 for task in again)
    sown = [task for task in plan.tasks if task.operation in SOWING]
    assert bool(sown) == (seeding != "none")
    for task, sowing in product(again, sown[:1]):
        assert task.earliest < sowing.earliest and task.latest < sowing.latest
    assert not {"wait_short", "step_dropped", "no_effect"} & {finding.rule for finding in plan.findings}
