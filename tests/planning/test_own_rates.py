"""A practice's own rates, each reckoned by hand beside the test."""

from __future__ import annotations

from dataclasses import replace
from datetime import date
from decimal import Decimal
from pathlib import Path

import pytest

from plans.planning.figures import Figure
from plans.planning.job import Terms
from plans.planning.own_rates import (
    MOST_TOLD,
    Done,
    Used,
    allowance_means,
    apart,
    as_allowance,
    as_pace,
    beyond_plan,
    pace_means,
    pace_of,
    suggest,
)
from plans.planning.plan import Plan
from plans.planning.planner import plan_job
from plans.planning.price_list import WorkRate
from plans.planning.progress import Share, allowed, progress
from plans.planning.wire import read_job_file
from plans.planning.work import capacity

TODAY = date(2026, 11, 25)
TERMS = Terms(overhead_pct=15.0, pricing="margin on price", pricing_pct=20.0)
BY_HOUR = WorkRate(operation="rotary_mowing", basis="hour", rate_usd=Decimal("50.00"))


def done(visit: int, value: Figure, acres: float = 10.0) -> Done:
    return Done(visit=visit, on=date(2026, 5, visit), where=f"Field {visit}", acres=acres, value=value)


def paces(*given: tuple[float, float]) -> list[Done]:
    return [done(place, pace_of(*one), one[0]) for place, one in enumerate(given, start=1)]


def pct(value: float) -> Figure:
    return Figure(value, "%", "as typed")


def acre_h(value: float) -> Figure:
    return Figure(value, "acre/h", "as typed")


def test_the_median_of_the_visits_with_the_middle_half_and_what_is_far_off() -> None:
    # Paces 5, 4, 6 and 15 acres an hour. Median (5 + 6) / 2; quartiles 4 + 0.75 × 1 and 6 + 0.25 × 9;
    # the middle half is 3.5 wide, so far off begins at 8.25 + 1.5 × 3.5 = 13.5.
    found = suggest(paces((10, 2), (12, 3), (9, 1.5), (30, 2)))
    assert found.suggested and found.low and found.high
    assert (found.suggested.value, found.low.value, found.high.value) == (5.5, 4.75, 8.25)
    assert [far for _, far in found.visits] == [False, False, False, True] and found.far == 1
    assert found.acres.value == 61 and found.count == 4 and found.seasons == (2026,)
    assert len(found.suggested.inputs) == 4 and "2026-05-04, Field 4 15 acre/h" in found.suggested.working


@pytest.mark.parametrize("count", [1, 2])
def test_too_few_visits_suggest_nothing(count: int) -> None:
    found = suggest(paces(*[(10, 2)] * count))
    assert found.suggested is None and as_pace(found) is None and as_allowance(found) is None
    assert found.count == count


def test_of_many_visits_the_latest_and_those_far_off_are_told() -> None:
    found = suggest(paces((30, 1), *[(10, 2)] * (MOST_TOLD + 6)))
    assert found.far == 1 and found.count == MOST_TOLD + 7 and found.untold == 6
    assert found.telling[0] == (found.visits[0][0], True) and found.telling[1:] == found.visits[-MOST_TOLD:]
    assert found.suggested and found.suggested.working.startswith(f"median of {found.count} visits: visits")


def test_no_visit_is_no_question() -> None:
    with pytest.raises(ValueError, match="at least one"):
        suggest([])


def test_seed_is_added_up_and_a_tank_is_averaged_by_product() -> None:
    # (52 + 9) / (50 + 10) is 1.667 % over; 8 / 7.5 and 11 / 11 are 6.667 % and 0 % over.
    seed = [Used(name="a", used=52, planned=50, unit="lb"), Used(name="b", used=9, planned=10, unit="lb")]
    tank = [Used(name="a", used=8, planned=7.5, unit="gal"), Used(name="b", used=11, planned=11, unit="lb")]
    assert beyond_plan(seed).value == pytest.approx(100 / 60)
    assert beyond_plan(tank).value == pytest.approx(100 / 30)
    with pytest.raises(ValueError, match="over 0"):
        beyond_plan([Used(name="a", used=1, planned=0, unit="lb")])


