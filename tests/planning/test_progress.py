"""What is done of an agreed plan in money: it adds up to the cent, whatever share of each task is done."""

from __future__ import annotations

from decimal import Decimal
from functools import cache

import pytest
from hypothesis import given
from hypothesis import strategies as st

from plans.planning.money import total
from plans.planning.plan import CATEGORIES, Plan
from plans.planning.progress import (
    Row,
    Share,
    UnitPrices,
    Used,
    covered,
    difference,
    margin,
    progress,
)
from tests.planning import make


@cache
def plans() -> tuple[Plan, ...]:
    """Two fields of sod with contingency and discount, an oak planting and a fertilized plot."""
    terms = make.terms(contingency_pct=7.5, discount_pct=3.3)
    two = (make.conversion(), make.conversion(field="Second field", acres=7.3))
    return (
        make.plan(*two, terms=terms),
        make.plan(make.planting(), terms=terms),
        make.plan(make.plot(), terms=terms),
    )


@st.composite
def shares_of(draw: st.DrawFn) -> tuple[Plan, dict[str, Share]]:
    plan = draw(st.sampled_from(plans()))
    part = st.floats(0, 1)
    shares = {}
    for task in plan.tasks:
        done = draw(st.sampled_from((0.0, 1.0)) | part)
        shares[task.key] = Share(done, draw(st.sampled_from((0.0, 1.0 - done))))
    return plan, shares


@given(shares_of())
def test_every_row_adds_up_to_the_cent(asked: tuple[Plan, dict[str, Share]]) -> None:
    plan, shares = asked
    found = progress(plan, shares)
    rows = [row for one in found.lines for row in (one.cost, one.price)]
    for row in (*rows, *found.years, *found.kinds, found.cost, found.price):
        assert row.done.dollars + row.left.dollars + row.skipped.dollars == row.estimate.dollars
        assert all(part.dollars >= 0 for part in (row.done, row.left, row.skipped))
    assert found.cost.estimate.dollars == plan.estimate.direct_cost.dollars
    signed = plan.estimate.total
    assert found.price.estimate.dollars == signed.total.dollars - signed.tax.dollars
    for name in ("estimate", "done", "left", "skipped"):
        for some in (found.years, found.kinds):
            assert total(getattr(row, name).dollars for row in some) == getattr(found.cost, name).dollars


@pytest.mark.parametrize("plan", plans())
def test_nothing_all_and_skipped(plan: Plan) -> None:
    def ends(share: Share) -> tuple[Row, ...]:
        found = progress(plan, {task.key: share for task in plan.tasks})
        return (*found.years, *found.kinds, found.cost, found.price)

    assert all(row.done.dollars == 0 and row.left.value == row.estimate.value for row in ends(Share()))
    assert all(row.done.value == row.estimate.value for row in ends(Share(done=1.0)))
    assert all(row.skipped.value == row.estimate.value for row in ends(Share(skipped=1.0)))


@pytest.mark.parametrize("plan", plans())
def test_every_line_finds_its_tasks(plan: Plan) -> None:
    assert {line.category for line, _ in covered(plan)} <= set(CATEGORIES)
    for line, groups in covered(plan):
        assert groups and all(groups), line.label
        fields = {one.task.field for group in groups for one in group}
        assert not line.fields or fields == set(line.fields)


def test_one_field_sprayed_moves_its_own_products_and_half_of_the_trip() -> None:
    plan = plans()[0]
    field = plan.job.conversions[1]
    kill = next(task for task in plan.tasks if (task.field, task.step) == (field.field, "kill_fall"))
    found = progress(plan, {kill.key: Share(done=1.0)})
    acres = [one.acres for one in plan.job.conversions]
    moved = {one.line.label: one for one in found.lines if one.share.value}
    assert float(moved[kill.label].share.value) == pytest.approx(100 * acres[1] / sum(acres))
    tank = next(tank for tank in plan.tanks if tank.task == kill.key)
    assert {part.name for part in tank.parts} <= set(moved)
    assert not any(one.line.category in ("seed", "materials") for one in moved.values())


def test_what_was_used_besides_is_priced_where_the_units_agree() -> None:
    plan = plans()[0]
    tank, prices = plan.tanks[0], UnitPrices(plan)
    part = tank.parts[0]
    assert part.cost is not None

    def more(**values: object) -> Used:
        told: dict[str, object] = {"task": tank.task, "name": part.name, "where": "here"}
        told |= {"used": 2 * float(part.total.value), "planned": part.total.value, "unit": part.total.unit}
        return Used(**told | values)  # type: ignore[arg-type]

    found = difference(more(), prices.of(tank.task, part.name))
    assert found and found.cost and found.cost.value == part.cost.value and "more" in found.says
    other = difference(more(unit="tons"), prices.of(tank.task, part.name))
    assert other and other.cost is None and "cannot be priced" in other.says
    assert difference(more(used=part.total.value), prices.of(tank.task, part.name)) is None
    unknown = difference(more(name="sand"), prices.of(tank.task, "sand"))
    assert unknown and unknown.cost is None
    done = progress(plan, {})
    assert margin(done, [found, other]).so_far.value == -part.cost.dollars
    assert margin(done, []).at_close.dollars == done.price.estimate.dollars - done.cost.estimate.dollars
    assert margin(done, []).so_far.value == Decimal(0)
