"""The reference tables: read once, each row checked, an error names file, row and column."""

from __future__ import annotations

import csv
from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager
from contextvars import ContextVar
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path
from types import MappingProxyType
from typing import Annotated, Literal, TypeVar, cast

from pydantic import BeforeValidator, Field, TypeAdapter, ValidationError

from plans.planning.cells import (
    Additions,
    Chemicals,
    Key,
    MaybeInt,
    MaybeNumber,
    MaybePercent,
    Source,
    Words,
    words,
)
from plans.planning.job import Work
from plans.planning.plants import (
    AddedSpecies,
    BloomSeason,
    Gives,
    PlotCrop,
    PlotWindow,
    PurposeTarget,
    SoilNeed,
    Species,
    Woody,
)

FOLDER = Path(__file__).parent / "reference"
Row = TypeVar("Row")


class TableError(ValueError):
    """A reference table that cannot be used."""


Material = Literal["plants", "replacements", "tubes", "fence", "fertilizer", "lime"]
Materials = Annotated[tuple[Material, ...], BeforeValidator(words)]
Timing = Literal["at planting", "seedling", "established", "dormant"]
Tolerance = Literal["tolerant", "moderate", "unknown", "sensitive"]


@dataclass(frozen=True, slots=True)
class Ingredient:
    active_ingredient: Key
    group: int
    role: Literal["burndown", "pre-emergent", "broadleaf", "brush", "grass-selective"]
    strength: Literal["acid equivalent", "active ingredient"]
    rate_low_lb_per_acre: Annotated[float, Field(gt=0)]
    rate_high_lb_per_acre: Annotated[float, Field(gt=0)]
    season_max_lb_per_acre: Annotated[float, Field(gt=0)]
    restricted_use: Literal["no", "yes", "varies"]
    wait_before_seeding_days: Annotated[int, Field(ge=0)]
    rainfast_hours: float
    adjuvant: Key
    least_native_stage: Key
    """Least growth of native grass over which it may be sprayed."""
    near_water: Key
    pollinators: Key
    status: Literal["seen", "memory", "mixed"]
    source: Source


@dataclass(frozen=True, slots=True)
class ToleranceRow:
    plant: Key
    active_ingredient: Key
    timing: Timing
    tolerance: Tolerance
    note: str
    source: Source


@dataclass(frozen=True, slots=True)
class MomentRule:
    key: Key
    label: Key
    rule: Literal[
        "air rises to",
        "air falls to",
        "soil rises to",
        "soil falls to",
        "last spring freeze",
        "first fall freeze",
        "day",
    ]
    value: str
    offset_days: int
    source: Source


@dataclass(frozen=True, slots=True)
class Program:
    key: Key
    label: Key
    covers: Words
    targets: Words
    """Words by which a field's weeds name what this program is for."""
    seedings: Words
    """Seeding methods that go with it."""
    summary: Key
    caution: str
    """What to mind, as the end of a sentence that begins with the field's name."""
    way_out: str
    source: Source


@dataclass(frozen=True, slots=True)
class Seeding:
    key: Key
    label: Key
    summary: Key
    way: Literal["drilled", "broadcast", "planted", "none"]
    purposes: Words
    """Purposes it serves."""
    crop_season: Literal["spring", "fall", ""]
    """Which window of its crops a food plot is sown in; empty for what is no plot."""
    source: Source


@dataclass(frozen=True, slots=True)
class Option:
    option: Key
    label: Key
    summary: Key
    seedings: Words
    programs: Words
    """Kill programs it belongs to; empty for all, `!key` for all but that one."""
    source: Source


@dataclass(frozen=True, slots=True)
class Step:
    set: Key
    """A program's key, a seeding's key, or `upkeep`."""
    step: Key
    order: int
    phase: Literal["kill", "plant", "establish", "keep"]
    season: Annotated[int, Field(ge=0, le=5)]
    label: Key
    why: Key
    operation: Key
    chemicals: Chemicals
    """Ingredient and rate [lb acid or active per acre] on the ground treated."""
    timing: Literal["at planting", "seedling", "established", "dormant", ""]
    adjuvants: Additions
    materials: Materials
    """What is brought and set or spread in this step besides seed and sprays."""
    share_pct: Annotated[float, Field(gt=0, le=300)]
    """Acres worked, of the field's; over 100 for more than one pass."""
    opens: Key
    opens_days: int
    closes: Key
    closes_days: int
    after: str
    """Step waited for; empty in a kill program or seeding: the step before."""
    wait_days: Annotated[int, Field(ge=0)]
    max_gap_days: MaybeInt
    """Longest time after the step before; beyond it that step is done again."""
    seedings: Words
    """Seeding methods it belongs to; empty for all."""
    programs: Words
    """Kill programs it belongs to; empty for all, `!key` for all but that one."""
    option: Words
    """Taken only with these options; `!name`: only without that one."""
    when: str
    """Condition on the ground, as `thatch:light|heavy`, or on what is planted there, as `tubes`."""
    conditions: str
    cautions: Words
    likelihood_pct: MaybePercent
    """How often a step that is not certain is needed; such a step is firm only with its option."""
    source: Source


