"""What a field will look like, season by season: before the seed, in the ugly first year, and when it stands.

Words are rows of reference/outlook.csv; heights and what blooms come from the mix by reference/species.csv.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import lru_cache
from types import MappingProxyType
from typing import Annotated, Literal

from pydantic import Field

from plans.planning import tables
from plans.planning.calendar import SOWING
from plans.planning.cells import Key, Source
from plans.planning.job import Conversion
from plans.planning.plan import Plan, Task
from plans.planning.plants import Species

SeasonName = Literal["spring", "summer", "fall"]
SEASONS: tuple[SeasonName, ...] = ("spring", "summer", "fall")
MONTHS: Mapping[SeasonName, tuple[int, ...]] = {
    "spring": (3, 4, 5),
    "summer": (6, 7, 8),
    "fall": (9, 10, 11),
}
STANDS_FROM = 3
"""Growing season from which a stand is what it will be: common practice."""


@dataclass(frozen=True, slots=True)
class OutlookRow:
    of: Key
    stage: Annotated[int, Field(ge=0, le=3)]
    season: SeasonName
    words: Key
    """May have the place {height}."""
    source: Source


@lru_cache(maxsize=1)
def _rows() -> Mapping[tuple[str, int, str], OutlookRow]:
    rows = tables.read_table(tables.FOLDER / "outlook.csv", OutlookRow)
    return MappingProxyType({(row.of, row.stage, row.season): row for row in rows})


@dataclass(frozen=True, slots=True)
class Look:
    """One season of one stage: its words, and the plants that may bloom then, in the mix's order."""

    words: str
    blooms: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Stage:
    """The years from `first` to `last` and how each season looks; 0 is before the seed, 3 the stand."""

    number: int
    first: int
    last: int
    looks: tuple[Look, ...]
    """Spring, summer, fall; empty words where nothing has begun."""


@dataclass(frozen=True, slots=True)
class Outlook:
    """Fields that look alike through the years."""

    fields: tuple[str, ...]
    height_in: float
    """Of the tallest plant of their mixes [in]; 0 where nothing is sown of a mix."""
    stages: tuple[Stage, ...]


def first_summer(tasks: tuple[Task, ...], conversion: Conversion) -> int | None:
    """Calendar year of the first growing season; what is sown in the cold grows in the year after."""
    sown = next((task for task in tasks if task.operation in SOWING), None)
    if sown is None:
        released = [task for task in tasks if task.phase == "kill"]
        return released[-1].latest.year if released else None
    plot = conversion.purpose == "food plot"
    return sown.latest.year + (1 if sown.latest.month >= 9 and not plot else 0)


def _before(conversion: Conversion) -> str:
    if conversion.trees is not None:
        return "rings"
    if conversion.cover == "failed native stand":
        return "release"
    if conversion.kill_program == "no_spray":
        return "smother"
    return "brush" if conversion.cover == "brushy old field" else "spray"


def _kind(conversion: Conversion) -> str:
    if conversion.trees is not None:
        return "trees"
    if conversion.purpose == "food plot":
        return "plot"
    if tables.seedings()[conversion.seeding].way == "none":
        return "release"
    return "sown"


def _plants(plan: Plan, conversion: Conversion) -> tuple[Species, ...]:
    lines = [line for seed in plan.seed if seed.field == conversion.field for line in seed.lines]
    found = [tables.species().get(line.species) for line in lines]
    return tuple(plant for plant in found if plant is not None and plant.group != "nurse")


def _blooming(plants: tuple[Species, ...], stage: int, season: SeasonName) -> tuple[str, ...]:
    """In the first year annuals and short-lived kinds alone; from the second all of them."""
    return tuple(
        plant.common_name
        for plant in plants
        if set(plant.bloom_months) & set(MONTHS[season])
        and (stage > 1 or (stage == 1 and plant.life != "perennial"))
    )


def _stage(number: int, first: int, last: int, of: str, plants: tuple[Species, ...], since: int) -> Stage:
    """`since` is the month in which work begins, where it begins in this stage's first year; else 1."""
    looks = []
    for season in SEASONS:
        row = _rows().get((of, number, season))
        begun = number > 0 or last > first or MONTHS[season][-1] >= since
        looks.append(
            Look(row.words if row and begun else "", _blooming(plants, number, season) if number else ())
        )
    return Stage(number, first, last, tuple(looks))


def _of_field(plan: Plan, conversion: Conversion) -> tuple[float, tuple[Stage, ...]]:
    tasks = tuple(task for task in plan.tasks if task.field == conversion.field)
    summer = first_summer(tasks, conversion)
    if summer is None:
        return 0.0, ()
    plants = _plants(plan, conversion)
    kind = _kind(conversion)
    begins, last = tasks[0].earliest, max(max(task.latest.year for task in tasks), summer)
    stages = []
    if begins.year < summer:
        stages.append(_stage(0, begins.year, summer - 1, _before(conversion), plants, begins.month))
    for number in (1, 2):
        if summer + number - 1 <= last:
            year = summer + number - 1
            stages.append(_stage(number, year, year, kind, plants, 1))
    if summer + STANDS_FROM - 1 <= last:
        of = kind if kind in ("plot", "trees") else conversion.purpose
        stages.append(_stage(3, summer + STANDS_FROM - 1, last, of, plants, 1))
    return max((plant.height_in for plant in plants), default=0.0), tuple(stages)


def outlook(plan: Plan) -> tuple[Outlook, ...]:
    """What each field will look like; fields that are told the same stand together."""
    together: dict[tuple[float, tuple[Stage, ...]], list[str]] = {}
    with tables.knowing(plan.job.added_species):
        for conversion in plan.job.conversions:
            found = _of_field(plan, conversion)
            if found[1]:
                together.setdefault(found, []).append(conversion.field)
    return tuple(
        Outlook(tuple(fields), height_in, stages) for (height_in, stages), fields in together.items()
    )
