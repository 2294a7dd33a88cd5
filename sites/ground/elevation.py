"""Steepness of a field from a grid of heights (GeoTIFF): Horn's gradient at every cell inside the outline.

Source: Horn 1981, Hill shading and the reflectance map, Proceedings of the IEEE 69:14-47.
"""

from __future__ import annotations

import logging
import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Literal

import numpy as np
import rasterio
import shapely
from pyproj import Transformer
from pyproj.exceptions import ProjError
from rasterio import Affine
from rasterio.errors import RasterioError
from rasterio.io import MemoryFile
from rasterio.windows import Window

from sites.ground.errors import GroundError, GroundFileError
from sites.ground.measuring import azimuth_deg, distance_m
from sites.ground.outline import Outline, to_geometry
from sites.ground.projection import projection_of
from sites.ground.slope import LIMITS_PCT, Slope, wind
from sites.ground.steep import Cells, SteepPart, steep_part
from sites.ground.units import M_PER_FT

logging.getLogger("rasterio").setLevel(logging.CRITICAL)  # what is wrong is said in the error
MOST_BYTES = 50_000_000
MOST_CELLS = 4_000_000
LEAST_CELLS = 9
M_PER_UNIT = {"m": 1.0, "ft": M_PER_FT}
UNIT_NAMES = {"m": "m", "metre": "m", "meter": "m", "metres": "m", "meters": "m"} | dict.fromkeys(
    ("ft", "foot", "feet", "us survey foot", "us-ft"), "ft"
)
FLAT_PCT = 0.5
"""Below this the side a cell faces is chance."""


@dataclass(frozen=True, slots=True)
class FieldSlope:
    """How a field lies, cell by cell. Judge it by `steepest`.

    `above` is the share of the field [%] that is steeper than each limit [%].
    """

    mean: Slope
    p90: Slope
    steepest: Slope
    above: Mapping[float, float]
    faces: str
    cell_ft: float
    cells: int
    notes: tuple[str, ...]
    steep: tuple[SteepPart, ...]
    """One for each limit above which there is a part that can be worked apart."""
    source: str = "Horn 1981, Proceedings of the IEEE 69:14-47"


def horn(heights: np.ndarray, cell_east: float, cell_north: float) -> tuple[np.ndarray, np.ndarray]:
    """Rise to the east and to the north of each inner cell: (rows, columns) → two of (rows − 2, columns − 2).

    Rows run from north to south; heights and cell sides are in one unit. A cell beside a missing one (NaN) is
    missing too. Source: Horn 1981, the weighted difference of the eight neighbours.
    """
    a, b, c = heights[:-2, :-2], heights[:-2, 1:-1], heights[:-2, 2:]
    d, f = heights[1:-1, :-2], heights[1:-1, 2:]
    g, h, i = heights[2:, :-2], heights[2:, 1:-1], heights[2:, 2:]
    east = ((c + 2 * f + i) - (a + 2 * d + g)) / (8 * cell_east)
    north = ((a + 2 * b + c) - (g + 2 * h + i)) / (8 * cell_north)
    return east, north


def slope_of_field(
    name: str,
    data: bytes,
    outline: Outline,
    *,
    projection: str = "",
    height_unit: Literal["", "m", "ft"] = "",
    limits_pct: Sequence[float] = LIMITS_PCT,
) -> FieldSlope:
    """The field in a GeoTIFF of heights. What the file states goes before `projection` and `height_unit`.

    Raises GroundFileError, which may ask for `projection`.
    """
    try:
        if len(data) > MOST_BYTES:
            raise GroundError("It is larger than 50 MB. Cut it to the farm.")
        if not data.startswith((b"II*\x00", b"MM\x00*", b"II+\x00", b"MM\x00+")):
            raise GroundError("It is no GeoTIFF. Export the heights as GeoTIFF.")
        with rasterio.Env(GDAL_DISABLE_READDIR_ON_OPEN="EMPTY_DIR"), MemoryFile(data) as file:
            with file.open(driver="GTiff") as grid:
                return _slope(grid, outline, projection, height_unit, limits_pct)
    except GroundError as error:
        raise GroundFileError(name[:80], error.words, error.place, error.asks) from None
    except (RasterioError, ProjError, OSError, ValueError, MemoryError):
        raise GroundFileError(name[:80], "It is damaged or cut off. Export the heights again.") from None


