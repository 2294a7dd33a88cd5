"""Whether a tractor, an implement and the way to the farm go together, point by point.

A sheet for the yard: the machines' manuals, the standards and local law go before everything here.
"""

from __future__ import annotations

from typing import get_args

from plans.planning.rig_drive import hydraulic_points, power_points, pto_points
from plans.planning.rig_facts import (
    Answer,
    Implement,
    Part,
    RigCheck,
    RigPoint,
    Road,
    TowVehicle,
    Tractor,
    Trailer,
)
from plans.planning.rig_hitch import ballast_points, hitch_points, lift_points, slope_points
from plans.planning.rig_road import road_points

__all__ = [
    "Answer",
    "Implement",
    "Part",
    "RigCheck",
    "RigPoint",
    "Road",
    "TowVehicle",
    "Tractor",
    "Trailer",
    "rig_check",
]

PARTS: tuple[Part, ...] = get_args(Part)


def rig_check(
    tractor: Tractor, implement: Implement, slope_pct: float | None = None, road: Road | None = None
) -> RigCheck:
    """Every point where the two meet, on ground of a slope [%], and on the road where one is given.

    What the implement does not have is not compared; what nobody has looked at is unknown. Each point names
    its source. Without `road` nothing of the way there is compared.
    """
    found = (
        *hitch_points(tractor, implement),
        *pto_points(tractor, implement),
        *hydraulic_points(tractor, implement),
        *power_points(tractor, implement),
        *lift_points(tractor, implement),
        *(road_points(tractor, implement, road) if road else ()),
        *ballast_points(tractor, implement),
        *slope_points(tractor, implement, slope_pct),
    )
    return RigCheck(tuple(sorted(found, key=lambda point: PARTS.index(point.part))))
