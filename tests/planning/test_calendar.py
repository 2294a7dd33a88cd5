"""Windows: in their moments, in order, waits kept at both ends, nothing before the start, work done kept."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from datetime import date, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from plans.planning import tables
from plans.planning.calendar import SOWING, Slot, schedule, soil_wait_days, window
from plans.planning.job import Climate, Conversion, DoneStep
from plans.planning.plots import crop_window, dated
from plans.planning.programs import UnknownChoice, belongs, conditions_met, steps_for
from plans.planning.season import moment_days, month_day
from plans.planning.tables import Step
from tests.planning import make
from tests.planning.make import columbia, conversion, log, sown_by

WAYS = [way for way in make.WAYS if tables.seedings()[way[1]].way != "none"]
PLACES = ["Columbia", "Des Moines", "Madison", "Nashville", "Wichita", "Little Rock"]
starts = st.dates(date(2026, 1, 1), date(2030, 12, 31))
thatches = st.sampled_from(["none", "light", "heavy"])
options = st.sets(st.sampled_from(sorted(tables.options()))).map(lambda chosen: tuple(sorted(chosen)))
every_way = pytest.mark.parametrize(("program", "seeding"), WAYS)


def climate(town: str) -> Climate:
    return next(found for place, found in make.climates().items() if place.startswith(town))


def by_step(slots: Sequence[Slot]) -> dict[str, Slot]:
    return {slot.step.step: slot for slot in slots}


def plan_of(made: Conversion, start: date, town: str = "Columbia", years: int = 5) -> dict[str, Slot]:
    return by_step(schedule(made, climate(town), years, start))


def days(number: int) -> timedelta:
    return timedelta(days=number)


def in_its_moment(slot: Slot, at: Climate) -> bool:
    years = range(slot.earliest.year - 2, slot.latest.year + 2)
    return any(
        opened <= slot.earliest and slot.latest <= shut
        for opened, shut in (window(slot.step, at, year) for year in years)
    )


@pytest.mark.parametrize("step", tables.steps().values(), ids=lambda step: step.step)
def test_a_window_runs_from_its_first_moment_to_the_next_of_its_last(step: Step) -> None:
    for at in make.climates().values():
        step = dated(step, crop_window(make.plot(), at))
        opened, shut = window(step, at, 2027)
        moments = moment_days(at)
        assert f"{opened:%m-%d}" == month_day(moments[step.opens] + step.opens_days)
        assert f"{shut:%m-%d}" == month_day(moments[step.closes] + step.closes_days)
        assert days(0) <= shut - opened <= days(365)


@every_way
@given(start=starts, thatch=thatches, chosen=options, town=st.sampled_from(PLACES), years=st.integers(1, 5))
def test_windows_hold_for_any_start(
    program: str, seeding: str, start: date, thatch: str, chosen: tuple[str, ...], town: str, years: int
) -> None:
    made = sown_by(seeding, kill_program=program, thatch=thatch, options=chosen)
    slots = schedule(made, climate(town), years, start)
    found = by_step(slots)
    assert [slot.earliest for slot in slots] == sorted(slot.earliest for slot in slots)
    for slot in slots:
        assert start <= slot.earliest <= slot.latest
        assert in_its_moment(slot, climate(town))
        before = found.get(slot.after)
        if before is None:
            continue
        assert slot.earliest >= before.earliest + days(slot.step.wait_days)
        # a seeding is not hurried for the clipping after it: sown on its last days, the clipping falls out
        if before.step.operation not in SOWING or slot.step.set != "upkeep":
            assert slot.latest >= before.latest + days(slot.step.wait_days)
        if slot.step.max_gap_days is not None:
            assert slot.earliest - before.latest <= days(slot.step.max_gap_days)


@every_way
@given(start=starts, thatch=thatches, town=st.sampled_from(PLACES))
def test_nothing_is_left_out_before_the_stand_is_up(
    program: str, seeding: str, start: date, thatch: str, town: str
) -> None:
    """Kill and planting steps all stand in the plan, killed before sown, and sown within three years.

    Sericea takes two summers first, and a winter seeding comes half a year later.
    """
    made = sown_by(seeding, kill_program=program, thatch=thatch)
    found = plan_of(made, start, town)
    wanted = {
        step.step
        for step in tables.steps().values()
        if step.set in (program, seeding, "plot")
        and belongs(step, program, seeding, (), 5, conditions_met(made))
    }
    assert wanted <= found.keys()
    (sown,) = [slot for slot in found.values() if slot.step.operation in SOWING and not slot.step.season]
    assert sown.earliest - start <= days((4 if program == "sericea_two_summers" else 3) * 365)
    assert all(slot.latest < sown.latest for slot in found.values() if slot.step.phase == "kill")
    assert all(slot.earliest > sown.earliest for slot in found.values() if slot.step.season >= 1)


@every_way
@given(start=starts, chosen=options, place=st.sampled_from(sorted(make.climates())))
def test_no_seed_goes_in_before_the_wait_of_any_spray_is_over(
    program: str, seeding: str, start: date, chosen: tuple[str, ...], place: str
) -> None:
    """Whole windows: seed on its last day keeps the wait from a spray on its last day, as on the first."""
    made = sown_by(seeding, kill_program=program, options=chosen)
    slots = schedule(made, make.climates()[place], 5, start)
    (sown,) = [slot for slot in slots if slot.step.operation in SOWING and not slot.step.season]
    for slot in slots:
        if slot.step.order < sown.step.order:
            assert sown.earliest - slot.earliest >= days(soil_wait_days(slot.step))
            assert sown.latest - slot.latest >= days(soil_wait_days(slot.step))


@given(start=starts, chosen=options, place=st.sampled_from(sorted(make.climates())))
def test_a_release_sows_nothing_and_is_looked_after(start: date, chosen: tuple[str, ...], place: str) -> None:
    made = conversion(kill_program="release_native", seeding="none", options=chosen)
    slots = schedule(made, make.climates()[place], 5, start)
    found = by_step(slots)
    assert not [slot for slot in slots if slot.step.operation in SOWING or slot.step.phase == "plant"]
    assert not {"clip_1", "clip_2", "count_1"} & found.keys()
    first = "release_april" if "release_imazapic" in chosen else "release_spring"
    release = found["release_again" if "kill_again" in chosen else first]
    assert found["count_release_1"].earliest.year == release.latest.year
    assert found["walk_5"].earliest.year == release.latest.year + 4
    assert [slot.earliest for slot in slots] == sorted(slot.earliest for slot in slots)


def test_a_step_that_is_not_certain_is_firm_only_with_its_option() -> None:
    assert "kill_again_sod" not in plan_of(conversion(), date(2027, 7, 1))
    with_it = plan_of(conversion(options=("kill_again",)), date(2027, 7, 1))
    assert with_it["drill"].after == "kill_again_sod"
    for found in (plan_of(conversion(), date(2027, 7, 1)), with_it):
        assert not {"clip_again", "spot_again_2", "overseed_2"} & found.keys()


@pytest.mark.parametrize(("option", "step"), [("hay_first", "hay_sod"), ("graze_first", "graze_sod")])
def test_hay_or_cattle_take_the_place_of_the_mower(option: str, step: str) -> None:
    found = plan_of(conversion(options=(option,), thatch="heavy"), date(2027, 7, 1))
    assert step in found and "ready_sod" not in found
    assert found["kill_fall"].earliest - found[step].earliest >= days(28)


@given(start=starts, later=st.integers(0, 400))
def test_a_later_start_never_brings_a_step_forward(start: date, later: int) -> None:
    first, second = plan_of(conversion(), start), plan_of(conversion(), start + days(later))
    for step in ("kill_fall", "kill_spring", "drill", "clip_2"):
        assert second[step].earliest >= first[step].earliest


@given(years=st.integers(1, 5), start=starts)
def test_no_step_after_the_last_season(years: int, start: date) -> None:
    assert max(slot.step.season for slot in plan_of(conversion(), start, years=years).values()) <= years


def test_a_start_after_the_fall_window_moves_the_plan_and_says_so() -> None:
    in_time = plan_of(conversion(), date(2027, 11, 4))
    late = plan_of(conversion(), date(2027, 11, 5))
    assert in_time["kill_fall"].earliest == date(2027, 11, 4) and in_time["kill_fall"].missed is None
    assert late["kill_fall"].missed == (date(2027, 9, 14), date(2027, 11, 4))
    assert late["kill_fall"].earliest == date(2028, 9, 14)
    assert (in_time["drill"].earliest.year, late["drill"].earliest.year) == (2028, 2029)
    assert late["count_2"].earliest.year == in_time["count_2"].earliest.year + 1


def test_the_plan_says_in_words_what_was_missed() -> None:
    findings = make.plan(conversion(start_on=date(2027, 11, 20))).findings
    (late,) = [finding for finding in findings if finding.rule == "window_past"]
    assert "November 4, 2027" in late.message and "September 14, 2028" in late.reason


def test_today_is_the_start_when_it_is_the_later() -> None:
    made = conversion(start_on=date(2020, 1, 1))
    assert min(task.earliest for task in make.plan(made, today=date(2027, 3, 3)).tasks) >= date(2027, 3, 3)


@st.composite
def worked(draw: st.DrawFn) -> tuple[Conversion, date, dict[str, date]]:
    """A conversion of which the first steps are done, each on a day of its window, and the day after that."""
    program, seeding = draw(st.sampled_from(WAYS))
    made = sown_by(seeding, kill_program=program, thatch=draw(thatches), options=draw(options))
    slots = schedule(made, columbia(), 5, draw(starts))
    count = draw(st.integers(1, len(slots)))
    done: dict[str, date] = {}
    day = slots[0].earliest
    for slot in slots[:count]:
        day = max(day, slot.earliest)
        day = min(max(day, slot.earliest + days(draw(st.integers(0, 20)))), max(day, slot.latest))
        done[slot.step.step] = day
    return made, day + days(draw(st.integers(0, 500))), done


@given(worked())
def test_work_done_is_kept_and_the_plan_goes_on_from_it(
    case: tuple[Conversion, date, dict[str, date]],
) -> None:
    made, today, done = case
    made = replace(made, log=log(**done))
    slots = schedule(made, columbia(), 5, today)
    found = by_step(slots)
    for slot in slots:
        if slot.done_on is None:
            assert slot.earliest >= today
            assert in_its_moment(slot, columbia())
        else:
            assert slot.done_on == slot.earliest == slot.latest == done[slot.step.step]
    for step, day in done.items():
        kept = found[step].done_on == day
        again = found[step].repeats == day
        assert kept != again
    sown = next(slot for slot in slots if slot.step.operation in SOWING)
    if sown.step.step in done:
        assert sown.done_on and all(found[step].done_on for step in done), "nothing sown is killed again"
        assert all(slot.done_on or slot.earliest >= sown.earliest for slot in slots)


@given(worked(), st.data())
def test_a_step_not_written_down_is_passed_over(
    case: tuple[Conversion, date, dict[str, date]], data: st.DataObject
) -> None:
    """Later work in the record means that an earlier step is not planned after it."""
    made, today, done = case
    sowing = next(step for step in steps_for(made, 5) if step.operation in SOWING)
    forgotten = data.draw(st.sampled_from(sorted(done)))
    if forgotten == sowing.step:
        return
    entries = log(**{step: day for step, day in done.items() if step != forgotten})
    slots = schedule(replace(made, log=entries), columbia(), 5, today)
    chain = sorted((slot for slot in slots if slot.step.set != "upkeep"), key=lambda slot: slot.step.order)
    assert [slot.earliest for slot in chain] == sorted(slot.earliest for slot in chain)


def test_a_kill_too_old_to_build_on_is_repeated() -> None:
    done = log(kill_fall=date(2026, 10, 1))
    kept = plan_of(conversion(log=done), date(2027, 3, 1))["kill_fall"]
    again = plan_of(conversion(log=done), date(2027, 7, 1))["kill_fall"]
    assert kept.done_on == date(2026, 10, 1) and kept.repeats is None
    assert again.done_on is None and again.repeats == date(2026, 10, 1)
    assert again.earliest == date(2027, 9, 14)


def test_a_sown_field_is_never_killed_again_for_a_roll_that_was_not_logged() -> None:
    done = log(
        kill_fall=date(2026, 10, 1),
        kill_spring=date(2027, 4, 10),
        disc=date(2027, 4, 25),
        firm=date(2027, 4, 26),
        broadcast=date(2027, 4, 27),
    )
    found = plan_of(conversion(seeding="broadcast", log=done), date(2028, 6, 1))
    assert all(found[entry.step].done_on == entry.on for entry in done)
    assert "roll_in" not in found
    assert found["count_2"].earliest.year == 2028


def test_work_after_a_seeding_that_is_not_logged_is_refused_by_name() -> None:
    made = conversion(log=log(clip_1=date(2028, 6, 20)))
    with pytest.raises(ValueError, match=r"'Ridge Pasture', log: 'clip_1' is logged .* log 'drill'"):
        plan_of(made, date(2028, 7, 1))


def test_work_is_logged_on_its_day_and_not_before() -> None:
    made = conversion(log=log(kill_fall=date(2027, 10, 1)))
    assert make.plan(made, today=date(2027, 10, 1)).tasks
    with pytest.raises(ValueError, match="'Ridge Pasture', log: 'kill_fall' is logged on 2027-10-01"):
        make.plan(made, today=date(2027, 9, 30))


def test_of_work_done_twice_the_latest_day_counts() -> None:
    twice = (
        DoneStep(step="kill_fall", on=date(2027, 10, 9)),
        DoneStep(step="kill_fall", on=date(2026, 10, 9)),
    )
    assert plan_of(conversion(log=twice), date(2027, 12, 1))["kill_fall"].done_on == date(2027, 10, 9)


def test_a_burn_needs_its_breaks_first() -> None:
    found = plan_of(conversion(options=("burn",)), date(2027, 7, 1))
    assert found["burn_3"].after == "firebreak_3"
    assert found["firebreak_3"].earliest < found["burn_3"].earliest
    assert not {"mow_third_3", "mow_third_4", "mow_third_5"} & found.keys()


def test_a_step_left_out_is_left_out() -> None:
    found = plan_of(conversion(left_out=("clip_2", "ready_sod"), thatch="heavy"), date(2027, 7, 1))
    assert not {"clip_2", "ready_sod"} & found.keys()


def test_what_cannot_be_brought_together_names_field_and_steps() -> None:
    made = conversion(left_out=("kill_fall", "kill_spring"), thatch="heavy")
    with pytest.raises(
        ValueError, match="'Ridge Pasture': 'drill' never comes within 75 days of 'ready_sod'"
    ):
        plan_of(made, date(2027, 7, 1))


@pytest.mark.parametrize(
    ("changes", "named", "allowed"),
    [
        ({"kill_program": "none"}, "kill_program: 'none'", "sod_fall_spring"),
        ({"seeding": "by hand"}, "seeding: 'by hand'", "dormant"),
        ({"options": ("irrigate",)}, "options: 'irrigate'", "pre_emergent"),
        ({"left_out": ("clip_9",)}, "left_out or log: 'clip_9'", "clip_1"),
        ({"log": log(clip_9=date(2027, 1, 1))}, "left_out or log: 'clip_9'", "clip_1"),
        ({"rates_lb_per_acre": {"clip_9": 1.0}}, "rates_lb_per_acre: 'clip_9'", "kill_fall"),
        ({"rates_lb_per_acre": {"kill_fall/picloram": 1.0}}, "'kill_fall/picloram'", "kill_fall/glyphosate"),
        ({"rates_lb_per_acre": {"kill_fall_weeds": 1.0}}, "'kill_fall_weeds'", "kill_fall_weeds/2,4-D amine"),
        ({"rates_lb_per_acre": {"drill": 1.0}}, "'drill'", "sprays nothing"),
    ],
)
def test_an_unknown_choice_names_field_value_and_what_is_allowed(
    changes: dict[str, object], named: str, allowed: str
) -> None:
    with pytest.raises(UnknownChoice) as caught:
        plan_of(conversion(**changes), date(2027, 7, 1))
    for words in ("Ridge Pasture", named, allowed):
        assert words in str(caught.value)


def test_a_dormant_spray_has_no_window_where_grass_wakes_before_the_old_sod() -> None:
    """Where January is at 64 °F the window would run from January to the next one, through all growth."""
    means = (64.0, 66.0, 69.0, 73.0, 78.0, 81.0, 83.0, 83.0, 82.0, 78.0, 71.0, 66.0)
    warm = replace(
        make.columbia(), monthly_mean_f=means, last_spring_freeze="01-20", first_fall_freeze="12-28"
    )
    made = make.plan(make.conversion(kill_program="sod_spring_only"), climate=warm)
    assert not [one for one in made.tasks if one.step.startswith("spot_release")]
    assert "spot_release_2" in {of.subject for of in made.findings if of.rule == "step_dropped"}
    usual = make.plan(make.conversion(kill_program="sod_spring_only"))
    assert [one for one in usual.tasks if one.step.startswith("spot_release")]
