"""A bound that no booking beats: every machine's day packed by itself, visits paying for being done.

Dantzig and Wolfe's decomposition 1960, after Gilmore and Gomory's cutting of stock 1961 [both from memory].
A booking puts on each machine's day a pattern that fits into it, and its patterns do every visit that is
not left out. So whatever the visits pay, a booking costs at least what they pay together, less the most
that the days could earn beyond their trips, lateness and rent, each by itself. Good payments come from a
linear program over the patterns found so far. Where that keeps a rented machine for part of a day, the bound
is parted in two, for fewer days and for more, and the lesser counts. People, waits for visits that could be
moved, and that a visit's machines and days go together are left out, which can only lower the bound; that a
long visit has a whole part, and as many parts as it takes days, is kept.
"""

from __future__ import annotations

import math
from collections import Counter, defaultdict
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field

from ortools.linear_solver import pywraplp  # type: ignore[import-untyped]

from plans.planning.booking_days import Counted, MachineDays, Part, Pattern, Price, Row, classes_of
from plans.planning.booking_ground import Diary, Ground, Placements, Way
from plans.planning.booking_rent import Keeping, steps_of_rent

NEAR = 5e-4
"""A bound this near to the program's value is as good as it gets."""
DEARER = 8
SHORT: tuple[Counted, ...] = ("minutes",)
LONG: tuple[Counted, ...] = ("minutes", "whole parts", "days")
"""What is counted of a visit that fits into any day, and of one that does not."""
BOLD = 0.6
"""Part of the best payments so far in those that are tried: steadies them, Wentges 1997 [from memory]."""
PART = 0.01
"""Part of a day from which on it is not a whole one."""
OTHERS = 2
"""Times that patterns are sought among the visits that are in none of a round's."""


@dataclass(slots=True)
class Branch:
    """A bound under a range of days of work for each rented machine, and how it was come by."""

    days: Mapping[int, tuple[int, int]]
    """Fewest and most."""
    bound: int = 0
    pays: Mapping[Row, float] = field(default_factory=dict)
    worked: Mapping[int, float] | None = None
    """Days of work in the program, by machine, once no round can do more."""


