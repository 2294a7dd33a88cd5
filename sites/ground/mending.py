"""From rings as they were drawn to an outline that is sound; what was mended is said in words."""

from __future__ import annotations

import re
from collections.abc import Sequence

import numpy as np
from shapely import MultiPolygon, Polygon, difference, is_valid_reason, make_valid, union_all
from shapely.affinity import translate
from shapely.geometry.base import BaseGeometry

from sites.ground.errors import GroundError
from sites.ground.measuring import acres_of
from sites.ground.outline import Outline, areal, from_geometry, polygons_of
from sites.ground.tangles import refuse_tangles
from sites.ground.units import M2_PER_ACRE

Positions = Sequence[tuple[float, float]]
SAME_PLACE_DEG = 1e-9
"""Corners nearer than this, a tenth of a millimetre, are one."""
GRID_DEG = 1e-11
"""What must be mended is laid on a grid of a thousandth of a millimetre; what is sound stays as drawn."""
SLIVER_ACRES = 1 / M2_PER_ACRE
"""Pieces below one square metre are dropped."""
LOOP_SHARE = 0.01
"""Loops of a crossing edge up to this share of the area are mended, larger ones refused."""
NEAR_POLE_DEG = 89.0
TOO_FEW = "It has fewer than three corners. Draw the outline again."


def mend(polygons: Sequence[Sequence[Positions]]) -> tuple[Outline, tuple[str, ...]]:
    """A sound outline from polygons, each an outer ring and its holes in any direction, and what was mended.

    Rings may be open or closed. Raises GroundError where the rings do not say which ground is meant.
    """
    said: list[str] = []
    counts = {"unclosed": 0, "doubled": 0}
    sound: list[BaseGeometry] = []
    reference: float | None = None
    for rings in polygons:
        if not rings:
            continue
        cleaned = [_clean(ring, counts) for ring in rings]
        if reference is None:
            reference = float(cleaned[0][0, 0])
        for ring in cleaned:
            ring[:, 0] -= 360 * round((float(ring[:, 0].mean()) - reference) / 360)
        sound.append(_polygon(cleaned, said))
    if not sound:
        raise GroundError("It holds no ring. Draw the outline with at least three corners.")
    if counts["unclosed"]:
        said.insert(
            0, f"{_were(counts['unclosed'], 'ring')} not closed; the last corner was joined to the first."
        )
    if counts["doubled"]:
        said.insert(0, f"{_were(counts['doubled'], 'doubled corner')} dropped.")
    outline = from_geometry(_about_greenwich(_together(sound, said)))
    if outline is None:
        raise GroundError("It holds no ground: it is a line or less. Draw the outline again.")
    return outline, tuple(said)


def _were(count: int, thing: str) -> str:
    return f"1 {thing} was" if count == 1 else f"{count:,} {thing}s were"


def _place(longitude: float, latitude: float) -> str:
    return f"{latitude:.6f}, {(longitude + 180) % 360 - 180:.6f}"


def _clean(ring: Positions, counts: dict[str, int]) -> np.ndarray:
    """A closed ring of distinct corners, its longitudes running on over the 180th meridian: (n, 2)."""
    corners = np.array(ring, dtype=float).reshape(-1, 2)
    if len(corners) < 3:
        raise GroundError(TOO_FEW)
    if not np.isfinite(corners).all():
        raise GroundError("A coordinate is not a number. Export the outline again.")
    wrong = np.abs(corners[:, 1]) > 90
    if wrong.any():
        raise GroundError(
            f"A latitude of {corners[wrong.argmax(), 1]:g} cannot be. Longitude must come first."
        )
    if (np.abs(corners[:, 1]) > NEAR_POLE_DEG).any():
        raise GroundError("It lies at a pole. Check whether longitude comes first.")
    if (np.abs(corners[:, 0]) > 360).any():
        raise GroundError("A longitude lies beyond 360 degrees. Check the projection.")
    corners[:, 0] = np.unwrap(corners[:, 0], period=360)
    if abs(corners[0, 0] - corners[-1, 0]) > 180:
        raise GroundError("It goes round a pole. Check whether longitude comes first.")
    kept = np.ones(len(corners), dtype=bool)
    kept[1:] &= (np.abs(np.diff(corners, axis=0)) > SAME_PLACE_DEG).any(axis=1)
    counts["doubled"] += int((~kept).sum())
    corners = corners[kept]
    closed = bool((np.abs(corners[0] - corners[-1]) <= SAME_PLACE_DEG).all())
    if len(corners) - closed < 3:
        raise GroundError(TOO_FEW)
    if closed:
        corners[-1] = corners[0]
        return corners
    counts["unclosed"] += 1
    return np.vstack([corners, corners[:1]])


