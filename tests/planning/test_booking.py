"""Seasons fitted: optima worked out by hand, every booking checked anew, nothing booked twice."""

from __future__ import annotations

from collections import Counter
from dataclasses import replace
from decimal import Decimal
from itertools import combinations, permutations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from plans.planning import booking_fit
from plans.planning.booking import (
    BookedVisit,
    Booking,
    BookVisit,
    DayRange,
    Leg,
    Machine,
    Person,
    Prices,
    Season,
)
from plans.planning.booking_bound import least, packed
from plans.planning.booking_check import problems
from plans.planning.booking_days import Price
from plans.planning.booking_dive import dived
from plans.planning.booking_farms import least_by_farms
from plans.planning.booking_fit import fit
from plans.planning.booking_greedy import filled, greedy
from plans.planning.booking_ground import Ground, Placed
from plans.planning.booking_rent import TOO_DEAR, Keeping
from plans.planning.booking_settle import settled
from plans.planning.booking_shake import shaken
from tests.planning.seasons import on, season, second_mower, visit

ENOUGH = 60.0
"""Seconds; every season here is settled in a small part of it."""


def fitted(asked: Season) -> Booking:
    booking = fit(asked, ENOUGH)
    assert problems(asked, booking) == ()
    assert booking.optimal
    return booking


def booked(booking: Booking, name: str) -> BookedVisit:
    return next(one for one in booking.visits if one.visit == name)


def test_two_fields_of_a_farm_share_a_trip():
    # two half days less the hour of road fill one day: one trip of 2 × 10 miles at 1 and 5 for loading
    asked = season(visit("a", 0.4, farm="north"), visit("b", 0.5, farm="north"))
    assert fitted(asked).score.cost_usd == Decimal(25)
    assert greedy(asked).trips == 1


def test_the_road_comes_out_of_the_day():
    # 10 h with 1 h of road leave 9 h: a day of work takes two
    work = booked(fitted(season(visit("a", farm="north"))), "a")
    assert [part.hours for part in work.days] in ([9.0, 1.0], [1.0, 9.0])


def test_a_rented_machine_is_kept_over_a_short_gap_and_brought_anew_after_a_long_one():
    # the own mower is out on days 0-9; gaps of 1 day (100 < 150) and of 4 (400 > 150)
    days = (0, 2, 7)
    asked = season(
        *(visit(str(day), window=(day, day)) for day in days),
        machines=(Machine(id="mower", classes=("mower",), booked=tuple(map(on, range(10)))), second_mower()),
        prices=Prices(),
    )
    booking = fitted(asked)
    assert [(rental.first, rental.last) for rental in booking.rentals] == [(on(0), on(2)), (on(7), on(7))]
    assert booking.score.cost_usd == Decimal(4 * 100 + 2 * 150)


def test_lateness_comes_before_any_cost():
    # two days of work due on day 0: a rented mower for 250 saves one day late
    asked = season(visit("a", window=(0, 0)), visit("b", window=(0, 0)), prices=Prices())
    assert fitted(asked).score.late == 1
    rented = replace(asked, machines=(*asked.machines, second_mower()))
    assert (fitted(rented).score.late, fitted(rented).score.cost_usd) == (0, Decimal(250))


def test_the_more_important_visit_is_the_one_on_time():
    booking = fitted(season(visit("a", window=(0, 0)), visit("b", window=(0, 0), priority=2)))
    assert booked(booking, "a").late_days == 1


def test_a_wait_is_kept_from_last_day_to_first_day():
    # two days, then five days from the second of them
    asked = season(visit("a", 2.0), visit("b", window=(0, 20), after=(("a", 5),), promised=on(0)))
    booking = fitted(asked)
    assert (booked(booking, "b").first - booked(booking, "a").last).days == 5
    assert booking.score.change_days == 6


def test_work_done_starts_the_wait_and_takes_no_time():
    asked = season(visit("a", done_on=on(3)), visit("b", window=(0, 9), after=(("a", 4),), promised=on(0)))
    assert [(one.visit, one.first) for one in fitted(asked).visits] == [("b", on(7))]


