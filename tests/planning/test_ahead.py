"""Work added to agreed work: what a step that may be needed brings, when it is due and what it costs."""

from __future__ import annotations

from dataclasses import replace
from datetime import date

from plans.planning import ahead
from plans.planning.contingent import price_of_step
from plans.planning.job import Climate, Conversion
from plans.planning.planner import plan_job
from plans.planning.tables import steps
from tests.planning import make
from tests.planning.make import conversion, log

YEARS, START = 5, date(2027, 7, 1)
KILLED = log(kill_fall=date(2027, 9, 20), kill_spring=date(2028, 4, 10))


def climate() -> Climate:
    return make.example().job.climate


def windows(field: Conversion, start: date = START) -> dict[str, ahead.Window]:
    return ahead.windows(field, climate(), YEARS, start)


def test_a_kill_made_firm_goes_before_the_seeding_and_moves_it() -> None:
    field = conversion(log=KILLED)
    before, after = windows(field), windows(ahead.made_firm(field, ["kill_again_sod"], YEARS))
    assert after.keys() - before.keys() == {"kill_again_sod"}
    assert after["kill_again_sod"].opens >= date(2028, 5, 1)
    assert after["drill"].opens > after["kill_again_sod"].opens
    assert "drill" in {shift.step for shift in ahead.shifts(before, after)}


def test_of_an_option_only_what_was_added_is_firm() -> None:
    field = conversion(kill_program="sod_spring_only")
    both = [step.step for step in ahead.comes_with(field, "kill_again_late", YEARS)]
    assert both == ["kill_again_late", "kill_again_next_spring"]
    assert {*both} <= windows(ahead.made_firm(field, both, YEARS)).keys()
    alone = ahead.made_firm(field, both[1:], YEARS)
    assert alone.left_out == ("kill_again_late",) and alone.options == ("kill_again",)
    assert ahead.comes_with(ahead.made_firm(field, both, YEARS), "kill_again_late", YEARS) == ()
    assert ahead.made_firm(field, [], YEARS) is field


def test_a_step_is_held_until_the_day_it_was_added() -> None:
    firm = ahead.made_firm(conversion(log=KILLED), ["kill_again_sod"], YEARS)
    free = ahead.slots(firm, climate(), YEARS, START)
    day = date(2028, 5, 20)
    held = ahead.slots(firm, climate(), YEARS, START, {"kill_again_sod": day})
    assert free["kill_again_sod"].earliest < day == held["kill_again_sod"].earliest
    assert held["drill"].after == "kill_again_sod"


def test_a_step_beside_the_chain_takes_its_own_next_window() -> None:
    field = conversion()
    planned = windows(field)
    early = ahead.alone(field, climate(), YEARS, START, "overseed_2", START)
    assert early.earliest > planned["count_2"].opens
    clip = ahead.alone(field, climate(), YEARS, START, "clip_again", START)
    assert clip.after == "clip_2" and (clip.earliest - planned["clip_2"].opens).days >= 21
    late = ahead.alone(field, climate(), YEARS, START, "overseed_2", date(2033, 1, 10))
    assert late.earliest.year == 2033


def test_one_step_costs_what_it_adds_to_the_range() -> None:
    field = conversion()
    job = replace(make.example().job, conversions=(field,))
    prices = make.prices()
    ranged = plan_job(job, prices, make.TODAY).estimate.range
    assert ranged is not None and ranged.steps
    for step in ranged.steps:
        price = price_of_step(steps()[step.step], field, job, prices, make.TODAY.year)
        assert price is not None and price.dollars == step.price.dollars
