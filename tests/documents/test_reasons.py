"""Why a step lies where it lies: said from the growth and the moments of the plan, and true of them."""

from __future__ import annotations

import re
from dataclasses import replace
from datetime import date, timedelta

import pytest

from plans.documents import ribbon, years
from plans.documents.reasons import Reason, reasons
from plans.documents.words import short
from plans.planning import tables
from plans.planning.observed import day_in
from plans.planning.plan import Plan
from tests.planning import make


def by_step(plan: Plan) -> dict[str, Reason]:
    return {reason.tasks[0].step: reason for reason in reasons(plan)}


def percents(curve: tuple[float, ...], first: date, last: date) -> list[float]:
    """Growth in % of the best day, by the calendar of a year without a 29th of February."""
    days = [first + timedelta(days=day) for day in range((last - first).days + 1)]
    of_year = [date(2001, on.month, min(on.day, 28) if on.month == 2 else on.day) for on in days]
    return [100 * curve[(on - date(2001, 1, 1)).days] / max(curve) for on in of_year]


def test_fall_kill_says_that_the_sod_grows_while_the_natives_go_to_sleep(plan: Plan) -> None:
    reason = by_step(plan)["kill_fall"]
    task = reason.tasks[0]
    assert "glyphosate" in reason.said and "the old sod is growing again" in reason.said
    assert "the native grass goes to sleep" in reason.said
    old, new = (
        percents(curve, task.earliest, task.latest)
        for curve in (plan.season.cool_growth, plan.season.warm_growth)
    )
    assert f"at {min(old):.0f} to {max(old):.0f} % of its best" in reason.said
    assert f"at {min(new):.0f} to {max(new):.0f} %." in reason.said
    assert reason.fields == [conversion.field for conversion in plan.job.conversions]


def test_the_reason_follows_the_curves_and_not_the_name_of_the_step(plan: Plan) -> None:
    season = plan.season
    turned = replace(season, cool_growth=season.warm_growth, warm_growth=season.cool_growth)
    assert "goes to sleep" not in by_step(replace(plan, season=turned))["kill_fall"].said


def test_a_window_on_its_moments_names_them_with_their_days(plan: Plan) -> None:
    reason = by_step(plan)["kill_fall"]
    climate = plan.job.climate
    for key, opens in (("fall_regrowth", "opens"), ("hard_freeze", "shuts")):
        on = day_in(climate, key, reason.tasks[0].earliest.year)
        label = tables.moment_rules()[key].label
        assert f"It {opens} on {short(on, year=False)}, with “{label}”." in reason.said


def test_a_window_that_waits_for_another_step_says_for_how_long() -> None:
    plan = make.plan(make.conversion(cover="bermudagrass", kill_program="bermuda_summer"))
    second = by_step(plan)["kill_bermuda_2"]
    wait = tables.steps()["kill_bermuda_2"].wait_days
    assert f"{wait} days after the earliest day of the step before" in second.opens
    first = by_step(plan)["kill_bermuda_1"]
    assert "bermudagrass grows in summer" in first.because
    assert (
        first.opens
        == f"It opens on {short(plan.job.conversions[0].start_on, year=False)}, when work may begin."
    )


def test_seed_is_told_how_much_of_the_season_is_before_it(plan: Plan) -> None:
    task = by_step(plan)["drill"].tasks[0]
    warm = plan.season.warm_growth
    least, most = (
        round(100 * sum(warm[(date(2001, on.month, on.day) - date(2001, 1, 1)).days :]) / sum(warm))
        for on in (task.latest, task.earliest)
    )
    assert f"{least} to {most} % of its year’s growth" in by_step(plan)["drill"].said


def test_a_dormant_seeding_says_that_nothing_sprouts() -> None:
    assert (
        "does not sprout too soon"
        in by_step(make.plan(make.conversion(seeding="dormant")))["dormant_drill"].said
    )


@pytest.mark.parametrize(("program", "seeding"), make.WAYS)
def test_every_kill_and_planting_of_every_way_has_its_reason(program: str, seeding: str) -> None:
    plan = make.plan(make.sown_by(seeding, kill_program=program, cover=tables.programs()[program].covers[0]))
    explained = {task.key for reason in reasons(plan) for task in reason.tasks}
    assert {task.key for task in plan.tasks if task.phase in ("kill", "plant")} <= explained
    for reason in reasons(plan):
        assert reason.because and "{" not in reason.said
        for task in reason.tasks:
            said = re.findall(r"It (opens|shuts) on ([A-Z][a-z]{2} \d+)", reason.said)
            days = {"opens": task.earliest, "shuts": task.latest}
            assert all(day == short(days[end], year=False) for end, day in said), reason.said


def test_the_years_as_a_table_have_every_step_with_its_days(plan: Plan) -> None:
    rows = years.data_table(plan).rows
    for task in plan.tasks:
        (row,) = [
            row
            for row in rows
            if row[0] == task.label and task.field in row[2] and row[3] == short(task.earliest)
        ]
        assert row[4] == short(task.latest) and row[1] == str(task.earliest.year)


def test_the_season_as_a_table_has_the_mean_of_each_month(plan: Plan) -> None:
    rows = ribbon.growth_table(plan).rows
    assert len(rows) == 12
    cool = percents(plan.season.cool_growth, date(2001, 10, 1), date(2001, 10, 31))
    assert rows[9][2] == f"{sum(cool) / len(cool):.0f} %"
    assert "first fall freeze" in rows[9][4]
    windows = ribbon.windows_table(reasons(plan))
    assert [row[0] for row in windows.rows] == [reason.step for reason in reasons(plan)]