def _polygon(rings: Sequence[np.ndarray], said: list[str]) -> BaseGeometry:
    """An outer ring less its holes; both may cross themselves a little."""
    drawn = Polygon(rings[0], rings[1:])
    if drawn.is_valid:
        return drawn
    refuse_tangles(rings)
    shell = _sound(rings[0], said)
    holes = areal(union_all([_sound(ring, said) for ring in rings[1:]], grid_size=GRID_DEG))
    outside = acres_of(difference(holes, shell, grid_size=GRID_DEG))
    if outside > SLIVER_ACRES:
        said.append(f"{outside:,.2f} acres of holes lie outside the outline; they take nothing away.")
    return areal(difference(shell, holes, grid_size=GRID_DEG))


def _sound(ring: np.ndarray, said: list[str]) -> BaseGeometry:
    """One ring as area. Raises GroundError where it crosses itself so that the area is in doubt."""
    drawn = Polygon(ring)
    if drawn.is_valid:
        return drawn
    reason = is_valid_reason(drawn)
    found = re.search(r"\[(\S+) (\S+)\]", reason)
    near = f" near {_place(float(found[1]), float(found[2]))}" if found else ""
    mended = areal(make_valid(drawn, method="structure", keep_collapsed=False))
    x, y = (ring - ring[0]).T
    wound = abs(float(np.dot(x[:-1], y[1:]) - np.dot(x[1:], y[:-1]))) / 2
    doubt = abs(mended.area - wound)
    if not mended.area:
        raise GroundError(f"It holds no ground: its edge runs back over itself{near}. Draw it again.")
    if doubt > LOOP_SHARE * mended.area:
        pieces = sorted((acres_of(piece) for piece in polygons_of(mended)), reverse=True)
        sizes = " and ".join(f"{acres:,.2f}" for acres in pieces[:3])
        raise GroundError(
            f"The edge crosses itself{near} and leaves {sizes} acres in doubt. "
            "Put the corners in the order in which they are walked, or draw each piece by itself."
        )
    if doubt <= 1e-9 * mended.area:
        said.append(f"The edge touches itself{near}; the area is as drawn.")
        return mended
    main = [piece for piece in polygons_of(mended) if piece.area > LOOP_SHARE * mended.area]
    kept = MultiPolygon(main) if len(main) > 1 else main[0]
    lost = acres_of(mended) - acres_of(kept)
    said.append(
        f"The edge crosses itself{near}; small loops were taken off, {lost:,.3f} acres, "
        f"which leaves {acres_of(kept):,.3f} acres."
    )
    return kept


def _together(polygons: Sequence[BaseGeometry], said: list[str]) -> BaseGeometry:
    """All polygons as one geometry, ground that lies in two of them counted once, slivers dropped."""
    pieces = [piece for polygon in polygons for piece in polygons_of(polygon)]
    whole: BaseGeometry = MultiPolygon(pieces)
    if not whole.is_valid:
        edges = [edge for piece in pieces for edge in (piece.exterior, *piece.interiors)]
        refuse_tangles(np.array(edge.coords) for edge in edges)
        twice = sum(map(acres_of, pieces))
        whole = areal(union_all(pieces, grid_size=GRID_DEG))
        twice -= acres_of(whole)
        if twice > SLIVER_ACRES:
            said.append(f"Parts lie over each other; {twice:,.2f} acres are counted once.")
        else:
            said.append("Parts that share an edge were joined.")
    kept = [piece for piece in polygons_of(whole) if acres_of(piece) >= SLIVER_ACRES]
    dropped = sum(1 for _ in polygons_of(whole)) - len(kept)
    if not kept:
        raise GroundError("It holds less than a square metre of ground. Draw the outline again.")
    if dropped:
        said.append(f"{_were(dropped, 'sliver')} dropped, each below a square metre.")
        whole = MultiPolygon(kept)
    return whole


def _about_greenwich(geometry: BaseGeometry) -> BaseGeometry:
    """Moved by whole turns so that its middle lies from −180 to 180 degrees."""
    west, _, east, _ = geometry.bounds
    turns = np.floor(((west + east) / 2 + 180) / 360)
    return translate(geometry, xoff=-360 * turns) if turns else geometry
