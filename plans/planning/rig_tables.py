"""Where tractor, implement and truck meet: hitches, shafts, couplers, plugs, balls, and the limits."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from fractions import Fraction
from functools import lru_cache
from types import MappingProxyType
from typing import Annotated, Literal, TypeVar

from pydantic import Field

from plans.planning.cells import Key, MaybeNumber, Source, Words
from plans.planning.tables import FOLDER, TableError, keyed, read_table

HitchCategory = Literal["0", "1N", "1", "2N", "2", "3N", "3", "4N", "4"]
PtoKey = Literal["type 1", "type 2", "type 3", "type 4", "old 540"]
CouplerSeries = Literal["A", "B", "flat face", "old"]
PlugKey = Literal["4 flat", "6 round", "7 blade", "7 round", "7 round small"]
TowCouplerKey = Literal["ball 1 7/8", "ball 2", "ball 2 5/16", "gooseneck", "pintle", "clevis"]
MachineKey = Literal[
    "boom sprayer",
    "rotary cutter",
    "no-till drill",
    "broadcast spreader",
    "roller",
    "tandem disk",
    "flail mower",
]
Status = Literal["seen", "memory", "mixed"]
Positive = Annotated[float, Field(gt=0)]
Pair = TypeVar("Pair", "PtoAdapter", "CouplerAdapter")


@dataclass(frozen=True, slots=True)
class Hitch:
    """A category of the three-point hitch. Narrow categories (N) have the spread of the next smaller one."""

    category: HitchCategory
    lower_pin_in: Positive
    upper_pin_in: Positive
    spread_in: Positive
    """Between the pins of the lower links, as inch tables print it."""
    shoulder_mm: MaybeNumber
    power_low_hp: MaybeNumber
    power_high_hp: MaybeNumber
    status: Status
    source: Source

    def __post_init__(self) -> None:
        if self.upper_pin_in > self.lower_pin_in:
            raise ValueError("upper_pin_in must not be over lower_pin_in")

    @property
    def size(self) -> int:
        """The category's number without its N: pins go by it."""
        return int(self.category[0])

    @property
    def pins(self) -> str:
        return f"lower pins {inches(self.lower_pin_in)}, upper pin {inches(self.upper_pin_in)}"


@dataclass(frozen=True, slots=True)
class PtoShaft:
    key: PtoKey
    rpm: Annotated[int, Field(gt=0)]
    splines: Annotated[int, Field(gt=0)]
    shaft_in: Positive
    form: Literal["straight", "involute"]
    drawbar_in: MaybeNumber
    """From the shaft's end back to the drawbar pin."""
    status: Status
    source: Source

    @property
    def label(self) -> str:
        return f"{self.rpm} rpm, {self.splines} {self.form} splines, {inches(self.shaft_in)}"


@dataclass(frozen=True, slots=True)
class PtoAdapter:
    """Two shafts of one speed. There is no row for two speeds, and the table refuses one."""

    tractor: PtoKey
    implement: PtoKey
    verdict: Literal["yes", "unknown"]
    bring: str
    why: Key
    status: Status
    source: Source


@dataclass(frozen=True, slots=True)
class Coupler:
    """A series of hydraulic quick couplers. Halves of two series do not latch."""

    series: CouplerSeries
    label: Key
    usual_size_in: Positive
    known_by: Key
    status: Status
    source: Source


@dataclass(frozen=True, slots=True)
class CouplerAdapter:
    """A pair of series between which adapters are to be had; a pair without a row has none known here."""

    tractor: CouplerSeries
    implement: CouplerSeries
    mind: str
    status: Status
    source: Source


@dataclass(frozen=True, slots=True)
class Plug:
    key: PlugKey
    label: Key
    pins: Annotated[int, Field(gt=0)]
    carries: Words
    status: Status
    source: Source


@dataclass(frozen=True, slots=True)
class TowCoupler:
    key: TowCouplerKey
    label: Key
    ball_in: MaybeNumber
    status: Status
    source: Source


@dataclass(frozen=True, slots=True)
class Machine:
    """A class of implement with the power that such machines usually ask for at the PTO."""

    machine: MachineKey
    pto_hp_low: Positive
    pto_hp_high: Positive
    coasts: Literal["yes", "no"]
    """Whether a heavy rotor runs on and drives the tractor through its PTO."""
    status: Status
    source: Source

    def __post_init__(self) -> None:
        if self.pto_hp_low > self.pto_hp_high:
            raise ValueError("pto_hp_low must not be over pto_hp_high")


@dataclass(frozen=True, slots=True)
class RigLimit:
    key: Key
    value: Positive
    unit: Key
    status: Status
    source: Source


def inches(value: float) -> str:
    """A length [in] as a rule shows it, to the nearest sixteenth: `1 7/16 in`."""
    whole, part = divmod(Fraction(round(value * 16), 16), 1)
    return " ".join(str(piece) for piece in (whole, part) if piece) + " in" if value >= 1 / 32 else "0 in"


@lru_cache(maxsize=1)
def hitches() -> Mapping[str, Hitch]:
    return keyed("hitch_categories", Hitch, "category")


@lru_cache(maxsize=1)
def pto_shafts() -> Mapping[str, PtoShaft]:
    return keyed("pto_shafts", PtoShaft, "key")


@lru_cache(maxsize=1)
def couplers() -> Mapping[str, Coupler]:
    return keyed("couplers", Coupler, "series")


@lru_cache(maxsize=1)
def plugs() -> Mapping[str, Plug]:
    return keyed("plugs", Plug, "key")


@lru_cache(maxsize=1)
def tow_couplers() -> Mapping[str, TowCoupler]:
    return keyed("tow_couplers", TowCoupler, "key")


@lru_cache(maxsize=1)
def machines() -> Mapping[str, Machine]:
    return keyed("rig_machines", Machine, "machine")


@lru_cache(maxsize=1)
def limits() -> Mapping[str, RigLimit]:
    return keyed("rig_limits", RigLimit, "key")


def by_pair(name: str, rows: tuple[Pair, ...]) -> Mapping[tuple[str, str], Pair]:
    """Rows by tractor's and implement's end. Raises TableError for a pair of one kind, or twice."""
    found: dict[tuple[str, str], Pair] = {}
    for number, row in enumerate(rows, start=2):
        pair = (row.tractor, row.implement)
        if row.tractor == row.implement or pair in found:
            raise TableError(f"{name}.csv, row {number}, column implement: {pair} stands twice or needs none")
        found[pair] = row
    return MappingProxyType(found)


def one_speed(rows: tuple[PtoAdapter, ...]) -> tuple[PtoAdapter, ...]:
    """The rows as they are. Raises TableError for an adapter between two PTO speeds."""
    for number, row in enumerate(rows, start=2):
        if pto_shafts()[row.tractor].rpm != pto_shafts()[row.implement].rpm:
            raise TableError(f"pto_adapters.csv, row {number}, column implement: speeds are never adapted")
    return rows


@lru_cache(maxsize=1)
def pto_adapters() -> Mapping[tuple[str, str], PtoAdapter]:
    return by_pair("pto_adapters", one_speed(read_table(FOLDER / "pto_adapters.csv", PtoAdapter)))


@lru_cache(maxsize=1)
def coupler_adapters() -> Mapping[tuple[str, str], CouplerAdapter]:
    return by_pair("coupler_adapters", read_table(FOLDER / "coupler_adapters.csv", CouplerAdapter))
