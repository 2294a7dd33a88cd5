"""The best day's work of one machine, each visit paying for its part: a knapsack with a trip for each farm.

A day's pattern is a set of parts, each the minutes that some way to do a visit asks of the machine that day.
All days of a machine are reckoned at once; a cell of the tables is a minute of the day.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from plans.planning.booking_ground import Diary, Ground, Way

Whole = NDArray[np.int64]
Yes = NDArray[np.bool_]
Row = tuple[int, str, bool]
"""Visit, class of machine that it needs (none: people alone), and whether its whole parts are counted."""
NOT_OFFERED = -(1 << 60)


@dataclass(frozen=True, slots=True)
class Price:
    """What is made least: a day late and a cent, in units."""

    late: int
    cent: int


@dataclass(frozen=True, slots=True)
class Part:
    """Minutes of a visit on one day."""

    visit: int
    minutes: int


@dataclass(frozen=True, slots=True)
class Pattern:
    """A day's work: its parts, what trips and lateness cost [units], and what it does of each row."""

    machine: int
    day: int
    parts: tuple[Part, ...]
    cost: int
    does: Mapping[Row, float]


def classes_of(ground: Ground, visit: int) -> tuple[str, ...]:
    return ground.season.visits[visit].needs or ("",)


def is_whole(ground: Ground, visit: int, way: Way, day: int, minutes: int) -> bool:
    """Whether a part is all of its visit or fills the day: every way to do a visit has such a part."""
    return len(way.span) == 1 or minutes == ground.day_room(visit, way.machines, day)


