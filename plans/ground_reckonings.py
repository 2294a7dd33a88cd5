"""Single calculations on outlines, beside those of the planning service, which knows none."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from plans.planning.figures import Figure, Term
from plans.planning.reckoner import RECKONINGS, Reckonings
from sites.ground.bring_in import from_geojson
from sites.ground.errors import GroundError
from sites.ground.measuring import SOURCE
from sites.ground.units import M2_PER_ACRE


def polygon_acres(geojson: Mapping[str, Any]) -> Figure:
    """Acres of all polygons of a GeoJSON object, holes taken off. Raises ValueError for what has no area."""
    try:
        found = from_geojson(geojson)
    except GroundError as error:
        raise ValueError(f"geojson: {error}") from None
    wrong = [*found.problems, *(question.words for question in found.questions)]
    if not found.outlines and not wrong:
        wrong = ["holds no polygon; give a Polygon, a MultiPolygon or features of them"]
    if wrong:
        raise ValueError(f"geojson: {wrong[0]}")
    outlines = [feature.outline for feature in found.outlines if feature.outline]
    square_metres = sum(feature.measured.area_m2 for feature in found.outlines if feature.measured)
    mended = [repair for feature in found.outlines for repair in feature.repairs]
    return Figure(
        found.acres,
        "acre",
        f"area on the ellipsoid, holes off / {M2_PER_ACRE:,} m² an acre",
        (
            Term("corners", sum(outline.corners for outline in outlines)),
            Term("holes", sum(len(part.holes) for outline in outlines for part in outline.parts)),
            Term("area", f"{square_metres:,.2f} m²"),
            *(Term("mended", repair.rstrip(".")) for repair in mended),
        ),
        SOURCE,
    )


EVERY: Reckonings = {**RECKONINGS, polygon_acres.__name__: polygon_acres}
"""What `manage.py reckon` knows."""
