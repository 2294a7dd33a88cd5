"""Plain make_* functions for the ground: an outline, landmarks, exclusions. Places invented."""

from __future__ import annotations

from typing import Any

from sites.models import Exclusion, Farm, Field, Landmark
from tests.factories import make, make_field

WEST, SOUTH, EAST, NORTH = -92.3400, 38.9500, -92.3380, 38.9520
"""About 568 by 729 feet: 9.5 acres."""
RECTANGLE = [[WEST, SOUTH], [EAST, SOUTH], [EAST, NORTH], [WEST, NORTH], [WEST, SOUTH]]
OUTLINE = {"type": "MultiPolygon", "coordinates": [[RECTANGLE]]}
WEST_EDGE = {"type": "LineString", "coordinates": [[WEST, SOUTH - 0.001], [WEST, NORTH + 0.001]]}
"""A creek along the west edge."""
ACRES = 9.51


def make_drawn_field(farm: Farm, **values: Any) -> Field:
    """A field with an outline and its acres."""
    return make_field(farm, **{"outline": OUTLINE, "acres": ACRES, **values})


def make_landmark(farm: Farm, **values: Any) -> Landmark:
    """Mill Creek, along the west edge of the drawn field."""
    return make(
        Landmark, values, practice=farm.practice, farm=farm, kind="water", name="Mill Creek", shape=WEST_EDGE
    )


def make_exclusion(field: Field, **values: Any) -> Exclusion:
    """Spraying and drilling stay 50 ft from Mill Creek."""
    landmark = values.pop("landmark", None) or make_landmark(field.farm)
    return make(
        Exclusion,
        values,
        practice=field.practice,
        field=field,
        landmark=landmark,
        distance_ft=50.0,
        work=["spray", "drill"],
        reason="the product label",
    )