@dataclass(frozen=True, slots=True)
class Operation:
    operation: Key
    label: Key
    work: Work | Literal[""]
    """Kind of work whose exclusions it keeps; empty for what goes over the whole field."""
    width_ft: MaybeNumber
    speed_mph: MaybeNumber
    efficiency_pct: MaybeNumber
    acres_per_hour: MaybeNumber
    plants_per_hour: MaybeNumber
    """Pace of work that goes plant by plant."""
    hours_of: Literal["machine", "people"]
    """Whether an hour of it is one of the machine or crew as one, or of one person."""
    source: Source

    def __post_init__(self) -> None:
        by_machine = None not in (self.width_ft, self.speed_mph, self.efficiency_pct)
        if not (self.acres_per_hour or self.plants_per_hour or by_machine):
            raise ValueError(
                "give acres_per_hour, plants_per_hour, or width_ft, speed_mph and efficiency_pct"
            )


@dataclass(frozen=True, slots=True)
class Caution:
    key: Key
    brief: Key
    """A few words to stand beside a step; `text` says it whole."""
    text: Key
    source: Source


@dataclass(frozen=True, slots=True)
class Rule:
    rule: Key
    severity: Literal["stop", "caution", "note"]
    title: Key
    source: Source


@dataclass(frozen=True, slots=True)
class GrowthShare:
    month: Annotated[int, Field(ge=1, le=12)]
    cool_pct: float
    warm_pct: float
    source: Source


def read_table(path: Path, row_type: type[Row]) -> tuple[Row, ...]:
    """Every row of a CSV file as `row_type`. Raises TableError naming file, row (the head is 1), column."""
    adapter = TypeAdapter(row_type)
    rows = []
    with path.open(newline="", encoding="utf-8") as lines:
        reader = csv.DictReader(lines, strict=True)
        for number, raw in enumerate(reader, start=2):
            if None in raw or None in raw.values():
                raise TableError(
                    f"{path.name}, row {number}: has {len(raw)} cells and the head another number"
                )
            try:
                rows.append(adapter.validate_python(raw))
            except ValidationError as error:
                first = error.errors(include_url=False)[0]
                column = str(first["loc"][0]) if first["loc"] else "the row"
                given = raw.get(column, "")
                raise TableError(
                    f"{path.name}, row {number}, column {column}: {first['msg']}; found {given!r}"
                ) from None
    if not rows:
        raise TableError(f"{path.name}: has no rows")
    return tuple(rows)


def keyed(name: str, row_type: type[Row], key: str) -> Mapping[str, Row]:
    """A whole table by one of its columns. Raises TableError for a row that cannot be, or a key twice."""
    path = FOLDER / f"{name}.csv"
    keyed: dict[str, Row] = {}
    for number, row in enumerate(read_table(path, row_type), start=2):
        value = getattr(row, key)
        if value in keyed:
            raise TableError(f"{path.name}, row {number}, column {key}: {value!r} stands twice")
        keyed[value] = row
    return MappingProxyType(keyed)


@lru_cache(maxsize=1)
def listed_species() -> Mapping[str, Species]:
    return keyed("species", Species, "common_name")


Plants = tuple[Mapping[str, Species], Mapping[str, Gives]]
_known: ContextVar[Plants | None] = ContextVar("known", default=None)


@contextmanager
def knowing(added: Sequence[AddedSpecies]) -> Iterator[None]:
    """Within, species that a practice added count as rows of the tables, which go before namesakes."""
    if not added:
        yield
        return
    plants = {one.plant.common_name: one.plant for one in added} | dict(listed_species())
    given = {
        one.plant.common_name: Gives(one.plant.common_name, one.gives, one.plant.source)
        for one in added
        if one.gives
    }
    token = _known.set((MappingProxyType(plants), MappingProxyType(given | dict(listed_gives()))))
    try:
        yield
    finally:
        _known.reset(token)


def species() -> Mapping[str, Species]:
    """By common name: those of the table, and those added where they are known."""
    known = _known.get()
    return known[0] if known else listed_species()


