"""When to go and count leaves. Degree days say when to walk; only counted leaves ever release a spray."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from typing import Annotated

from pydantic import Field

from plans.planning import tables
from plans.planning.cells import Key, Source
from plans.planning.figures import Figure, Term
from plans.planning.season import DAYS, day_of, month_day, normal_degree_days

COUNT_FIRST = (
    "Walk and count; a date releases no spray. Leaves did not follow degree days from state to state."
)


@dataclass(frozen=True, slots=True)
class Phyllochron:
    """Degree days between one leaf and the next, low and high [°C·day]."""

    plant: Key
    base_c: float
    low_c_days: Annotated[float, Field(gt=0)]
    high_c_days: Annotated[float, Field(gt=0)]
    source: Source


@lru_cache(maxsize=1)
def phyllochrons() -> dict[str, Phyllochron]:
    """Leaf intervals by plant [°C·day], rows of reference/phyllochron.csv. Raises TableError."""
    return dict(tables.keyed("phyllochron", Phyllochron, "plant"))


def walk_to_count(
    plant: str, emerged: str, leaves: int, monthly_mean_f: Sequence[float]
) -> dict[str, Figure | str]:
    """First and last day [days after emergence] on which `leaves` leaves are likely, in a normal year.

    Leaves × the interval's low and high end, counted from `emerged` (MM-DD) over the plant's base with the
    normal degree days of the place (12 monthly means [°F]). Source: reference/phyllochron.csv, row by row.
    Raises ValueError for a plant in no table or a place that never gathers that much in a year.
    """
    if plant not in phyllochrons():
        raise ValueError(f"plant: {plant!r} is not one of: {', '.join(phyllochrons())}")
    row = phyllochrons()[plant]
    degree_days = normal_degree_days(monthly_mean_f, row.base_c * 1.8 + 32)
    start = day_of(emerged)
    said: dict[str, Figure | str] = {}
    for name, interval in (("from", row.low_c_days), ("to", row.high_c_days)):
        wanted, gathered = leaves * interval * 1.8, 0.0
        for days in range(1, DAYS + 1):
            gathered += float(degree_days[(start + days) % DAYS])
            if gathered >= wanted:
                break
        else:
            raise ValueError(f"leaves: {leaves} leaves ask for more warmth than a year here has")
        said[name] = month_day(start + days)
        said[f"{name}_days"] = Figure(
            days,
            "days",
            "days until the degree days over the base reach leaves × interval",
            (
                Term("leaves", leaves),
                Term("interval", interval, "°C·day"),
                Term("base", row.base_c, "°C"),
                Term("emerged", emerged),
            ),
            row.source,
        )
    return {"count": COUNT_FIRST, **said}