def test_a_fixed_visit_stays_and_the_other_goes_around_it():
    asked = season(visit("a", window=(0, 1)), visit("b", fixed=True, promised=on(0)))
    assert booked(fitted(asked), "a").first == on(1)
    assert booked(greedy(asked), "b").first == on(0)


def test_a_long_visit_goes_on_after_a_day_off():
    # Saturday is day 5, Sunday day 6
    work = booked(fitted(season(visit("a", 2.0, window=(5, 9)), weekdays_off=(6,), days=8)), "a")
    assert [part.on for part in work.days] == [on(5), on(7)]


def test_tractor_and_drill_go_together_and_one_machine_may_be_both():
    asked = season(
        visit("a", needs=("tractor", "drill")),
        machines=(
            Machine(id="red", classes=("tractor",)),
            Machine(id="drill", classes=("drill",), towed=True),
        ),
    )
    assert set(booked(fitted(asked), "a").machines) == {"red", "drill"}
    assert fitted(asked).trips == 1
    both = replace(asked, machines=(*asked.machines, Machine(id="both", classes=("tractor", "drill"))))
    assert booked(fitted(both), "a").machines in (("both",), ("red", "drill"), ("drill", "red"))


def test_who_sprays_holds_the_certificate_and_is_there():
    people = (Person(id="Ada", skills=("applicator",), days_off=(on(0), on(1))), Person(id="Ben"))
    work = booked(fitted(season(visit("a", skills=("applicator",), promised=on(0)), people=people)), "a")
    assert (work.people, work.first) == (("Ada",), on(2))


def test_weather_shortens_the_day():
    asked = season(visit("a", 1.0), fit_share_by_month={6: 0.5, 7: 0.5})
    assert len(booked(fitted(asked), "a").days) == 2


def test_a_taken_machine_is_named_with_the_price_of_another():
    prices = Prices(
        rent_usd_per_day_by_class={"mower": Decimal(120)}, delivery_usd_by_class={"mower": Decimal(80)}
    )
    asked = season(visit("a", window=(0, 0)), visit("b", window=(0, 0)), prices=prices)
    (why,) = fitted(asked).explanations
    assert (why.binds, why.what, why.usd, why.late_days) == ("machine", "mower", Decimal("200.00"), 1)
    assert "10.0 of 10.0 h" in why.words


def test_short_hands_are_named_with_the_price_of_a_day():
    asked = season(
        visit("a", window=(0, 0)),
        visit("b", window=(0, 0)),
        machines=(Machine(id="mower", classes=("mower",)), Machine(id="mower 2", classes=("mower",))),
        people=(Person(id="Ada"),),
        prices=Prices(hire_usd_per_person_day=Decimal(200)),
    )
    (why,) = fitted(asked).explanations
    assert (why.binds, why.usd) == ("person", Decimal("200.00"))


@pytest.mark.parametrize(
    ("visits", "changes", "binds"),
    [
        ((visit("a", window=(0, 0)), visit("b", window=(0, 1), after=(("a", 5),))), {}, "wait"),
        ((visit("b", 3.0, window=(0, 1)),), {}, "window"),
        ((visit("b", 2.0, window=(0, 1)),), {"fit_share_by_month": {6: 0.5, 7: 0.5}}, "weather"),
        ((visit("b", needs=("drill",)),), {}, "machine"),
        ((visit("b", skills=("burn boss",)),), {}, "person"),
        ((visit("a", needs=("drill",)), visit("b", after=(("a", 1),))), {}, "order"),
        ((visit("b", 2.0, window=(0, 2), fixed=True, promised=on(2)),), {}, "fixed"),
    ],
)
def test_what_binds_is_told(visits: tuple[BookVisit, ...], changes: dict[str, object], binds: str):
    asked = season(*visits, **changes)
    assert {one.visit: one.binds for one in fitted(asked).explanations}["b"] == binds
    assert problems(asked, greedy(asked)) == ()


