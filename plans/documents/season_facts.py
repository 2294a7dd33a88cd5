"""What a season report says, as values: what was done, seen, counted, pictured, used, and what comes."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from typing import Literal

from pydantic import TypeAdapter, ValidationError

from plans.planning.job import Client, Manner, Practice
from plans.planning.money import total


@dataclass(frozen=True, slots=True, kw_only=True)
class UsedLine:
    """Something used on a day's work; amounts in `unit`."""

    name: str
    lot: str
    amount: float
    unit: str


@dataclass(frozen=True, slots=True, kw_only=True)
class DoneWork:
    """The same work on one day, on one field or several, as its records have it."""

    on: date
    work: str
    fields: tuple[str, ...]
    acres: float
    records: tuple[int, ...]
    """Their numbers."""
    used: tuple[UsedLine, ...]
    weather: tuple[str, ...]
    """Wind, temperature and sky as they were written down, each once."""
    notes: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class LeftOut:
    work: str
    field: str
    why: str


@dataclass(frozen=True, slots=True, kw_only=True)
class SeenMoment:
    """A moment of the year as it was seen on the farm, beside its normal day."""

    label: str
    on: date
    normal: date

    @property
    def days_late(self) -> int:
        """Days after the normal day; below zero before it."""
        return (self.on - self.normal).days


@dataclass(frozen=True, slots=True, kw_only=True)
class LostDay:
    """Work that weather took off the calendar, or that waited for weather."""

    on: date
    work: str
    field: str
    why: str


@dataclass(frozen=True, slots=True, kw_only=True)
class CountPoint:
    """A stand count; densities in plants per square foot, low and high at 95 %."""

    on: date
    season: int
    frames: int
    density: float
    low: float
    high: float
    verdict: str
    sure: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class FieldCounts:
    """The counts of a field over the years, the first first, and what the last one asks for."""

    field: str
    aim: str
    target: float
    """What the aim asks [plants per square foot]."""
    target_source: str
    points: tuple[CountPoint, ...]
    next_label: str
    next_words: str
    because: str


Kind = Literal["walk", "count"]
"""What a photograph was taken on."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Shot:
    """A photograph by its kind and number; the picture itself is given beside it."""

    kind: Kind = "walk"
    photo: int
    on: date
    width_px: int
    height_px: int

    @property
    def name(self) -> str:
        """One in all photographs of the practice."""
        return f"{self.kind}-{self.photo}"


@dataclass(frozen=True, slots=True, kw_only=True)
class PhotoPoint:
    """Photographs of a field from one point, the first first."""

    field: str
    name: str
    shots: tuple[Shot, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class PlannedUsed:
    """What was planned and what was used of something over the year, in `unit`."""

    name: str
    unit: str
    planned: float | None
    """None for what was not planned."""
    used: float

    @property
    def apart_pct(self) -> float | None:
        return None if not self.planned else 100 * (self.used - self.planned) / self.planned


@dataclass(frozen=True, slots=True, kw_only=True)
class ComingStep:
    """A step still to do, on the fields that share its window."""

    label: str
    why: str
    fields: tuple[str, ...]
    opens: date
    shuts: date
    booked_on: date | None


@dataclass(frozen=True, slots=True, kw_only=True)
class ComingYear:
    """A year still to come and its agreed price [$]."""

    year: int
    price: Decimal


@dataclass(frozen=True, slots=True, kw_only=True)
class ComingPayment:
    label: str
    due: str
    amount: Decimal
    stands: str
    """`open` for one that is invoiced, `to invoice` for one that is not."""


@dataclass(frozen=True, slots=True, kw_only=True)
class SeasonReport:
    """All that a report says but for the pictures."""

    title: str
    year: int
    reported_on: date
    manner: Manner
    practice: Practice
    client: Client
    farm: str
    fields: tuple[str, ...]
    """All of the plan."""
    place: str
    """Of the climate's normals."""
    words: str
    """The consultant's own."""
    done: tuple[DoneWork, ...]
    left_out: tuple[LeftOut, ...]
    seen: tuple[SeenMoment, ...]
    lost: tuple[LostDay, ...]
    counts: tuple[FieldCounts, ...]
    photos: tuple[PhotoPoint, ...]
    used: tuple[PlannedUsed, ...]
    coming: tuple[ComingStep, ...]
    """Of the year after; `years` and `payments` are all that is agreed and still to come."""
    years: tuple[ComingYear, ...]
    payments: tuple[ComingPayment, ...]

    @property
    def price_to_come(self) -> Decimal:
        return total(year.price for year in self.years)


_report = TypeAdapter(SeasonReport)


def report_json(report: SeasonReport) -> str:
    return _report.dump_json(report, indent=2).decode()


def read_report(text: str | bytes) -> SeasonReport | None:
    """A stored report; None for one that another version of the site wrote."""
    try:
        return _report.validate_json(text)
    except ValidationError:
        return None
