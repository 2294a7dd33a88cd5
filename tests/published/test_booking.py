"""Fitted seasons against theorems and instances of the scheduling literature, all recalled from memory."""

from __future__ import annotations

from math import isclose

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from plans.planning.booking import Machine, Prices, Season
from plans.planning.booking_check import problems
from plans.planning.booking_fit import fit
from plans.planning.booking_greedy import greedy
from plans.planning.booking_ground import daylight_hours, fit_shares
from tests.planning.seasons import season, visit

# Fisher and Thompson 1963, the 6 × 6 instance: machine and days of each operation, job by job.
FT06 = (
    ((2, 1), (0, 3), (1, 6), (3, 7), (5, 3), (4, 6)),
    ((1, 8), (2, 5), (4, 10), (5, 10), (0, 10), (3, 4)),
    ((2, 5), (3, 4), (5, 8), (0, 9), (1, 1), (4, 7)),
    ((1, 5), (0, 5), (2, 5), (3, 3), (4, 8), (5, 9)),
    ((2, 9), (1, 3), (4, 5), (5, 4), (0, 3), (3, 1)),
    ((1, 3), (3, 3), (5, 9), (0, 10), (4, 4), (2, 1)),
)


def job_shop(deadline: int) -> Season:
    """Every job over within `deadline` days, or its last visits left out."""
    visits = []
    for job, steps in enumerate(FT06):
        left = sum(days for _, days in steps)
        begins = 0
        for number, (machine, days) in enumerate(steps):
            left -= days
            visits.append(
                visit(
                    f"{job}/{number}",
                    float(days),
                    (begins, deadline - left - 1),
                    needs=(f"machine {machine}",),
                    after=((f"{job}/{number - 1}", 1),) if number else (),
                    people=0,
                )
            )
            begins += days
    return season(
        *visits,
        days=deadline,
        machines=tuple(Machine(id=f"m{n}", classes=(f"machine {n}",)) for n in range(6)),
        people=(),
        prices=Prices(),
        most_late_days=0,
    )


@pytest.mark.parametrize(("deadline", "on_time"), [(55, True), (54, False)])
def test_six_by_six_job_shop_takes_55_days(deadline: int, on_time: bool):
    # least makespan 55: Fisher and Thompson 1963, settled since the 1970s
    asked = job_shop(deadline)
    booking = fit(asked, 120.0)
    assert problems(asked, booking) == ()
    assert booking.optimal
    assert (booking.unfitted == ()) == on_time


JOBS = st.lists(st.tuples(st.integers(1, 3), st.integers(0, 8)), min_size=2, max_size=7)


def one_mower(jobs: list[tuple[int, int]], **changes: object) -> Season:
    visits = (visit(str(n), float(days), (0, due), people=0) for n, (days, due) in enumerate(jobs))
    return season(*visits, days=40, most_late_days=39, prices=Prices(), **changes)


@settings(deadline=None)
@given(JOBS)
def test_the_greedy_booking_has_the_least_greatest_lateness(jobs: list[tuple[int, int]]):
    # earliest due date first makes the greatest lateness least: Jackson 1955
    end, worst = -1, 0
    for days, due in sorted(jobs, key=lambda job: job[1]):
        end += days
        worst = max(worst, end - due)
    assert max(one.late_days for one in greedy(one_mower(jobs)).visits) == worst


@settings(max_examples=15, deadline=None)
@given(st.lists(st.tuples(st.integers(1, 4), st.integers(1, 5)), min_size=2, max_size=6))
def test_weighted_waiting_is_least_by_weight_over_time(jobs: list[tuple[int, int]]):
    # all due on day 0: the least sum of weighted ends is in the order of weight / time, Smith 1956
    visits = (visit(str(n), float(days), (0, 0), priority=p, people=0) for n, (days, p) in enumerate(jobs))
    asked = season(*visits, days=30, most_late_days=29, prices=Prices(), people=())
    end, least = -1, 0
    for days, priority in sorted(jobs, key=lambda job: job[0] / job[1]):
        end += days
        least += priority * end
    booking = fit(asked, 60.0)
    assert booking.optimal and booking.score.late == least


def fewest_late(jobs: list[tuple[int, int]]) -> int:
    """By due date, and whenever one is late the longest so far is put off: Moore 1968."""
    kept: list[int] = []
    for days, due in sorted(jobs, key=lambda job: job[1]):
        kept.append(days)
        if sum(kept) - 1 > due:
            kept.remove(max(kept))
    return len(jobs) - len(kept)


def left_out(jobs: list[tuple[int, int]]) -> int:
    visits = (visit(str(n), float(days), (0, due), people=0) for n, (days, due) in enumerate(jobs))
    booking = fit(season(*visits, days=30, most_late_days=0, prices=Prices()), 60.0)
    assert booking.optimal
    return len(booking.unfitted)


def test_as_few_are_left_out_as_in_a_textbook():
    # times 7 8 4 6 6, due 9 17 18 19 21: two late; Pinedo, Scheduling, the example to Moore's algorithm
    jobs = [(7, 8), (8, 16), (4, 17), (6, 18), (6, 20)]
    assert fewest_late(jobs) == left_out(jobs) == 2


@settings(max_examples=15, deadline=None)
@given(JOBS)
def test_as_few_are_left_out_as_by_moore(jobs: list[tuple[int, int]]):
    assert left_out(jobs) == fewest_late(jobs)


def test_daylight_as_in_almanacs():
    # 40° N, about 15 June 15.0 h, 15 December 9.3 h, equinox a little over 12 h by refraction
    light = daylight_hours(40.0)
    assert isclose(light[6], 15.0, abs_tol=0.1)
    assert isclose(light[12], 9.3, abs_tol=0.1)
    assert isclose(daylight_hours(0.0)[3], 12.1, abs_tol=0.05)


def test_the_reliable_share_is_under_the_mean():
    # mean shares April 0.45 to August 0.80: federal crop progress, central states, from memory
    shares = fit_shares()
    assert set(shares) == set(range(1, 13))
    assert 0.25 < shares[4] < 0.45
    assert 0.6 < shares[8] < 0.80
