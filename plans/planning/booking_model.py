"""Some visits of a season as a whole-number program, the others left where they are.

Each way of doing a visit is a yes or no, and its hours on each day are known beforehand, so the relaxation is
close: a trip is at least what each visit asks of it, and a day is at least what is done in it. A wait is kept
day by day: no more of a visit has begun than of the one before was over in time.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

from ortools.sat.python import cp_model

from plans.planning.booking_ground import Diary, Ground, Placed, Placements, Way

Span = tuple[tuple[int, int], ...]
Key = tuple[int, int, int]


@dataclass(frozen=True, slots=True)
class Weights:
    """What a day late, a cent and a day of change count in the one sum that is made least."""

    late: int
    cent: int
    change: int

    def of(self, parts: tuple[int, int, int]) -> int:
        return parts[0] * self.late + parts[1] * self.cent + parts[2] * self.change

    def apart(self, value: int) -> tuple[int, int, int]:
        """A sum as weighted days late, cents and days of change; a lower bound stays one."""
        late, rest = divmod(max(0, value), self.late)
        money, rest = divmod(rest, self.cent)
        return late, money, rest // self.change


def weights(ground: Ground, free: Iterable[int]) -> Weights:
    """Weights under which no saving is worth a day late, and no day of change a cent."""
    change, dollars = 1, 1
    for visit in free:
        ways = ground.ways[visit]
        change += max((way.change for way in ways), default=0)
        dollars += ground.trip_cents[ground.farm[visit]] * max(
            (len(way.span) * len(way.machines) for way in ways), default=0
        )
    for machine in range(ground.crew):
        if ground.rented[machine]:
            days = sum(ground.kept[machine])
            dollars += days * (ground.rent[machine] + ground.delivery[machine])
    return Weights(dollars * change, change, 1)


class Model:
    """The program of the `free` visits, the `kept` ones where they are.

    `tolls`: units a minute by machine and day, paid in place of sharing the day with other farms; people and
    rentals are then left to whoever sets them. `by_person`: who goes where, else all people's hours as one.
    `days`: the first and the last that may be used.
    """

    def __init__(
        self,
        ground: Ground,
        free: Sequence[int],
        kept: Placements,
        weighted: Weights,
        tolls: Mapping[tuple[int, int], int] | None = None,
        by_person: bool = True,
        most_late: int | None = None,
        days: tuple[int, int] | None = None,
    ) -> None:
        self.ground, self.free, self.kept, self.weighted, self.tolls = ground, free, kept, weighted, tolls
        self.days = (0, ground.days) if days is None else days
        self.most_late = ground.season.most_late_days if most_late is None else most_late
        self.diary = Diary(ground, kept)
        self.model = cp_model.CpModel()
        self.chosen: dict[int, list[tuple[cp_model.IntVar, Way]]] = {}
        self.goes: dict[tuple[int, int, Span], cp_model.IntVar] = {}
        self.cost: list[tuple[cp_model.IntVar, int]] = []
        self.trips: dict[Key, cp_model.IntVar] = {}
        self._ways()
        self._waits()
        self._machines()
        if tolls is None:
            if by_person:
                self._people()
            else:
                self._crew()
            self._rentals()
        self.model.minimize(
            cp_model.LinearExpr.weighted_sum([var for var, _ in self.cost], [usd for _, usd in self.cost])
        )

    def _bool(self) -> cp_model.IntVar:
        return self.model.new_bool_var("")

    def _allowed(self, visit: int) -> list[Way]:
        """Ways that the visits left alone leave room for."""
        ground, free = self.ground, set(self.free)
        soonest, latest = self.days
        for before, wait in ground.after[visit]:
            if before not in free and ground.season.visits[before].done_on is None:
                if before not in self.kept:
                    return [] if self.tolls is None else ground.ways[visit]
                soonest = max(soonest, self.kept[before].way.end + wait)
        for follower, wait in ground.followers[visit]:
            if follower in self.kept and follower not in free:
                latest = min(latest, self.kept[follower].way.start - wait)
        return [
            way
            for way in ground.ways[visit]
            if way.start >= soonest
            and way.end <= latest
            and way.late <= self.most_late
            and self.diary.fits(visit, way)
        ]

    def _must(self, visit: int) -> bool:
        """Whether a visit left alone waits for this one, which then cannot be left out."""
        return any(one in self.kept for one, _ in self.ground.followers[visit])

    def _ways(self) -> None:
        weighted, season = self.weighted, self.ground.season
        for visit in self.free:
            chosen = [(self._bool(), way) for way in self._allowed(visit)]
            self.chosen[visit] = chosen
            priority = season.visits[visit].priority
            for var, way in chosen:
                usd = priority * way.late * weighted.late + way.change * weighted.change
                if usd:
                    self.cost.append((var, usd))
            left_out = self._bool()
            self.cost.append((left_out, priority * season.unfitted_late_days * weighted.late))
            if self._must(visit):
                self.model.add(left_out == 0)
            self.model.add_exactly_one([*(var for var, _ in chosen), left_out])

    def _waits(self) -> None:
        for visit in self.free:
            for before, wait in self.ground.after[visit]:
                if before in self.chosen:
                    self._wait(self.chosen[before], self.chosen[visit], wait)

    def _wait(
        self,
        before: Sequence[tuple[cp_model.IntVar, Way]],
        then: Sequence[tuple[cp_model.IntVar, Way]],
        wait: int,
    ) -> None:
        safe = max((way.end for _, way in before), default=0) + wait
        starts = sorted({way.start for _, way in then if way.start < safe})
        for start in [*starts, self.ground.days]:
            begun = [var for var, way in then if way.start <= start]
            over = [var for var, way in before if way.end + wait <= start]
            if begun:
                self.model.add(sum(begun) <= sum(over))

    def _machines(self) -> None:
        ground = self.ground
        used: defaultdict[tuple[int, int], list[tuple[cp_model.IntVar, int]]] = defaultdict(list)
        asking: defaultdict[Key, list[list[cp_model.IntVar]]] = defaultdict(list)
        load: defaultdict[Key, list[tuple[cp_model.IntVar, int]]] = defaultdict(list)
        self.used_days: defaultdict[tuple[int, int], list[list[cp_model.IntVar]]] = defaultdict(list)
        for visit in self.free:
            farm = ground.farm[visit]
            mine: defaultdict[tuple[int, int], list[cp_model.IntVar]] = defaultdict(list)
            for var, way in self.chosen[visit]:
                for machine in way.machines:
                    for day, minutes in way.span:
                        mine[machine, day].append(var)
                        used[machine, day].append((var, minutes))
                        load[machine, farm, day].append((var, minutes))
            for (machine, day), several in mine.items():
                asking[machine, farm, day].append(several)
                self.used_days[machine, day].append(several)
        for key, lists in asking.items():
            machine, farm, day = key
            if key in self.diary.machine_at:
                continue
            self.trips[key] = trip = self._bool()
            for several in lists:
                self.model.add(sum(several) <= trip)
            room = ground.machine_room[machine][day] - ground.travel[farm]
            if len(lists) > 1 and machine != ground.crew:
                together = cp_model.LinearExpr.weighted_sum(
                    [v for v, _ in load[key]], [m for _, m in load[key]]
                )
                self.model.add(together <= room * trip)
            if not ground.towed[machine]:
                self.cost.append((trip, ground.trip_cents[farm] * self.weighted.cent))
            used[machine, day].append((trip, ground.travel[farm]))
        for (machine, day), terms in used.items():
            if machine == ground.crew:
                continue
            if self.tolls is None:
                self._at_most(terms, self.diary.machine_left[machine][day])
            elif rate := self.tolls.get((machine, day), 0):
                self.cost += [(var, minutes * rate) for var, minutes in terms]

    def _people(self) -> None:
        ground, diary = self.ground, self.diary
        used: defaultdict[tuple[int, int], list[tuple[cp_model.IntVar, int]]] = defaultdict(list)
        asking: defaultdict[Key, list[list[cp_model.IntVar]]] = defaultdict(list)
        for visit in self.free:
            asked, farm = ground.season.visits[visit], ground.farm[visit]
            if not asked.people:
                continue
            spans: defaultdict[Span, list[cp_model.IntVar]] = defaultdict(list)
            for var, way in self.chosen[visit]:
                spans[way.span].append(var)
            mine: defaultdict[tuple[int, int], list[cp_model.IntVar]] = defaultdict(list)
            for span, ways in spans.items():
                able = [one for one in ground.there([day for day, _ in span]) if self._free(one, span)]
                going = [self._bool() for _ in able]
                self.model.add(sum(going) == asked.people * sum(ways))
                for skill in asked.skills:
                    holders = [
                        var
                        for var, one in zip(going, able, strict=True)
                        if skill in ground.season.people[one].skills
                    ]
                    self.model.add(sum(holders) >= sum(ways))
                for var, one in zip(going, able, strict=True):
                    self.goes[visit, one, span] = var
                    if asked.people > 1:
                        self.model.add(var <= sum(ways))
                    for day, minutes in span:
                        used[one, day].append((var, minutes))
                        mine[one, day].append(var)
            for (one, day), several in mine.items():
                asking[one, farm, day].append(several)
        for key, lists in asking.items():
            one, farm, day = key
            if key not in diary.person_at and ground.travel[farm]:
                trip = self._bool()
                for several in lists:
                    self.model.add(sum(several) <= trip)
                used[one, day].append((trip, ground.travel[farm]))
        for (one, day), terms in used.items():
            self._at_most(terms, diary.person_left[one][day])

    def _crew(self) -> None:
        """All people's hours of a day as one, and those of each skill's holders, one person to a trip."""
        ground = self.ground
        everybody = range(len(ground.person_room))
        skills = sorted({skill for visit in self.free for skill in ground.season.visits[visit].skills})
        for skill in ("", *skills):
            holders = [one for one in everybody if not skill or skill in ground.season.people[one].skills]
            used: defaultdict[int, list[tuple[cp_model.IntVar, int]]] = defaultdict(list)
            driven: set[Key] = set()
            for visit in self.free:
                asked = ground.season.visits[visit]
                if not asked.people or (skill and skill not in asked.skills):
                    continue
                count = 1 if skill else asked.people
                for var, way in self.chosen[visit]:
                    for day, minutes in way.span:
                        used[day].append((var, minutes * count))
                        driven.add((way.machines[0], ground.farm[visit], day))
            for key in sorted(driven & self.trips.keys()):
                used[key[2]].append((self.trips[key], ground.travel[key[1]]))
            for day, terms in used.items():
                left = sum(self.diary.person_left[one][day] for one in holders)
                self._at_most(terms, left)

    def _at_most(self, terms: Sequence[tuple[cp_model.IntVar, int]], most: int) -> None:
        if sum(minutes for _, minutes in terms) > most:
            sum_ = cp_model.LinearExpr.weighted_sum([var for var, _ in terms], [m for _, m in terms])
            self.model.add(sum_ <= most)

    def _free(self, person: int, span: Span) -> bool:
        left = self.diary.person_left[person]
        return all(left[day] >= minutes for day, minutes in span)

    def _rentals(self) -> None:
        """A rented machine is kept or not on every day, and pays its way each time it begins to be."""
        ground = self.ground
        touched = {machine for machine, _ in self.used_days}
        for machine in sorted(touched):
            if not ground.rented[machine]:
                continue
            out = self.diary.days_out[machine]
            days = {day for one, day in self.used_days if one == machine} | out.keys()
            before: cp_model.IntVar | None = None
            for day in range(min(days), max(days) + 1):
                if not ground.kept[machine][day]:
                    before = None
                    continue
                kept = self._bool()
                if day in out:
                    self.model.add(kept == 1)
                for several in self.used_days.get((machine, day), []):
                    self.model.add(sum(several) <= kept)
                self.cost.append((kept, ground.rent[machine] * self.weighted.cent))
                if ground.delivery[machine]:
                    brought = self._bool()
                    self.model.add(brought >= (kept if before is None else kept - before))
                    self.cost.append((brought, ground.delivery[machine] * self.weighted.cent))
                before = kept

    def hint(self, placements: Placements) -> None:
        """Begin from these placements of the free visits."""
        for visit in self.free:
            placed = placements.get(visit)
            for var, way in self.chosen[visit]:
                self.model.add_hint(var, placed is not None and way == placed.way)
        for (visit, person, span), var in self.goes.items():
            placed = placements.get(visit)
            goes = placed is not None and span == placed.way.span and person in placed.people
            self.model.add_hint(var, goes)

    def read(self, value: cp_model.CpSolver | cp_model.CpSolverSolutionCallback) -> dict[int, Placed]:
        """All placements of a solution, the kept ones included."""
        found = dict(self.kept)
        for visit in self.free:
            for var, way in self.chosen[visit]:
                if value.boolean_value(var):
                    people = [
                        person
                        for person in range(len(self.ground.person_room))
                        if (visit, person, way.span) in self.goes
                        and value.boolean_value(self.goes[visit, person, way.span])
                    ]
                    found[visit] = Placed(way, tuple(people))
        return found
