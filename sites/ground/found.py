"""What a file holds: as it was read, and as it is found to be; and how much of it is taken."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from shapely import LineString
from shapely import Point as FlatPoint
from shapely.geometry.base import BaseGeometry

from sites.ground.errors import GroundError
from sites.ground.measuring import Measured
from sites.ground.outline import Outline, Point, to_geometry

Kind = Literal["polygon", "line", "point"]
Position = tuple[float, float, float | None]
"""Across, up and height [m] as the file has them."""
MOST_BYTES = 10_000_000
MOST_CORNERS = 50_000
MOST_FEATURES = 2_000


def check_corners(count: int) -> None:
    """Raises GroundError for more corners than are taken."""
    if count > MOST_CORNERS:
        raise GroundError(f"It holds more than {MOST_CORNERS:,} corners. Export fewer fields.")


@dataclass(frozen=True, slots=True)
class Raw:
    """One feature as the file has it, before projection and mending.

    A polygon has `polygons`, each an outer ring and its holes; a line or a point has `positions`, and so
    has a polygon that was walked.
    """

    place: str
    name: str
    kind: Kind
    polygons: tuple[tuple[tuple[Position, ...], ...], ...] = ()
    positions: tuple[Position, ...] = ()
    repairs: tuple[str, ...] = ()

    @property
    def corners(self) -> int:
        return sum(len(ring) for rings in self.polygons for ring in rings) or len(self.positions)


@dataclass(frozen=True, slots=True)
class Reading:
    """A file as it was read. `projection` is what pyproj understands; empty for WGS 84.

    `problems` are the features that were left out.
    """

    format: str
    features: tuple[Raw, ...]
    projection: str = ""
    problems: tuple[GroundError, ...] = ()


@dataclass(frozen=True, slots=True)
class Feature:
    """A named polygon, line or point in WGS 84.

    `points` and their `heights_m` are those of a line or point, or of the walk round a polygon; the latter
    is empty without heights. `repairs` say what was mended.
    """

    name: str
    kind: Kind
    outline: Outline | None = None
    measured: Measured | None = None
    points: tuple[Point, ...] = ()
    heights_m: tuple[float | None, ...] = ()
    repairs: tuple[str, ...] = ()

    @property
    def acres(self) -> float:
        return self.measured.acres if self.measured else 0.0


@dataclass(frozen=True, slots=True)
class Question:
    """What only a person can say. `asks` is the argument of `bring_in` that answers it, or `place`."""

    asks: str
    words: str


@dataclass(frozen=True, slots=True)
class Found:
    """What a file holds. `problems` name features that were left out, each with the way to mend it."""

    format: str
    projection: str
    features: tuple[Feature, ...]
    repairs: tuple[str, ...] = ()
    problems: tuple[str, ...] = ()
    questions: tuple[Question, ...] = ()

    @property
    def outlines(self) -> tuple[Feature, ...]:
        return tuple(feature for feature in self.features if feature.kind == "polygon")

    @property
    def acres(self) -> float:
        return sum(feature.acres for feature in self.features)


def geometry_of(feature: Feature) -> BaseGeometry:
    """In longitude and latitude."""
    if feature.outline is not None:
        return to_geometry(feature.outline)
    return FlatPoint(feature.points[0]) if len(feature.points) == 1 else LineString(feature.points)
