"""A season in whole numbers: days counted from its first, minutes, cents, and every way to do each visit."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from decimal import Decimal
from functools import cached_property
from itertools import product

from plans.planning import tables
from plans.planning.booking import BookVisit, Season
from plans.planning.cells import Source
from plans.planning.money import exact, to_cents

NEVER = -1


@dataclass(frozen=True, slots=True)
class FieldDays:
    """Share of days fit for field work: the mean, and what is reached 5 years in 6."""

    month: int
    mean_share: float
    reliable_share: float
    source: Source


def fit_shares() -> dict[int, float]:
    """Reliable share of days fit for field work by month, 0 to 1. Source: reference/field_days.csv."""
    rows = tables.read_table(tables.FOLDER / "field_days.csv", FieldDays)
    return {row.month: row.reliable_share for row in rows}


def daylight_hours(latitude_deg: float) -> dict[int, float]:
    """Hours from sunrise to sunset on the 15th by month [h].

    Source: declination 23.45° × sin(360 × (284 + day of year) / 365), Cooper 1969 [from memory]; the sun's
    upper edge at the horizon, 0.833° with refraction, as almanacs count it.
    """
    hours = {}
    for month in range(1, 13):
        day = date(2027, month, 15).timetuple().tm_yday
        tilt = math.radians(23.45) * math.sin(math.radians(360 * (284 + day) / 365))
        north = math.radians(latitude_deg)
        cosine = (math.sin(math.radians(-0.833)) - math.sin(north) * math.sin(tilt)) / (
            math.cos(north) * math.cos(tilt)
        )
        hours[month] = 24 / math.pi * math.acos(max(-1.0, min(1.0, cosine)))
    return hours


def cents(usd: Decimal) -> int:
    return int(to_cents(usd) * 100)


@dataclass(frozen=True, slots=True)
class Way:
    """One way to do a visit: with which machines, and how many minutes on which days."""

    machines: tuple[int, ...]
    span: tuple[tuple[int, int], ...]
    late: int
    change: int

    @property
    def start(self) -> int:
        return self.span[0][0]

    @property
    def end(self) -> int:
        return self.span[-1][0]


@dataclass(frozen=True, slots=True)
class Placed:
    way: Way
    people: tuple[int, ...]


Placements = Mapping[int, Placed]


def _covers(classes: Sequence[str], holders: Mapping[str, list[int]]) -> list[tuple[int, ...]]:
    """Sets of machines that hold every class and of which none can be spared."""
    sets = {frozenset(chosen) for chosen in product(*(holders.get(name, []) for name in classes))}
    least = [one for one in sets if not any(other < one for other in sets)]
    return sorted(tuple(sorted(one)) for one in least)


class Ground:
    """Built once for a season and never changed. Machines, people, farms and visits go by their place.

    The machine after the last is the crew's own car: whoever goes without a machine goes with that.
    """

    def __init__(self, season: Season) -> None:
        self.season = season
        self.days = (season.last - season.first).days + 1
        self.dates = [season.first + timedelta(days=day) for day in range(self.days)]
        off = set(season.days_off)
        self.room = [
            0 if on in off or on.weekday() in season.weekdays_off else self._minutes(on) for on in self.dates
        ]
        self.crew = len(season.machines)
        self.kept = [self._may_be_kept(machine) for machine in range(self.crew)]
        self.machine_room = [
            [
                math.floor(room * machine.day_share + 1e-9) if self.kept[number][day] else 0
                for day, room in enumerate(self.room)
            ]
            for number, machine in enumerate(season.machines)
        ]
        self.machine_room.append(
            [2 * 24 * 60 * max(1, len(season.visits)) * bool(room) for room in self.room]
        )
        self.person_room = [
            [0 if on in set(person.days_off) else self.room[day] for day, on in enumerate(self.dates)]
            for person in season.people
        ]
        self.farms = sorted(season.travel)
        farm_number = {farm: number for number, farm in enumerate(self.farms)}
        legs = [season.travel[farm] for farm in self.farms]
        self.travel = [math.ceil(2 * leg.hours * 60 - 1e-9) for leg in legs]
        prices = season.prices
        self.trip_cents = [
            cents(2 * exact(leg.miles) * prices.usd_per_mile + prices.usd_per_trip) for leg in legs
        ]
        self.towed = [machine.towed for machine in season.machines] + [False]
        self.rented = [machine.holding != "own" for machine in season.machines] + [False]
        self.rent = [cents(machine.rent_usd_per_day) for machine in season.machines] + [0]
        self.delivery = [cents(machine.delivery_usd) for machine in season.machines] + [0]
        number_of = {visit.id: number for number, visit in enumerate(season.visits)}
        self.farm = [farm_number[visit.farm] for visit in season.visits]
        self.minutes = [math.ceil(visit.hours * 60 - 1e-9) for visit in season.visits]
        self.after = [
            [(number_of[wait.visit], max(1, wait.days)) for wait in visit.after] for visit in season.visits
        ]
        self.open = [number for number, visit in enumerate(season.visits) if visit.done_on is None]
        self.holders: dict[str, list[int]] = {}
        for number, machine in enumerate(season.machines):
            for name in machine.classes:
                self.holders.setdefault(name, []).append(number)
        self.ways: dict[int, list[Way]] = {}
        for visit in self._in_order():
            self.ways[visit] = self._ways(visit)

    def _minutes(self, on: date) -> int:
        light = min(self.season.daylight_hours_by_month[on.month], self.season.working_hours)
        return math.floor(light * self.season.fit_share_by_month[on.month] * 60 + 1e-6)

    def _may_be_kept(self, number: int) -> list[bool]:
        machine = self.season.machines[number]
        out = set(machine.booked)
        return [
            on not in out and (not machine.had or any(span.first <= on <= span.last for span in machine.had))
            for on in self.dates
        ]

    def _in_order(self) -> list[int]:
        """Visits that are not done, each after those it waits for."""
        done = {number for number, visit in enumerate(self.season.visits) if visit.done_on is not None}
        order: list[int] = []
        left = list(self.open)
        while left:
            ready = [visit for visit in left if all(before in done for before, _ in self.after[visit])]
            order += ready
            done.update(ready)
            left = [visit for visit in left if visit not in done]
        return order

    @cached_property
    def order(self) -> list[int]:
        return self._in_order()

    @cached_property
    def followers(self) -> dict[int, list[tuple[int, int]]]:
        """Visits that wait for each visit, and how long [days]."""
        found: dict[int, list[tuple[int, int]]] = {visit: [] for visit in self.open}
        for visit in self.open:
            for before, wait in self.after[visit]:
                if before in found:
                    found[before].append((visit, wait))
        return found

    def day(self, on: date) -> int:
        return (on - self.season.first).days

    def late_limit(self, visit: BookVisit) -> int:
        return min(self.days - 1, self.day(visit.latest) + self.season.most_late_days)

    def soonest(self, number: int) -> int | None:
        """First day that the window and the waits allow; None where a visit waited for cannot be done."""
        soonest = max(0, self.day(self.season.visits[number].earliest))
        for before, wait in self.after[number]:
            done = self.season.visits[before].done_on
            if done is not None:
                soonest = max(soonest, self.day(done) + wait)
            elif not self.ways[before]:
                return None
            else:
                soonest = max(soonest, min(way.end for way in self.ways[before]) + wait)
        return soonest

    def machine_sets(self, classes: Sequence[str]) -> list[tuple[int, ...]]:
        """Sets of machines that hold every class; the crew's car where none is asked for."""
        return _covers(tuple(dict.fromkeys(classes)), self.holders) if classes else [(self.crew,)]

    def _ways(self, number: int) -> list[Way]:
        visit = self.season.visits[number]
        soonest = self.soonest(number)
        if soonest is None:
            return []
        starts: Iterable[int] = range(soonest, self.late_limit(visit) + 1)
        promised = None if visit.promised is None else self.day(visit.promised)
        if visit.fixed and promised is not None:
            starts = [promised] if soonest <= promised <= self.late_limit(visit) else []
        found = []
        for machines in self.machine_sets(visit.needs):
            for start in starts:
                for span in self._spans(number, machines, start):
                    late = max(0, span[-1][0] - self.day(visit.latest))
                    change = 0 if promised is None else abs(start - promised)
                    if late <= self.season.most_late_days and self._staffed(visit, span):
                        found.append(Way(machines, span, late, change))
        return found

    def _staffed(self, visit: BookVisit, span: tuple[tuple[int, int], ...]) -> bool:
        """Whether enough people are there on all of the days, and every skill among them."""
        there = self.there([day for day, _ in span])
        held = {skill for person in there for skill in self.season.people[person].skills}
        return len(there) >= visit.people and held.issuperset(visit.skills)

    def there(self, days: Sequence[int]) -> list[int]:
        """People who work on every one of the days."""
        return [person for person, room in enumerate(self.person_room) if all(room[day] > 0 for day in days)]

    def day_room(self, number: int, machines: Sequence[int], day: int) -> int:
        """Minutes left for the field on an empty day, travel taken out."""
        room = min(self.machine_room[machine][day] for machine in machines)
        return min(room, self.room[day]) - self.travel[self.farm[number]]

    def _spans(self, number: int, machines: tuple[int, ...], start: int) -> list[tuple[tuple[int, int], ...]]:
        """Minutes by day from `start`: whole days first, and with the short day first where that differs."""
        left, span, day = self.minutes[number], [], start
        while left > 0:
            if day >= self.days:
                return []
            if self.room[day] > 0:
                room = self.day_room(number, machines, day)
                if room <= 0:
                    return []
                span.append((day, min(left, room)))
                left -= min(left, room)
            elif day == start:
                return []
            day += 1
        whole_first = tuple(span)
        last_room = self.day_room(number, machines, span[-1][0])
        slack = last_room - span[-1][1]
        if len(span) == 1 or slack == 0 or span[0][1] <= slack:
            return [whole_first]
        short_first = ((start, span[0][1] - slack), *span[1:-1], (span[-1][0], last_room))
        return [whole_first, short_first]

    def spells(self, machine: int, used: Iterable[int]) -> list[tuple[int, int]]:
        """How a machine used on these days is had for the least money: kept over a gap, or brought anew."""
        spells: list[tuple[int, int]] = []
        for day in sorted(set(used)):
            if spells:
                first, last = spells[-1]
                idle = range(last + 1, day)
                cheap = len(idle) * self.rent[machine] <= self.delivery[machine]
                if cheap and all(self.kept[machine][between] for between in idle):
                    spells[-1] = (first, day)
                    continue
            spells.append((day, day))
        return spells

    def rental_cents(self, machine: int, used: Iterable[int]) -> int:
        return sum(
            (last - first + 1) * self.rent[machine] + self.delivery[machine]
            for first, last in self.spells(machine, used)
        )

    def trips(self, placements: Placements) -> set[tuple[int, int, int]]:
        """Machine, farm and day of every trip, towed machines included."""
        return {
            (machine, self.farm[visit], day)
            for visit, placed in placements.items()
            for day, _ in placed.way.span
            for machine in placed.way.machines
        }

    def score(self, placements: Placements) -> tuple[int, int, int]:
        """Weighted days late, cents, days of change."""
        visits = self.season.visits
        late = sum(
            visits[visit].priority
            * (placements[visit].way.late if visit in placements else self.season.unfitted_late_days)
            for visit in self.open
        )
        trips = self.trips(placements)
        cost = sum(self.trip_cents[farm] for machine, farm, _ in trips if not self.towed[machine])
        for machine in range(self.crew):
            if self.rented[machine]:
                cost += self.rental_cents(machine, {day for used, _, day in trips if used == machine})
        return late, cost, sum(placed.way.change for placed in placements.values())


