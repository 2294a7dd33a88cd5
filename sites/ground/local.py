"""A flat map about one place, on which lengths are metres: where outlines are cut, joined and buffered.

The azimuthal equidistant projection on the ellipsoid, as PROJ has it. Lengths from the middle are exact;
across, they are too long by about d² / (6 R²) at the distance d: 0.4 mm in a kilometre at 10 km from the
middle. Geodesics are straight there to within that, so areas of parts add up to the area of the whole.
Source: Snyder 1987, Map Projections: A Working Manual, USGS Professional Paper 1395, chapter 25
[from memory].
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from pyproj import Proj
from shapely import get_coordinates, make_valid, transform
from shapely.geometry.base import BaseGeometry

from sites.ground.errors import GroundError
from sites.ground.outline import Outline, Point, areal

EARTH_RADIUS_M = 6_371_000.0
GRID_M = 1e-6
"""Outlines are cut and joined on a grid this fine, on which every overlay comes out."""
REACH_M = 100_000.0
"""Farther from the middle lengths would be off by more than 40 mm in a kilometre."""


class LocalPlane:
    """Metres east and north of `middle`."""

    def __init__(self, middle: Point) -> None:
        self.middle = middle
        self._projection = Proj(
            proj="aeqd", lon_0=middle[0], lat_0=middle[1], datum="WGS84", units="m", preserve_units=True
        )

    @classmethod
    def of(cls, outline: Outline) -> LocalPlane:
        return cls(outline.middle)

    def to_plane(self, geometry: BaseGeometry) -> BaseGeometry:
        """Longitude and latitude to metres. Raises GroundError beyond 100 km from the middle."""
        moved = transform(geometry, self._to_metres)
        if not (np.abs(get_coordinates(moved)) <= REACH_M).all():
            raise GroundError(
                "It lies more than 60 miles from the middle of the field. Check which outline was meant."
            )
        # Edges a hair apart on the earth may touch on the map, and no overlay takes what crosses itself.
        crossing = "Polygon" in moved.geom_type and not moved.is_valid
        return areal(make_valid(moved)) if crossing else moved

    def to_earth(self, geometry: BaseGeometry) -> BaseGeometry:
        """Metres to longitude and latitude; longitudes run on past 180 rather than jump."""
        return transform(geometry, self._to_degrees)

    def metres(self, points: Sequence[Point]) -> list[Point]:
        """Points of longitude and latitude as metres east and north."""
        return [(float(east), float(north)) for east, north in self._to_metres(np.array(points, dtype=float))]

    def _to_metres(self, points: np.ndarray) -> np.ndarray:
        return np.column_stack(self._projection(points[:, 0], points[:, 1]))

    def _to_degrees(self, points: np.ndarray) -> np.ndarray:
        longitudes, latitudes = self._projection(points[:, 0], points[:, 1], inverse=True)
        middle = self.middle[0]
        return np.column_stack([middle + (np.asarray(longitudes) - middle + 180) % 360 - 180, latitudes])

    def error_mm_per_km(self, distance_m: float) -> float:
        """How much too long a kilometre is, across, so far from the middle [mm]. Source: Snyder 1987."""
        return 1e6 * distance_m**2 / (6 * EARTH_RADIUS_M**2)
