"""How the ground of a farm is laid out: acres by kind, overlaps counted once, against what a purpose asks."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from shapely import difference, unary_union
from shapely.geometry.base import BaseGeometry

from sites.ground.measuring import SOURCE, acres_of
from sites.ground.outline import Outline, to_geometry

GRID_DEG = 1e-9
"""A tenth of a millimetre: overlays are made on this grid, on which every one of them comes out."""


@dataclass(frozen=True, slots=True)
class Piece:
    """Something drawn on a farm; `outline` is None for a point or a line, which has no acres."""

    kind: str
    name: str
    outline: Outline | None


@dataclass(frozen=True, slots=True)
class KindAcres:
    """One kind of ground: how many are drawn, how many of them have an outline, and their acres together."""

    kind: str
    drawn: int
    outlined: int
    acres: float
    share_pct: float
    steps: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Layout:
    """A farm's ground. `whole_acres` is what is known of it: fields, and what is drawn beside them."""

    whole_acres: float
    typed_acres: float
    """Of fields without an outline: what is drawn in them counts beside them."""
    free_acres: float
    """Of the fields, what nothing is drawn on."""
    kinds: tuple[KindAcres, ...]
    steps: tuple[str, ...]
    source: str = SOURCE

    def acres_of_kind(self, kind: str) -> float:
        return next((row.acres for row in self.kinds if row.kind == kind), 0.0)


def lay_out(fields: Sequence[Outline], typed_acres: float, pieces: Sequence[Piece]) -> Layout:
    """Acres by kind and of the whole.

    `fields` are the outlines of fields, `typed_acres` those of fields without one. What lies inside a field
    or in two pieces of a kind counts once. Source: Karney 2013 for areas.
    """
    ground = union(fields)
    fields_acres = acres_of(ground)
    drawn = union(piece.outline for piece in pieces if piece.outline)
    beside_acres = acres_of(difference(drawn, ground, grid_size=GRID_DEG))
    whole_acres = fields_acres + typed_acres + beside_acres
    steps = [f"Fields with an outline: {fields_acres:,.2f} acres"]
    if typed_acres:
        steps.append(f"fields with typed acres: {typed_acres:,.2f} acres")
    if beside_acres > 0.005:
        steps.append(f"drawn beside the fields: {beside_acres:,.2f} acres")
    steps.append(f"together {whole_acres:,.2f} acres")
    kinds = dict.fromkeys(piece.kind for piece in pieces)
    rows = (_kind(kind, [piece for piece in pieces if piece.kind == kind], whole_acres) for kind in kinds)
    free_acres = acres_of(difference(ground, drawn, grid_size=GRID_DEG)) + typed_acres
    return Layout(whole_acres, typed_acres, free_acres, tuple(rows), tuple(steps))


def _kind(kind: str, pieces: Sequence[Piece], whole_acres: float) -> KindAcres:
    outlined = [(piece.name, piece.outline) for piece in pieces if piece.outline]
    single = [(name, acres_of(to_geometry(outline))) for name, outline in outlined]
    acres = acres_of(union(outline for _, outline in outlined))
    steps = [f"{name}: {own:,.2f} acres" for name, own in single]
    twice = sum(own for _, own in single) - acres
    if twice > 0.005:
        steps.append(f"less {twice:,.2f} acres that lie in two of them")
    share_pct = 100 * acres / whole_acres if whole_acres else 0.0
    steps.append(f"{acres:,.2f} of {whole_acres:,.2f} acres = {share_pct:.1f} %")
    return KindAcres(kind, len(pieces), len(outlined), acres, share_pct, tuple(steps))


def union(outlines: Iterable[Outline]) -> BaseGeometry:
    """The ground of all of them together, in longitude and latitude."""
    return unary_union([to_geometry(outline) for outline in outlines], grid_size=GRID_DEG)


@dataclass(frozen=True, slots=True)
class Asked:
    """What a purpose asks of one kind of ground: a range of shares [% of the whole]."""

    kinds: tuple[str, ...]
    share_pct_low: float
    share_pct_high: float


@dataclass(frozen=True, slots=True)
class Against:
    """What is laid out of it, what is asked, and what is missing or too much [acres]; 0 within the range."""

    acres: float
    share_pct: float
    low_acres: float
    high_acres: float
    short_acres: float
    over_acres: float


def against(layout: Layout, asked: Asked) -> Against:
    """A layout against what is asked. Source: arithmetic; the range is the caller's."""
    acres = sum(layout.acres_of_kind(kind) for kind in asked.kinds)
    low, high = (layout.whole_acres * pct / 100 for pct in (asked.share_pct_low, asked.share_pct_high))
    share_pct = 100 * acres / layout.whole_acres if layout.whole_acres else 0.0
    return Against(acres, share_pct, low, high, max(0.0, low - acres), max(0.0, acres - high))
