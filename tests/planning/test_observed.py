"""What was seen goes before the normal in its own year, moves what follows, and leaves other years alone."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from plans.documents import ribbon
from plans.planning import tables
from plans.planning.calendar import window
from plans.planning.job import Climate, Observation
from plans.planning.observed import day_in, moves, observable, side
from plans.planning.planner import plan_job
from plans.planning.season import moment_days, on
from tests.planning import make

NORMAL = make.columbia()
FALL = ("first_freeze", "hard_freeze", "leaf_fall")


def seen(*pairs: tuple[str, date], climate: Climate = NORMAL) -> Climate:
    return replace(climate, observed=tuple(Observation(moment=key, on=on) for key, on in pairs))


def test_an_early_freeze_brings_hard_freeze_and_leaf_fall_forward() -> None:
    """Normal October 23; seen October 9: fourteen days."""
    climate = seen(("first_freeze", date(2027, 10, 9)))
    for key in FALL:
        assert day_in(climate, key, 2027) == day_in(NORMAL, key, 2027) - timedelta(days=14)
        assert day_in(climate, key, 2028) == day_in(NORMAL, key, 2028)
    assert day_in(climate, "natives_green_up", 2027) == day_in(NORMAL, "natives_green_up", 2027)
    assert day_in(climate, "fall_regrowth", 2027) == day_in(NORMAL, "fall_regrowth", 2027)


def test_a_late_green_up_moves_the_seedbed_and_not_the_calendar() -> None:
    normal = day_in(NORMAL, "natives_green_up", 2028)
    climate = seen(("natives_green_up", normal + timedelta(days=9)))
    assert day_in(climate, "soil_60", 2028) == day_in(NORMAL, "soil_60", 2028) + timedelta(days=9)
    assert day_in(climate, "drill_shuts", 2028) == day_in(NORMAL, "drill_shuts", 2028)
    assert day_in(climate, "sod_wakes", 2028) == day_in(NORMAL, "sod_wakes", 2028)


def test_what_comes_before_is_not_left_after() -> None:
    climate = seen(("soil_60", date(2028, 3, 25)))
    assert day_in(climate, "soil_50", 2028) <= date(2028, 3, 25)


def test_a_later_sight_goes_before_an_earlier_one() -> None:
    climate = seen(("first_freeze", date(2027, 10, 9)), ("hard_freeze", date(2027, 11, 20)))
    assert day_in(climate, "first_freeze", 2027) == date(2027, 10, 9)
    assert day_in(climate, "hard_freeze", 2027) == date(2027, 11, 20)


def test_a_window_opens_and_shuts_with_what_was_seen() -> None:
    """The fall kill shuts with the hard freeze."""
    step = tables.steps()["kill_fall"]
    assert step.closes in FALL
    opened, shut = window(step, NORMAL, 2027)
    early = window(step, seen(("first_freeze", date(2027, 10, 9))), 2027)
    assert early == (opened, shut - timedelta(days=14))
    assert window(step, seen(("first_freeze", date(2027, 10, 9))), 2028) == window(step, NORMAL, 2028)


def test_a_plan_follows_and_the_ribbon_marks_it() -> None:
    climate = seen(("first_freeze", date(2027, 10, 9)))
    today = date(2027, 10, 9)
    plain, moved = make.plan(today=today), make.plan(today=today, climate=climate)
    kill, sooner = (next(task for task in p.tasks if task.step == "kill_fall") for p in (plain, moved))
    assert sooner.latest == kill.latest - timedelta(days=14)
    note = next(finding for finding in moved.findings if finding.rule == "observed_moves")
    assert "14 days earlier" in note.message and "hard freeze" in note.reason
    drawn = [getattr(part, "text", "") for part in ribbon.season_ribbon(moved).contents[0].contents]
    assert any(text.startswith("first fall freeze, seen Oct 9") for text in drawn), drawn


@given(st.sampled_from(observable()), st.integers(2027, 2030), st.integers(-60, 60))
def test_the_day_seen_is_the_day_taken(key: str, year: int, off: int) -> None:
    day = on(year, moment_days(NORMAL)[key] + off)
    climate = seen((key, day))
    assert day_in(climate, key, year) == day
    assert {moved for moved, _ in moves(climate)} <= {k for k in observable() if side(k) == side(key)}


@given(st.sampled_from(observable()), st.integers(-60, 60))
def test_the_order_of_a_side_is_kept(key: str, off: int) -> None:
    climate = seen((key, on(2028, moment_days(NORMAL)[key] + off)))
    keys = sorted((k for k in observable() if side(k) == side(key)), key=lambda k: moment_days(NORMAL)[k])
    days = [day_in(climate, k, 2028) for k in keys]
    assert days == sorted(days)


@pytest.mark.parametrize(
    ("key", "day", "named"),
    [
        ("blue_moon", date(2028, 1, 1), "moment"),
        ("drill_shuts", date(2028, 6, 1), "moment"),
        ("first_freeze", date(2028, 7, 1), "days from its normal"),
    ],
)
def test_what_cannot_have_been_seen(key: str, day: date, named: str) -> None:
    with pytest.raises(ValueError, match=named):
        moves(seen((key, day)))


@given(
    moments=st.lists(st.sampled_from(sorted(observable())), min_size=2, max_size=4, unique=True),
    offs=st.lists(st.integers(-25, 25), min_size=4, max_size=4),
)
def test_whatever_is_seen_together_stays_as_it_was_seen(moments: list[str], offs: list[int]) -> None:
    normal = moment_days(NORMAL)
    days = [on(2028, normal[key] + off) for key, off in zip(moments, offs, strict=False)]
    climate = seen(*zip(moments, days, strict=True))
    for key, day in zip(moments, days, strict=True):
        assert day_in(climate, key, 2028) == day
    sown = make.conversion(
        log=make.log(kill_fall=date(2027, 10, 1), kill_spring=date(2028, 4, 20), drill=date(2028, 5, 10))
    )
    plan = plan_job(make.job(sown, climate=climate), make.prices(), date(2028, 12, 31))
    assert {finding.rule for finding in plan.findings} >= {"observed_moves"}


def test_nothing_is_seen_before_its_day() -> None:
    climate = seen(("first_freeze", date(2027, 10, 9)))
    assert make.plan(today=date(2027, 10, 9), climate=climate)
    with pytest.raises(ValueError, match=r"observed\.0\.on: 'first_freeze' is noted for 2027-10-09"):
        make.plan(today=date(2027, 10, 8), climate=climate)


def test_the_same_moment_twice_in_a_season_is_refused() -> None:
    with pytest.raises(ValueError, match="noted twice"):
        moves(seen(("hard_freeze", date(2027, 10, 15)), ("hard_freeze", date(2027, 10, 20))))