class Diary:
    """Who and what is where on which day, and how much of the day is left."""

    def __init__(self, ground: Ground, placements: Placements | None = None) -> None:
        self.ground = ground
        self.placed: dict[int, Placed] = {}
        self.machine_left = [list(room) for room in ground.machine_room]
        self.person_left = [list(room) for room in ground.person_room]
        self.machine_at: dict[tuple[int, int, int], int] = {}
        self.person_at: dict[tuple[int, int, int], int] = {}
        self.days_out: list[dict[int, int]] = [{} for _ in ground.machine_room]
        for visit, placed in (placements or {}).items():
            self.place(visit, placed)

    def fits(self, visit: int, way: Way) -> bool:
        """Whether its machines have the time; people are asked for apart."""
        farm = self.ground.farm[visit]
        travel = self.ground.travel[farm]
        for machine in way.machines:
            left = self.machine_left[machine]
            for day, minutes in way.span:
                if left[day] < minutes:
                    return False
                if left[day] < minutes + travel and (machine, farm, day) not in self.machine_at:
                    return False
        return True

    def people_for(self, visit: int, way: Way) -> tuple[int, ...] | None:
        """People with the time and the skills for a visit, or None. Those with few skills go first."""
        ground, asked = self.ground, self.ground.season.visits[visit]
        farm = ground.farm[visit]
        travel = ground.travel[farm]
        free = []
        for person, left in enumerate(self.person_left):
            new_days = 0
            for day, minutes in way.span:
                here = (person, farm, day) in self.person_at
                if left[day] < minutes + (0 if here else travel) or ground.person_room[person][day] == 0:
                    break
                new_days += not here
            else:
                free.append((new_days, len(ground.season.people[person].skills), person))
        free.sort()
        chosen: list[int] = []
        missing = set(asked.skills)
        while missing:
            able = [
                (-len(missing & set(ground.season.people[one[2]].skills)), one)
                for one in free
                if one[2] not in chosen
            ]
            best = min(able, default=None)
            if best is None or best[0] == 0:
                return None
            chosen.append(best[1][2])
            missing -= set(ground.season.people[best[1][2]].skills)
        chosen += [person for _, _, person in free if person not in chosen][
            : max(0, asked.people - len(chosen))
        ]
        return tuple(sorted(chosen)) if len(chosen) == asked.people else None

    def added_cents(self, visit: int, way: Way) -> int:
        """What trips and rentals cost more with the visit done this way."""
        ground, farm = self.ground, self.ground.farm[visit]
        cost = 0
        for machine in way.machines:
            if not ground.towed[machine]:
                new = sum((machine, farm, day) not in self.machine_at for day, _ in way.span)
                cost += new * ground.trip_cents[farm]
            if ground.rented[machine]:
                out = self.days_out[machine]
                more = [day for day, _ in way.span if day not in out]
                if more:
                    cost += ground.rental_cents(machine, [*out, *more]) - ground.rental_cents(machine, out)
        return cost

    def place(self, visit: int, placed: Placed) -> None:
        self._book(visit, placed, 1)
        self.placed[visit] = placed

    def take_out(self, visit: int) -> None:
        self._book(visit, self.placed.pop(visit), -1)

    def _book(self, visit: int, placed: Placed, sign: int) -> None:
        farm = self.ground.farm[visit]
        travel = self.ground.travel[farm]
        for at, left, who in (
            (self.machine_at, self.machine_left, placed.way.machines),
            (self.person_at, self.person_left, placed.people),
        ):
            for one in who:
                for day, minutes in placed.way.span:
                    key = (one, farm, day)
                    count = at.get(key, 0) + sign
                    left[one][day] -= sign * minutes
                    if count == (1 if sign > 0 else 0):
                        left[one][day] -= sign * travel
                    if count:
                        at[key] = count
                    else:
                        del at[key]
        for machine in placed.way.machines:
            out = self.days_out[machine]
            for day, _ in placed.way.span:
                out[day] = out.get(day, 0) + sign
                if not out[day]:
                    del out[day]
