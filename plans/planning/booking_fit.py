"""The best booking that the time allows: a small season as one program, a large one part by part.

A large season is improved by solving some farms, or some weeks of one class of machine, again with all else
left where it is (large neighbourhood search, Shaw 1998 [from memory]), while a second thread seeks the bound
and books by the patterns that it finds.
"""

from __future__ import annotations

import threading
import time
from collections import defaultdict
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from itertools import chain

import numpy as np
from ortools.sat.python import cp_model

from plans.planning.booking import Booking, Score, Season, check
from plans.planning.booking_bound import Packing, least, packed
from plans.planning.booking_days import Price
from plans.planning.booking_dive import again, beside, dived, moved
from plans.planning.booking_farms import least_by_farms
from plans.planning.booking_greedy import filled
from plans.planning.booking_ground import Diary, Ground, Placed, Placements
from plans.planning.booking_model import Model, weights
from plans.planning.booking_reasons import explained
from plans.planning.booking_settle import score_of, settled
from plans.planning.booking_shake import shaken

Parts = tuple[int, int, int]
OnBetter = Callable[[Booking, Score | None], None]
UNITS = 1000
"""Parts of a cent, or of a day late, in which a bound is reckoned."""
ONE_PROGRAM = 15_000
"""Most yes-or-no choices with which a season is solved in one piece."""
LATE_CENTS = 50_000
"""What a day late is made to cost while cost is bounded; any number gives a bound."""
FEWEST, MOST = 12, 120
PART_SECONDS = 3.0
NOTHING_SECONDS = 0.1
HEAD_START = 0.9
"""Share of the time left at which the search lets the bound get to its first booking."""
CLOSE = 0.97
"""Share of the cost that is proven from which on it does not."""
POLISH = 0.6
"""Share of the time left after a dive at which it is no longer made better by itself."""
SHAKES = 300
"""Rounds of the quick search between the slow ones."""
LARGEST_EXACT = 2**52


@dataclass(slots=True)
class _Run:
    """One fit under way."""

    ground: Ground
    ends: float
    on_better: OnBetter | None
    should_stop: Callable[[], bool] | None
    best: Placements
    score: Parts
    bound: Parts = (0, 0, 0)
    over: threading.Event = field(default_factory=threading.Event)
    dived: threading.Event = field(default_factory=threading.Event)
    taking: threading.Lock = field(default_factory=threading.Lock)

    def left(self) -> float:
        """Seconds left; none once the caller or the bound says stop."""
        if self.over.is_set() or (self.should_stop is not None and self.should_stop()):
            return 0.0
        return self.ends - time.monotonic()

    def waits_for_the_dive(self) -> bool:
        """Whether nothing is late and there is still much to gain from the packed days."""
        return not self.dived.is_set() and not self.score[0] and self.bound[1] < CLOSE * self.score[1]

    def take(self, placements: Placements) -> None:
        score = self.ground.score(placements)
        with self.taking:
            if score > self.score:
                return
            better = score < self.score
            self.best, self.score = placements, score
            if better:
                self.tell()

    def tell(self) -> None:
        if self.on_better is not None:
            bound = min(self.bound, self.score)
            self.on_better(settled(self.ground, self.best, bound), score_of(bound))


class _Watch(cp_model.CpSolverSolutionCallback):
    """Takes each better booking as the one program finds it."""

    def __init__(self, run: _Run, model: Model) -> None:
        super().__init__()
        self.run, self.parts = run, model

    def on_solution_callback(self) -> None:
        self.run.bound = max(self.run.bound, _lower(self.parts, self.best_objective_bound))
        self.run.take(self.parts.read(self))


def _lower(model: Model, value: float) -> Parts:
    if not value > 0:
        return 0, 0, 0
    # beyond 2^52 a float no longer tells whole numbers apart
    slack = 1e-4 if value < LARGEST_EXACT else value * 1e-15
    return model.weighted.apart(int(np.ceil(value - slack)))


