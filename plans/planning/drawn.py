"""A field as it is drawn, so that what was offered can be drawn again: feet about its middle, north up."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Annotated, Literal

from pydantic import Field

Work = Literal["spray", "drill", "burn", "mow"]
"""Kinds of work that may stay away from a part of a field, named by reference/operations.csv."""
STRICT = {"extra": "forbid", "strict": True, "use_attribute_docstrings": True}
Name = Annotated[str, Field(min_length=1, max_length=300)]
Feet = Annotated[float, Field(ge=-1e6, le=1e6, allow_inf_nan=False)]
Acres = Annotated[float, Field(ge=0, le=200_000, allow_inf_nan=False)]
Azimuth = Annotated[float, Field(ge=0, le=360, allow_inf_nan=False)]
Point = tuple[Feet, Feet]
"""East and north of the middle of the field."""
FEWEST = {"polygon": 4, "line": 2, "point": 1}


@dataclass(frozen=True, slots=True)
class Shape:
    """What lies on the ground. A part is an outer ring and its holes, or one row of points."""

    __pydantic_config__ = STRICT
    kind: Literal["polygon", "line", "point"]
    parts: Annotated[tuple[tuple[tuple[Point, ...], ...], ...], Field(min_length=1, max_length=1000)]
    """The first corner of a ring stands again at its end."""

    def __post_init__(self) -> None:
        fewest = FEWEST[self.kind]
        if any(not part or any(len(row) < fewest for row in part) for part in self.parts):
            raise ValueError(f"a {self.kind} has fewer points than the {fewest} that it needs")


@dataclass(frozen=True, slots=True)
class Mark:
    """A thing that is drawn and named, with what kind of thing it is."""

    __pydantic_config__ = STRICT
    name: Name
    kind: str
    thing: Shape


@dataclass(frozen=True, slots=True)
class KeptFree:
    """A thing, how far to keep away [ft] and why, and the ground of the field that goes with it [acres]."""

    __pydantic_config__ = STRICT
    name: Name
    reason: str
    distance_ft: Annotated[float, Field(ge=0, le=26_400, allow_inf_nan=False)]
    acres: Acres
    thing: Shape
    ground: Shape | None


@dataclass(frozen=True, slots=True)
class Beside:
    """Who or what lies beside the field, and on which side [degrees from north]."""

    __pydantic_config__ = STRICT
    name: Name
    azimuth_deg: Azimuth


@dataclass(frozen=True, slots=True)
class Fall:
    """How steep the steepest part is, in words, and which way the field falls [degrees from north]."""

    __pydantic_config__ = STRICT
    steepest: str
    azimuth_deg: Azimuth


@dataclass(frozen=True, slots=True)
class Corner:
    """A corner of the outline and its place on the earth [degrees]."""

    __pydantic_config__ = STRICT
    at: Point
    longitude: Annotated[float, Field(ge=-180, le=180, allow_inf_nan=False)]
    latitude: Annotated[float, Field(ge=-90, le=90, allow_inf_nan=False)]

    @property
    def shown(self) -> str:
        north, east = "N" if self.latitude >= 0 else "S", "E" if self.longitude >= 0 else "W"
        return f"{abs(self.latitude):.5f}° {north}, {abs(self.longitude):.5f}° {east}"


@dataclass(frozen=True, slots=True)
class DrawnField:
    """A field, what is left of it for kinds of work that keep away from the same, and what lies near."""

    __pydantic_config__ = STRICT
    name: Name
    works: tuple[Work, ...]
    """Empty for work that goes over all of it."""
    whole_acres: Acres
    left_acres: Acres
    within_ft: Annotated[float, Field(ge=0, le=1e6, allow_inf_nan=False)]
    """How far the drawn lines may stray from those that were measured."""
    field: Shape
    corner: Corner
    kept_free: tuple[KeptFree, ...] = ()
    marks: tuple[Mark, ...] = ()
    """What lies on the field or near by, which none of this work keeps away from."""
    beside: tuple[Beside, ...] = ()
    fall: Fall | None = None
    access: Mark | None = None
    """The way in: a point."""
