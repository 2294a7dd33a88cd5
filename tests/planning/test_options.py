"""Options: each a plan of its own, or a reason; the price by field; what moves the price."""

from __future__ import annotations

from dataclasses import replace
from datetime import date
from decimal import Decimal

import pytest

from plans.planning import tables
from plans.planning.by_field import by_field
from plans.planning.job import Job, Taxes
from plans.planning.options import Option, Wanted, compare, standing
from plans.planning.other_ways import WAYS, other_ways, vary
from plans.planning.plan import Plan
from plans.planning.planner import plan_job
from plans.planning.price_moves import price_moves
from plans.planning.targets import seasons_of
from tests.planning import make

TODAY = date(2026, 11, 25)
FILE = make.example()
PLAN = plan_job(FILE.job, FILE.prices, TODAY)


def option(key: str, job: Job = FILE.job, reason: str = "") -> Option:
    plan = plan_job(job, FILE.prices, TODAY)
    (found,) = compare(plan, FILE.prices, [Wanted(key=key, reason=reason)])
    return found


def only(**changes: object) -> Job:
    """The example with its first field alone, changed."""
    return replace(FILE.job, conversions=(replace(FILE.job.conversions[0], **changes),))


def varied(key: str, job: Job = FILE.job) -> Plan:
    found = vary(key, job, FILE.prices, TODAY)
    assert found.job is not None, [str(said) for said in found.unchanged]
    return plan_job(found.job, FILE.prices, TODAY)


@pytest.mark.parametrize("key", other_ways())
def test_an_option_is_the_changed_job_planned_again(key: str) -> None:
    found, other = option(key), varied(key)
    assert found.standing == standing(other) and found.difference is not None
    assert found.difference.dollars == other.estimate.total.total.dollars - PLAN.estimate.total.total.dollars
    assert not found.why_not and found.reason == other_ways()[key].reason


def test_every_way_is_in_the_table() -> None:
    assert {*WAYS, "three_years"} == set(other_ways())


def test_without_herbicide_nothing_is_sprayed_and_the_risk_is_told() -> None:
    assert not varied("no_herbicide").tanks
    assert any("bare soil washes" in text for text in option("no_herbicide").raised)
    found = option("no_herbicide", only(cover="bermudagrass", kill_program="bermuda_summer"))
    assert found.standing is None and "bermudagrass" in str(found.why_not[0])


def test_tillage_on_a_slope_is_no_option() -> None:
    found = option("no_herbicide", only(slope_pct=18.0))
    assert any("18 %" in str(said) for said in found.why_not)


def test_a_year_later_moves_the_seeding_by_a_year_at_the_same_price() -> None:
    found = option("year_later")
    was = standing(PLAN).seeding
    assert found.standing and was and found.standing.seeding == was.replace(year=was.year + 1)
    assert found.difference and found.difference.dollars == 0


def test_one_more_kill_costs_what_the_open_step_would_and_leaves_less_open() -> None:
    found = option("extra_kill")
    likely = PLAN.estimate.range
    assert likely and found.standing and found.difference
    kill = next(step for step in likely.steps if tables.steps()[step.step].phase == "kill")
    assert abs(found.difference.dollars - kill.price.dollars) < 1
    assert found.standing.possible == len(likely.steps) - 1


def test_a_richer_mix_keeps_what_was_there_and_blooms_longer_within_its_purpose() -> None:
    rich = varied("richer_mix")
    for before, after in zip(PLAN.seed, rich.seed, strict=True):
        had, has = ({line.species for line in field.lines} for field in (before, after))
        assert had < has
        new = [tables.species()[name] for name in has - had]
        assert all(plant.group != "grass" and not plant.introduced and seasons_of(plant) for plant in new)
        purpose = next(one.purpose for one in PLAN.job.conversions if one.field == before.field)
        most = max(tables.purposes()[purpose].seeds_per_sqft_high, float(before.seeds_per_sqft.value))
        assert float(after.seeds_per_sqft.value) <= most + 1e-6


def test_a_field_that_an_option_leaves_alone_says_why() -> None:
    found = option("burn")
    assert found.fields == ("Ridge Pasture",)
    assert [str(said) for said in found.unchanged] == ["Creek Bottom is burned in this plan as it is."]


def test_the_consultants_line_goes_before_the_usual_one() -> None:
    assert option("year_later", reason="  After the lease ends.  ").reason == "After the lease ends."


def test_fields_add_up_to_every_year_and_years_to_every_field() -> None:
    terms = replace(
        FILE.job.terms,
        discount_pct=3.0,
        contingency_pct=7.0,
        taxes=Taxes(work_pct=1.1, seed_pct=4.225, spray_pct=4.225, hauling_pct=0.7),
    )
    first, other = FILE.job.conversions
    fields = [replace(first, field=f"Field {n}", acres=3.7 + n) for n in range(4)]
    plan = plan_job(replace(FILE.job, terms=terms, conversions=(*fields, other)), FILE.prices, TODAY)
    rows = by_field(plan)
    assert [row.field for row in rows] == [one.field for one in plan.job.conversions]
    for at, year in enumerate(plan.estimate.years):
        assert sum(row.years[at].dollars for row in rows) == year.total.dollars
    for row in rows:
        assert sum(part.dollars for part in row.years) == row.total.dollars
    assert rows[3].total.dollars > rows[0].total.dollars


def test_a_field_by_itself_costs_the_whole() -> None:
    plan = plan_job(only(), FILE.prices, TODAY)
    (row,) = by_field(plan)
    assert row.total.dollars == plan.estimate.total.total.dollars


def test_what_moves_the_price_is_reckoned() -> None:
    moves = {move.kind: move for move in price_moves(PLAN, FILE.prices)}
    seed = sum(year.seed.dollars for year in PLAN.estimate.years)
    # a tenth of the seed, with the contingency (5 %) and tax (4.225 %) of the example's terms on it
    expected = seed * Decimal("0.10") * Decimal("1.05") * Decimal("1.04225")
    assert abs(moves["seed price"].change.dollars - expected) < Decimal("2.50")
    bulk = sum(float(need.bulk_lb.value) for need in PLAN.seed_needs if need.bulk_lb)
    assert 0 < (moves["lower test"].more_lb or 0) < bulk
    assert moves["more acres"].change.dollars > 0 > moves["fewer acres"].change.dollars
    assert moves["one more kill"].change.dollars > 0 and moves["drill again"].change.dollars > 0


def test_seed_priced_by_pure_live_seed_costs_the_same_from_a_weaker_lot() -> None:
    prices = replace(FILE.prices, seed=tuple(replace(lot, basis="PLS") for lot in FILE.prices.seed))
    plan = plan_job(FILE.job, prices, TODAY)
    moves = {move.kind: move for move in price_moves(plan, prices)}
    assert moves["lower test"].change.dollars == 0 and (moves["lower test"].more_lb or 0) > 1


@pytest.mark.parametrize("seeding", tables.seedings())
@pytest.mark.parametrize("key", other_ways())
def test_every_option_is_reckoned_or_says_why_not(seeding: str, key: str) -> None:
    (found,) = compare(make.plan(make.sown_by(seeding)), make.prices(), [Wanted(key=key)])
    assert (found.standing is not None) or found.why_not
    assert all(str(said).endswith(".") for said in (*found.unchanged, *found.why_not))
