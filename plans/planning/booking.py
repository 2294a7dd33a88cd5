"""What is asked when a season is fitted to machines, people and weather, and what comes back.

Days are the grain: a booking says which day or days a visit takes and who and what goes there, not the hour.
A visit that fits into one day takes one. A longer one takes consecutive working days, whole ones but for its
first or its last. A visit that waits for another never shares a day with it.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date
from decimal import Decimal
from typing import Literal

from plans.planning.money import ZERO

Holding = Literal["own", "borrowed", "rented"]
Cause = Literal["machine", "person", "machine and person", "wait", "window", "weather", "fixed", "order"]
SUNDAY = 6


@dataclass(frozen=True, slots=True)
class Wait:
    """Work that must be over before, and how long: first day ≥ last day of `visit` + `days` [days].

    0 counts as 1: the day after at the soonest.
    """

    visit: str
    days: int = 0


@dataclass(frozen=True, slots=True)
class DayRange:
    """From `first` to `last`, both included."""

    first: date
    last: date


@dataclass(frozen=True, slots=True, kw_only=True)
class BookVisit:
    """One operation on one field."""

    id: str
    farm: str
    field: str
    operation: str
    hours: float
    """Machine hours in the field [h], or those of each person where no machine goes."""
    earliest: date
    latest: date
    """Last sound day to end on; a booking may run over by `Season.most_late_days`."""
    after: tuple[Wait, ...] = ()
    needs: tuple[str, ...] = ()
    """Classes of machine that are needed together: tractor and drill. Empty: people alone."""
    people: int = 1
    skills: tuple[str, ...] = ()
    """Each held by at least one of the people who go."""
    priority: int = 1
    """Weight of a day late, 1 to 100."""
    promised: date | None = None
    fixed: bool = False
    """Stays on the promised day: it begins then or not at all."""
    done_on: date | None = None
    """Already done: takes no time, and what waits for it counts from this day."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Machine:
    id: str
    classes: tuple[str, ...]
    """What it can stand in for."""
    holding: Holding = "own"
    had: tuple[DayRange, ...] = ()
    """When it can be had; empty: all season."""
    booked: tuple[date, ...] = ()
    """Days on which it is out already."""
    rent_usd_per_day: Decimal = ZERO
    """Paid for every calendar day it is kept, unless it is the practice's own."""
    delivery_usd: Decimal = ZERO
    """Paid each time it is brought anew."""
    day_share: float = 1.0
    """Part of a day's working hours that it can run."""
    towed: bool = False
    """Rides along with another machine: its trips cost no miles of their own."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Person:
    id: str
    skills: tuple[str, ...] = ()
    days_off: tuple[date, ...] = ()


@dataclass(frozen=True, slots=True)
class Leg:
    """One way from the yard to a farm."""

    miles: float
    hours: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Prices:
    """What time and road cost. `*_by_class` and `hire_*` only price what an explanation offers."""

    usd_per_mile: Decimal = ZERO
    usd_per_trip: Decimal = ZERO
    """Loading and unloading, per machine and farm day."""
    rent_usd_per_day_by_class: Mapping[str, Decimal] = field(default_factory=dict)
    delivery_usd_by_class: Mapping[str, Decimal] = field(default_factory=dict)
    hire_usd_per_person_day: Decimal | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Season:
    """A season's visits and what there is to do them with."""

    first: date
    last: date
    visits: tuple[BookVisit, ...]
    machines: tuple[Machine, ...]
    people: tuple[Person, ...]
    travel: Mapping[str, Leg]
    """By farm. A farm day is a round trip; its hours come out of the day of each who goes."""
    fit_share_by_month: Mapping[int, float]
    """Part of the working hours that weather and ground allow: plan on the reliable share, not the mean."""
    daylight_hours_by_month: Mapping[int, float]
    working_hours: float = 10.0
    """Most hours worked in a day, however long the light [h]."""
    weekdays_off: tuple[int, ...] = (SUNDAY,)
    """Monday is 0."""
    days_off: tuple[date, ...] = ()
    most_late_days: int = 21
    """A visit that would end later than this after its window is left unfitted."""
    prices: Prices = field(default_factory=Prices)

    @property
    def unfitted_late_days(self) -> int:
        """What an unfitted visit counts as when bookings are compared [days late]."""
        return self.most_late_days + 30


@dataclass(frozen=True, slots=True)
class DayPart:
    on: date
    hours: float


@dataclass(frozen=True, slots=True)
class BookedVisit:
    visit: str
    days: tuple[DayPart, ...]
    """In order; the hours sum to the visit's."""
    machines: tuple[str, ...]
    people: tuple[str, ...]
    late_days: int
    change_days: int
    """Days between the promised and the booked first day."""

    @property
    def first(self) -> date:
        return self.days[0].on

    @property
    def last(self) -> date:
        return self.days[-1].on


@dataclass(frozen=True, slots=True)
class Rental:
    """A machine kept from `first` to `last` with one delivery."""

    machine: str
    first: date
    last: date
    usd: Decimal

    @property
    def days(self) -> int:
        return (self.last - self.first).days + 1