def _slope(
    grid: Any, outline: Outline, given: str, height_unit: str, limits_pct: Sequence[float]
) -> FieldSlope:
    if grid.count != 1 or np.dtype(grid.dtypes[0]).kind not in "iuf":
        raise GroundError("It is a picture. Export the heights, one number a cell.")
    if math.prod(grid.block_shapes[0]) > MOST_CELLS:
        raise GroundError("It is packed in pieces too large to unpack. Export it in tiles of 256 cells.")
    stated = grid.crs.to_wkt() if grid.crs else given
    if not stated:
        raise GroundError("It states no projection. Say which it has, such as EPSG:26915.", asks="projection")
    projection = projection_of(stated)
    transformer = projection.transformer
    field = to_geometry(outline)
    if transformer is not None:
        field = shapely.transform(field, lambda points: _back(transformer, points))
    if grid.transform.b or grid.transform.d or grid.transform.a <= 0 or grid.transform.e >= 0:
        raise GroundError("Its rows do not run west to east from north to south. Export it north up.")
    window = _window(grid, field)
    heights = grid.read(1, window=window, masked=True).astype(float).filled(np.nan)
    heights[np.abs(heights) > 10_000] = np.nan
    per_unit, notes = _unit(grid, height_unit)
    at = grid.transform
    left, top = at.c + at.a * window.col_off, at.f + at.e * window.row_off
    middle = (left + at.a * window.width / 2, top + at.e * window.height / 2)
    east_m, north_m, turned_deg = _cell(transformer, middle, at.a, -at.e)
    east, north = horn(heights * per_unit, east_m, north_m)
    columns, rows = np.meshgrid(np.arange(1, window.width - 1), np.arange(1, window.height - 1))
    inside = shapely.contains_xy(field, left + at.a * (columns + 0.5), top + at.e * (rows + 0.5))
    known = inside & np.isfinite(east) & np.isfinite(north)
    if known.sum() < LEAST_CELLS:
        raise GroundError(
            "It holds too few heights inside the field. Take a finer one, or one that covers it."
        )
    missing = 100 * (1 - known.sum() / inside.sum())
    if missing >= 1:
        notes.append(f"{missing:.0f} % of the field has no height; it is left out.")
    first = at @ Affine.translation(window.col_off + 1, window.row_off + 1)
    cells = Cells(100 * np.hypot(east, north), first, projection, east_m, north_m)
    steep = []
    for limit in limits_pct:
        try:
            steep.append(steep_part(outline, cells, limit))
        except GroundError as ragged:
            notes.append(ragged.words)
    return _summed(
        east[known],
        north[known],
        turned_deg,
        max(east_m, north_m),
        notes,
        limits_pct,
        [part for part in steep if part],
    )


def _back(transformer: Transformer, points: np.ndarray) -> np.ndarray:
    return np.column_stack(transformer.transform(points[:, 0], points[:, 1], direction="INVERSE"))


def _window(grid: Any, field: Any) -> Window:
    """Whole cells over the field and one more on each side, within the grid."""
    west, south, east, north = field.bounds
    at = grid.transform
    edges = np.array(
        [(west - at.c) / at.a, (east - at.c) / at.a, (north - at.f) / at.e, (south - at.f) / at.e]
    )
    # Beyond a billion cells nothing is covered; the bound also takes in what is infinite.
    edges = np.nan_to_num(edges, nan=-1e9).clip(-1e9, 1e9)
    left, top = (max(math.floor(edge) - 1, 0) for edge in edges[[0, 2]])
    wide = min(math.ceil(edges[1]) + 1, grid.width) - left
    high = min(math.ceil(edges[3]) + 1, grid.height) - top
    if wide < 3 or high < 3:
        raise GroundError("It does not cover the field. Take the grid of its place.")
    if wide * high > MOST_CELLS:
        raise GroundError("It has over 4 million cells in the field. Take a coarser grid.")
    return Window(left, top, wide, high)


def _unit(grid: Any, given: str) -> tuple[float, list[str]]:
    """Metres in a unit of height, and what is to be said of it."""
    stated = UNIT_NAMES.get(str(grid.units[0] or "").strip().lower(), "")
    if stated or given:
        return M_PER_UNIT[stated or given], []
    return 1.0, ["The file states no unit of height; meters were taken. If they are feet, say so."]


def _cell(
    transformer: Transformer | None, middle: tuple[float, float], wide: float, high: float
) -> tuple[float, float, float]:
    """Sides of a cell on the ground [m], and how far up on the grid is turned from north [degrees].

    Measured on the ellipsoid, so that degrees, feet and a stretched projection all come out right.
    """
    x, y = middle
    ends = np.array(
        [
            [x - wide / 2, y],
            [x + wide / 2, y],
            [x, y - high / 2],
            [x, y + high / 2],
        ]
    )
    if transformer is not None:
        ends = np.column_stack(transformer.transform(ends[:, 0], ends[:, 1]))
    west, east, south, north = ((float(p[0]), float(p[1])) for p in ends)
    return distance_m(west, east), distance_m(south, north), azimuth_deg(south, north)


def _summed(
    east: np.ndarray,
    north: np.ndarray,
    turned_deg: float,
    cell_m: float,
    notes: list[str],
    limits_pct: Sequence[float],
    steep: Sequence[SteepPart],
) -> FieldSlope:
    percent = 100 * np.hypot(east, north)
    # Steep cells say more about the side that a field faces than flat ones.
    faces = "no side"
    if percent.mean() >= FLAT_PCT:
        down = math.degrees(math.atan2(-float(east.mean()), -float(north.mean())))
        faces = wind((down + turned_deg) % 360)
    above = {float(limit): 100 * float((percent > limit).mean()) for limit in limits_pct}
    return FieldSlope(
        Slope(float(percent.mean())),
        Slope(float(np.percentile(percent, 90))),
        Slope(float(percent.max())),
        above,
        faces,
        cell_m / M_PER_FT,
        int(percent.size),
        tuple(notes),
        tuple(steep),
    )
