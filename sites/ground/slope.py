"""Steepness from rise and run, from a clinometer, and from heights along a walk. Percent is not degrees."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from sites.ground.errors import GroundError
from sites.ground.local import LocalPlane
from sites.ground.measuring import distances_m
from sites.ground.outline import Point
from sites.ground.units import M_PER_FT

WINDOW_FT = 150.0
"""Heights of a hand-held receiver scatter by metres: a slope is fitted over this length of the walk."""
LEAST_POINTS = 5
LIMITS_PCT = (5.0, 10.0, 15.0, 25.0)
"""Where the one who asks has none."""
WINDS = ("north", "northeast", "east", "southeast", "south", "southwest", "west", "northwest")


@dataclass(frozen=True, slots=True)
class Slope:
    """Steepness as rise over run [%]; `degrees` is the same as an angle."""

    percent: float

    @property
    def degrees(self) -> float:
        return math.degrees(math.atan(self.percent / 100))

    def __str__(self) -> str:
        return f"{self.percent:.1f} % ({self.degrees:.1f}°)"


def from_rise(rise_ft: float, run_ft: float) -> Slope:
    """Rise over level run, both in one unit. Raises GroundError for no run. Source: geometry."""
    if not (math.isfinite(rise_ft) and math.isfinite(run_ft)) or run_ft <= 0:
        raise GroundError("The run must be more than 0. Measure it level, not along the ground.", "run")
    return Slope(100 * abs(rise_ft) / run_ft)


def from_degrees(degrees: float) -> Slope:
    """A clinometer's degrees: 15° is 26.8 %. Raises GroundError from 90° on. Source: geometry."""
    if not abs(degrees) < 90:
        raise GroundError("An angle must be less than 90 degrees. Was it read in percent?", "degrees")
    return Slope(100 * math.tan(math.radians(abs(degrees))))


def wind(azimuth_deg: float) -> str:
    """The point of the compass nearest to an azimuth."""
    return WINDS[round(azimuth_deg / 45) % 8]


@dataclass(frozen=True, slots=True)
class WalkedSlope:
    """Steepness along a walk, and of the plane that fits all its heights best.

    `scatter_ft` is how far heights lie from the fitted lines (root mean square), `doubt_pct` what that
    leaves open in a fitted slope (one standard error). `above` is the share of the walked length [%] that is
    steeper than each limit [%], of the points about which a line could be fitted. A walk shows what it went
    over: ground beside it may be steeper.
    """

    mean: Slope
    p90: Slope
    steepest: Slope
    plane: Slope
    faces: str
    scatter_ft: float
    doubt_pct: float
    length_ft: float
    words: str
    above: Mapping[float, float]
    shares_working: str


def along_walk(
    points: Sequence[Point],
    heights_m: Sequence[float | None],
    window_ft: float = WINDOW_FT,
    limits_pct: Sequence[float] = LIMITS_PCT,
) -> WalkedSlope:
    """Least-squares lines through the heights of every stretch of `window_ft`.

    Points without a height are passed over. Raises GroundError where too few are left or the walk is shorter
    than a stretch.
    """
    known = [(p, h) for p, h in zip(points, heights_m, strict=True) if h is not None and math.isfinite(h)]
    if len(known) < LEAST_POINTS:
        raise GroundError(f"It has heights at {len(known)} points; a slope needs {LEAST_POINTS}. Walk on.")
    way = [point for point, _ in known]
    along = np.array(distances_m(way)) / M_PER_FT
    heights = np.array([height for _, height in known]) / M_PER_FT
    if along[-1] < window_ft:
        raise GroundError(f"It is {along[-1]:.0f} ft long; a slope needs {window_ft:.0f} ft. Walk on.")
    middles, slopes, residuals, errors = _stretches(along, heights, window_ft)
    if not len(slopes):
        raise GroundError("Its points lie too far apart for a slope. Walk it with one every 50 ft or less.")
    scatter_ft, doubt_pct = float(np.sqrt(np.mean(residuals**2))), float(np.median(errors))
    fall_pct, faces = _plane(way, heights * M_PER_FT)
    steepest = Slope(float(slopes.max()))
    words = (
        f"Heights scatter by {scatter_ft:.1f} ft about lines of {window_ft:.0f} ft, which leaves a slope "
        f"open by {doubt_pct:.1f} points of percent. The walk met up to {steepest}; ground beside it may be "
        "steeper."
    )
    return WalkedSlope(
        Slope(float(slopes.mean())),
        Slope(float(np.percentile(slopes, 90))),
        steepest,
        Slope(fall_pct),
        faces,
        scatter_ft,
        doubt_pct,
        float(along[-1]),
        words,
        *_shares(along, middles, slopes, limits_pct),
    )


def _shares(
    along: np.ndarray, middles: np.ndarray, slopes: np.ndarray, limits_pct: Sequence[float]
) -> tuple[dict[float, float], str]:
    """Share of the length [%] above each limit [%], and its working."""
    edges = np.concatenate([along[:1], (along[1:] + along[:-1]) / 2, along[-1:]])
    lengths = np.diff(edges)[middles]
    fitted_ft = float(lengths.sum())
    steep_ft = {float(limit): float(lengths[slopes > limit].sum()) for limit in limits_pct}
    working = "; ".join(
        f"over {limit:g} %: {feet:,.0f} of {fitted_ft:,.0f} ft = {100 * feet / fitted_ft:.1f} %"
        for limit, feet in steep_ft.items()
    )
    said = f"Each point stands for the walk half way to its neighbors: {working}."
    return {limit: 100 * feet / fitted_ft for limit, feet in steep_ft.items()}, said


def _stretches(along: np.ndarray, heights: np.ndarray, window: float) -> tuple[np.ndarray, ...]:
    """Lines fitted about points: which points, slopes [%], all residuals, standard errors of slopes [%]."""
    points, slopes, residuals, errors = [], [], [], []
    for number, middle in enumerate(along):
        first, last = np.searchsorted(along, [middle - window / 2, middle + window / 2 + 1e-9])
        x, y = along[first:last], heights[first:last]
        if len(x) < LEAST_POINTS or x[-1] - x[0] < 0.7 * window:
            continue
        run = x - x.mean()
        spread = float(run @ run)
        rise = float(run @ y) / spread
        off = y - y.mean() - rise * run
        points.append(number)
        slopes.append(100 * abs(rise))
        residuals.extend(off)
        errors.append(100 * math.sqrt(float(off @ off) / (len(x) - 2) / spread))
    return np.array(points, dtype=int), np.array(slopes), np.array(residuals), np.array(errors)


def _plane(points: Sequence[Point], heights_m: np.ndarray) -> tuple[float, str]:
    """Steepness [%] of the plane that fits best, and the side it faces."""
    middle = tuple(np.mean(points, axis=0))
    flat = np.array(LocalPlane(middle).metres(points))
    terms = np.column_stack([flat, np.ones(len(flat))])
    (east, north, _), *_ = np.linalg.lstsq(terms, heights_m, rcond=None)
    steep = 100 * math.hypot(east, north)
    return steep, wind(math.degrees(math.atan2(-east, -north)) % 360) if steep > 0.05 else "no side"