@dataclass(frozen=True, slots=True, order=True)
class Score:
    """How bookings are compared: the first part decides, then the second, then the third."""

    late: int
    """Days late × priority, unfitted visits at `Season.unfitted_late_days`."""
    cost_usd: Decimal
    change_days: int


@dataclass(frozen=True, slots=True)
class Explanation:
    """What holds a late or unfitted visit back, with all other visits left where they are."""

    visit: str
    late_days: int | None
    """None: unfitted."""
    binds: Cause
    what: str
    """The class, skill or visit that binds; empty where it is none of them."""
    words: str
    way_out: str
    usd: Decimal | None
    """Price of the way out; None where no price is listed or money does not help."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Booking:
    visits: tuple[BookedVisit, ...]
    """In order of their first day; visits done already are not among them."""
    unfitted: tuple[str, ...]
    rentals: tuple[Rental, ...]
    late_days: int
    """Sum over the booked visits."""
    rental_days: int
    trips: int
    miles: float
    score: Score
    bound: Score | None = None
    """No booking of this season scores less; None where none has been reckoned."""
    explanations: tuple[Explanation, ...] = ()

    @property
    def optimal(self) -> bool:
        return self.bound == self.score

    @property
    def gap(self) -> float | None:
        """Share by which the best may be better: of the lateness while that is open, else of the cost."""
        if self.bound is None:
            return None
        if self.score.late > self.bound.late:
            return (self.score.late - self.bound.late) / self.score.late
        if self.score.cost_usd > self.bound.cost_usd:
            return float((self.score.cost_usd - self.bound.cost_usd) / self.score.cost_usd)
        return 0.0


def _twice(what: str, ids: list[str]) -> None:
    for name in ids:
        if ids.count(name) > 1:
            raise ValueError(f"{what}: {name!r} stands twice; give each a name of its own")


def _check_order(visits: tuple[BookVisit, ...]) -> None:
    waits = {visit.id: {wait.visit for wait in visit.after} for visit in visits}
    while ready := [name for name, before in waits.items() if not before & waits.keys()]:
        for name in ready:
            del waits[name]
    if waits:
        raise ValueError(
            f"after: {', '.join(sorted(waits))} wait for each other in a ring; take one wait out"
        )


def check(season: Season) -> None:
    """Raises ValueError naming the part of a season that does not add up, and how to mend it."""
    if season.last < season.first:
        raise ValueError("last: the season ends before it begins")
    if season.working_hours <= 0 or season.most_late_days < 0:
        raise ValueError("working_hours must be over 0 and most_late_days 0 or more")
    known = {visit.id for visit in season.visits}
    if len(known) < len(season.visits):
        _twice("visits", [visit.id for visit in season.visits])
    _twice("machines", [machine.id for machine in season.machines])
    _twice("people", [person.id for person in season.people])
    day = season.first.replace(day=1)
    while day <= season.last:
        if not 0 <= season.fit_share_by_month.get(day.month, -1) <= 1:
            raise ValueError(f"fit_share_by_month: month {day.month} needs a share from 0 to 1")
        if not 0 <= season.daylight_hours_by_month.get(day.month, -1) <= 24:
            raise ValueError(f"daylight_hours_by_month: month {day.month} needs 0 to 24 hours")
        day = date(day.year + day.month // 12, day.month % 12 + 1, 1)
    for machine in season.machines:
        if not 0 < machine.day_share <= 1:
            raise ValueError(f"machine {machine.id}: day_share must be over 0 and at most 1")
        if min(machine.rent_usd_per_day, machine.delivery_usd) < 0:
            raise ValueError(f"machine {machine.id}: rent and delivery must be 0 or more")
    if min(season.prices.usd_per_mile, season.prices.usd_per_trip) < 0:
        raise ValueError("prices: per mile and per trip must be 0 or more")
    for farm, leg in season.travel.items():
        if leg.miles < 0 or leg.hours < 0:
            raise ValueError(f"travel: {farm!r} needs miles and hours of 0 or more")
    for visit in season.visits:
        if visit.farm not in season.travel:
            raise ValueError(f"visit {visit.id}: farm {visit.farm!r} has no travel; give its miles and hours")
        if not visit.hours > 0:
            raise ValueError(f"visit {visit.id}: hours must be over 0")
        if visit.latest < visit.earliest:
            raise ValueError(f"visit {visit.id}: latest is before earliest")
        if visit.people < 0 or not (visit.people or visit.needs) or visit.skills and not visit.people:
            raise ValueError(f"visit {visit.id}: needs a machine or people, and people for its skills")
        if not 1 <= visit.priority <= 100:
            raise ValueError(f"visit {visit.id}: priority must be from 1 to 100")
        if visit.fixed and visit.promised is None and visit.done_on is None:
            raise ValueError(f"visit {visit.id}: is fixed and has no promised day to stay on")
        for wait in visit.after:
            if wait.visit not in known:
                raise ValueError(f"visit {visit.id}: waits for {wait.visit!r}, which is not in the season")
            if wait.days < 0:
                raise ValueError(f"visit {visit.id}: wait for {wait.visit!r} must be 0 days or more")
    _check_order(season.visits)
