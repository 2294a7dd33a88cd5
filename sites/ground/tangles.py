"""Edges that cross each other all over: found before anything that would take minutes over them."""

from __future__ import annotations

from collections.abc import Iterable

import numpy as np
from shapely import STRtree, linestrings

from sites.ground.errors import GroundError

MEETINGS_PER_EDGE = 12
"""An edge meets itself and the two beside it; a rough walk round a field meets a few more."""
MEETINGS_FREE = 2_000
AT_ONCE = 20
"""Edges looked up together, so that no answer grows large."""


def refuse_tangles(lines: Iterable[np.ndarray]) -> None:
    """Raises GroundError where edges of lines (n, 2) meet far more often than those of an outline do."""
    edges = [np.stack([line[:-1], line[1:]], axis=1) for line in lines if len(line) > 1]
    if not edges:
        return
    segments = linestrings(np.concatenate(edges))
    tree = STRtree(segments)
    allowed = MEETINGS_PER_EDGE * len(segments) + MEETINGS_FREE
    for start in range(0, len(segments), AT_ONCE):
        allowed -= tree.query(segments[start : start + AT_ONCE], predicate="intersects").shape[1]
        if allowed < 0:
            raise GroundError("Its edges cross all over. Put the corners in the order they are walked.")
