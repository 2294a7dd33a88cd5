"""When a rented machine is best kept: whole days, and a delivery each time it is brought anew."""

from __future__ import annotations

from collections.abc import Collection, Mapping

import numpy as np
from numpy.typing import NDArray

from plans.planning.booking_days import Price
from plans.planning.booking_ground import Ground

TOO_DEAR = 1 << 60
Costs = NDArray[np.int64]


class Keeping:
    """The least that rent costs beyond what the days kept earn [units], by how many of them are worked.

    `earned`: by day. `out`: days on which it is kept in any case. Forward over the days, away or here.
    """

    def __init__(
        self,
        ground: Ground,
        machine: int,
        earned: Mapping[int, int],
        price: Price,
        out: Collection[int] = (),
    ) -> None:
        self.may, self.works = ground.kept[machine], [room > 0 for room in ground.machine_room[machine]]
        rent, delivery = ground.rent[machine] * price.cent, ground.delivery[machine] * price.cent
        most = sum(self.works)
        away = np.full(most + 1, TOO_DEAR, np.int64)
        here = away.copy()
        away[0] = 0
        self.stays: list[NDArray[np.bool_]] = []
        self.leaves: list[NDArray[np.bool_]] = []
        for day, may in enumerate(self.may):
            gone = np.minimum(away, here)
            self.leaves.append(here < away)
            self.stays.append(here < away + delivery)
            if not may:
                away, here = gone, np.full(most + 1, TOO_DEAR, np.int64)
                continue
            here = np.minimum(away + delivery, here) + rent - earned.get(day, 0)
            if self.works[day]:
                here[1:] = here[:-1].copy()
                here[0] = TOO_DEAR
            here[here > TOO_DEAR // 2] = TOO_DEAR
            away = np.full(most + 1, TOO_DEAR, np.int64) if day in out else gone
        self.away, self.here = away, here
        self.costs: Costs = np.minimum(away, here)

    def least(self, fewest: int = 0, most: int | None = None) -> tuple[int, list[int]]:
        """The cost of keeping it for so many days of work, and all days on which it is then kept.

        A cost of TOO_DEAR: it cannot be.
        """
        asked = self.costs[fewest : None if most is None else most + 1]
        if not len(asked):
            return TOO_DEAR, []
        worked = fewest + int(asked.argmin())
        return int(self.costs[worked]), self._days(worked)

    def _days(self, worked: int) -> list[int]:
        days, is_here = [], bool(self.here[worked] < self.away[worked])
        for day in reversed(range(len(self.may))):
            if not is_here:
                is_here = bool(self.leaves[day][worked])
                continue
            days.append(day)
            worked -= self.works[day]
            is_here = bool(self.stays[day][worked])
        return days[::-1]


def least_rent(
    ground: Ground, machine: int, earned: Mapping[int, int], price: Price
) -> tuple[int, list[int]]:
    """The least that rent costs beyond what the days kept earn [units], and those days."""
    return Keeping(ground, machine, earned, price).least()


def steps_of_rent(costs: Costs, fewest: int) -> tuple[float, float]:
    """What the `fewest` days of work cost at the least, and what each more at the least adds."""
    begin, beyond = float(costs[fewest]), costs[fewest + 1 :]
    if costs[fewest] >= TOO_DEAR or not len(beyond):
        return begin, 0.0
    return begin, float(((beyond - begin) / np.arange(1, len(beyond) + 1)).min())
