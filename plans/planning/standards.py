"""Conservation practice standards by number: what each asks, and what of it a plan meets, computed.

Only what a plan holds can be judged. What it does not say is "cannot be told", and the local office decides
all of it, by its state's edition. Sources: reference/practice_standards.csv, practice_asks.csv.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from datetime import date
from functools import lru_cache
from typing import Literal

from plans.planning import tables
from plans.planning.calendar import SOWING
from plans.planning.cells import Key, Source
from plans.planning.job import Conversion, LongText
from plans.planning.plan import FieldSeed, Plan, Task
from plans.planning.targets import SEASONS, seasons_of, targets_for

Verdict = Literal["meets", "does not meet", "cannot be told"]
MEETS: Verdict = "meets"
LACKS: Verdict = "does not meet"
UNTOLD: Verdict = "cannot be told"


@dataclass(frozen=True, slots=True)
class StandardRow:
    number: Key
    title: Key
    source: Source


@dataclass(frozen=True, slots=True)
class AskRow:
    number: Key
    ask: Key
    asks: Key
    source: Source


@lru_cache(maxsize=1)
def standard_rows() -> Mapping[str, StandardRow]:
    return tables.keyed("practice_standards", StandardRow, "number")


@lru_cache(maxsize=1)
def ask_rows() -> tuple[AskRow, ...]:
    """Raises TableError; a test holds that every ask has its check."""
    return tables.read_table(tables.FOLDER / "practice_asks.csv", AskRow)


@dataclass(frozen=True, slots=True)
class Judged:
    """One thing a standard asks and how the plan stands to it."""

    asks: str
    verdict: Verdict
    source: str
    because: tuple[str, ...] = ()
    """Steps of the plan by which it was judged."""


@dataclass(frozen=True, slots=True)
class Standard:
    number: str
    title: str
    fields: tuple[str, ...]
    """Fields that it concerns."""
    judged: tuple[Judged, ...]
    source: str

    def of(self, verdict: Verdict) -> tuple[Judged, ...]:
        return tuple(one for one in self.judged if one.verdict == verdict)


@dataclass(frozen=True, slots=True)
class Ground:
    """The fields that a standard concerns, with what is planned on them."""

    plan: Plan
    fields: tuple[Conversion, ...]

    @property
    def tasks(self) -> tuple[Task, ...]:
        names = {field.field for field in self.fields}
        return tuple(task for task in self.plan.tasks if task.field in names)

    @property
    def seed(self) -> tuple[FieldSeed, ...]:
        names = {field.field for field in self.fields}
        return tuple(field for field in self.plan.seed if field.field in names and field.lines)

    def on_each(self, *operations: str, phase: str = "", season: int | None = None) -> bool:
        """Whether every field has such a step."""
        return all(
            any(
                task.field == field.field
                and (not operations or task.operation in operations)
                and (not phase or task.phase == phase)
                and (season is None or task.season == season)
                for task in self.plan.tasks
            )
            for field in self.fields
        )


def _if(met: bool, otherwise: Verdict = LACKS) -> Verdict:
    return MEETS if met else otherwise


def _weeds_ended(ground: Ground) -> Verdict:
    """A kill before the seed on every field, as far as a plan can say."""
    return _if(all(_killed(ground.plan, field) for field in ground.fields))


def _killed(plan: Plan, field: Conversion) -> bool:
    mine = [task for task in plan.tasks if task.field == field.field]
    return any(task.phase == "kill" for task in mine) or any(
        task.operation in ("boom_spraying", "discing") and task.phase == "plant" for task in mine
    )


def _rate(ground: Ground) -> Verdict:
    """Live seeds per ft² as reference/purposes.csv has them; a purpose without a row there cannot be told."""
    judged = []
    for seed in ground.seed:
        field = next(one for one in ground.fields if one.field == seed.field)
        if field.purpose not in tables.purposes():
            return UNTOLD
        row = tables.seedings()[field.seeding]
        way = (
            "dormant" if field.seeding == "dormant" else "broadcast" if row.way == "broadcast" else "drilled"
        )
        judged.append(
            float(seed.seeds_per_sqft.value) >= 0.995 * targets_for(field.purpose, way).seeds_per_sqft_low  # type: ignore[arg-type]
        )
    return _if(all(judged)) if judged else UNTOLD


def _bloom(ground: Ground) -> Verdict:
    """Three kinds in bloom in each season of reference/bloom_seasons.csv, on every field for pollinators."""
    for seed in ground.seed:
        field = next(one for one in ground.fields if one.field == seed.field)
        if field.purpose != "pollinators":
            continue
        plants = [tables.species()[line.species] for line in seed.lines if line.species in tables.species()]
        blooms = [seasons_of(plant) for plant in plants if plant.group != "grass"]
        if any(sum(season in one for one in blooms) < 3 for season in SEASONS):
            return LACKS
    return _if(any(field.purpose == "pollinators" for field in ground.fields), UNTOLD)


def _inoculated(ground: Ground) -> Verdict:
    legumes = any(
        plant is not None and plant.legume
        for seed in ground.seed
        for line in seed.lines
        for plant in [tables.species().get(line.species)]
    )
    return UNTOLD if legumes else MEETS


DISTURBING = frozenset({"rotary_mowing", "haying", "prescribed_burn", "discing", "brush_mulching"})


def _while_birds_nest(ground: Ground, *phases: str) -> tuple[str, ...]:
    """Steps of care whose windows reach into the span that reference/moments.csv gives."""
    opens, shuts = (tables.moment_rules()[key].value for key in ("nesting_opens", "nesting_shuts"))

    def within(task: Task) -> bool:
        return any(
            task.earliest <= _day(year, shuts) and task.latest >= _day(year, opens)
            for year in range(task.earliest.year, task.latest.year + 1)
        )

    care = [task for task in ground.tasks if task.operation in DISTURBING and task.phase in phases]
    return tuple(dict.fromkeys(task.label for task in care if within(task)))


def _day(year: int, month_day: str) -> date:
    month, day = (int(part) for part in month_day.split("-"))
    return date(year, month, day)


def _all(ground: Ground, holds: Callable[[Conversion], bool], otherwise: Verdict = LACKS) -> Verdict:
    return _if(all(holds(field) for field in ground.fields), otherwise)


def _natives(ground: Ground) -> Verdict:
    plants = [tables.species().get(line.species) for seed in ground.seed for line in seed.lines]
    return _if(
        all(plant is not None and (not plant.introduced or plant.group == "nurse") for plant in plants)
    )


def _told(text: LongText) -> bool:
    return bool(text.strip())


CHECKS: dict[str, Callable[[Ground], Verdict]] = {
    "aim": lambda ground: _all(
        ground, lambda field: field.purpose in ("pollinators", "nesting and brood cover"), UNTOLD
    ),
    "bloom": _bloom,
    "breaks": lambda ground: _if(ground.on_each("firebreak")),
    "burn_plan": lambda ground: LACKS,
    "by_year": lambda ground: _if(bool(ground.tasks)),
    "establishment": lambda ground: _if(ground.on_each(phase="establish")),
    "for_forage": lambda ground: _all(ground, lambda field: field.purpose == "forage"),
    "grading": lambda ground: LACKS,
    "guarded": lambda ground: _all(
        ground, lambda field: bool(field.trees and (field.trees.tubes_pct or field.trees.fence_ft))
    ),
    "habitat_score": lambda ground: LACKS,
    "inoculated": _inoculated,
    "natives": _natives,
    "not_forage": lambda ground: _all(ground, lambda field: field.purpose != "forage"),
    "keep_out_of_nesting": lambda ground: _if(not _while_birds_nest(ground, "keep")),
    "out_of_nesting": lambda ground: _if(not _while_birds_nest(ground, "establish", "keep")),
    "rate": _rate,
    "rest": lambda ground: UNTOLD,
    "ring_care": lambda ground: _if(ground.on_each("spot_spraying", "tree_tending", season=1)),
    "share": lambda ground: _if(ground.on_each("rotary_mowing", "prescribed_burn", "discing", phase="keep")),
    "soil_tested": lambda ground: _all(ground, lambda field: field.soil_test is not None),
    "species_listed": lambda ground: UNTOLD,
    "stock": lambda ground: _all(ground, lambda field: field.trees is not None),
    "survival": lambda ground: _if(ground.on_each("stand_count")),
    "weed_after": lambda ground: _if(
        ground.on_each("spot_spraying", season=2) or ground.on_each("stand_count", season=1)
    ),
    "weed_method": lambda ground: _if(ground.on_each("boom_spraying", "spot_spraying")),
    "weeds_ended": _weeds_ended,
    "weeds_known": lambda ground: _all(ground, lambda field: _told(field.weeds), UNTOLD),
    "woody_after": lambda ground: _if(ground.on_each("spot_spraying", phase="kill")),
    "woody_known": lambda ground: _all(ground, lambda field: _told(field.woody_plants), UNTOLD),
    "woody_method": lambda ground: _if(ground.on_each("brush_mulching", "tree_cutting")),
}
"""By `ask` of reference/practice_asks.csv. What no plan holds does not meet, what none can know is untold."""


def _nothing(ground: Ground) -> tuple[str, ...]:
    return ()


BECAUSE: dict[str, Callable[[Ground], tuple[str, ...]]] = {
    "keep_out_of_nesting": lambda ground: _while_birds_nest(ground, "keep"),
    "out_of_nesting": lambda ground: _while_birds_nest(ground, "establish", "keep"),
}
WILDLIFE = frozenset({"winter bedding and screening cover", "nesting and brood cover", "pollinators"})


def _has(plan: Plan, field: Conversion, *operations: str, phase: str = "") -> bool:
    return any(
        task.field == field.field and task.operation in operations and (not phase or task.phase == phase)
        for task in plan.tasks
    )


def _sown(plan: Plan, field: Conversion) -> bool:
    return any(task.field == field.field and task.operation in SOWING for task in plan.tasks)


CONCERNS: dict[str, Callable[[Plan, Conversion], bool]] = {
    "327": lambda plan, field: (
        field.purpose in tables.purposes() and field.purpose != "forage" and _sown(plan, field)
    ),
    "420": lambda plan, field: field.purpose in WILDLIFE and _sown(plan, field),
    "645": lambda plan, field: field.purpose in WILDLIFE | {"food plot"},
    "342": lambda plan, field: field.purpose == "erosion control",
    "512": lambda plan, field: field.purpose == "forage",
    "550": lambda plan, field: field.purpose == "forage",
    "612": lambda plan, field: field.trees is not None,
    "314": lambda plan, field: _has(plan, field, "brush_mulching", "tree_cutting"),
    "315": lambda plan, field: _has(plan, field, "boom_spraying", "spot_spraying", phase="kill"),
    "338": lambda plan, field: _has(plan, field, "prescribed_burn"),
    "394": lambda plan, field: _has(plan, field, "firebreak"),
    "647": lambda plan, field: _has(plan, field, "rotary_mowing", "prescribed_burn", "discing", phase="keep"),
}


def standards(plan: Plan) -> tuple[Standard, ...]:
    """The standards that the work may fall under, each with what it asks and how the plan stands to it."""
    with tables.knowing(plan.job.added_species):
        return tuple(_standards(plan))


def _standards(plan: Plan) -> Iterator[Standard]:
    for number, row in standard_rows().items():
        fields = tuple(field for field in plan.job.conversions if CONCERNS[number](plan, field))
        if fields:
            ground = Ground(plan, fields)
            judged = tuple(
                Judged(ask.asks, CHECKS[ask.ask](ground), ask.source, BECAUSE.get(ask.ask, _nothing)(ground))
                for ask in ask_rows()
                if ask.number == number and not (ask.ask == "bloom" and _no_pollinators(ground))
            )
            yield Standard(number, row.title, tuple(field.field for field in fields), judged, row.source)


def _no_pollinators(ground: Ground) -> bool:
    return all(field.purpose != "pollinators" for field in ground.fields)
