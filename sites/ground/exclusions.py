"""Ground kept free of a kind of work about water, wells, lanes, lines and neighbours, and what is left.

Distances are laid off on the flat map of `local`. Round corners are drawn just outside the true arc, so that
ground nearer than the distance is never counted as left.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from shapely import difference, intersection
from shapely.geometry.base import BaseGeometry

from sites.ground.errors import GroundError
from sites.ground.found import Feature, geometry_of
from sites.ground.local import GRID_M, LocalPlane
from sites.ground.measuring import SOURCE, acres_of, measure
from sites.ground.outline import Outline, areal, from_geometry, to_geometry
from sites.ground.units import M_PER_FT

ARC_STEPS = 32
"""Corners of a quarter of a circle."""
FARTHEST_FT = 26_400.0


@dataclass(frozen=True, slots=True)
class Exclusion:
    """What to keep away from, how far [ft], for which kinds of work, and why; 0 ft is the thing itself."""

    name: str
    reason: str
    distance_ft: float
    work: frozenset[str]
    shape: Feature


@dataclass(frozen=True, slots=True)
class Taken:
    """Ground that an exclusion takes and none before it took."""

    exclusion: Exclusion
    acres: float
    outline: Outline | None


@dataclass(frozen=True, slots=True)
class Left:
    """One kind of work on one field: acres in all, taken by each exclusion, and left. They add up."""

    work: str
    whole_acres: float
    left_acres: float
    left: Outline | None
    taken: tuple[Taken, ...]
    steps: tuple[str, ...]
    source: str


def left_for(outline: Outline, work: str, exclusions: Sequence[Exclusion]) -> Left:
    """What is left of the field for `work`. Ground in two exclusions counts to the first of them.

    Raises GroundError naming the exclusion whose distance or place cannot be.
    """
    plane = LocalPlane.of(outline)
    left = plane.to_plane(to_geometry(outline))
    whole_acres = measure(outline).acres
    taken = []
    steps = [f"The field holds {whole_acres:,.3f} acres"]
    for exclusion in exclusions:
        if work not in exclusion.work:
            continue
        free = kept_free(exclusion, plane)
        inside = areal(intersection(left, free, grid_size=GRID_M))
        left = areal(difference(left, free, grid_size=GRID_M))
        ground = plane.to_earth(inside)
        taken.append(Taken(exclusion, acres_of(ground), from_geometry(ground)))
        steps.append(
            f"less {taken[-1].acres:,.3f} acres within {exclusion.distance_ft:g} ft of {exclusion.name}"
        )
    remaining = plane.to_earth(left)
    left_acres = acres_of(remaining)
    steps.append(f"leaves {left_acres:,.3f} acres to {work}")
    reach_m = math.hypot(*plane.to_plane(to_geometry(outline)).bounds[2:])
    source = (
        f"{SOURCE}; distances on an azimuthal equidistant map about the middle of the field, exact to "
        f"{plane.error_mm_per_km(reach_m):.1g} mm in a kilometre"
    )
    return Left(work, whole_acres, left_acres, from_geometry(remaining), tuple(taken), tuple(steps), source)


def kept_free(exclusion: Exclusion, plane: LocalPlane) -> BaseGeometry:
    """The ground about an exclusion [m on `plane`], itself included. Raises GroundError."""
    if not 0 <= exclusion.distance_ft <= FARTHEST_FT:
        raise GroundError(f"The distance must be from 0 to {FARTHEST_FT:,.0f} ft.", exclusion.name)
    try:
        shape = plane.to_plane(geometry_of(exclusion.shape))
    except GroundError as error:
        raise GroundError(error.words, exclusion.name) from None
    # A chord of the circle comes nearer than its radius by this factor.
    outside = 1 / math.cos(math.pi / (4 * ARC_STEPS))
    metres = exclusion.distance_ft * M_PER_FT * outside
    return shape.buffer(metres, quad_segs=ARC_STEPS)
