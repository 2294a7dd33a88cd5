"""Two plans beside each other: every change is named, and every sum holds to the cent."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta
from decimal import Decimal
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from plans.documents.changed import reasons, rows, year_rows
from plans.planning.ahead import Window
from plans.planning.changes import Changes, YearChange, compare, compare_by_year
from plans.planning.job import DoneStep, Mix, MixLine
from plans.planning.plan import Plan
from plans.planning.planner import plan_job
from plans.planning.price_list import PriceList, signed_first
from plans.planning.wire import JobFile, read_job_file

TODAY = date(2026, 11, 25)
EXAMPLE = Path("plans/examples/job.json")


@pytest.fixture(scope="module")
def file() -> JobFile:
    return read_job_file(EXAMPLE.read_bytes())


@pytest.fixture(scope="module")
def plan(file: JobFile) -> Plan:
    return plan_job(file.job, file.prices, TODAY)


def with_first(file: JobFile, **values: object) -> Plan:
    """The example with other facts of its first field."""
    first, *rest = file.job.conversions
    job = replace(file.job, conversions=(replace(first, **values), *rest))
    return plan_job(job, file.prices, TODAY)


def dearer(prices: PriceList, species: str, by: str) -> PriceList:
    return replace(
        prices,
        seed=tuple(
            replace(lot, price_usd_per_lb=lot.price_usd_per_lb + Decimal(by))
            if lot.species == species
            else lot
            for lot in prices.seed
        ),
    )


def test_a_plan_beside_itself_has_not_changed(plan: Plan) -> None:
    found = compare(plan, plan)
    assert not found.anything and found.difference == 0 and reasons(found) == ()


def test_a_larger_field_says_by_how_much(file: JobFile, plan: Plan) -> None:
    field, acres = plan.job.conversions[0].field, plan.job.conversions[0].acres
    found = compare(plan, with_first(file, acres=acres + 1.2))
    assert [(one.what, one.field) for one in found.ground] == [("acres", field)]
    assert reasons(found)[0] == f"{field} is 1.2 acres larger."
    assert found.difference > 0 and not found.mix and not found.steps


def test_a_dearer_seed_is_named_with_both_prices_of_the_client(file: JobFile, plan: Plan) -> None:
    species = plan.seed[0].lines[0].species
    after = plan_job(file.job, dearer(file.prices, species, "5.00"), TODAY)
    found = compare(plan, after)
    assert not found.ground and not found.steps
    seed = [line for line in found.lines or () if line.category == "seed"]
    assert [line.label for line in seed] == [f"{species} seed"]
    per_lb = [
        (amount / Decimal(str(seed[0].quantity_before))).quantize(Decimal("0.01"))
        for amount in (seed[0].before, seed[0].after)
    ]
    said = f"{species[:1].upper()}{species[1:]} seed went from ${per_lb[0]} to ${per_lb[1]} per lb PLS."
    assert reasons(found) == (said,)


def test_species_steps_and_windows_are_told_one_by_one(file: JobFile, plan: Plan) -> None:
    first = file.job.conversions[0]
    assert first.mix is not None
    kept = first.mix.lines[:-1]
    mix = Mix(
        name="Another mix",
        basis="lb PLS per acre",
        lines=(
            *(MixLine(species=line.species, amount=1.0) for line in kept),
            MixLine(species="Canada wildrye", amount=2.0),
        ),
    )
    step = next(task for task in plan.tasks if task.field == first.field and task.phase == "keep")
    found = compare(plan, with_first(file, mix=mix, left_out=(*first.left_out, step.step)))
    told = {(one.what, one.subject): (one.before, one.after) for one in (*found.mix, *found.steps)}
    assert told["mix", ""] == (first.mix.name, "Another mix")
    gone = told["species", first.mix.lines[-1].species]
    assert gone[0] is not None and gone[1] is None
    assert told["species", "Canada wildrye"] == (None, 2.0)
    assert told["step", step.label] == (Window(step.earliest, step.latest), None)


def test_work_done_since_is_no_window_that_moved(file: JobFile, plan: Plan) -> None:
    first = min((task for task in plan.tasks), key=lambda task: task.earliest)
    done_on = first.earliest + timedelta(days=3)
    row = next(one for one in file.job.conversions if one.field == first.field)
    others = tuple(one for one in file.job.conversions if one is not row)
    job = replace(
        file.job,
        conversions=(replace(row, log=(*row.log, DoneStep(step=first.step, on=done_on))), *others),
    )
    found = compare(plan, plan_job(job, file.prices, done_on))
    done = [one for one in found.steps if one.what == "done"]
    assert [(one.subject, one.after) for one in done] == [(first.label, done_on)]


@settings(max_examples=20)
@given(acres=st.floats(1, 60), price=st.decimals(0, 200, places=2), years=st.integers(1, 5))
def test_lines_sum_to_years_and_years_to_the_total(acres: float, price: Decimal, years: int) -> None:
    file = read_job_file(EXAMPLE.read_bytes())
    before = plan_job(file.job, file.prices, TODAY)
    first, *rest = file.job.conversions
    job = replace(
        file.job,
        conversions=(replace(first, acres=acres, kept_away=(), drawn=()), *rest),
        terms=replace(file.job.terms, years=years),
    )
    found = compare(
        before, plan_job(job, dearer(file.prices, file.prices.seed[0].species, str(price)), TODAY)
    )
    assert sum(year.difference for year in found.years) == found.after - found.before
    for year in year_rows(found):
        assert sum(line.difference for line in year.lines) == year.difference
        assert year.before + year.difference == year.after


def test_sums_that_do_not_hold_are_refused() -> None:
    one, two = Decimal("1.00"), Decimal("2.00")
    year = YearChange(year=2027, before=one, after=two)
    same: Any = {"ground": (), "mix": (), "steps": (), "years": (year,), "before": one}
    with pytest.raises(ValueError, match="do not sum"):
        Changes(**same, lines=(), after=Decimal("2.01"))
    with pytest.raises(ValueError, match="lines of 2027"):
        Changes(**same, lines=(), after=two)


def test_plans_priced_for_unlike_work_compare_by_year_alone(plan: Plan) -> None:
    found = compare_by_year(
        plan, plan, {2027: Decimal("10.00")}, {2027: Decimal("8.00"), 2028: Decimal("3.00")}
    )
    assert found.lines is None and found.difference == Decimal("1.00")
    assert [row.difference for row in year_rows(found)] == [Decimal("-2.00"), Decimal("3.00")]


def test_what_was_signed_keeps_its_price_and_takes_todays_label(file: JobFile) -> None:
    today = replace(
        file.prices,
        seed=tuple(replace(lot, price_usd_per_lb=Decimal("999")) for lot in file.prices.seed),
        products=tuple(
            replace(one, price_usd_per_container=Decimal("999"), label_rate_high_oz_per_acre=1.5)
            for one in file.prices.products
        ),
    )
    fewer = replace(file.prices, seed=file.prices.seed[1:])
    found = signed_first(fewer, today)
    prices = {lot.species: lot.price_usd_per_lb for lot in found.seed}
    assert prices.pop(file.prices.seed[0].species) == Decimal("999")
    assert Decimal("999") not in prices.values()
    for was, now in zip(file.prices.products, found.products, strict=True):
        assert now.price_usd_per_container == was.price_usd_per_container
        assert now.label_rate_high_oz_per_acre == 1.5


def test_rows_have_both_sides_in_words(file: JobFile, plan: Plan) -> None:
    found = compare(
        plan, with_first(file, water_within_ft=None, cover="smooth brome", kill_program="brome_fall_spring")
    )
    told = {row.label: (row.before, row.after) for row in rows(found.ground)}
    assert told["What grows there"][1] == "smooth brome"
