"""Freeze dates and chances from a station's median date and its 90 % date, taken as normally distributed."""

from __future__ import annotations

from statistics import NormalDist
from typing import Literal

from plans.planning.figures import Figure, Term
from plans.planning.season import DAYS, day_of, month_day

Side = Literal["spring", "fall"]
Z90 = NormalDist().inv_cdf(0.9)
SOURCE = (
    "NOAA NCEI normals: the 90 % date of spring is the EARLY one (freezing still follows it in nine years of "
    "ten), that of fall the late one; normal distribution about the median, common practice"
)


def _spread(side: Side, median: str, p90: str) -> tuple[int, float]:
    middle, off = day_of(median), day_of(p90) - day_of(median)
    off = (off + DAYS // 2) % DAYS - DAYS // 2
    if (off >= 0) if side == "spring" else (off <= 0):
        early = "before" if side == "spring" else "after"
        raise ValueError(f"p90: {p90} must lie {early} the {side} median {median}")
    return middle, abs(off) / Z90


def freeze_probability(side: Side, median: str, p90: str, day: str) -> Figure:
    """Chance [%] of a spring freeze after `day`, or of a fall freeze on or before it (all MM-DD).

    Normal about the median, spread |p90 - median| / 1.2816. Source: NOAA NCEI normals for the two dates; the
    distribution is common practice. Raises ValueError when p90 lies on the wrong side of the median.
    """
    middle, spread = _spread(side, median, p90)
    off = (day_of(day) - middle + DAYS // 2) % DAYS - DAYS // 2
    before = NormalDist(0, spread).cdf(off)
    return Figure(
        100 * (1 - before if side == "spring" else before),
        "%",
        "normal curve about the median, spread (90 % date - median) / 1.2816",
        (Term("median", median), Term("90 % date", p90), Term("day", day), Term("spread", spread, "days")),
        SOURCE,
    )


def freeze_dates(side: Side, median: str, p90: str) -> dict[str, str]:
    """The days (MM-DD) with a 90, 50 and 10 % chance; the 10 % one is about 2 × median - p90.

    In spring of a freeze after the day, in fall of one by the day. Source: as `freeze_probability`. Raises
    ValueError when p90 lies on the wrong side of the median.
    """
    _spread(side, median, p90)
    middle = day_of(median)
    return {"90 %": p90, "50 %": median, "10 %": month_day(2 * middle - day_of(p90))}
