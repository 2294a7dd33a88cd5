"""What stays away: only the acres left are planned, priced, loaded and bought for."""

from __future__ import annotations

import json
from dataclasses import replace
from datetime import timedelta
from typing import Any

import pytest

from plans.planning import tables
from plans.planning.away import ground_left
from plans.planning.job import KeptAway, Work
from plans.planning.loading import loading_list
from plans.planning.needs import needs_of
from plans.planning.plan import Plan
from plans.planning.wire import BadInput, job_file_json, plan_json, read_job_file, read_plan
from tests.planning import make

WHOLE = 11.2
CREEK = ("50 ft from the creek",)


def left(**acres: float | None) -> tuple[KeptAway, ...]:
    kinds: dict[Any, float | None] = dict(acres)
    return tuple(KeptAway(work=work, left_acres=some, because=CREEK) for work, some in kinds.items())


def planned(*kept: KeptAway, **changes: Any) -> Plan:
    return make.plan(make.conversion(kept_away=kept, **changes))


def worked(plan: Plan) -> dict[str, float]:
    """Acres of each step as a share of the whole field's [%], by operation."""
    return {
        task.operation: round(task.acres / (WHOLE * tables.steps()[task.step].share_pct / 100), 6)
        for task in plan.tasks
    }


@pytest.mark.parametrize(
    ("work", "operation"),
    [
        ("spray", "boom_spraying"),
        ("drill", "no_till_drilling"),
        ("mow", "rotary_mowing"),
        ("burn", "prescribed_burn"),
    ],
)
def test_each_kind_of_work_goes_over_its_own_acres(work: str, operation: str) -> None:
    whole = worked(planned(options=("burn",)))
    half = worked(planned(*left(**{work: WHOLE / 2}), options=("burn",)))
    assert half[operation] == pytest.approx(0.5)
    for name, share in half.items():
        assert share == (0.5 if tables.operations()[name].work == work else whole[name])


def test_half_the_ground_takes_half_the_seed_product_hours_and_money() -> None:
    whole, half = planned(), planned(*left(spray=WHOLE / 2, drill=WHOLE / 2))
    assert half.job.conversions[0].acres == WHOLE
    for one, other in zip(whole.seed[0].lines, half.seed[0].lines, strict=True):
        assert other.pls_lb_per_acre == one.pls_lb_per_acre
        assert float(other.pls_lb.value) == pytest.approx(float(one.pls_lb.value) / 2)
    for tank, smaller in zip(whole.tanks, half.tanks, strict=True):
        for part, less in zip(tank.parts, smaller.parts, strict=True):
            assert float(less.total.value) == pytest.approx(float(part.total.value) / 2)
    for task, shorter in zip(whole.tasks, half.tasks, strict=True):
        if tables.operations()[task.operation].work in ("spray", "drill"):
            assert float(shorter.hours.value) == pytest.approx(float(task.hours.value) / 2)  # type: ignore[union-attr]
    seed = (float(half.estimate.total.seed.value), float(whole.estimate.total.seed.value))
    assert seed[0] == pytest.approx(seed[1] / 2, rel=1e-3)


def test_a_seeded_field_of_half_its_acres_is_bought_and_loaded_for_half() -> None:
    half = planned(*left(drill=WHOLE / 2))
    sown = next(task for task in half.tasks if task.operation == "no_till_drilling")
    pounds = {line.species: float(line.pls_lb.value) for line in half.seed[0].lines}
    bought = {need.name: float(need.amount.value) for need in needs_of(half, "1") if need.kind == "seed"}
    assert bought == pytest.approx(pounds)
    loaded = loading_list(half, sown.operation, [sown.field])
    assert {one.species: float(one.pls_lb.value) for one in loaded.weights} == pytest.approx(pounds)


def test_no_ground_left_is_no_step_no_price_and_a_stop() -> None:
    plan = planned(*left(spray=0.0, drill=0.0))
    kinds = {tables.operations()[task.operation].work for task in plan.tasks}
    assert not kinds & {"spray", "drill"}
    assert not plan.tanks and not plan.seed[0].lines and not plan.estimate.total.seed.dollars
    assert [finding.subject for finding in plan.findings if finding.severity == "stop"] == ["spray", "drill"]
    assert plan.estimate.range is None or not any("spot" in step.step for step in plan.estimate.range.steps)


def test_ground_that_nobody_measured_is_planned_whole() -> None:
    assert worked(planned(*left(spray=None))) == worked(planned())


def test_kinds_of_work_with_the_same_ground_share_a_sentence() -> None:
    conversion = make.conversion(kept_away=left(spray=10.4, drill=10.4, mow=None))
    assert [ground.words for ground in ground_left(conversion)] == [
        "10.4 of 11.2 acres are left to spray and seed: 50 ft from the creek.",
        "How many acres are left to mow is not known without an outline: 50 ft from the creek.",
    ]
    assert ground_left(make.conversion()) == ()


def test_a_plan_stored_before_there_were_exclusions_reads_as_it_was() -> None:
    stored = json.loads(plan_json(planned()))
    del stored["job"]["practice"]["slopes"]
    for conversion in stored["job"]["conversions"]:
        assert conversion.pop("kept_away") == []
    assert read_plan(json.dumps(stored)) == planned()


def test_a_job_file_keeps_them_and_names_what_cannot_be() -> None:
    job = make.job(make.conversion(kept_away=left(spray=10.4, mow=None)))
    text = job_file_json(job, make.prices())
    assert read_job_file(text).job == job
    with pytest.raises(BadInput, match="11.3 acres to spray of 11.2"):
        read_job_file(text.replace('"left_acres": 10.4', '"left_acres": 11.3'))
    with pytest.raises(BadInput, match="'spray' twice"):
        read_job_file(text.replace('"work": "mow"', '"work": "spray"'))


def test_every_kind_of_work_belongs_to_an_operation() -> None:
    assert {row.work for row in tables.operations().values()} == {"", *Work.__args__}  # type: ignore[attr-defined]


def test_a_missed_window_and_a_second_field_keep_their_acres() -> None:
    away = make.conversion(field="A", kept_away=left(spray=5.0))
    plan = make.plan(away, make.conversion(field="B"))
    sprays = {(task.field, task.acres) for task in plan.tasks if task.operation == "boom_spraying"}
    assert sprays == {("A", 5.0), ("B", WHOLE)}
    later = make.plan(replace(away, start_on=away.start_on + timedelta(days=365)))
    assert {task.acres for task in later.tasks if task.operation == "boom_spraying"} == {5.0}
