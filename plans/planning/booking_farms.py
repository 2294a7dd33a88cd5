"""Another bound that no booking beats: every farm by itself, each paying a toll for the hours it takes.

Lagrangian relaxation, Geoffrion 1974 [from memory]: instead of sharing a machine's day, farms pay for their
minutes, and what the day holds is given back. Whatever the tolls, the sum of the farms' own least costs is a
lower bound; good tolls come from a linear program of whole weeks. People, and waits across groups, are left
out, which can only lower it. It keeps whole trips and waits on a farm, where packed days keep whole days.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass

from ortools.linear_solver import pywraplp  # type: ignore[import-untyped]
from ortools.sat.python import cp_model

from plans.planning.booking_days import Price
from plans.planning.booking_ground import Ground
from plans.planning.booking_model import Model, Weights
from plans.planning.booking_rent import least_rent

MachineDay = tuple[int, int]
UNITS = 1000
"""Scale of the linear program's money."""
FIRST_STEP, LEAST_STEP = 0.3, 0.003
"""Parts of Polyak's step."""


def _groups(ground: Ground, visits: Sequence[int]) -> list[list[int]]:
    """Visits of one farm that could meet on a day with one machine, directly or by way of others."""
    by_slot: dict[tuple[int, int, int], int] = {}
    parent = {visit: visit for visit in visits}

    def root(visit: int) -> int:
        while parent[visit] != visit:
            visit = parent[visit]
        return visit

    for visit in visits:
        for way in ground.ways[visit]:
            for machine in way.machines:
                for day, _ in way.span:
                    other = by_slot.setdefault((ground.farm[visit], machine, day), visit)
                    if root(other) != root(visit):
                        parent[root(visit)] = root(other)
    groups: defaultdict[int, list[int]] = defaultdict(list)
    for visit in visits:
        groups[root(visit)].append(visit)
    return list(groups.values())