class Packing:
    """Some visits packed into the days of the machines that could do them.

    `ways`: those that may be chosen, by visit. `diary`: visits that stay where they are.
    """

    def __init__(
        self,
        ground: Ground,
        ways: Mapping[int, Sequence[Way]],
        price: Price,
        diary: Diary | None = None,
    ) -> None:
        self.ground, self.ways, self.price = ground, ways, price
        self.diary = Diary(ground) if diary is None else diary
        used = {machine for several in ways.values() for way in several for machine in way.machines}
        self.machines = {one: MachineDays(ground, one, ways, price, self.diary) for one in sorted(used)}
        self.left_out = {
            visit: ground.season.visits[visit].priority * price.late * ground.season.unfitted_late_days
            for visit in ways
        }
        self.stand_ins: dict[int, pywraplp.Variable] = {}
        self.stand_in_cost = self._usual_cost()
        self.value, self.proven = float("inf"), 0
        self.columns: dict[tuple[int, int, tuple[Part, ...]], tuple[Pattern, pywraplp.Variable]] = {}
        self.solver = pywraplp.Solver.CreateSolver("GLOP")
        self.infinity = self.solver.infinity()
        self.objective = self.solver.Objective()
        self.objective.SetMinimization()
        self.rows: dict[Row, pywraplp.Constraint] = {}
        self.day_rows: dict[tuple[int, int], pywraplp.Constraint] = {}
        self.kept: dict[int, dict[int, pywraplp.Variable]] = {}
        self.share: dict[int, dict[int, float]] = {}
        self.worked_rows: dict[int, pywraplp.Constraint] = {}
        self.rent_rows: dict[int, pywraplp.Constraint] = {}
        for visit in ways:
            self._visit_rows(visit)
        for machine in self.machines:
            self._day_rows(machine)
        self.now = Branch({machine: (0, sum(ground.kept[machine])) for machine in self.kept})
        self.branches = [self.now]

    @property
    def bound(self) -> int:
        """What no booking of these visits beats [units]."""
        return max(self.proven, min(branch.bound for branch in self.branches))

    @property
    def pays(self) -> Mapping[Row, float]:
        return self.now.pays

    def _visit_rows(self, visit: int) -> None:
        long = any(len(way.span) > 1 for way in self.ways[visit])
        left_out = self._variable(min(self.stand_in_cost, self.left_out[visit]))
        self.stand_ins[visit] = left_out
        for name in classes_of(self.ground, visit):
            for counted in LONG if long else SHORT:
                row = self.solver.Constraint(1, self.infinity)
                row.SetCoefficient(left_out, 1)
                self.rows[visit, name, counted] = row

    def _usual_cost(self) -> int:
        """A day's trips and rent with some to spare: payments beyond it only lead astray at first."""
        ground = self.ground
        trips = max((ground.trip_cents[ground.farm[visit]] for visit in self.ways), default=0)
        rents = [ground.rent[one] + ground.delivery[one] for one in self.machines if ground.rented[one]]
        return (trips + max(rents, default=0)) * self.price.cent + self.price.late

    def _stands_in(self) -> bool:
        """Whether some visit is left out for less than that costs."""
        return any(
            one.solution_value() > NEAR and self.stand_in_cost < self.left_out[visit]
            for visit, one in self.stand_ins.items()
        )

    def _dearer(self) -> None:
        self.stand_in_cost *= DEARER
        for visit, one in self.stand_ins.items():
            self.objective.SetCoefficient(one, min(self.stand_in_cost, self.left_out[visit]))

    def _variable(self, cost: float, most: float | None = None, least: float = 0) -> pywraplp.Variable:
        variable = self.solver.NumVar(least, self.infinity if most is None else most, "")
        self.objective.SetCoefficient(variable, cost)
        return variable

    def _day_rows(self, machine: int) -> None:
        """One pattern a day, and on a rented machine's only if it is kept, which is paid for by spells."""
        ground, kinds = self.ground, self.machines[machine].kinds
        rented = ground.rented[machine]
        for number, days in enumerate(kinds):
            most = 0 if rented else len(days)
            self.day_rows[machine, number] = self.solver.Constraint(-self.infinity, most)
        if not rented:
            return
        out, before = self.diary.days_out[machine], None
        self.worked_rows[machine] = self.solver.Constraint(0, self.infinity)
        self.rent_rows[machine] = self.solver.Constraint(-self.infinity, self.infinity)
        self.kept[machine] = {}
        for day in range(ground.days):
            if not ground.kept[machine][day]:
                before = None
                continue
            kept = self._variable(ground.rent[machine] * self.price.cent, 1, float(day in out))
            brought = self._variable(ground.delivery[machine] * self.price.cent, 1)
            row = self.solver.Constraint(-self.infinity, 0)
            row.SetCoefficient(kept, 1)
            row.SetCoefficient(brought, -1)
            if before is not None:
                row.SetCoefficient(before, -1)
            before = self.kept[machine][day] = kept
            self.worked_rows[machine].SetCoefficient(kept, bool(ground.machine_room[machine][day]))
            self.rent_rows[machine].SetCoefficient(brought, ground.delivery[machine] * self.price.cent)
            if day in self.machines[machine].place:
                self.day_rows[machine, self.machines[machine].place[day]].SetCoefficient(kept, -1)

    def add(self, pattern: Pattern) -> bool:
        """Whether it is a new one."""
        key = pattern.machine, pattern.days[0], pattern.parts
        if key in self.columns:
            return False
        variable = self._variable(pattern.cost)
        for row, part in pattern.does.items():
            if row in self.rows:
                self.rows[row].SetCoefficient(variable, part)
        kind = self.machines[pattern.machine].place[pattern.days[0]]
        self.day_rows[pattern.machine, kind].SetCoefficient(variable, 1)
        self.columns[key] = pattern, variable
        return True

    def begin(self, placements: Placements) -> None:
        """Patterns of a booking's days."""
        parts: defaultdict[tuple[int, int], list[Part]] = defaultdict(list)
        for visit in self.ways:
            if visit in placements:
                way = placements[visit].way
                for machine in way.machines:
                    for day, minutes in way.span:
                        parts[machine, day].append(Part(visit, minutes))
        self.begin_with((*key, tuple(several)) for key, several in parts.items())

    def pay(self, pays: Mapping[Row, float]) -> None:
        """Payments to begin from: those of a packing that had these visits among others."""
        self.now.pays = {row: pays.get(row, 0.0) for row in self.rows}
        self._try(self.now.pays)

    def begin_with(self, days: Iterable[tuple[int, int, Sequence[Part]]]) -> None:
        """Patterns by machine and day, those of their parts that can still be done."""
        for machine, day, parts in days:
            if machine in self.machines and (found := self.machines[machine].pattern_of(day, parts)):
                self.add(found)

    def _solve(self) -> bool:
        if self.solver.Solve() != pywraplp.Solver.OPTIMAL:
            return False
        self.value = self.objective.Value()
        self.share = {
            machine: {day: one.solution_value() for day, one in kept.items()}
            for machine, kept in self.kept.items()
        }
        return True

    def _worked(self, machine: int) -> float:
        """Days of work of a rented machine in the program."""
        room = self.ground.machine_room[machine]
        return sum(part for day, part in self.share[machine].items() if room[day])

    def improve(self) -> bool:
        """One round of payments and patterns; whether another could do more."""
        if not self.pays:
            self._begin_fair()
        if not self._solve():
            self.now.worked = {}
            return False
        stands_in = self._stands_in()
        paid = {row: float(max(0, int(one.dual_value()))) for row, one in self.rows.items()}
        for bold in (BOLD, 0.0):
            tried = {row: float(int(bold * self.pays[row] + (1 - bold) * paid[row])) for row in paid}
            fresh, better = self._try(tried)
            if fresh or better:
                break
        if any(one.bound < self.now.bound for one in self.branches):
            return False
        if self.value - self.now.bound > NEAR * self.value and (fresh or better):
            return True
        if stands_in:
            self._dearer()
        else:
            self.now.worked = {machine: self._worked(machine) for machine in self.kept}
        return stands_in

    def branch(self) -> bool:
        """On to the branch that proves the least, which is parted if it is settled; whether there is one."""
        least = min(self.branches, key=lambda branch: branch.bound)
        for machine, worked in (least.worked or {}).items():
            fewest, most = least.days[machine]
            if PART < worked % 1 < 1 - PART and fewest < most:
                whole = int(worked)
                parts = [(fewest, whole), (whole + 1, most)]
                fresh = [Branch({**least.days, machine: days}, least.bound, least.pays) for days in parts]
                self.branches = [one for one in self.branches if one is not least] + fresh
                least = fresh[-1]
                break
        if least is not self.now:
            self._enter(least)
        return least.worked is None

    def _enter(self, branch: Branch) -> None:
        self.now = branch
        for machine, (fewest, most) in branch.days.items():
            self.worked_rows[machine].SetBounds(fewest, most)
            begin, step = steps_of_rent(self._keeping(machine, {}).costs, fewest)
            self.rent_rows[machine].SetLb(begin - step * fewest)
            for day, kept in self.kept[machine].items():
                work = step if self.ground.machine_room[machine][day] else 0.0
                cost = self.ground.rent[machine] * self.price.cent
                self.rent_rows[machine].SetCoefficient(kept, cost - work)

    def _keeping(self, machine: int, earned: Mapping[int, int]) -> Keeping:
        return Keeping(self.ground, machine, earned, self.price, self.diary.days_out[machine])

    def likely_kept(self) -> dict[int, list[int]]:
        """Days on which each rented machine is kept in the program, made whole."""
        found = {}
        for machine, share in self.share.items():
            rent = 2 * self.ground.rent[machine] * self.price.cent
            keeping = self._keeping(machine, {day: int(part * rent) for day, part in share.items()})
            days = math.ceil(self._worked(machine) - PART)
            found[machine] = keeping.least(days, days)[1]
        return found

    def _try(self, pays: Mapping[Row, float]) -> tuple[bool, bool]:
        """Whether these payments led to a new pattern, and whether they prove more than those so far."""
        bound, fresh = self._priced(pays)
        better = bound > self.now.bound
        if better:
            self.now.bound, self.now.pays = bound, pays
        return fresh, better

    def _begin_fair(self) -> None:
        """From payments that need no program: minutes for nothing, half and all of the dearest rent."""
        ground = self.ground
        rented = [machine for machine in self.machines if ground.rented[machine]]
        rents = [ground.rent[machine] / max(ground.machine_room[machine]) for machine in rented]
        self.now.pays = self._fair(0.0)
        for part in (0.0, 0.5, 1.0) if rents else (0.0,):
            self._try(self._fair(part * max(rents, default=0.0) * self.price.cent))

    def _fair(self, per_minute: float) -> dict[Row, float]:
        """Each visit pays its share of one trip to its farm, and for its minutes [units]."""
        ground = self.ground
        at_farm = Counter(ground.farm[visit] for visit in self.ways)
        pays = {}
        for visit, name, counted in self.rows:
            farm = ground.farm[visit]
            trip = ground.trip_cents[farm] * self.price.cent / at_farm[farm]
            whole = (trip + per_minute * ground.minutes[visit]) / len(classes_of(ground, visit))
            pays[visit, name, counted] = whole if counted == SHORT[0] else 0.0
        return pays

    def _priced(self, pays: Mapping[Row, float]) -> tuple[int, bool]:
        """The bound of these payments [units], and whether they led to a new pattern."""
        bound, fresh = self._paid(pays), False
        for machine, days in self.machines.items():
            earned, found, others = days.best(pays, OTHERS)
            for pattern in found:
                fresh |= self.add(pattern)
            for pattern in others:
                self.add(pattern)
            if self.ground.rented[machine]:
                by_day = {day: int(earned[kind]) for day, kind in days.place.items()}
                bound += self._keeping(machine, by_day).least(*self.now.days[machine])[0]
            else:
                bound -= sum(int(most) * len(alike) for most, alike in zip(earned, days.kinds, strict=True))
        return bound, fresh

    def _paid(self, pays: Mapping[Row, float]) -> int:
        """What visits pay together, none more than it costs to leave it out."""
        total: defaultdict[int, int] = defaultdict(int)
        for (visit, _, _), paid in pays.items():
            total[visit] += int(paid)
        return sum(min(paid, self.left_out[visit]) for visit, paid in total.items())

    def takes(self, placements: Placements) -> int:
        """What a booking of these visits takes, at the price [units]."""
        ground, season = self.ground, self.ground.season
        own = {visit: placements[visit] for visit in self.ways if visit in placements}
        late = sum(
            season.visits[visit].priority
            * (own[visit].way.late if visit in own else season.unfitted_late_days)
            for visit in self.ways
        )
        return late * self.price.late + ground.score(own)[1] * self.price.cent

    def solution(self) -> list[tuple[float, Pattern]]:
        """Patterns of the program solved anew, by their share of the day, the largest first."""
        self._solve()
        found = [(float(one.solution_value()), pattern) for pattern, one in self.columns.values()]
        return sorted((pair for pair in found if pair[0] > NEAR), key=lambda pair: -pair[0])


