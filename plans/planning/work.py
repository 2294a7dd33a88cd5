"""Machine hours, trips, slope and plant counts.

Sources: field capacity as in University of Kentucky AEN-73 and Iowa State AgDM A3-24 (width × speed x
efficiency / 8.25, where 8.25 is 43,560 / 5,280 exactly); plants per acre as in Coder, University of Georgia.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

from plans.planning import tables
from plans.planning.figures import Figure, Term
from plans.planning.plan import Task
from plans.planning.price_list import WorkRate

CAPACITY_CONSTANT = 8.25
CAPACITY_SOURCE = (
    "width × speed × efficiency / 8.25: Iowa State University AgDM A3-24; University of Kentucky AEN-73"
)
SQFT_PER_ACRE = 43_560


def acres_per_hour(width_ft: float, speed_mph: float, efficiency_pct: float) -> Figure:
    """Effective field capacity [acre/h] = ft × mph × efficiency / 8.25. Source: Iowa State AgDM A3-24."""
    return Figure(
        width_ft * speed_mph * efficiency_pct / 100 / CAPACITY_CONSTANT,
        "acre/h",
        "width × speed × efficiency / 8.25",
        (
            Term("width", width_ft, "ft"),
            Term("speed", speed_mph, "mph"),
            Term("efficiency", efficiency_pct, "%"),
        ),
        CAPACITY_SOURCE,
    )


def capacity(operation: str, rate: WorkRate | None) -> Figure:
    """Pace of an operation [acre/h]: as the practice measured it, else its own machine, else the table's.

    Source: Iowa State AgDM A3-24; reference/operations.csv. Raises KeyError for an operation in no table.
    """
    usual = tables.operations()[operation]
    if rate and rate.acres_per_hour:
        return Figure(rate.acres_per_hour, "acre/h", "pace as measured", (), "price list")
    width = rate.width_ft if rate and rate.width_ft else usual.width_ft
    speed = rate.speed_mph if rate and rate.speed_mph else usual.speed_mph
    efficiency = rate.efficiency_pct if rate and rate.efficiency_pct else usual.efficiency_pct
    if width and speed and efficiency:
        return acres_per_hour(width, speed, efficiency)
    return Figure(usual.acres_per_hour or 0.0, "acre/h", "usual pace", (), usual.source)


def hours(acres: float, pace: Figure) -> Figure:
    """Machine hours in the field [h] = acres / acres per hour, without travel, filling and service.

    Source: Iowa State AgDM A3-24.
    """
    return Figure(
        acres / float(pace.value),
        "h",
        "acres / acres per hour",
        (Term("area", acres, "acre"), Term("pace", float(pace.value), "acre/h")),
        pace.source,
    )


def plant_hours(plants: int, operation: str) -> Figure:
    """Person-hours of work that goes plant by plant [h] = plants / plants per hour.

    Source: reference/operations.csv. Raises KeyError for an operation in no table.
    """
    usual = tables.operations()[operation]
    pace = usual.plants_per_hour or 1.0
    return Figure(
        plants / pace,
        "h",
        "plants / plants per hour",
        (Term("plants", plants), Term("pace", pace, "plants/h")),
        usual.source,
    )


@dataclass(frozen=True, slots=True)
class Visit:
    """Fields worked with one machine on one trip."""

    operation: str
    on: date
    """First day on which every field of the visit can be worked."""
    latest: date
    tasks: tuple[Task, ...]


def visits(tasks: Sequence[Task]) -> tuple[Visit, ...]:
    """Tasks of the same operation and step order whose windows share a day, put on one trip.

    Two steps of one field never share a trip, since each waits for the one before.
    """
    found: list[Visit] = []
    fields: list[set[str]] = []
    for task in sorted(tasks, key=lambda task: (task.earliest, task.latest, task.key)):
        if task.done_on is not None:
            continue
        for place, visit in enumerate(found):
            fits = visit.operation == task.operation and task.earliest <= visit.latest
            if fits and task.field not in fields[place] and visit.on <= task.latest:
                found[place] = Visit(
                    visit.operation,
                    max(visit.on, task.earliest),
                    min(visit.latest, task.latest),
                    (*visit.tasks, task),
                )
                fields[place].add(task.field)
                break
        else:
            found.append(Visit(task.operation, task.earliest, task.latest, (task,)))
            fields.append({task.field})
    return tuple(found)


def slope(rise_ft: float, run_ft: float) -> dict[str, Figure]:
    """Slope in percent and in degrees from rise and run [ft]: 15 % is 8.5 degrees. Source: geometry."""
    inputs = (Term("rise", rise_ft, "ft"), Term("run", run_ft, "ft"))
    return {
        "percent": Figure(100 * rise_ft / run_ft, "%", "100 × rise / run", inputs, "geometry"),
        "degrees": Figure(
            math.degrees(math.atan2(rise_ft, run_ft)),
            "degrees",
            "arctangent of rise / run",
            inputs,
            "geometry",
        ),
    }


def plants_per_acre(row_ft: float, plant_ft: float) -> Figure:
    """Plants on an acre at a square or rectangular spacing [ft]. Source: Coder, University of Georgia."""
    return Figure(
        SQFT_PER_ACRE / (row_ft * plant_ft),
        "plants",
        "43,560 / (row spacing × plant spacing)",
        (Term("rows", row_ft, "ft"), Term("plants", plant_ft, "ft")),
        "Coder, University of Georgia Warnell School, trees per acre by spacing",
    )