class MachineDays:
    """The days of one machine on which something could be done, and the parts that could be done then.

    `diary`: what is booked already; its trips are paid for and its minutes gone.
    """

    def __init__(
        self, ground: Ground, machine: int, ways: Mapping[int, Sequence[Way]], price: Price, diary: Diary
    ) -> None:
        self.ground, self.machine, self.price = ground, machine, price
        offers = self._offers(ways)
        self.parts = sorted(offers, key=lambda part: (ground.farm[part.visit], part.visit, part.minutes))
        self.days = sorted({day for by_day in offers.values() for day in by_day})
        self.place = {day: number for number, day in enumerate(self.days)}
        self.number = {part: number for number, part in enumerate(self.parts)}
        shape = len(self.parts), len(self.days)
        self.offered, self.whole = np.zeros(shape, bool), np.zeros(shape, bool)
        self.late = np.zeros(shape, np.int64)
        for number, part in enumerate(self.parts):
            asked = ground.season.visits[part.visit]
            held = self._held(part.visit)
            rate = asked.priority * price.late * len(held) / len(classes_of(ground, part.visit))
            for day, (whole, late) in offers[part].items():
                at = number, self.place[day]
                self.offered[at], self.whole[at], self.late[at] = True, whole, int(late * rate)
        self.by_farm: defaultdict[int, list[int]] = defaultdict(list)
        for number, part in enumerate(self.parts):
            self.by_farm[ground.farm[part.visit]].append(number)
        self.there = {
            farm: np.array([(machine, farm, day) in diary.machine_at for day in self.days])
            for farm in self.by_farm
        }
        self.share = np.array([part.minutes / ground.minutes[part.visit] for part in self.parts])
        boundless = machine == ground.crew
        self.minutes = [0 if boundless else part.minutes for part in self.parts]
        self.travel = [0] * len(ground.farms) if boundless else ground.travel
        self.room = np.array(
            [0 if boundless else max(0, diary.machine_left[machine][day]) for day in self.days]
        )

    def _held(self, visit: int) -> list[str]:
        """Classes that this machine brings to a visit."""
        if self.machine == self.ground.crew:
            return [""]
        brought = self.ground.season.machines[self.machine].classes
        return [name for name in classes_of(self.ground, visit) if name in brought]

    def _offers(self, ways: Mapping[int, Sequence[Way]]) -> dict[Part, dict[int, tuple[bool, float]]]:
        """By part and day: whether it is a whole one, and its share of the least days late."""
        offers: defaultdict[Part, dict[int, tuple[bool, float]]] = defaultdict(dict)
        for visit, several in ways.items():
            for way in several:
                if self.machine not in way.machines:
                    continue
                for day, minutes in way.span:
                    whole = is_whole(self.ground, visit, way, day, minutes)
                    late = way.late * minutes / self.ground.minutes[visit]
                    by_day = offers[Part(visit, minutes)]
                    was_whole, was_late = by_day.get(day, (False, late))
                    by_day[day] = whole or was_whole, min(late, was_late)
        return offers

    def _trip(self, farm: int) -> int:
        return 0 if self.ground.towed[self.machine] else self.ground.trip_cents[farm] * self.price.cent

    def _worth(self, pays: Mapping[Row, float]) -> Whole:
        """What each part earns on each day [units], rounded up, less its lateness."""
        pay, head = np.zeros(len(self.parts)), np.zeros(len(self.parts))
        for number, part in enumerate(self.parts):
            for name in self._held(part.visit):
                pay[number] += pays[part.visit, name, False]
                head[number] += pays.get((part.visit, name, True), 0.0)
        earned = np.ceil((pay * self.share)[:, None] + self.whole * head[:, None]).astype(np.int64)
        return np.where(self.offered, earned - self.late, NOT_OFFERED)

    def best(self, pays: Mapping[Row, float]) -> tuple[Whole, Yes]:
        """By day the most that a pattern earns over its cost [units]; by part and day whether it is in."""
        worth = self._worth(pays)
        count, width = len(self.days), int(self.room.max(initial=0)) + 1
        best = np.zeros((count, width), np.int64)
        steps: list[tuple[int, Yes, list[tuple[int, Yes]]]] = []
        for farm, numbers in self.by_farm.items():
            paying = [one for one in numbers if worth[one].max() > 0 and self.minutes[one] < width]
            road = self.travel[farm]
            if not paying or road >= width:
                continue
            here = self.there[farm][:, None]
            with_it = np.full((count, width), NOT_OFFERED, np.int64)
            with_it[:, road:] = best[:, : width - road] - self._trip(farm)
            with_it = np.where(here, best, with_it)
            taken = []
            for one in paying:
                minutes = self.minutes[one]
                more = np.full((count, width), NOT_OFFERED, np.int64)
                more[:, minutes:] = with_it[:, : width - minutes] + worth[one][:, None]
                takes = more > with_it
                with_it = np.where(takes, more, with_it)
                taken.append((one, takes))
            goes = with_it > best
            best = np.where(goes, with_it, best)
            steps.append((farm, goes, taken))
        return best[np.arange(count), self.room], self._chosen(steps)

    def _chosen(self, steps: Iterable[tuple[int, Yes, list[tuple[int, Yes]]]]) -> Yes:
        chosen = np.zeros((len(self.parts), len(self.days)), bool)
        every, left = np.arange(len(self.days)), self.room.copy()
        for farm, goes, taken in reversed(list(steps)):
            went = goes[every, left]
            for one, takes in reversed(taken):
                chosen[one] = went & takes[every, left]
                left -= chosen[one] * self.minutes[one]
            left -= (went & ~self.there[farm]) * self.travel[farm]
        return chosen

    def patterns(self, chosen: Yes) -> list[Pattern]:
        """The patterns of each day on which something is chosen."""
        return [
            self.pattern(day, [int(one) for one in np.flatnonzero(chosen[:, number])])
            for number, day in enumerate(self.days)
            if chosen[:, number].any()
        ]

    def pattern(self, day: int, numbers: Sequence[int]) -> Pattern:
        at = self.place[day]
        farms = {self.ground.farm[self.parts[one].visit] for one in numbers}
        cost = sum(self._trip(farm) for farm in farms if not self.there[farm][at])
        does: defaultdict[Row, float] = defaultdict(float)
        for one in numbers:
            part = self.parts[one]
            cost += int(self.late[one, at])
            for name in self._held(part.visit):
                does[part.visit, name, False] += float(self.share[one])
                if self.whole[one, at]:
                    does[part.visit, name, True] += 1.0
        return Pattern(self.machine, day, tuple(self.parts[one] for one in numbers), cost, does)

    def pattern_of(self, day: int, parts: Iterable[Part]) -> Pattern | None:
        """The pattern of those parts that can be done on the day; None where they do not go together."""
        if day not in self.place:
            return None
        at = self.place[day]
        numbers = [
            number
            for part in parts
            if (number := self.number.get(part)) is not None and self.offered[number, at]
        ]
        farms = {self.ground.farm[self.parts[one].visit] for one in numbers}
        minutes = sum(self.minutes[one] for one in numbers)
        minutes += sum(self.travel[farm] for farm in farms if not self.there[farm][at])
        return self.pattern(day, numbers) if numbers and minutes <= self.room[at] else None
