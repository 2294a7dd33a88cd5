"""From any stated projection to longitude and latitude in WGS 84, by PROJ."""

from __future__ import annotations

import re
from dataclasses import dataclass

import numpy as np
from pyproj import CRS, Transformer
from pyproj.exceptions import CRSError, ProjError

from sites.ground.errors import GroundError

LONGEST_TEXT = 20_000
STATED = re.compile(r"[A-Za-z]+:\d+$|[A-Za-z_]+\s*\[")
"""A code or well-known text. A PROJ string could name a file of this machine."""
WGS84 = "WGS 84 longitude and latitude"


@dataclass(frozen=True, slots=True)
class Projection:
    """How a file's coordinates become longitude and latitude; `words` names it with what it is exact to."""

    words: str
    transformer: Transformer | None = None

    def to_degrees(self, points: np.ndarray) -> np.ndarray:
        """(n, 2) across and up → (n, 2) longitude and latitude; what lies outside comes out infinite."""
        if self.transformer is None:
            return points
        return np.column_stack(self.transformer.transform(points[:, 0], points[:, 1]))


def projection_of(stated: str) -> Projection:
    """The projection that a name (`EPSG:26915`) or a .prj's text states; WGS 84 for an empty one.

    Raises GroundError, which asks for `projection`, for one that PROJ does not know.
    """
    if not stated:
        return Projection(WGS84)
    try:
        if len(stated) > LONGEST_TEXT or not STATED.match(stated):
            raise CRSError("neither a code nor a text of a projection")
        crs = CRS.from_user_input(stated)
        if crs.is_compound:
            crs = CRS(crs.sub_crs_list[0])
        if not (crs.is_geographic or crs.is_projected):
            raise CRSError("neither degrees nor a plane")
        transformer = Transformer.from_crs(crs, "OGC:CRS84", always_xy=True)
    except (CRSError, ProjError, ValueError):
        shown = " ".join(stated.split())[:60]
        raise GroundError(
            f"Its projection “{shown}” is not known. Say which it is, such as EPSG:26915.", asks="projection"
        ) from None
    if crs.equals(CRS("OGC:CRS84"), ignore_axis_order=True):
        return Projection(WGS84)
    authority = crs.to_authority(min_confidence=70)
    named = f"{crs.name} ({':'.join(authority)})" if authority else crs.name
    exact = transformer.accuracy
    within = f", exact to about {exact:g} m" if exact is not None and exact > 0 else ""
    return Projection(f"{named}, brought to WGS 84{within}", transformer)
