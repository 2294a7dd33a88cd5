"""Outlines split, cut, drawn to a neighbour and joined: on a flat map about the field, where areas add up."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from shapely import (
    LineString,
    MultiPolygon,
    Polygon,
    STRtree,
    difference,
    get_coordinates,
    intersection,
    points,
    snap,
    union_all,
)
from shapely.geometry.base import BaseGeometry
from shapely.ops import nearest_points
from shapely.ops import split as split_along

from sites.ground.errors import GroundError
from sites.ground.local import GRID_M, LocalPlane
from sites.ground.measuring import acres_of
from sites.ground.mending import SLIVER_ACRES
from sites.ground.outline import Outline, Point, areal, from_geometry, polygons_of, to_geometry
from sites.ground.tangles import refuse_tangles
from sites.ground.units import M2_PER_ACRE, M_PER_FT

SAME_PLACE_M = 0.001


def _back(plane: LocalPlane, flat: BaseGeometry, empty: str) -> Outline:
    """An outline without slivers from a flat geometry. Raises GroundError with `empty` where none is left."""
    pieces = [piece for piece in polygons_of(flat) if piece.area >= SLIVER_ACRES * M2_PER_ACRE]
    outline = from_geometry(plane.to_earth(MultiPolygon(pieces))) if pieces else None
    if outline is None:
        raise GroundError(empty)
    return outline


def split(outline: Outline, line: Sequence[Point]) -> tuple[Outline, ...]:
    """The pieces on either side of a line, west to east; their acres add up to the whole.

    A part that the line does not meet stays a piece. Raises GroundError where the line divides nothing.
    """
    if len(line) < 2:
        raise GroundError("The dividing line needs two points at least.")
    refuse_tangles([np.array(line, dtype=float)])
    plane = LocalPlane.of(outline)
    cut = plane.to_plane(LineString(line))
    flat = [plane.to_plane(part) for part in to_geometry(outline).geoms]
    pieces = [piece for part in flat for piece in polygons_of(split_along(part, cut))]
    if len(pieces) == len(flat):
        raise GroundError("The line divides nothing. Draw it right across the field, over both edges.")
    west_to_east = sorted(pieces, key=lambda piece: (piece.centroid.x, piece.centroid.y))
    found = [from_geometry(plane.to_earth(piece)) for piece in west_to_east]
    return tuple(piece for piece in found if piece is not None)


def cut_hole(outline: Outline, hole: Outline) -> Outline:
    """The outline without the ground of `hole`. Raises GroundError where it takes nothing or all."""
    plane = LocalPlane.of(outline)
    flat, gone = plane.to_plane(to_geometry(outline)), plane.to_plane(to_geometry(hole))
    if not intersection(flat, gone, grid_size=GRID_M).area:
        raise GroundError("The hole lies outside the field. Draw it inside.")
    return _back(
        plane, difference(flat, gone, grid_size=GRID_M), "The hole covers the whole field. Draw it smaller."
    )


def take_out(outline: Outline, ground: BaseGeometry, least_acres: float) -> tuple[Outline, Outline] | None:
    """The part of an outline that lies on `ground` [degrees], and the rest; their acres add up to the whole.

    A piece of either under `least_acres` goes with the other, of the rest last. None where one side is left
    empty. Raises GroundError for ground beyond 100 km.
    """
    plane = LocalPlane.of(outline)
    whole = plane.to_plane(to_geometry(outline))

    def large(flat: BaseGeometry) -> MultiPolygon:
        return MultiPolygon([one for one in polygons_of(flat) if one.area >= least_acres * M2_PER_ACRE])

    part = large(intersection(whole, plane.to_plane(ground), grid_size=GRID_M))
    rest = large(difference(whole, part, grid_size=GRID_M))
    part = areal(difference(whole, rest, grid_size=GRID_M))
    sides = from_geometry(plane.to_earth(part)), from_geometry(plane.to_earth(rest))
    return None if None in sides else sides  # type: ignore[return-value]


def union(outlines: Sequence[Outline]) -> Outline:
    """All of them as one; edges between them vanish and ground in two of them counts once."""
    if not outlines:
        raise GroundError("There is no outline to join. Choose two or more.")
    plane = LocalPlane.of(outlines[0])
    whole = union_all([plane.to_plane(to_geometry(outline)) for outline in outlines], grid_size=GRID_M)
    return _back(plane, whole, "Together they hold no ground.")


@dataclass(frozen=True, slots=True)
class Snapped:
    """An outline drawn to its neighbour: corners moved, how far at most [ft], and what it gained [acres]."""

    outline: Outline
    corners: int
    farthest_ft: float
    gained_acres: float


def draw_to(outline: Outline, neighbour: Outline, within_ft: float) -> Snapped:
    """The outline with corners near its neighbour's edge laid on it, so that neither gap nor overlap stays.

    Corners within `within_ft` go to the neighbour's nearest corner, or else to the nearest point of its edge;
    the neighbour keeps its shape. Raises GroundError where nothing would be left.
    """
    plane = LocalPlane.of(outline)
    flat, beside = plane.to_plane(to_geometry(outline)), plane.to_plane(to_geometry(neighbour))
    reach_m = within_ft * M_PER_FT
    moves: list[float] = []
    edge, corners = beside.boundary, points(get_coordinates(beside))
    corner_tree = STRtree(corners)

    def laid(ring: BaseGeometry) -> list[tuple[float, float]]:
        found = []
        for corner in points(np.array(ring.coords)[:-1]):
            to = corner
            if SAME_PLACE_M < corner.distance(edge) <= reach_m:
                nearest = corners[corner_tree.nearest(corner)]
                to = nearest if corner.distance(nearest) <= reach_m else nearest_points(corner, edge)[1]
                moves.append(corner.distance(to))
            found.append((to.x, to.y))
        return found

    moved = [
        Polygon(laid(part.exterior), [laid(hole) for hole in part.interiors]).buffer(0) for part in flat.geoms
    ]
    whole = union_all(moved, grid_size=GRID_M)
    drawn = difference(snap(whole, beside, reach_m).buffer(0), beside, grid_size=GRID_M)
    found = _back(plane, drawn, "The neighbor covers the whole field. Check which outline was meant.")
    gained = acres_of(to_geometry(found)) - acres_of(to_geometry(outline))
    return Snapped(found, len(moves), max(moves, default=0.0) / M_PER_FT, gained)
