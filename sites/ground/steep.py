"""The part of a field that is steeper than a limit, as an outline: from cells to ground worked apart."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
import shapely
from rasterio import Affine
from rasterio.features import shapes, sieve

from sites.ground.errors import GroundError
from sites.ground.measuring import acres_of
from sites.ground.outline import Outline, to_geometry
from sites.ground.projection import Projection
from sites.ground.shaping import take_out
from sites.ground.slope import Slope
from sites.ground.units import M2_PER_ACRE

LEAST_ACRES = 0.25
"""Less is not worked apart from what lies around it; ours."""
MOST_SIDES = 20_000
"""Sides of cells along the edge of a part; a longer edge is no outline to work by."""


@dataclass(frozen=True, slots=True)
class Cells:
    """Steepness cell by cell [%; NaN where it is not known], and where on the earth the cells lie.

    `at` goes from column and row to the grid's own coordinates, `projection` from those to degrees; sides are
    on the ground [m].
    """

    percent: np.ndarray
    at: Affine
    projection: Projection
    east_m: float
    north_m: float


@dataclass(frozen=True, slots=True)
class SteepPart:
    """What is steeper than a limit [%], and the rest of the field; their acres add up to the field's.

    `spots_acres` is steep ground in spots too small to be worked apart, which stays with the rest and is in
    `rest_steepest`.
    """

    limit_pct: float
    outline: Outline
    acres: float
    steepest: Slope
    rest_acres: float
    rest_steepest: Slope
    spots_acres: float


def steep_part(field: Outline, cells: Cells, limit_pct: float) -> SteepPart | None:
    """None where either side is under a quarter of an acre. Raises GroundError for an edge too ragged."""
    steep = (cells.percent > limit_pct).astype("uint8")
    least_cells = math.ceil(LEAST_ACRES * M2_PER_ACRE / (cells.east_m * cells.north_m))
    whole = sieve(steep, size=max(1, min(least_cells, steep.size)), connectivity=4)
    if sum(np.count_nonzero(np.diff(whole, axis=axis)) for axis in (0, 1)) > MOST_SIDES:
        raise GroundError(
            f"What is steeper than {limit_pct:g} % is too ragged to be split off. Take a coarser grid."
        )
    squares = [
        shapely.geometry.shape(drawn) for drawn, _ in shapes(whole, mask=whole == 1, transform=cells.at)
    ]
    ground = shapely.transform(shapely.union_all(squares), cells.projection.to_degrees)
    sides = take_out(field, ground, LEAST_ACRES)
    if sides is None:
        return None
    part, rest = map(to_geometry, sides)
    row, column = np.nonzero(np.isfinite(cells.percent))
    middles = np.column_stack(cells.at @ (column + 0.5, row + 0.5))
    longitudes, latitudes = cells.projection.to_degrees(middles).T
    percent = cells.percent[row, column]
    of_part = percent[shapely.contains_xy(part, longitudes, latitudes)]
    of_rest = percent[shapely.contains_xy(rest, longitudes, latitudes)]
    if not (len(of_part) and len(of_rest)):
        return None
    acres, rest_acres = acres_of(part), acres_of(rest)
    return SteepPart(
        limit_pct,
        sides[0],
        acres,
        Slope(float(of_part.max())),
        rest_acres,
        Slope(float(of_rest.max())),
        rest_acres * float((of_rest > limit_pct).mean()),
    )
