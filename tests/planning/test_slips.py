"""What missing a window costs: the next sound seeding, and kills that must be done again."""

from __future__ import annotations

from dataclasses import replace
from datetime import date

from plans.planning.planner import plan_job
from plans.planning.slips import slips
from tests.planning import make

TODAY = date(2026, 11, 25)


def test_a_missed_spring_kill_costs_a_year_and_another_fall_kill() -> None:
    conversion = make.conversion(kill_program="sod_fall_spring", start_on=date(2027, 7, 1))
    job, prices = make.job(conversion), make.prices()
    found = {slip.label: slip for slip in slips(job, prices, TODAY)}
    spring = found["Second kill: spray what came back"]
    assert (spring.seeding_was.year, spring.seeding_becomes.year) == (2028, 2029)
    again = plan_job(job, prices, TODAY).estimate
    fall = sum(line.price.dollars for line in again.lines if line.label.startswith("First kill"))
    assert fall > 0 and spring.extra.dollars > fall  # the kill, its product and its trip
    assert found["First kill: spray the fall regrowth"].extra.dollars == 0


def test_the_wait_is_the_difference_of_two_plans() -> None:
    for slip in slips(make.job(make.conversion(start_on=date(2027, 7, 1))), make.prices(), TODAY):
        assert slip.extra.dollars == sum(term.value for term in slip.extra.inputs)
        assert slip.seeding_becomes > slip.shuts and slip.seeding_becomes > slip.seeding_was


def test_a_field_already_sown_can_miss_no_seeding() -> None:
    sown = make.conversion(start_on=date(2026, 4, 1))
    done = make.log(kill_fall=date(2025, 10, 1), kill_spring=date(2026, 5, 1), drill=date(2026, 5, 20))
    assert slips(make.job(replace(sown, log=done)), make.prices(), TODAY) == ()
