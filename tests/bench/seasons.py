"""Invented seasons to be fitted: jobs of five visits on farms about a yard, their hours set to a load."""

from __future__ import annotations

from collections import defaultdict
from dataclasses import replace
from datetime import date, timedelta
from decimal import Decimal

import numpy as np

from plans.planning.booking import BookVisit, DayRange, Leg, Machine, Person, Prices, Season, Wait
from plans.planning.booking_ground import Ground, daylight_hours, fit_shares

STEPS = (
    ("boom_spraying", "sprayer", (4, 5), 40, 0, ("applicator",)),
    ("no_till_drilling", "drill", (4, 25), 56, 10, ()),
    ("rotary_mowing", "mower", (6, 15), 46, 30, ()),
    ("rotary_mowing", "mower", (8, 1), 40, 28, ()),
    ("boom_spraying", "sprayer", (9, 10), 50, 14, ("applicator",)),
)
"""Operation, class of machine, opening day, length of the window [days], wait [days], skills."""


def season(jobs: int, load: float, rented: bool, seed: int = 1, year: int = 2027) -> Season:
    """`jobs` fields on three farms to five of them, with four machines and three people.

    `load`: share of each class's hours that is asked for. `rented`: whether the second drill is.
    """
    draw = np.random.default_rng(seed)
    farms = [f"farm {number}" for number in range(max(1, jobs * 3 // 5))]
    miles = draw.uniform(2, 14, len(farms)).round(1)
    travel = {farm: Leg(float(far), float(far) / 45) for farm, far in zip(farms, miles, strict=True)}
    visits = []
    for job in range(jobs):
        farm = farms[int(draw.integers(len(farms)))]
        acres = float(draw.lognormal(0.0, 0.5))
        shift = timedelta(days=int(draw.integers(-7, 8)))
        for number, (operation, machine, (month, day), length, wait, skills) in enumerate(STEPS):
            opens = date(year, month, day) + shift
            visits.append(
                BookVisit(
                    id=f"{job}/{number}",
                    farm=farm,
                    field=f"field {job}",
                    operation=operation,
                    hours=acres,
                    earliest=opens,
                    latest=opens + timedelta(days=length - 1),
                    after=(Wait(f"{job}/{number - 1}", wait),) if number else (),
                    needs=(machine,),
                    skills=skills,
                )
            )
    made = Season(
        first=date(year, 3, 15),
        last=date(year, 11, 30),
        visits=tuple(visits),
        machines=(
            Machine(id="sprayer", classes=("sprayer",)),
            Machine(id="drill", classes=("drill",)),
            Machine(id="mower", classes=("mower",)),
            Machine(
                id="second drill",
                classes=("drill",),
                holding="rented" if rented else "own",
                had=(DayRange(date(year, 4, 15), date(year, 7, 10)),),
                rent_usd_per_day=Decimal(180),
                delivery_usd=Decimal(150),
            ),
        ),
        people=(
            Person(id="Ada", skills=("applicator",)),
            Person(id="Ben", skills=("applicator",)),
            Person(id="Cal"),
        ),
        travel=travel,
        fit_share_by_month=fit_shares(),
        daylight_hours_by_month=daylight_hours(39.0),
        prices=Prices(usd_per_mile=Decimal("1.20"), usd_per_trip=Decimal(15)),
    )
    return replace(made, visits=_loaded(made, load))


def _loaded(made: Season, load: float) -> tuple[BookVisit, ...]:
    """Hours scaled so that, with one trip each, a step's visits fill `load` of its machines' days."""
    ground = Ground(replace(made, visits=()))
    by_step: defaultdict[str, list[BookVisit]] = defaultdict(list)
    for visit in made.visits:
        by_step[visit.id.split("/")[1]].append(visit)
    scaled = {}
    for several in by_step.values():
        first, last = min(visit.earliest for visit in several), max(visit.latest for visit in several)
        holders = ground.holders[several[0].needs[0]]
        room = sum(sum(ground.machine_room[one][ground.day(first) : ground.day(last) + 1]) for one in holders)
        driven = sum(2 * made.travel[visit.farm].hours for visit in several) * 0.8
        hours = max(0.2 * driven, load * room / 60 - driven)
        factor = hours / sum(visit.hours for visit in several)
        scaled.update({visit.id: round(max(0.25, visit.hours * factor), 2) for visit in several})
    return tuple(replace(visit, hours=scaled[visit.id]) for visit in made.visits)
