"""The whole plan: the same bytes twice, whole again from JSON, work in proportion to the fields."""

from __future__ import annotations

import sys
from collections import Counter
from dataclasses import fields, is_dataclass, replace
from datetime import date
from types import FrameType
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from plans.planning import tables
from plans.planning.figures import Figure
from plans.planning.job import DoneStep, Thatch
from plans.planning.plan import Plan
from plans.planning.wire import plan_json, read_plan
from tests.planning import make


def figures(value: Any) -> list[Figure]:
    if isinstance(value, Figure):
        return [value]
    if isinstance(value, tuple):
        return [found for part in value for found in figures(part)]
    if is_dataclass(value):
        return [found for part in fields(value) for found in figures(getattr(value, part.name))]
    return []


@st.composite
def plans(draw: st.DrawFn) -> Plan:
    ways = [draw(st.sampled_from(make.WAYS)) for _ in range(draw(st.integers(1, 3)))]
    conversions = [
        make.sown_by(
            seeding,
            field=f"field {number}",
            acres=draw(st.floats(0.1, 500)),
            kill_program=program,
            thatch=draw(st.sampled_from(Thatch.__args__)),
            options=tuple(draw(st.sets(st.sampled_from(sorted(tables.options()))))),
            start_on=draw(st.dates(date(2026, 1, 1), date(2030, 12, 31))),
            slope_pct=draw(st.floats(0, 30)),
            water_within_ft=draw(st.none() | st.floats(0, 300)),
            notes=draw(st.text(max_size=40)),
        )
        for number, (program, seeding) in enumerate(ways)
    ]
    return make.plan(*conversions, terms=make.terms(years=draw(st.integers(1, 5))))


@pytest.mark.filterwarnings("error")
@settings(max_examples=25)
@given(plans())
def test_a_plan_is_whole_again_from_its_json(plan: Plan) -> None:
    text = plan_json(plan)
    assert read_plan(text) == plan
    assert plan_json(read_plan(text)) == text


def test_the_same_job_gives_the_same_bytes() -> None:
    assert plan_json(make.plan()) == plan_json(make.plan())


@settings(max_examples=25)
@given(plans())
def test_every_figure_carries_unit_rule_and_source(plan: Plan) -> None:
    for figure in figures((plan.seed, plan.seed_needs, plan.tanks, plan.tasks, plan.estimate)):
        assert figure.formula and figure.source
        assert figure.unit
        assert figure.working.endswith(f"= {figure.shown}")


@settings(max_examples=25)
@given(plans())
def test_tasks_sprays_and_lines_belong_together(plan: Plan) -> None:
    keys = [task.key for task in plan.tasks]
    assert len(set(keys)) == len(keys)
    assert [task.earliest for task in plan.tasks] == sorted(task.earliest for task in plan.tasks)
    sprays = {task.key for task in plan.tasks if task.operation in ("boom_spraying", "spot_spraying")}
    assert {tank.task for tank in plan.tanks} == sprays
    names = {conversion.field for conversion in plan.job.conversions}
    assert {task.field for task in plan.tasks} == {seed.field for seed in plan.seed} == names
    for task in plan.tasks:
        assert task.cautions or task.operation == "stand_count"


def calls(fields_planned: int) -> int:
    """Python calls that planning this many fields takes."""
    conversions = [make.conversion(field=f"field {number}") for number in range(fields_planned)]
    make.plan(*conversions)
    count: Counter[str] = Counter()

    def look(frame: FrameType, event: str, argument: object) -> None:
        count[event] += event == "call"

    before = sys.getprofile()
    sys.setprofile(look)
    try:
        make.plan(*conversions)
    finally:
        sys.setprofile(before)
    return count["call"]


def test_work_grows_in_proportion_to_the_fields() -> None:
    ten, twenty, forty = (calls(number) for number in (10, 20, 40))
    assert forty - twenty == pytest.approx(2 * (twenty - ten), rel=0.02)


def test_fields_do_not_touch_each_others_figures() -> None:
    """A field's seed, tank mixes and windows are the same beside another."""
    alone = make.plan(make.conversion(field="A"))
    beside = make.plan(
        make.conversion(field="A"), make.conversion(field="B", seeding="broadcast", slope_pct=20)
    )
    assert alone.seed[0] == beside.seed[0]
    assert alone.tasks == tuple(task for task in beside.tasks if task.field == "A")
    assert alone.tanks == tuple(tank for tank in beside.tanks if tank.field == "A")
    assert set(alone.findings) == {finding for finding in beside.findings if finding.field in ("A", "")}


@pytest.mark.parametrize("today", [date(1899, 12, 31), date(2201, 1, 1)])
def test_a_day_out_of_reach_is_refused(today: date) -> None:
    with pytest.raises(ValueError, match=f"today: {today}"):
        make.plan(today=today)


def test_nothing_is_bought_or_mixed_for_what_is_done() -> None:
    started = make.conversion(start_on=date(2026, 7, 1))
    logged = tuple(
        DoneStep(step=step, on=day)
        for step, day in (
            ("kill_fall", date(2025, 10, 1)),
            ("kill_spring", date(2026, 5, 1)),
            ("drill", date(2026, 5, 20)),
        )
    )
    plan = make.plan(replace(started, log=logged))
    assert plan.seed_needs == ()
    assert not any(line.category == "seed" for line in plan.estimate.lines)
    assert not {tank.task for tank in plan.tanks} & {f"{started.field}/{done.step}" for done in logged}