@lru_cache(maxsize=1)
def ingredients() -> Mapping[str, Ingredient]:
    return keyed("ingredients", Ingredient, "active_ingredient")


@lru_cache(maxsize=1)
def moment_rules() -> Mapping[str, MomentRule]:
    return keyed("moments", MomentRule, "key")


@lru_cache(maxsize=1)
def programs() -> Mapping[str, Program]:
    return keyed("programs", Program, "key")


@lru_cache(maxsize=1)
def seedings() -> Mapping[str, Seeding]:
    return keyed("seedings", Seeding, "key")


@lru_cache(maxsize=1)
def options() -> Mapping[str, Option]:
    return keyed("options", Option, "option")


@lru_cache(maxsize=1)
def steps() -> Mapping[str, Step]:
    return keyed("steps", Step, "step")


@lru_cache(maxsize=1)
def operations() -> Mapping[str, Operation]:
    return keyed("operations", Operation, "operation")


@lru_cache(maxsize=1)
def cautions() -> Mapping[str, Caution]:
    return keyed("cautions", Caution, "key")


@lru_cache(maxsize=1)
def rules() -> Mapping[str, Rule]:
    return keyed("rules", Rule, "rule")


@lru_cache(maxsize=1)
def purposes() -> Mapping[str, PurposeTarget]:
    return keyed("purposes", PurposeTarget, "purpose")


@lru_cache(maxsize=1)
def bloom_seasons() -> Mapping[str, BloomSeason]:
    return keyed("bloom_seasons", BloomSeason, "season")


@lru_cache(maxsize=1)
def woody() -> Mapping[str, Woody]:
    return keyed("trees", Woody, "common_name")


@lru_cache(maxsize=1)
def listed_gives() -> Mapping[str, Gives]:
    return keyed("plant_gives", Gives, "plant")


def gives() -> Mapping[str, Gives]:
    """By plant: those of the table, and what is said of those added where they are known."""
    known = _known.get()
    return known[1] if known else listed_gives()


@lru_cache(maxsize=1)
def plot_crops() -> Mapping[str, PlotCrop]:
    return keyed("plots", PlotCrop, "species")


@lru_cache(maxsize=1)
def plot_windows() -> Mapping[tuple[str, str], PlotWindow]:
    """Windows of the plot crops by species and season. Raises TableError."""
    rows = read_table(FOLDER / "plot_windows.csv", PlotWindow)
    return MappingProxyType({(row.species, row.season): row for row in rows})


@lru_cache(maxsize=1)
def soil_needs() -> tuple[SoilNeed, ...]:
    return read_table(FOLDER / "soil_test.csv", SoilNeed)


@lru_cache(maxsize=1)
def growth() -> tuple[GrowthShare, ...]:
    return read_table(FOLDER / "growth.csv", GrowthShare)


@lru_cache(maxsize=1)
def _tolerances() -> Mapping[tuple[str, str, str], ToleranceRow]:
    rows = read_table(FOLDER / "tolerance.csv", ToleranceRow)
    return {(row.plant, row.active_ingredient, row.timing): row for row in rows}


def _tolerance_classes(common_name: str) -> tuple[str, ...]:
    """Classes whose rows speak for a plant that has none of its own, the nearest first."""
    if common_name in woody():
        return ("all woody",)
    plant = species().get(common_name)
    if plant is None:
        return ()
    if plant.group == "grass":
        return f"all {plant.season} grasses", "all grasses"
    if plant.group == "nurse":
        return "all nurse", "all grasses"
    own = ("all legumes",) if plant.legume else ("all forbs",)
    if plant.group != "plot":
        return own
    # not as a native warm grass: those rows speak of established and sleeping crowns, and this is an annual
    if plant.family == "Poaceae":
        return "all plot grasses", "all grasses"
    return "all plot legumes" if plant.legume else "all plot broadleaves", *own


def tolerance(common_name: str, active_ingredient: str, timing: str) -> ToleranceRow:
    """How a plant stands an ingredient at a time: its own row, else its class's, else unknown.

    A species of the mixes, or a tree or shrub of trees.csv.
    """
    return _tolerance((common_name, *_tolerance_classes(common_name)), active_ingredient, timing)


@lru_cache(maxsize=4096)
def _tolerance(names: tuple[str, ...], active_ingredient: str, timing: str) -> ToleranceRow:
    for name in names:
        row = _tolerances().get((name, active_ingredient, timing))
        if row is not None:
            return row
    return ToleranceRow(
        plant=names[0],
        active_ingredient=active_ingredient,
        timing=cast(Timing, timing),
        tolerance="unknown",
        note="no row in the table",
        source="reference/tolerance.csv",
    )
