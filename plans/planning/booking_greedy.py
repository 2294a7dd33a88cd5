"""A booking at once: the most urgent visit first, each where it is least late, then cheapest."""

from __future__ import annotations

from bisect import insort
from collections.abc import Mapping
from heapq import heappop, heappush

from plans.planning.booking import Booking, Season, check
from plans.planning.booking_ground import Diary, Ground, Placed, Placements
from plans.planning.booking_reasons import explained


def _urgency(ground: Ground) -> dict[int, int]:
    """Day by which each visit must end so that no visit waiting for it need be late."""
    due: dict[int, int] = {}
    for visit in reversed(ground.order):
        due[visit] = ground.day(ground.season.visits[visit].latest)
        for follower, wait in ground.followers[visit]:
            ways = ground.ways[follower]
            days = min((way.end - way.start for way in ways), default=0)
            due[visit] = min(due[visit], due[follower] - days - wait)
    return due


class _Filling:
    """Visits booked one after the other; `thrifty`: on the cheapest day of the window, not the first."""

    def __init__(self, ground: Ground, thrifty: bool) -> None:
        self.ground, self.thrifty = ground, thrifty
        self.due = _urgency(ground)
        self.diary = Diary(ground)
        self.waiting = {
            visit: sum(before in self.due for before, _ in ground.after[visit]) for visit in ground.order
        }
        self.ready: list[tuple[bool, int, int, int]] = []
        self.open: dict[tuple[int, tuple[str, ...]], set[int]] = {}
        for visit in ground.order:
            if not self.waiting[visit]:
                self._offer(visit)

    def _kind(self, visit: int) -> tuple[int, tuple[str, ...]]:
        return self.ground.farm[visit], self.ground.season.visits[visit].needs

    def _offer(self, visit: int) -> None:
        asked = self.ground.season.visits[visit]
        heappush(self.ready, (not asked.fixed, self.due[visit], -asked.priority, visit))
        self.open.setdefault(self._kind(visit), set()).add(visit)

    def _soonest(self, visit: int) -> int | None:
        """First day on which what it waits for is over; None where some of that is not booked."""
        soonest = 0
        for before, wait in self.ground.after[visit]:
            if before in self.due:
                if before not in self.diary.placed:
                    return None
                soonest = max(soonest, self.diary.placed[before].way.end + wait)
        return soonest

    def _close(self, visit: int, placed: Placed | None) -> None:
        self.open[self._kind(visit)].discard(visit)
        if placed is not None:
            self.diary.place(visit, placed)
        for follower, _ in self.ground.followers[visit]:
            self.waiting[follower] -= 1
            if not self.waiting[follower]:
                self._offer(follower)

    def run(self) -> Placements:
        while self.ready:
            *_, visit = heappop(self.ready)
            mates = self.open[self._kind(visit)]
            if visit not in mates:
                continue
            soonest = self._soonest(visit)
            if soonest is None:
                self._close(visit, None)
                continue
            others = sorted((one for one in mates if one != visit), key=self.due.__getitem__)
            wanted = self._wanted(others) if self.thrifty else {}
            placed = best_place(self.diary, visit, soonest, self.due[visit], self.thrifty, wanted)
            self._close(visit, placed)
            if placed is not None and self.thrifty:
                for mate in others:
                    self._join(mate, {day for day, _ in placed.way.span})
        return self.diary.placed

    def _wanted(self, mates: list[int]) -> dict[int, list[int]]:
        """Minutes that others at the farm, which need the same, could use of each day, the shortest first."""
        wanted: dict[int, list[int]] = {}
        for mate in mates:
            soonest = self._soonest(mate)
            if soonest is not None:
                minutes = self.ground.minutes[mate]
                days = {
                    way.start
                    for way in self.ground.ways[mate]
                    if way.end == way.start and soonest <= way.start <= self.due[mate]
                }
                for day in days:
                    insort(wanted.setdefault(day, []), minutes)
        return wanted

    def _join(self, mate: int, days: set[int]) -> None:
        """Put a visit to the trips that go to its farm already, where it is not late there."""
        soonest = self._soonest(mate)
        if soonest is None:
            return
        for way in self.ground.ways[mate]:
            if way.start >= soonest and way.end <= self.due[mate] and days.issuperset(d for d, _ in way.span):
                if self.diary.fits(mate, way) and not self.diary.added_cents(mate, way):
                    people = self.diary.people_for(mate, way)
                    if people is not None:
                        self._close(mate, Placed(way, people))
                        return


def best_place(
    diary: Diary,
    visit: int,
    soonest: int,
    due: int,
    thrifty: bool = True,
    wanted: Mapping[int, list[int]] | None = None,
    latest: int | None = None,
) -> Placed | None:
    """Where a visit goes with all others left where they are; None where nowhere.

    `due`: wished last day; `latest`: the last there may be. `wanted`: minutes of the
    visits that could come along, by day.
    """
    ground = diary.ground
    trip = ground.trip_cents[ground.farm[visit]]
    ranked = []
    for number, way in enumerate(ground.ways[visit]):
        if way.start < soonest or (latest is not None and way.end > latest):
            continue
        if diary.fits(visit, way):
            money = diary.added_cents(visit, way)
            rank: tuple[int, ...] = (way.start, money)
            if thrifty:
                day, spent = way.span[-1]
                left = min(diary.machine_left[machine][day] for machine in way.machines) - spent
                left -= ground.travel[ground.farm[visit]]
                for minutes in (wanted or {}).get(day, ()):
                    left -= minutes
                    if left < 0:
                        break
                    money -= trip
                rank = (money, way.change, way.start)
            ranked.append((way.late, max(0, way.end - due), *rank, number))
    for *_, number in sorted(ranked):
        way = ground.ways[visit][number]
        people = diary.people_for(visit, way)
        if people is not None:
            return Placed(way, people)
    return None


def filled(ground: Ground) -> Placements:
    """The better of the thrifty and the prompt filling, by visit."""
    return min((_Filling(ground, thrifty).run() for thrifty in (True, False)), key=ground.score)


def greedy(season: Season) -> Booking:
    """A valid booking in one pass, without a bound. Raises ValueError naming what does not add up."""
    check(season)
    ground = Ground(season)
    return explained(ground, filled(ground))
