"""Everything a booking says, reckoned again from the season alone and from nothing the solvers share."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator
from datetime import date, timedelta
from decimal import ROUND_HALF_UP, Decimal

from plans.planning.booking import BookedVisit, Booking, BookVisit, Machine, Season

MINUTE = 1 / 60
"""Hours are booked in whole minutes, so a day may be a minute over for each visit."""


def _day_hours(season: Season, on: date) -> float:
    if on.weekday() in season.weekdays_off or on in season.days_off:
        return 0.0
    light = min(season.daylight_hours_by_month[on.month], season.working_hours)
    return light * season.fit_share_by_month[on.month]


def _had(machine: Machine, on: date) -> bool:
    return on not in machine.booked and (
        not machine.had or any(span.first <= on <= span.last for span in machine.had)
    )


def _between(first: date, last: date) -> Iterator[date]:
    return (first + timedelta(days=number) for number in range((last - first).days + 1))


def _one_visit(season: Season, asked: BookVisit, booked: BookedVisit) -> Iterator[str]:
    days = [part.on for part in booked.days]
    if days != sorted(set(days)) or not season.first <= days[0] <= days[-1] <= season.last:
        yield "its days are out of order or outside the season"
    skipped = set(_between(days[0], days[-1])) - set(days)
    if any(_day_hours(season, on) > 0 for on in skipped):
        yield "a working day is left out between its days"
    if any(_day_hours(season, on) <= 0 for on in days):
        yield "it is booked on a day off"
    if any(part.hours <= 0 for part in booked.days):
        yield "it has a day without hours"
    if abs(sum(part.hours for part in booked.days) - asked.hours) > 1e-6:
        yield "its hours do not sum to what it takes"
    if booked.first < asked.earliest:
        yield "it begins before its window"
    late = max(0, (booked.last - asked.latest).days)
    if late != booked.late_days:
        yield f"it is {late} days late and says {booked.late_days}"
    if late > season.most_late_days:
        yield "it is later than any visit may be"
    change = 0 if asked.promised is None else abs((booked.first - asked.promised).days)
    if change != booked.change_days:
        yield f"it is {change} days from its promise and says {booked.change_days}"
    if asked.fixed and change:
        yield "it is fixed and was moved"
    machines = {machine.id: machine for machine in season.machines}
    people = {person.id: person for person in season.people}
    if len(set(booked.machines)) < len(booked.machines) or not machines.keys() >= set(booked.machines):
        yield "its machines are not those of the season, each once"
    elif not set(asked.needs) <= {name for one in booked.machines for name in machines[one].classes}:
        yield "a class of machine it needs is missing"
    elif not asked.needs and booked.machines:
        yield "it needs no machine and has one"
    elif any(not _had(machines[one], on) for one in booked.machines for on in days):
        yield "a machine is booked on a day it cannot be had"
    if len(set(booked.people)) != asked.people or not people.keys() >= set(booked.people):
        yield "its people are not as many as it needs, each once"
    elif not set(asked.skills) <= {skill for one in booked.people for skill in people[one].skills}:
        yield "a skill it needs is missing"
    elif any(on in people[one].days_off for one in booked.people for on in days):
        yield "a person is booked on a day off"


def _order(season: Season, booked: dict[str, BookedVisit]) -> Iterator[str]:
    asked = {visit.id: visit for visit in season.visits}
    for name, visit in booked.items():
        for wait in asked[name].after:
            before = booked.get(wait.visit)
            ended = asked[wait.visit].done_on or (before.last if before else None)
            if ended is None:
                yield f"{name}: is booked and {wait.visit}, which it waits for, is not"
            elif (visit.first - ended).days < max(1, wait.days):
                yield f"{name}: does not wait {wait.days} days for {wait.visit}"


def _days(season: Season, booking: Booking) -> Iterator[str]:
    """Nobody and nothing is used for more than a day holds, travel included."""
    farm_of = {visit.id: visit.farm for visit in season.visits}
    share = {machine.id: machine.day_share for machine in season.machines}
    work: defaultdict[tuple[str, str, date], float] = defaultdict(float)
    farms: defaultdict[tuple[str, str, date], set[str]] = defaultdict(set)
    counts: defaultdict[tuple[str, str, date], int] = defaultdict(int)
    for visit in booking.visits:
        for kind, ids in (("machine", visit.machines), ("person", visit.people)):
            for one in ids:
                for part in visit.days:
                    key = (kind, one, part.on)
                    work[key] += part.hours
                    farms[key].add(farm_of[visit.visit])
                    counts[key] += 1
    for key, hours in work.items():
        kind, one, on = key
        day = _day_hours(season, on) * (share.get(one, 1.0) if kind == "machine" else 1.0)
        driven = sum(2 * season.travel[farm].hours for farm in farms[key])
        if hours + driven > day + MINUTE * counts[key]:
            yield f"{kind} {one}: {hours + driven:.2f} h booked on {on}, which has {day:.2f} h"


def _cents(usd: Decimal) -> Decimal:
    return usd.quantize(Decimal("0.01"), rounding=ROUND_HALF_UP)


def _money(season: Season, booking: Booking) -> Iterator[str]:
    farm_of = {visit.id: visit.farm for visit in season.visits}
    machines = {machine.id: machine for machine in season.machines}
    trips, out = set(), defaultdict(set)
    for visit in booking.visits:
        for part in visit.days:
            for one in visit.machines or ("",):
                if not one or not machines[one].towed:
                    trips.add((one, farm_of[visit.visit], part.on))
                if one and machines[one].holding != "own":
                    out[one].add(part.on)
    legs = [season.travel[farm] for _, farm, _ in trips]
    prices = season.prices
    if len(trips) != booking.trips or abs(sum(2 * leg.miles for leg in legs) - booking.miles) > 1e-6:
        yield "trips or miles are not what the visits take"
    usd = sum(
        (_cents(2 * Decimal(str(leg.miles)) * prices.usd_per_mile + prices.usd_per_trip) for leg in legs),
        Decimal(0),
    )
    paid: defaultdict[str, set[date]] = defaultdict(set)
    for rental in booking.rentals:
        machine = machines[rental.machine]
        days = set(_between(rental.first, rental.last))
        if days & paid[machine.id]:
            yield f"{machine.id}: a day is paid for twice"
        paid[machine.id] |= days
        if any(not _had(machine, on) for on in days):
            yield f"{machine.id}: is kept on a day it cannot be had"
        if rental.usd != _cents(machine.rent_usd_per_day) * len(days) + _cents(machine.delivery_usd):
            yield f"{machine.id}: a rental is priced wrong"
    for one, days in out.items():
        if days - paid[one]:
            yield f"{one}: is used on a day that is not paid for"
    usd += sum((rental.usd for rental in booking.rentals), Decimal(0))
    if booking.rental_days != sum(map(len, paid.values())):
        yield "rental days are not those of the rentals"
    if booking.score.cost_usd != usd:
        yield f"costs {usd} and says {booking.score.cost_usd}"


def _totals(season: Season, booking: Booking) -> Iterator[str]:
    asked = {visit.id: visit for visit in season.visits}
    late = sum(asked[visit.visit].priority * visit.late_days for visit in booking.visits)
    late += sum(asked[name].priority * season.unfitted_late_days for name in booking.unfitted)
    if booking.score.late != late or booking.late_days != sum(visit.late_days for visit in booking.visits):
        yield "days late are not those of its visits"
    if booking.score.change_days != sum(visit.change_days for visit in booking.visits):
        yield "days of change are not those of its visits"
    if booking.bound is not None and booking.bound > booking.score:
        yield "it is better than its bound"
    told = {one.visit for one in booking.explanations}
    held_back = {visit.visit for visit in booking.visits if visit.late_days} | set(booking.unfitted)
    if booking.explanations and told != held_back:
        yield "explanations are not those of the late and unfitted visits"


def problems(season: Season, booking: Booking) -> tuple[str, ...]:
    """What does not hold in a booking, in words; empty when all does."""
    asked = {visit.id: visit for visit in season.visits}
    booked = {visit.visit: visit for visit in booking.visits}
    told = [*(visit.visit for visit in booking.visits), *booking.unfitted]
    if sorted(told) != sorted(visit.id for visit in season.visits if visit.done_on is None):
        return ("the visits are not those of the season, each once",)
    if any(not visit.days for visit in booking.visits):
        return ("a booked visit has no day",)
    found = [
        f"{name}: {words}"
        for name, visit in booked.items()
        for words in _one_visit(season, asked[name], visit)
    ]
    if found:
        return tuple(found)
    for part in (_days(season, booking), _money(season, booking), _totals(season, booking)):
        found += part
    return (*found, *_order(season, booked))
