"""The best day's work of one machine, each visit paying for its part: a knapsack with a trip for each farm.

A day's pattern is a set of parts, each the minutes that some way to do a visit asks of the machine that day.
Days on which the same could be done in the same time are alike and reckoned as one; all of a machine's are
reckoned at once; a cell of the tables is a minute of the day.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from plans.planning.booking_ground import Diary, Ground, Way

Whole = NDArray[np.int64]
Yes = NDArray[np.bool_]
Counted = Literal["minutes", "whole parts", "days"]
Row = tuple[int, str, Counted]
"""Visit, class of machine that it needs (none: people alone), and what of it is counted.

Every way to do a visit has all of its minutes, a whole part at the least, and as many parts as it takes days.
"""
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
    """A day's work: its parts, what trips and lateness cost [units], and what it does of each row.

    `days`: those alike on which it could be done, in order.
    """

    machine: int
    days: tuple[int, ...]
    parts: tuple[Part, ...]
    cost: int
    does: Mapping[Row, float]


def classes_of(ground: Ground, visit: int) -> tuple[str, ...]:
    return ground.season.visits[visit].needs or ("",)


def is_whole(ground: Ground, visit: int, way: Way, day: int, minutes: int) -> bool:
    """Whether a part is all of its visit or fills the day: every way to do a visit has such a part."""
    return len(way.span) == 1 or minutes == ground.day_room(visit, way.machines, day)


def _alike(
    days: Sequence[int], tables: Sequence[NDArray[np.generic]]
) -> tuple[list[tuple[int, ...]], list[int]]:
    """Days in whose columns all tables agree, together, and the place of the first of each."""
    kinds: defaultdict[bytes, list[int]] = defaultdict(list)
    for number in range(len(days)):
        kinds[b"".join(table[:, number].tobytes() for table in tables)].append(number)
    return [tuple(days[one] for one in several) for several in kinds.values()], [
        several[0] for several in kinds.values()
    ]


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
        self.number = {part: number for number, part in enumerate(self.parts)}
        self.by_farm: defaultdict[int, list[int]] = defaultdict(list)
        for number, part in enumerate(self.parts):
            self.by_farm[ground.farm[part.visit]].append(number)
        shape = len(self.parts), len(self.days)
        whole, late, of_days = np.zeros(shape, bool), np.zeros(shape, np.int64), np.zeros(shape)
        place = {day: number for number, day in enumerate(self.days)}
        for number, part in enumerate(self.parts):
            asked = ground.season.visits[part.visit]
            held = self._held(part.visit)
            rate = asked.priority * price.late * len(held) / len(classes_of(ground, part.visit))
            for day, (is_one, of_late, of_all) in offers[part].items():
                at = number, place[day]
                whole[at], late[at], of_days[at] = is_one, int(of_late * rate), of_all
        trips, farms = diary.machine_at, list(self.by_farm)
        there = np.array([[(machine, farm, day) in trips for day in self.days] for farm in farms], bool)
        boundless = machine == ground.crew
        room = [0 if boundless else max(0, diary.machine_left[machine][day]) for day in self.days]
        self.kinds, firsts = _alike(self.days, [whole, late, of_days, there, np.array([room], np.int64)])
        self.place = {day: number for number, days in enumerate(self.kinds) for day in days}
        self.whole, self.late, self.of_days = whole[:, firsts], late[:, firsts], of_days[:, firsts]
        self.offered: Yes = self.of_days > 0
        self.there = {farm: row[firsts] for farm, row in zip(self.by_farm, there, strict=True)}
        self.room: Whole = np.array(room, np.int64)[firsts]
        self.share = np.array([part.minutes / ground.minutes[part.visit] for part in self.parts])
        self.minutes = [0 if boundless else part.minutes for part in self.parts]
        self.travel = [0] * len(ground.farms) if boundless else ground.travel

    def _held(self, visit: int) -> list[str]:
        """Classes that this machine brings to a visit."""
        if self.machine == self.ground.crew:
            return [""]
        brought = self.ground.season.machines[self.machine].classes
        return [name for name in classes_of(self.ground, visit) if name in brought]

    def _offers(self, ways: Mapping[int, Sequence[Way]]) -> dict[Part, dict[int, tuple[bool, float, float]]]:
        """By part and day: if it is a whole one, its share of the least days late and of the fewest days."""
        offers: defaultdict[Part, dict[int, tuple[bool, float, float]]] = defaultdict(dict)
        for visit, several in ways.items():
            for way in several:
                if self.machine not in way.machines:
                    continue
                for day, minutes in way.span:
                    whole = is_whole(self.ground, visit, way, day, minutes)
                    late = way.late * minutes / self.ground.minutes[visit]
                    by_day = offers[Part(visit, minutes)]
                    was_whole, was_late, was_part = by_day.get(day, (False, late, 0.0))
                    by_day[day] = whole or was_whole, min(late, was_late), max(1 / len(way.span), was_part)
        return offers

    def _trip(self, farm: int) -> int:
        return 0 if self.ground.towed[self.machine] else self.ground.trip_cents[farm] * self.price.cent

    def _worth(self, pays: Mapping[Row, float]) -> Whole:
        """What each part earns on each kind of day [units], rounded up, less its lateness."""
        minutes, whole, days = (np.zeros((len(self.parts), 1)) for _ in range(3))
        for number, part in enumerate(self.parts):
            for name in self._held(part.visit):
                minutes[number] += pays[part.visit, name, "minutes"]
                whole[number] += pays.get((part.visit, name, "whole parts"), 0.0)
                days[number] += pays.get((part.visit, name, "days"), 0.0)
        earned = minutes * self.share[:, None] + whole * self.whole + days * self.of_days
        earned = np.ceil(earned).astype(np.int64)
        return np.where(self.offered, earned - self.late, NOT_OFFERED)

    def best(self, pays: Mapping[Row, float], more: int = 0) -> tuple[Whole, list[Pattern], list[Pattern]]:
        """By kind of day the most that a pattern earns over its cost [units], and those patterns.

        Beside them the best of the visits that are in none of them, and so on, `more` times.
        """
        worth = self._worth(pays)
        earned, chosen = self._best(worth)
        found, others = self._patterns(chosen), []
        for _ in range(more):
            in_one = {self.parts[one].visit for one in np.flatnonzero(chosen.any(axis=1))}
            if not in_one:
                break
            worth[[part.visit in in_one for part in self.parts]] = NOT_OFFERED
            chosen = self._best(worth)[1]
            others += self._patterns(chosen)
        return earned, found, others

    def _best(self, worth: Whole) -> tuple[Whole, Yes]:
        """As before, by part and kind of day whether it is in."""
        count, width = len(self.kinds), int(self.room.max(initial=0)) + 1
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
        chosen = np.zeros((len(self.parts), len(self.kinds)), bool)
        every, left = np.arange(len(self.kinds)), self.room.copy()
        for farm, goes, taken in reversed(list(steps)):
            went = goes[every, left]
            for one, takes in reversed(taken):
                chosen[one] = went & takes[every, left]
                left -= chosen[one] * self.minutes[one]
            left -= (went & ~self.there[farm]) * self.travel[farm]
        return chosen

    def _patterns(self, chosen: Yes) -> list[Pattern]:
        """The patterns of each kind of day on which something is chosen."""
        return [
            self.pattern(kind, [int(one) for one in np.flatnonzero(chosen[:, kind])])
            for kind in range(len(self.kinds))
            if chosen[:, kind].any()
        ]

    def pattern(self, at: int, numbers: Sequence[int]) -> Pattern:
        """That of some parts on a kind of day."""
        farms = {self.ground.farm[self.parts[one].visit] for one in numbers}
        cost = sum(self._trip(farm) for farm in farms if not self.there[farm][at])
        does: defaultdict[Row, float] = defaultdict(float)
        for one in numbers:
            part = self.parts[one]
            cost += int(self.late[one, at])
            for name in self._held(part.visit):
                does[part.visit, name, "minutes"] += float(self.share[one])
                does[part.visit, name, "whole parts"] += float(self.whole[one, at])
                does[part.visit, name, "days"] += float(self.of_days[one, at])
        return Pattern(self.machine, self.kinds[at], tuple(self.parts[one] for one in numbers), cost, does)

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
        return self.pattern(at, numbers) if numbers and minutes <= self.room[at] else None