def test_an_allowance_is_kept_to_a_tenth_and_never_below_nothing() -> None:
    over = as_allowance(suggest([done(n, pct(value)) for n, value in ((1, 3.14), (2, 4.06), (3, 9.0))]))
    left = as_allowance(suggest([done(n, pct(value)) for n, value in ((1, -3.0), (2, -2.0), (3, 1.0))]))
    assert over and left and (over.value, left.value) == (4.1, 0.0)
    assert apart(over, pct(1.0)).value == pytest.approx(3.1)


def test_a_pace_by_the_hour_moves_the_price_of_twenty_acres() -> None:
    # 20 acres: 5 h become 4 h, $250 become $200; × 1.15 / 0.80 is $359.38 and $287.50.
    means = pace_means(BY_HOUR, acre_h(4), acre_h(5), TERMS)
    assert means.hours and means.hours.value == -1 and means.more.value == Decimal("-71.88")
    # At least $220 for a visit: $220 × 1.15 / 0.80 is $316.25.
    least = pace_means(replace(BY_HOUR, minimum_usd=Decimal("220.00")), acre_h(4), acre_h(5), TERMS)
    assert least.more.value == Decimal("-43.13")


def test_a_pace_by_the_acre_moves_what_an_hour_brings() -> None:
    means = pace_means(replace(BY_HOUR, basis="acre"), acre_h(4), acre_h(5), TERMS)
    assert means.more.value == 0 and means.brings and means.brings.value == Decimal("250.00")
    assert pace_means(replace(BY_HOUR, basis="trip"), acre_h(4), acre_h(5), TERMS).brings is None


def test_an_allowance_moves_the_price_of_a_thousand_dollars() -> None:
    # $1,000 and $1,040 × 1.15 / 0.80 are $1,437.50 and $1,495.00.
    assert allowance_means(pct(0), pct(4), TERMS).more.value == Decimal("57.50")


# In the plan


def test_a_measured_pace_stands_before_width_speed_and_efficiency() -> None:
    rate = replace(BY_HOUR, width_ft=8.25, speed_mph=4.0, efficiency_pct=100.0)
    assert capacity("rotary_mowing", rate).value == 4.0
    assert capacity("rotary_mowing", replace(rate, acres_per_hour=3.2)).value == 3.2


def planned(allowance_pct: float) -> Plan:
    file = read_job_file(Path("plans/examples/job.json").read_bytes())
    work = tuple(replace(rate, allowance_pct=allowance_pct) for rate in file.prices.work)
    return plan_job(file.job, replace(file.prices, work=work), TODAY)


def test_an_allowance_is_priced_and_changes_no_amount() -> None:
    bare, more = planned(0.0), planned(10.0)
    assert (more.seed_needs, more.tanks, more.seed) == (bare.seed_needs, bare.tanks, bare.seed)
    for without, allowed_for in zip(bare.estimate.lines, more.estimate.lines, strict=True):
        if without.category in ("seed", "spray"):
            assert allowed_for.allowance and without.allowance is None
            extra = allowed_for.cost.dollars - without.cost.dollars
            assert extra == allowed_for.allowance.dollars
            assert extra == pytest.approx(without.cost.dollars / 10, abs=Decimal("0.02"))
        else:
            assert allowed_for == without


def test_what_was_allowed_for_is_set_against_what_was_used() -> None:
    plan = planned(10.0)
    half = progress(plan, {task.key: Share(done=0.5) for task in plan.tasks})
    credit = allowed(half)
    whole = sum(line.allowance.dollars for line in plan.estimate.lines if line.allowance)
    lines = sum(1 for line in plan.estimate.lines if line.allowance)
    assert credit and credit.cost and whole > 0
    assert abs(credit.cost.dollars + whole / 2) <= Decimal("0.01") * lines
    assert allowed(progress(planned(0.0), {})) is None and allowed(progress(plan, {})) is None