def _week_tolls(
    ground: Ground, visits: Sequence[int], price: Price, most_late: int, seconds: float
) -> dict[MachineDay, int]:
    """Units a minute by machine and day: what one more minute in that week would save."""
    solver = pywraplp.Solver.CreateSolver("GLOP")
    solver.SetTimeLimit(max(1, int(seconds * 1000)))
    infinity = solver.infinity()
    week = [on.toordinal() // 7 for on in ground.dates]
    days: defaultdict[tuple[int, int], list[int]] = defaultdict(list)
    for machine in range(ground.crew):
        for day, room in enumerate(ground.machine_room[machine]):
            if room:
                days[machine, week[day]].append(day)
    rows = {}
    for (machine, number), several in days.items():
        most = sum(ground.machine_room[machine][day] for day in several)
        row = solver.Constraint(-infinity, 0 if ground.rented[machine] else most)
        if ground.rented[machine]:
            kept = solver.NumVar(0, 1, "")
            row.SetCoefficient(kept, -most)
            off = min(ground.delivery[machine], ground.rent[machine] * (7 - len(several)))
            cents = len(several) * ground.rent[machine] + off
            solver.Objective().SetCoefficient(kept, cents * price.cent / UNITS)
        rows[machine, number] = row
    trips: dict[tuple[int, int, int], pywraplp.Variable] = {}
    for visit in visits:
        _add_visit(solver, ground, visit, price, most_late, week, rows, trips)
    solver.Objective().SetMinimization()
    status = solver.Solve()
    if status not in (pywraplp.Solver.OPTIMAL, pywraplp.Solver.FEASIBLE):
        return {}
    return {
        (machine, day): toll
        for (machine, number), several in days.items()
        for day in several
        if (toll := round(max(0.0, -rows[machine, number].dual_value()) * UNITS)) > 0
    }


def _add_visit(
    solver: pywraplp.Solver,
    ground: Ground,
    visit: int,
    price: Price,
    most_late: int,
    week: Sequence[int],
    rows: Mapping[tuple[int, int], pywraplp.Constraint],
    trips: dict[tuple[int, int, int], pywraplp.Variable],
) -> None:
    asked, farm = ground.season.visits[visit], ground.farm[visit]
    choices: dict[tuple[tuple[int, ...], int], int] = {}
    spans: dict[tuple[tuple[int, ...], int], int] = {}
    for way in ground.ways[visit]:
        if way.late <= most_late:
            key = (way.machines, week[way.start])
            choices[key] = min(choices.get(key, way.late), way.late)
            spans[key] = min(spans.get(key, len(way.span)), len(way.span))
    once = solver.Constraint(1, 1)
    left_out = solver.NumVar(0, 1, "")
    once.SetCoefficient(left_out, 1)
    late_units = asked.priority * price.late / UNITS
    solver.Objective().SetCoefficient(left_out, late_units * ground.season.unfitted_late_days)
    for (machines, number), late in choices.items():
        done = solver.NumVar(0, 1, "")
        once.SetCoefficient(done, 1)
        solver.Objective().SetCoefficient(done, late_units * late)
        for machine in machines:
            if machine != ground.crew:
                rows[machine, number].SetCoefficient(done, ground.minutes[visit])
            at = (farm, machine, number)
            if at not in trips:
                trips[at] = solver.NumVar(0, solver.infinity(), "")
                cents = 0 if ground.towed[machine] else ground.trip_cents[farm]
                solver.Objective().SetCoefficient(trips[at], cents * price.cent / UNITS)
                if machine != ground.crew:
                    rows[machine, number].SetCoefficient(trips[at], ground.travel[farm])
            enough = solver.Constraint(0, solver.infinity())
            enough.SetCoefficient(trips[at], 1)
            enough.SetCoefficient(done, -spans[machines, number])


def _given_back(
    ground: Ground, tolls: Mapping[MachineDay, int], price: Price
) -> tuple[int, dict[MachineDay, int]]:
    """The least that machines' days cost once their tolls are paid back [units], rentals by spells.

    With it the minutes that are held ready at that cost, by machine and day.
    """
    total, ready = 0, {}
    for machine in range(ground.crew):
        room = ground.machine_room[machine]
        paid = {day: tolls.get((machine, day), 0) * minutes for day, minutes in enumerate(room)}
        days: Iterable[int] = range(ground.days)
        if ground.rented[machine]:
            cost, days = least_rent(ground, machine, paid, price)
            total += cost
        else:
            total -= sum(paid.values())
        ready.update({(machine, day): room[day] for day in days if room[day]})
    return total, ready


@dataclass(frozen=True, slots=True)
class _Own:
    """The least of one group [units], and the minutes it then takes by machine and day."""

    least: int
    used: Mapping[MachineDay, int]


def _own(
    ground: Ground,
    group: Sequence[int],
    price: Price,
    tolls: Mapping[MachineDay, int],
    most_late: int,
    seconds: float,
) -> _Own:
    weighted = Weights(price.late, price.cent, 0)
    model = Model(ground, group, {}, weighted, tolls=tolls, most_late=most_late)
    solver = cp_model.CpSolver()
    solver.parameters.num_workers = 1
    solver.parameters.linearization_level = 2
    solver.parameters.max_time_in_seconds = seconds
    status = solver.solve(model.model)
    used: defaultdict[MachineDay, int] = defaultdict(int)
    if status not in (cp_model.OPTIMAL, cp_model.FEASIBLE):
        return _Own(0, used)
    placements = model.read(solver)
    for placed in placements.values():
        for machine in placed.way.machines:
            for day, minutes in placed.way.span:
                used[machine, day] += minutes
    for machine, farm, day in ground.trips(placements):
        used[machine, day] += ground.travel[farm]
    return _Own(max(0, int(solver.best_objective_bound - 0.5)), used)


def _week(ground: Ground, day: int) -> int:
    return ground.dates[day].toordinal() // 7


def _slope(
    ground: Ground, owns: Iterable[_Own], ready: Mapping[MachineDay, int]
) -> dict[tuple[int, int], int]:
    """Minutes asked for less minutes held ready, by machine and week: the way in which tolls must move."""
    slope: defaultdict[tuple[int, int], int] = defaultdict(int)
    for (machine, day), minutes in ready.items():
        slope[machine, _week(ground, day)] -= minutes
    for own in owns:
        for (machine, day), minutes in own.used.items():
            if machine != ground.crew:
                slope[machine, _week(ground, day)] += minutes
    return slope


def _moved(
    ground: Ground, tolls: Mapping[MachineDay, int], slope: Mapping[tuple[int, int], int], missing: float
) -> dict[MachineDay, int]:
    """Tolls after Polyak's step, by which the bound would rise by `missing` were it straight [units]."""
    paying = {(machine, _week(ground, day)) for machine, day in tolls}
    norm = sum(minutes**2 for week, minutes in slope.items() if minutes > 0 or week in paying)
    if not norm:
        return dict(tolls)
    moved = {
        (machine, day): tolls.get((machine, day), 0)
        + round(missing / norm * slope.get((machine, _week(ground, day)), 0))
        for machine in range(ground.crew)
        for day, minutes in enumerate(ground.machine_room[machine])
        if minutes
    }
    return {key: toll for key, toll in moved.items() if toll > 0}


def least_by_farms(
    ground: Ground,
    visits: Sequence[int],
    price: Price,
    most_late: int,
    reached: int,
    left: Callable[[], float],
) -> Iterator[int]:
    """Lower bounds on days late and cents of some visits at a price [units], each tighter than before.

    `visits`: open ones of which none shares a machine with another; `reached`: what a booking of them costs,
    by which the steps are measured; `left`: seconds left.
    Source: Lagrangian relaxation with Polyak's step, Geoffrion 1974 and Polyak 1969 [from memory].
    """
    groups = sorted(_groups(ground, visits), key=len)
    asked = [
        {
            (machine, day)
            for visit in group
            for way in ground.ways[visit]
            for machine in way.machines
            for day, _ in way.span
        }
        for group in groups
    ]
    best_tolls: dict[MachineDay, int] = {}
    tolls = _week_tolls(ground, visits, price, most_late, left() / 3)
    best, boldness = 0, FIRST_STEP
    known: dict[int, _Own] = {}
    slope: dict[tuple[int, int], int] = {}
    while boldness > LEAST_STEP:
        owns: dict[int, _Own] = {}
        changed = {key for key in tolls.keys() | best_tolls.keys() if tolls.get(key) != best_tolls.get(key)}
        for number, group in enumerate(groups):
            if number in known and not changed & asked[number]:
                owns[number] = known[number]
                continue
            if left() <= 0:
                return
            share = max(0.05, min(2.0, 4 * left() / (len(groups) - number)))
            owns[number] = _own(ground, group, price, tolls, most_late, share)
        back, ready = _given_back(ground, tolls, price)
        total = back + sum(own.least for own in owns.values())
        if total > best:
            best, best_tolls, known = total, tolls, owns
            slope = _slope(ground, owns.values(), ready)
            yield best
        else:
            boldness /= 3
        if not slope:
            return
        tolls = _moved(ground, best_tolls, slope, boldness * max(reached - best, reached // 200))
        if tolls == best_tolls:
            return