def test_the_last_free_days_are_used_and_no_more():
    # a visit that may be no day late and has no day in its window is left out
    asked = season(*(visit(name, window=(0, 1)) for name in "abc"), most_late_days=0)
    assert len(fitted(asked).unfitted) == 1


@settings(max_examples=12)
@given(
    st.lists(st.tuples(st.integers(1, 3), st.integers(0, 6), st.integers(1, 3)), min_size=2, max_size=5),
)
def test_whole_days_on_one_machine_are_in_the_best_of_all_orders(jobs: list[tuple[int, int, int]]):
    asked = season(
        *(visit(str(n), float(days), (0, due), priority=p) for n, (days, due, p) in enumerate(jobs)),
        prices=Prices(),
    )
    least = None
    for order in permutations(jobs):
        end, late = -1, 0
        for days, due, priority in order:
            end += days
            late += priority * max(0, end - due)
        least = late if least is None else min(least, late)
    assert fitted(asked).score.late == least


@st.composite
def seasons(draw: st.DrawFn) -> Season:
    farms = ("home", "north", "south")
    visits = []
    for number in range(draw(st.integers(1, 7))):
        opens = draw(st.integers(-2, 10))
        kind = draw(st.sampled_from([("mower",), ("drill", "tractor"), ("mower",), ()]))
        after = draw(st.sampled_from([(), ((str(number - 1), draw(st.integers(0, 4))),)])) if number else ()
        promised = draw(st.none() | st.integers(0, 12).map(on))
        visits.append(
            visit(
                str(number),
                draw(st.sampled_from([0.05, 0.3, 0.333, 0.7, 1.0, 1.9])),
                (opens, opens + draw(st.integers(0, 6))),
                farm=draw(st.sampled_from(farms)),
                needs=kind,
                after=after,
                people=draw(st.integers(1, 2)),
                skills=draw(st.sampled_from([(), (), ("applicator",)])),
                priority=draw(st.integers(1, 3)),
                promised=promised,
                fixed=promised is not None and draw(st.booleans()),
                done_on=draw(st.sampled_from([None, None, None, on(-3), on(2)])),
            )
        )
    days_off = draw(st.lists(st.integers(0, 15).map(on), max_size=3))
    return season(
        *visits,
        days=16,
        machines=(
            Machine(id="mower", classes=("mower",), booked=tuple(days_off), day_share=0.9),
            second_mower(had=(DayRange(on(2), on(9)),)),
            Machine(id="tractor", classes=("tractor", "mower")),
            Machine(id="drill", classes=("drill",), towed=True, holding="borrowed", delivery_usd=Decimal(40)),
        ),
        people=(
            Person(id="Ada", skills=("applicator",), days_off=(on(1), on(4))),
            Person(id="Ben"),
            Person(id="Cal", skills=("applicator",)),
        )[: draw(st.integers(2, 3))],
        travel={"home": Leg(0.0, 0.0), "north": Leg(12.3, 0.4), "south": Leg(20.0, 0.51)},
        fit_share_by_month={6: draw(st.sampled_from([0.57, 1.0]))},
        weekdays_off=(6,),
        most_late_days=draw(st.integers(0, 6)),
    )


def nobody_is_double_booked(asked: Season, booking: Booking) -> None:
    hours: Counter[tuple[str, object]] = Counter()
    for one in booking.visits:
        for part in one.days:
            for who in (*one.machines, *one.people):
                hours[who, part.on] += part.hours
    most = 10 * asked.fit_share_by_month[6] + 1e-6
    assert all(count <= most for count in hours.values())


@settings(max_examples=40)
@given(seasons())
def test_every_booking_holds_and_a_fit_is_never_worse(asked: Season):
    first = greedy(asked)
    best = fit(asked, ENOUGH, workers=1)
    for booking in (first, best):
        assert problems(asked, booking) == ()
        nobody_is_double_booked(asked, booking)
        held = {one.visit for one in booking.visits if one.late_days} | set(booking.unfitted)
        assert {one.visit for one in booking.explanations} == held
    assert best.optimal and best.score <= first.score