def together(ground: Ground) -> list[list[int]]:
    """Open visits in groups of which no two could ask for the same machine."""
    parent = list(range(ground.crew + 1))

    def root(machine: int) -> int:
        while parent[machine] != machine:
            machine = parent[machine]
        return machine

    groups: defaultdict[int, list[int]] = defaultdict(list)
    used = {visit: {m for way in ground.ways[visit] for m in way.machines} for visit in ground.open}
    for machines in used.values():
        for one in machines:
            parent[root(one)] = root(next(iter(machines)))
    for visit, machines in used.items():
        groups[root(min(machines)) if machines else -1].append(visit)
    return list(groups.values())


def packed(ground: Ground, price: Price, most_late: int, reached: Placements) -> list[Packing]:
    """Open visits that are at most so late, packed by machines that go together; a booking to begin from."""
    packings = []
    for group in together(ground):
        ways = {visit: [way for way in ground.ways[visit] if way.late <= most_late] for visit in group}
        packings.append(Packing(ground, ways, price))
        packings[-1].begin(reached)
    return packings


def least(packings: Sequence[Packing], left: Callable[[], float]) -> Iterator[int]:
    """Lower bounds on days late and cents at a price [units], each tighter than the one before.

    `left`: seconds left.
    """
    best, unsettled = 0, list(packings)
    while unsettled:
        for packing in list(unsettled):
            if left() <= 0:
                return
            if not packing.improve() and not packing.branch():
                unsettled.remove(packing)
        total = sum(max(0, packing.bound) for packing in packings)
        if total > best:
            best = total
            yield best
