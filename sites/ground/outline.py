"""An outline: polygons on the earth with their holes, corners as longitude and latitude [degrees, WGS 84]."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from shapely import LinearRing, MultiPolygon, Polygon, get_coordinates, get_parts, orient_polygons
from shapely.geometry.base import BaseGeometry

Point = tuple[float, float]
"""Longitude, latitude [degrees]: longitude first."""
Ring = tuple[Point, ...]
"""Corners in order; the first stands again at the end."""


@dataclass(frozen=True, slots=True)
class Part:
    """One polygon: an outer ring counter-clockwise, its holes clockwise."""

    shell: Ring
    holes: tuple[Ring, ...] = ()


@dataclass(frozen=True, slots=True)
class Outline:
    """Polygons that do not overlap. Made by `mending.mend` or `from_geometry`, which see to that.

    Over the 180th meridian longitudes run on past 180, so that neighbouring corners lie beside each other.
    """

    parts: tuple[Part, ...]

    @property
    def corners(self) -> int:
        return sum(len(ring) - 1 for part in self.parts for ring in (part.shell, *part.holes))

    @property
    def bounds(self) -> tuple[float, float, float, float]:
        """West, south, east, north [degrees]."""
        longitudes = [point[0] for part in self.parts for point in part.shell]
        latitudes = [point[1] for part in self.parts for point in part.shell]
        return min(longitudes), min(latitudes), max(longitudes), max(latitudes)

    @property
    def middle(self) -> Point:
        """The middle of its bounds."""
        west, south, east, north = self.bounds
        return (west + east) / 2, (south + north) / 2


def to_geometry(outline: Outline) -> MultiPolygon:
    return MultiPolygon([Polygon(part.shell, part.holes) for part in outline.parts])


def polygons_of(geometry: BaseGeometry) -> Iterator[Polygon]:
    """The polygons of any geometry; lines and points of a collection are left out."""
    for part in get_parts(geometry):
        if part.geom_type == "Polygon":
            if not part.is_empty:
                yield part
        elif hasattr(part, "geoms"):
            yield from polygons_of(part)


def areal(geometry: BaseGeometry) -> MultiPolygon:
    """Only the area: where two geometries meet in an edge or a corner, an overlay leaves lines and points."""
    return MultiPolygon(list(polygons_of(geometry)))


def from_geometry(geometry: BaseGeometry) -> Outline | None:
    """The area of a valid geometry as an outline, wound the right way; None where it has none."""
    parts = tuple(
        Part(_ring(polygon.exterior), tuple(_ring(hole) for hole in polygon.interiors))
        for polygon in polygons_of(orient_polygons(geometry))
    )
    return Outline(parts) if parts else None


def _ring(edge: LinearRing) -> Ring:
    return tuple(map(tuple, get_coordinates(edge).tolist()))