@settings(max_examples=8)
@given(asked=seasons())
def test_part_by_part_holds_too_and_its_bound_is_none_too_high(asked: Season):
    best = fit(asked, ENOUGH, workers=1)
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(booking_fit, "ONE_PROGRAM", 0)
        part = fit(asked, 1.0)
    assert problems(asked, part) == ()
    assert part.bound is not None and part.bound <= best.score <= part.score


def proven(asked: Season, most_late: int, late_cents: int) -> int:
    """Least of days late at a price and cents that the packed days prove [thousandths of a cent]."""
    ground = Ground(asked)
    packings = packed(ground, Price(late_cents * 1000, 1000), most_late, filled(ground))
    return max(least(packings, lambda: ENOUGH), default=0)


def proven_by_farms(asked: Season, late_cents: int) -> int:
    """The same by whole farms."""
    ground, price = Ground(asked), Price(late_cents * 1000, 1000)
    packings = packed(ground, price, asked.most_late_days, {})
    first = filled(ground)
    return sum(
        max(
            least_by_farms(
                ground, list(one.ways), price, asked.most_late_days, one.takes(first), lambda: ENOUGH
            ),
            default=0,
        )
        for one in packings
    )


@settings(max_examples=40)
@given(seasons(), st.sampled_from([1, 700, 50_000]))
def test_the_packed_days_prove_no_more_than_the_best_booking_takes(asked: Season, late_cents: int):
    best = fit(asked, ENOUGH, workers=1)
    reached = best.score.late * late_cents + int(best.score.cost_usd * 100)
    assert best.optimal
    assert proven(asked, asked.most_late_days, late_cents) <= reached * 1000
    assert proven_by_farms(asked, late_cents) <= reached * 1000


def test_the_proof_counts_whole_rented_days():
    # by their hours five visits of 0.6 days take three days; no two of them share one: 5 × 100 and 150
    five = (visit(name, 0.6, (0, 4)) for name in "abcde")
    asked = season(*five, machines=(second_mower(),), prices=Prices())
    assert fitted(asked).score.cost_usd == 650
    assert proven(asked, 0, 50_000) == 65_000_000


def test_the_proof_counts_every_trip_of_a_visit_that_takes_days():
    # 9.5 h where a day leaves 9: two trips of 25, though by its hours 1.06 of the best day would do
    asked = season(visit("a", 0.95, farm="north"))
    assert fitted(asked).score.cost_usd == 50
    assert 4_995_000 <= proven(asked, 0, 50_000) <= 5_000_000


@settings(max_examples=40)
@given(st.lists(st.integers(0, 400), min_size=5, max_size=5), st.integers(0, 5), st.sampled_from([(), (2,)]))
def test_rent_is_the_least_over_all_days_it_could_be_kept(
    earned: list[int], worked: int, out: tuple[int, ...]
):
    # day 1 is off, day 3 the machine is not to be had
    had = (DayRange(on(0), on(2)), DayRange(on(4), on(4)))
    ground = Ground(season(days=5, days_off=(on(1),), machines=(second_mower(had=had),)))
    keeping = Keeping(ground, 0, dict(enumerate(earned)), Price(1, 1), out)
    costs = []
    for days in (days for size in range(6) for days in combinations((0, 1, 2, 4), size)):
        if set(out) <= set(days) and sum(day != 1 for day in days) == worked:
            brought = sum(day - 1 not in days for day in days)
            costs.append(sum(10_000 - earned[day] for day in days) + 15_000 * brought)
    cost, kept = keeping.least(worked, worked)
    assert cost == min(costs, default=TOO_DEAR)
    assert not costs or sum(day != 1 for day in kept) == worked


