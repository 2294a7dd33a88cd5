"""From placements to a Booking: days, rentals, miles and money."""

from __future__ import annotations

from decimal import Decimal

from plans.planning.booking import BookedVisit, Booking, DayPart, Rental, Score
from plans.planning.booking_ground import Ground, Placed, Placements


def score_of(parts: tuple[int, int, int]) -> Score:
    """A score from weighted days late, cents and days of change."""
    return Score(parts[0], Decimal(parts[1]) / 100, parts[2])


def _booked(ground: Ground, number: int, placed: Placed) -> BookedVisit:
    season, way = ground.season, placed.way
    asked = season.visits[number]
    hours = [minutes / 60 for _, minutes in way.span]
    hours[-1] = asked.hours - sum(hours[:-1])
    return BookedVisit(
        visit=asked.id,
        days=tuple(DayPart(ground.dates[day], part) for (day, _), part in zip(way.span, hours, strict=True)),
        machines=tuple(season.machines[one].id for one in way.machines if one != ground.crew),
        people=tuple(season.people[one].id for one in placed.people),
        late_days=way.late,
        change_days=way.change,
    )


def settled(ground: Ground, placements: Placements, bound: tuple[int, int, int] | None = None) -> Booking:
    """The booking of some placements, without explanations."""
    season = ground.season
    booked = [_booked(ground, number, placed) for number, placed in placements.items()]
    trips = ground.trips(placements)
    driven = [farm for machine, farm, _ in trips if not ground.towed[machine]]
    rentals = [
        Rental(
            season.machines[machine].id,
            ground.dates[first],
            ground.dates[last],
            Decimal((last - first + 1) * ground.rent[machine] + ground.delivery[machine]) / 100,
        )
        for machine in range(ground.crew)
        if ground.rented[machine]
        for first, last in ground.spells(machine, {day for used, _, day in trips if used == machine})
    ]
    return Booking(
        visits=tuple(sorted(booked, key=lambda visit: (visit.first, visit.visit))),
        unfitted=tuple(season.visits[number].id for number in ground.open if number not in placements),
        rentals=tuple(rentals),
        late_days=sum(visit.late_days for visit in booked),
        rental_days=sum(rental.days for rental in rentals),
        trips=len(driven),
        miles=sum(2 * season.travel[ground.farms[farm]].miles for farm in sorted(driven)),
        score=score_of(ground.score(placements)),
        bound=None if bound is None else score_of(bound),
    )
