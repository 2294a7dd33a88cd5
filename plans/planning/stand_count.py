"""A whole stand count: throws of a frame to density, how sure it is, a verdict by the aim, a next step.

Sources: `stand.py` for the frequency grid and its marks; the interval of a share: Wilson 1927, Journal of the
American Statistical Association 22:209-212; the interval of a mean: Student 1908, Biometrika 6:1-25.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache
from typing import Annotated, Literal, cast

from pydantic import Field

from plans.planning import stand, tables
from plans.planning.cells import Key, Source
from plans.planning.figures import Figure, Term

Aim = Literal["cover", "forage"]
Growth = Literal["clean", "annuals", "patches", "sod"]
Standing = Literal["enough", "fair", "thin", "nothing"]
NextKey = Literal["keep", "clip", "spot-treat", "release", "overseed", "start again"]

Z95 = 1.959964
SHARE_SOURCE = "Wilson 1927, Journal of the American Statistical Association 22:209-212"
MEAN_SOURCE = "Student 1908, Biometrika 6:1-25: mean ± t × s / √n, 95 %"
T95 = (
    (12.706, 4.303, 3.182, 2.776, 2.571, 2.447, 2.365, 2.306, 2.262, 2.228)
    + (2.201, 2.179, 2.160, 2.145, 2.131, 2.120, 2.110, 2.101, 2.093, 2.086)
    + (2.080, 2.074, 2.069, 2.064, 2.060, 2.056, 2.052, 2.048, 2.045, 2.042)
)
"""Student's t for 95 %, by degrees of freedom from 1."""
THROWS_PER_ACRE = 4
SITES_A_FIELD = 10
THROWS_SOURCE = "Oklahoma State, throws an acre; NDSU switchgrass report 2004, sites a field"
FEWEST = {"grid": 1, "quadrat": 2}
"""One quadrat says nothing of how they differ."""
MATURE_SEASON = 3
"""From this season on a stand that is still middling does not fill in by itself."""
WORDS: Mapping[Standing, str] = {
    "enough": "Enough",
    "fair": "Middling",
    "thin": "Thin",
    "nothing": "Nothing",
}


@dataclass(frozen=True, slots=True)
class Mark:
    aim: Key
    enough_plants_per_m2: Annotated[float, Field(gt=0)]
    fair_plants_per_m2: Annotated[float, Field(gt=0)]
    source: Source


@dataclass(frozen=True, slots=True)
class NextStep:
    step: Key
    label: Key
    words: Key
    may_be: str
    """Key of the step of reference/steps.csv that does it, where one may be needed; else empty."""
    source: Source


@lru_cache(maxsize=1)
def _marks() -> Mapping[str, Mark]:
    return tables.keyed("stand_marks", Mark, "aim")


@lru_cache(maxsize=1)
def _steps() -> Mapping[str, NextStep]:
    return tables.keyed("next_steps", NextStep, "step")


@dataclass(frozen=True, slots=True, kw_only=True)
class Stand:
    """What a count comes to."""

    frames: int
    frequency_pct: Figure | None
    """None for quadrats."""
    plants_per_sqft: Figure
    low_per_sqft: Figure
    high_per_sqft: Figure
    """Between these lies the true density in 95 of 100 counts like this one, if frames fall at random."""
    mark_per_sqft: Figure
    """What the aim asks."""
    standing: Standing
    verdict: str
    sure: bool
    """Whether low and high lead to the same verdict."""
    enough_frames: str
    """What is said about the number of frames; empty where there are enough."""
    next_step: NextStep
    because: str


def binomial_interval(hits: int, cells: int) -> tuple[float, float]:
    """Low and high share [%] that go with `hits` of `cells` in 95 of 100 counts. Source: Wilson 1927."""
    share, square = hits / cells, Z95**2
    middle = share + square / (2 * cells)
    half = Z95 * math.sqrt(share * (1 - share) / cells + square / (4 * cells**2))
    below = 1 + square / cells
    return 100 * max(0.0, (middle - half) / below), 100 * min(1.0, (middle + half) / below)


def mean_interval(counts: Sequence[float]) -> tuple[float, float, float]:
    """Mean, low and high [the unit of the counts] at 95 %, from two counts or more. Source: Student 1908."""
    n = len(counts)
    mean = sum(counts) / n
    spread = math.sqrt(sum((count - mean) ** 2 for count in counts) / (n - 1))
    t = T95[n - 2] if n - 2 < len(T95) else Z95
    half = t * spread / math.sqrt(n)
    return mean, max(0.0, mean - half), mean + half


def standing(plants_per_m2: float, aim: Aim) -> Standing:
    """How a density [plants/m²] stands to the marks of an aim. Source: reference/stand_marks.csv."""
    mark = _marks()[aim]
    if plants_per_m2 <= 0:
        return "nothing"
    if plants_per_m2 >= mark.enough_plants_per_m2:
        return "enough"
    return "fair" if plants_per_m2 >= mark.fair_plants_per_m2 else "thin"