def test_a_dive_packs_the_days_of_a_rented_machine():
    # pairs of 0.3 and 0.7 fill four days; the greedy booking may take more
    parts = (0.3, 0.7) * 4
    asked = season(
        *(visit(str(n), part, (0, 9)) for n, part in enumerate(parts)),
        machines=(second_mower(),),
        prices=Prices(),
    )
    ground = Ground(asked)
    (packing,) = packed(ground, Price(50_000_000, 1000), 0, {})
    while packing.improve():
        pass
    packing.solution()
    found = dived(packing, {}, 0, lambda: ENOUGH)
    assert found is not None and ground.score(found) == (0, 55_000, 0)
    assert problems(asked, settled(ground, found)) == ()


def test_a_shake_empties_a_rented_day_that_is_not_needed():
    asked = season(visit("a", 0.4), visit("b", 0.4), machines=(*season().machines, second_mower()))
    ground = Ground(asked)
    dear = {
        number: Placed(next(way for way in ground.ways[number] if way.machines == (1,)), (number,))
        for number in ground.open
    }
    assert ground.score(dear)[1] > 25000
    shaken_out = shaken(ground, dear, 30, np.random.default_rng(0))
    assert ground.score(shaken_out) == (0, 500, 0)


def tampered(booking: Booking, **changes: object) -> Booking:
    return replace(booking, visits=(replace(booking.visits[0], **changes), *booking.visits[1:]))


def test_the_check_sees_what_was_tampered_with():
    asked = season(
        visit("a", window=(0, 0)), visit("b", window=(0, 0)), machines=(second_mower(),), prices=Prices()
    )
    good = fitted(asked)
    first = good.visits[0]
    bad = [
        replace(good, rentals=()),
        replace(good, rental_days=0),
        replace(good, trips=7),
        replace(good, late_days=0),
        replace(good, unfitted=("a",)),
        replace(good, visits=good.visits[1:]),
        replace(good, score=replace(good.score, cost_usd=Decimal(1))),
        replace(good, bound=replace(good.score, late=9)),
        tampered(good, machines=()),
        tampered(good, people=()),
        tampered(good, people=("Zoe",)),
        tampered(good, late_days=5),
        tampered(good, days=good.visits[1].days, late_days=good.visits[1].late_days),
        tampered(good, days=(replace(first.days[0], hours=3.0),)),
    ]
    assert [number for number, one in enumerate(bad) if not problems(asked, one)] == []


def test_each_better_booking_is_told_and_a_stop_keeps_the_greedy_one():
    asked = season(
        *(visit(str(n), 1 + n % 3, (0, 3 + n % 5), priority=1 + n % 4, farm="north") for n in range(8))
    )
    told: list[Booking] = []
    best = fit(asked, ENOUGH, on_better=lambda booking, bound: told.append(booking))
    scores = [one.score for one in told]
    assert scores == sorted(set(scores), reverse=True)
    assert scores[-1] == best.score
    assert all(problems(asked, one) == () for one in told)
    assert fit(asked, ENOUGH, should_stop=lambda: True).score == greedy(asked).score


def test_the_same_season_gets_the_same_booking():
    asked = season(*(visit(str(n), 0.7, (n % 3, 4 + n), farm=("north", "south")[n % 2]) for n in range(7)))
    assert fitted(asked) == fitted(asked)


@pytest.mark.parametrize(
    ("changes", "said"),
    [
        ({"visits": (visit("a"), visit("a"))}, "stands twice"),
        ({"visits": (visit("a", after=(("b", 1),)), visit("b", after=(("a", 1),)))}, "ring"),
        ({"visits": (visit("a", after=(("z", 1),)),)}, "not in the season"),
        ({"visits": (visit("a", farm="nowhere"),)}, "no travel"),
        ({"visits": (visit("a", 0.0),)}, "hours"),
        ({"visits": (visit("a", fixed=True),)}, "promised"),
        ({"fit_share_by_month": {}}, "fit_share_by_month"),
        ({"last": on(-1)}, "ends before"),
    ],
)
def test_what_does_not_add_up_is_refused_in_words(changes: dict[str, object], said: str):
    with pytest.raises(ValueError, match=said):
        greedy(replace(season(), **changes))