def _in_one(run: _Run, workers: int, seed: int) -> None:
    ground = run.ground
    model = Model(ground, ground.open, {}, weights(ground, ground.open))
    model.hint(run.best)
    solver = cp_model.CpSolver()
    solver.parameters.num_workers = workers
    solver.parameters.interleave_search = workers > 1
    solver.parameters.random_seed = seed
    solver.parameters.linearization_level = 2
    solver.parameters.max_time_in_seconds = max(0.01, run.left())
    done = threading.Event()

    def stop_when_told() -> None:
        while not done.wait(0.2):
            if run.left() <= 0:
                solver.stop_search()

    watcher = threading.Thread(target=stop_when_told, daemon=True)
    if run.should_stop is not None:
        watcher.start()
    status = solver.solve(model.model, _Watch(run, model))
    done.set()
    if status in (cp_model.OPTIMAL, cp_model.FEASIBLE):
        run.take(model.read(solver))
        run.bound = max(run.bound, _lower(model, solver.best_objective_bound))


def _seek_bound(run: _Run, seed: int) -> None:
    try:
        _bound_and_dive(run, seed)
    finally:
        run.dived.set()


def _bound_and_dive(run: _Run, seed: int) -> None:
    """Raises `run.bound`: first days late, where the first booking has any, then the cost at so few.

    Then books what the bound says the machines' days are best used for, and tries the other bound.
    """
    ground, late = run.ground, 0
    if run.score[0]:
        began_left = run.left()

        def early() -> float:
            return min(run.left(), run.left() - 0.6 * began_left)

        worst = ground.season.most_late_days
        packings = packed(ground, Price(UNITS, 0), worst, run.best)
        for total in chain(least(packings, early), _by_farms(run, packings, worst, early)):
            late = max(late, -(-total // UNITS))
            run.bound = max(run.bound, (late, 0, 0))
    worst = ground.season.most_late_days if late else 0
    packings = packed(ground, Price(LATE_CENTS * UNITS, UNITS), worst, run.best)

    def prove(totals: Iterator[int]) -> None:
        for total in totals:
            money = -(-total // UNITS) - LATE_CENTS * late
            run.bound = max(run.bound, (late, max(0, money), 0))

    prove(least(packings, run.left))
    dive_first = run.waits_for_the_dive()
    if dive_first:
        _dive(run, packings, worst)
    kept_back = run.left() * (0.95 if dive_first else 0.4)
    prove(_by_farms(run, packings, worst, lambda: run.left() - kept_back))
    if not dive_first:
        _dive(run, packings, worst)
    _dive_again(run, packings, worst, seed)


def _missing(run: _Run, packing: Packing) -> int:
    """What the visits of a packing take beyond what is proven that they must [units]."""
    return packing.takes(run.best) - packing.bound


def _by_farms(run: _Run, packings: list[Packing], most_late: int, left: Callable[[], float]) -> Iterator[int]:
    """Bounds with each packing's raised by the other way to it, the least proven first [units]."""
    for packing in sorted(packings, key=lambda one: _missing(run, one), reverse=True):
        takes = packing.takes(run.best)
        for bound in least_by_farms(run.ground, list(packing.ways), packing.price, most_late, takes, left):
            if bound > packing.bound:
                packing.proven = bound
                yield sum(max(0, one.bound) for one in packings)


def _dive(run: _Run, packings: list[Packing], most_late: int) -> None:
    """Books the machines whose days are furthest from their bound anew, and then the others around them."""
    first, *others = sorted(packings, key=lambda one: _missing(run, one), reverse=True)
    first.solution()
    placed = dived(first, {}, most_late, run.left)
    kept_back, draw = POLISH * run.left(), np.random.default_rng(0)
    while placed is not None and run.left() > kept_back and first.takes(placed) * CLOSE > first.bound:
        other = again(first, placed, most_late, lambda: run.left() - kept_back, draw)
        if other is not None and first.takes(other) <= first.takes(placed):
            placed = other
    for packing in others:
        if placed is not None:
            was = {visit: run.best[visit] for visit in packing.ways if visit in run.best}
            placed = beside(packing, placed, was, most_late, run.left)
    if placed is not None:
        run.take(shaken(run.ground, placed, SHAKES, np.random.default_rng(0)))
    run.dived.set()


def _dive_again(run: _Run, packings: list[Packing], most_late: int, seed: int) -> None:
    """Half of the days of the machines furthest from their bound, again and again."""
    ground, draw = run.ground, np.random.default_rng(seed)
    while run.left() > 0:
        packing = max(packings, key=lambda one: _missing(run, one))
        found = again(packing, run.best, most_late, run.left, draw)
        if found is None:
            run.over.wait(NOTHING_SECONDS)
            continue
        better = moved(ground, run.best, {visit: found[visit] for visit in packing.ways if visit in found})
        if better is not None:
            run.take(better)


@dataclass(frozen=True, slots=True)
class _Part:
    """Visits that are solved again, and the days they may use."""

    kind: int
    free: tuple[int, ...]
    days: tuple[int, int] | None = None


class _Parts:
    """Which visits are solved again next; more of them while that is quick, fewer while it is not."""

    def __init__(self, ground: Ground, seed: int) -> None:
        self.ground, self.draw = ground, np.random.default_rng(seed)
        self.kinds = (self._farms, self._class, self._days)
        self.sizes = [40.0, 40.0, 60.0]
        self.number = 0
        by_farm: defaultdict[int, list[int]] = defaultdict(list)
        for visit in ground.open:
            by_farm[ground.farm[visit]].append(visit)
        self.farms = list(by_farm.values())

    def next(self, best: Placements) -> _Part:
        kind = self.number % len(self.kinds)
        self.number += 1
        return self.kinds[kind](kind, int(self.sizes[kind]), best)

    def learn(self, kind: int, quick: bool) -> None:
        self.sizes[kind] = min(MOST, max(FEWEST, self.sizes[kind] * (1.15 if quick else 0.8)))

    def _farms(self, kind: int, size: int, best: Placements) -> _Part:
        """Whole farms drawn by lot."""
        chosen: list[int] = []
        for farm in self.draw.permutation(len(self.farms)):
            visits = self.farms[int(farm)]
            if chosen and len(chosen) + len(visits) > size:
                break
            chosen += visits
        return _Part(kind, tuple(chosen))

    def _drawn(self, several: list[int]) -> int:
        return several[int(self.draw.integers(len(several)))]

    def _class(self, kind: int, size: int, best: Placements) -> _Part:
        """Visits that need the same and lie nearest to one of them, every other time to a late one."""
        ground = self.ground
        late = [one for one in ground.open if one not in best or best[one].way.late]
        about = self._drawn(late if late and self.number % 2 else ground.open)
        chosen = dict.fromkeys([about, *self._alike(about, best)[:size]])
        for one in list(chosen):
            if one in late:
                chosen.update(
                    dict.fromkeys(before for before, _ in ground.after[one] if before in ground.ways)
                )
        return _Part(kind, tuple(chosen))

    def _days(self, kind: int, size: int, best: Placements) -> _Part:
        """As before, but all within their days: it packs them anew, mostly about a machine that is rented."""
        ground = self.ground
        rented = [one for one in best if any(ground.rented[machine] for machine in best[one].way.machines)]
        pool = rented if rented and self.number % 4 else sorted(best)
        if not pool:
            return self._class(kind, size, best)
        chosen = self._alike(self._drawn(pool), best)[:size]
        first = min(best[one].way.start for one in chosen)
        return _Part(kind, tuple(chosen), (first, max(best[one].way.end for one in chosen)))

    def _alike(self, about: int, best: Placements) -> list[int]:
        visits = self.ground.season.visits
        needs = set(visits[about].needs)
        middle = best[about].way.start if about in best else self.ground.day(visits[about].latest)
        alike = [
            one for one in best if needs & set(visits[one].needs) or visits[one].needs == visits[about].needs
        ]
        return sorted(alike, key=lambda one: (abs(best[one].way.start - middle), one))


def _staffed(run: _Run, model: Model, found: dict[int, Placed]) -> Placements | None:
    """People for the visits solved again, the others keep theirs; None where somebody is short."""
    diary = Diary(run.ground, model.kept)
    again = [visit for visit in model.free if visit in found]
    for visit in sorted(again, key=lambda one: (found[one].way.start, -len(found[one].way.span), one)):
        people = diary.people_for(visit, found[visit].way)
        if people is None:
            return None
        diary.place(visit, Placed(found[visit].way, people))
    return diary.placed


def _part_by_part(run: _Run, seed: int) -> None:
    ground = run.ground
    parts = _Parts(ground, seed)
    short, began_left = 0, run.left()
    while run.left() > 0 and run.score > run.bound:
        if run.left() < HEAD_START * began_left and run.waits_for_the_dive():
            # Python runs one thread at a time, and the packed days find more
            run.dived.wait(NOTHING_SECONDS)
            continue
        if parts.number % len(parts.kinds) == 0:
            run.take(shaken(ground, run.best, SHAKES, parts.draw))
        part = parts.next(run.best)
        chosen = set(part.free)
        kept = {visit: placed for visit, placed in run.best.items() if visit not in chosen}
        worst = max((placed.way.late for placed in run.best.values()), default=0)
        if len(run.best) < len(ground.open):
            worst = ground.season.most_late_days
        by_person = short > 0 and parts.number % 3 == 0
        model = Model(
            ground,
            part.free,
            kept,
            weights(ground, part.free),
            by_person=by_person,
            most_late=worst,
            days=part.days,
        )
        model.hint(run.best)
        solver = cp_model.CpSolver()
        solver.parameters.num_workers = 1
        solver.parameters.linearization_level = 2
        solver.parameters.random_seed = seed + parts.number
        solver.parameters.max_time_in_seconds = max(0.01, min(PART_SECONDS, run.left()))
        status = solver.solve(model.model)
        parts.learn(part.kind, status == cp_model.OPTIMAL and solver.wall_time < PART_SECONDS / 2)
        if status in (cp_model.OPTIMAL, cp_model.FEASIBLE):
            found = model.read(solver)
            staffed = found if by_person else _staffed(run, model, found)
            short += staffed is None
            if staffed is not None:
                run.take(staffed)


def _choices(ground: Ground) -> int:
    people = len(ground.person_room)
    return sum(
        len(ways) * (1 + people * bool(ground.season.visits[visit].people))
        for visit, ways in ground.ways.items()
    )


def fit(
    season: Season,
    seconds: float,
    workers: int = 2,
    seed: int = 0,
    on_better: OnBetter | None = None,
    should_stop: Callable[[], bool] | None = None,
) -> Booking:
    """The best booking found in `seconds` [s], never worse than the greedy one, with its bound.

    `on_better` hears of each better booking and of the bound then known; `should_stop` is asked between
    steps, and from other threads too. Where it ends optimal, the same season gives the same score, and the
    same booking if it is small enough for one program. Raises ValueError naming what does not add up.
    """
    check(season)
    ends = time.monotonic() + seconds
    ground = Ground(season)
    first = filled(ground)
    run = _Run(ground, ends, on_better, should_stop, first, ground.score(first))
    run.tell()
    if run.score > run.bound and run.left() > 0:
        if _choices(ground) <= ONE_PROGRAM:
            _in_one(run, workers, seed)
        else:
            _in_parts(run, workers, seed)
    return explained(ground, run.best, min(run.bound, run.score))


def _in_parts(run: _Run, workers: int, seed: int) -> None:
    """The bound beside the search with two workers; before it, in half of the time, with one."""
    if workers > 1:
        bound = threading.Thread(target=_seek_bound, args=(run, seed), daemon=True)
        bound.start()
        _part_by_part(run, seed)
        run.over.set()
        bound.join()
        return
    half = run.ends
    run.ends -= run.left() / 2
    _seek_bound(run, seed)
    run.ends = half
    _part_by_part(run, seed)