def next_step(found: Standing, season: int, growth: Growth) -> tuple[NextKey, str]:
    """What to do with a stand in its `season`, and why. Source: reference/next_steps.csv."""
    tend: dict[Growth, NextKey] = {
        "clean": "keep",
        "annuals": "clip",
        "patches": "spot-treat",
        "sod": "release",
    }
    if found == "nothing":
        return "start again", "no seeded plant was found"
    if found == "thin":
        if season <= 1:
            return tend[growth], "thin in the first season is no verdict yet: seed still sleeps in the ground"
        if growth == "sod":
            return "start again", "it is thin and the old sod holds the ground"
        return "overseed", "thin after its second season it does not fill in by itself"
    if found == "fair" and season >= MATURE_SEASON and growth == "clean":
        return "overseed", "what is middling in its third season or later stays so"
    if found == "fair" and growth == "clean":
        return "keep", "it can fill in without reseeding"
    return tend[growth], "there are plants enough" if found == "enough" else "there are plants to save"


def _no_better_than_thin(found: Standing) -> Standing:
    return "thin" if found == "nothing" else found


def _per_sqft(plants_per_m2: float, formula: str, inputs: tuple[Term, ...], source: str) -> Figure:
    return Figure(plants_per_m2 / stand.SQFT_PER_M2, "plants/ft²", formula, inputs, source)


def _grid(hits: int, cells: int) -> tuple[Figure, Figure, Figure, Figure]:
    figures = stand.frequency_grid(hits, cells)
    frequency = cast(Figure, figures["frequency_pct"])
    density = cast(Figure, figures["plants_per_sqft"])
    inputs = (Term("cells hit", hits), Term("cells looked at", cells))
    low, high = (
        _per_sqft(
            stand.PLANTS_PER_M2_PER_PCT * end,
            "0.4 × the end of Wilson's interval [%] / 10.764",
            (*inputs, Term("end of the interval", end, "%")),
            f"{SHARE_SOURCE}; {stand.GRID_SOURCE}. Cells of one throw are not apart, so the truth is wider",
        )
        for end in binomial_interval(hits, cells)
    )
    return frequency, density, low, high


def _quadrats(throws: Sequence[int], frame_sqft: float) -> tuple[Figure, Figure, Figure]:
    mean, low, high = mean_interval([count / frame_sqft for count in throws])
    inputs = (
        Term("plants", sum(throws)),
        Term("frames", len(throws)),
        Term("frame", frame_sqft, "ft²"),
    )
    return (
        Figure(mean, "plants/ft²", "plants / (frames × area of a frame)", inputs, "arithmetic mean"),
        Figure(low, "plants/ft²", "mean - t × s / √n, not under 0", inputs, MEAN_SOURCE),
        Figure(high, "plants/ft²", "mean + t × s / √n", inputs, MEAN_SOURCE),
    )


def reckon(
    *,
    method: Literal["grid", "quadrat"],
    throws: Sequence[int],
    cells: int,
    frame_sqft: float,
    aim: Aim,
    season: int,
    growth: Growth,
    acres: float,
) -> Stand:
    """A count to density [plants/ft²], verdict and next step.

    Raises ValueError where more is hit than looked at, or where the frames are too few to say how sure it is.
    `throws` are cells hit of `cells` in each throw of a grid, or plants in each quadrat of `frame_sqft`.
    """
    if len(throws) < FEWEST[method]:
        raise ValueError(f"throws: {len(throws)} counted; at least {FEWEST[method]} are needed")
    frequency = None
    if method == "grid":
        over = next((count for count in throws if count > cells), None)
        if over is not None:
            raise ValueError(f"throws: {over} is more than the {cells} cells of a throw")
        frequency, dense, low, high = _grid(sum(throws), cells * len(throws))
    else:
        dense, low, high = _quadrats(throws, frame_sqft)
    found, at_low, at_high = (
        standing(float(figure.value) * stand.SQFT_PER_M2 * (1 + 1e-9), aim) for figure in (dense, low, high)
    )
    step, because = next_step(found, season, growth)
    mark = _marks()[aim]
    asked = max(SITES_A_FIELD, math.ceil(THROWS_PER_ACRE * acres))
    few = (
        f"{len(throws)} frames on {acres:g} acres are few: printed advice runs from over {SITES_A_FIELD} a "
        f"field to {THROWS_PER_ACRE} an acre, here {asked}. ({THROWS_SOURCE})"
        if len(throws) < asked
        else ""
    )
    return Stand(
        frames=len(throws),
        frequency_pct=frequency,
        plants_per_sqft=dense,
        low_per_sqft=low,
        high_per_sqft=high,
        mark_per_sqft=_per_sqft(
            mark.enough_plants_per_m2,
            "plants per m² / 10.764",
            (Term("asked", mark.enough_plants_per_m2, "plants/m²"),),
            mark.source,
        ),
        standing=found,
        verdict=f"{WORDS[found]} for {aim}",
        sure=_no_better_than_thin(at_low) == _no_better_than_thin(found) == _no_better_than_thin(at_high),
        enough_frames=few,
        next_step=_steps()[step],
        because=because,
    )
