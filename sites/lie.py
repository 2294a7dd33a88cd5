"""How a field lies, by whatever way it was found: what a page shows, and what can be taken into the field."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np
from django.utils.translation import gettext

from sites.ground.bring_in import bring_in
from sites.ground.elevation import slope_of_field
from sites.ground.errors import GroundError, GroundFileError
from sites.ground.local import LocalPlane
from sites.ground.outline import Outline, Point
from sites.ground.slope import Slope, WalkedSlope, along_walk, from_degrees, from_rise
from sites.ground.steep import SteepPart

GEOMETRY = "geometry"
LEAST_SPREAD = 0.2
"""A narrower walk fits a plane by chance; ours."""


def up_to_a_tenth(slope: Slope) -> float:
    """Rounded up to a tenth of a percent, so that taking it makes no field gentler."""
    return math.ceil(round(slope.percent * 10, 6)) / 10


@dataclass(frozen=True, slots=True)
class Lie:
    """What one way of looking says; `rows` are what else it tells, head and figure."""

    way: str
    """What it was found by, as the field keeps it: `a clinometer, 12 degrees`."""
    steepest: Slope
    rows: tuple[tuple[str, str], ...]
    working: tuple[str, ...]
    source: str
    faces: str = ""
    notes: tuple[str, ...] = ()
    above_pct: Mapping[float, float] | None = None
    """Share of the field [%] above each limit [%]; None where only some of it was looked at."""
    walked_above_pct: Mapping[float, float] | None = None
    """Share of a walk [%] above each limit [%]."""
    steep: tuple[SteepPart, ...] = ()
    """Parts that can be split off as fields of their own."""

    @property
    def steepest_pct(self) -> float:
        return up_to_a_tenth(self.steepest)


def by_rise(rise_ft: float, run_ft: float) -> Lie:
    """Raises GroundError."""
    steepest = from_rise(rise_ft, run_ft)
    return Lie(
        f"a rise of {rise_ft:g} ft over a level run of {run_ft:g} ft",
        steepest,
        (),
        (
            gettext("100 × {rise} ft / {run} ft = {percent} %").format(
                rise=f"{abs(rise_ft):g}", run=f"{run_ft:g}", percent=f"{steepest.percent:.1f}"
            ),
        ),
        GEOMETRY,
    )


def by_clinometer(reading: float, unit: Literal["degrees", "percent"]) -> Lie:
    """Raises GroundError."""
    if unit == "percent":
        steepest = Slope(abs(reading))
        working = gettext("arctangent of {reading} / 100 = {degrees} degrees").format(
            reading=f"{abs(reading):g}", degrees=f"{steepest.degrees:.1f}"
        )
    else:
        steepest = from_degrees(reading)
        working = gettext("100 × tangent of {reading} degrees = {percent} %").format(
            reading=f"{abs(reading):g}", percent=f"{steepest.percent:.1f}"
        )
    return Lie(f"a clinometer, {abs(reading):g} {unit}", steepest, (), (working,), GEOMETRY)


def by_walk(name: str, data: bytes, limits_pct: Sequence[float]) -> Lie:
    """The track with the most heights in a file. Raises GroundFileError."""
    found = bring_in(name, data)
    tracks = [track for track in found.features if any(height is not None for height in track.heights_m)]
    if not tracks:
        raise GroundFileError(
            name[:80],
            gettext(
                "It holds no track with heights. Record the walk with a receiver that writes them, "
                "and export it as GPX."
            ),
        )
    track = max(tracks, key=lambda one: sum(height is not None for height in one.heights_m))
    try:
        walked = along_walk(track.points, track.heights_m, limits_pct=limits_pct)
    except GroundError as error:
        raise GroundFileError(name[:80], error.words, track.name) from None
    notes = [*(str(said) for said in (*found.repairs, *track.repairs, *found.problems))]
    if len(tracks) > 1:
        notes.append(
            gettext("The file holds {tracks} tracks; this is the one with the most heights.").format(
                tracks=len(tracks)
            )
        )
    wide = _spread(track.points) >= LEAST_SPREAD
    if not wide:
        notes.append(gettext("The walk ran along one line, which does not say which side the field faces."))
    notes += [question.words for question in found.questions]
    return Lie(
        f"a walk recorded in {name}",
        walked.steepest,
        _walk_rows(walked),
        (
            walked.words,
            walked.shares_working,
            *(
                [gettext("The plane that fits all heights best rises by {plane}.").format(plane=walked.plane)]
                if wide
                else []
            ),
        ),
        gettext("least-squares lines through the walk’s heights"),
        faces=walked.faces if wide else "",
        notes=tuple(notes),
        walked_above_pct=walked.above,
    )


def _spread(points: Sequence[Point]) -> float:
    """How wide a walk ran beside how long, from 0 for one line to 1."""
    flat = np.array(LocalPlane(points[0]).metres(points))
    long, wide = np.linalg.svd(flat - flat.mean(axis=0), compute_uv=False)
    return float(wide / long) if long else 0.0


def _walk_rows(walked: WalkedSlope) -> tuple[tuple[str, str], ...]:
    return (
        (gettext("Mean along the walk"), str(walked.mean)),
        (gettext("Nine tenths of the walk lie under"), str(walked.p90)),
        (gettext("Heights scatter by"), f"{walked.scatter_ft:.1f} ft"),
        (
            gettext("Which leaves a slope open by"),
            gettext("± {doubt} points of percent").format(doubt=f"{walked.doubt_pct:.1f}"),
        ),
        (gettext("Length of the walk"), f"{walked.length_ft:,.0f} ft"),
    )


def by_grid(
    name: str,
    data: bytes,
    outline: Outline,
    limits_pct: Sequence[float],
    *,
    projection: str = "",
    height_unit: Literal["", "m", "ft"] = "",
) -> Lie:
    """A grid of heights, clipped to the outline. Raises GroundFileError."""
    found = slope_of_field(
        name, data, outline, projection=projection, height_unit=height_unit, limits_pct=limits_pct
    )
    return Lie(
        f"a grid of heights in {name}, cells of {found.cell_ft:.0f} ft",
        found.steepest,
        (
            (gettext("Mean of the field"), str(found.mean)),
            (gettext("Nine tenths of the field lie under"), str(found.p90)),
        ),
        (
            gettext(
                "The steepest of {cells} cells of {cell_ft} ft inside the outline, each by the heights "
                "of its eight neighbors."
            ).format(cells=f"{found.cells:,}", cell_ft=f"{found.cell_ft:.1f}"),
        ),
        found.source,
        faces=found.faces,
        notes=found.notes,
        above_pct=found.above,
        steep=found.steep,
    )
