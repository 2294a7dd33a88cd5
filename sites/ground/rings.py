"""Loose rings as polygons with holes, told apart by which lies in which and not by how they are wound."""

from __future__ import annotations

import math
from collections.abc import Sequence

from shapely import Polygon, STRtree
from shapely.errors import GEOSException

from sites.ground.errors import GroundError
from sites.ground.found import Position

Ring = tuple[Position, ...]
MOST_RINGS = 500


def signed_area(ring: Ring) -> float:
    """In the square of the ring's units; positive where it runs counter-clockwise."""
    x0, y0 = ring[0][:2]
    pairs = zip(ring, ring[1:] + ring[:1], strict=True)
    return sum((a[0] - x0) * (b[1] - y0) - (b[0] - x0) * (a[1] - y0) for a, b in pairs) / 2


def nested(rings: Sequence[Ring]) -> tuple[tuple[tuple[Ring, ...], ...], int]:
    """Polygons, each an outer ring and its holes, and how many holes are wound like their outer ring.

    A ring inside an odd number of others is a hole of the smallest of them. Raises GroundError for a ring
    that cannot be one.
    """
    if len(rings) > MOST_RINGS:
        raise GroundError(f"It has more than {MOST_RINGS:,} rings. Draw it again with fewer holes.")
    for ring in rings:
        if len(ring) < 3:
            raise GroundError("It has a ring of fewer than three corners. Draw the outline again.")
        if not all(math.isfinite(position[0] + position[1]) for position in ring):
            raise GroundError("A coordinate is not a number. Export the outline again.")
    if len(rings) == 1:
        return ((rings[0],),), 0
    around = _around([Polygon([position[:2] for position in ring]) for ring in rings])
    holes: dict[int, list[Ring]] = {at: [] for at, outer in enumerate(around) if len(outer) % 2 == 0}
    alike = 0
    for at, outer in enumerate(around):
        if at not in holes:
            shell = next((candidate for candidate in outer if candidate in holes), None)
            if shell is None:
                raise GroundError("Its rings lie in each other in no clear order. Draw the outline again.")
            holes[shell].append(rings[at])
            alike += (signed_area(rings[at]) > 0) == (signed_area(rings[shell]) > 0)
    return tuple((rings[at], *inside) for at, inside in holes.items()), alike


def _around(polygons: Sequence[Polygon]) -> list[list[int]]:
    """For each polygon those that lie around it, smallest first."""
    tree = STRtree(polygons)
    found = []
    for polygon in polygons:
        try:
            inside = polygon.representative_point()
            larger = [int(at) for at in tree.query(inside, "within") if polygons[at].area > polygon.area]
        except GEOSException:
            raise GroundError("A ring crosses itself. Draw the outline again.") from None
        found.append(sorted(larger, key=lambda at: polygons[at].area))
    return found
