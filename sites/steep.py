"""What a grid of heights found steep, carried from the page that shows it to the one that splits it off."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import asdict, dataclass
from datetime import date, timedelta
from typing import Any

from django.core import signing
from django.db import transaction
from shapely.geometry import shape

from sites import services
from sites.drawing import stamp_of_field
from sites.drawn import outline_json, outline_of
from sites.ground.outline import Outline
from sites.ground.shaping import take_out
from sites.ground.steep import LEAST_ACRES, SteepPart
from sites.lie import Lie, up_to_a_tenth
from sites.mapping import field_divide
from sites.models import Field

SALT = "sites.steep"
KEPT = timedelta(days=1)


@dataclass(frozen=True, slots=True)
class Offer:
    """A part that can be split off: how steep it and the rest are [%], and the acres of both.

    `drawn` is the part as GeoJSON.
    """

    limit_pct: float
    drawn: dict[str, Any]
    acres: float
    steepest_pct: float
    rest_acres: float
    rest_steepest_pct: float
    spots_acres: float


@dataclass(frozen=True, slots=True)
class Offers:
    """What was found `way` on the field as it was `seen`."""

    way: str
    seen: str
    parts: Sequence[Offer]


def sealed(field: Field, lie: Lie) -> str:
    """What was found as text that a page can hold and nobody can change."""
    parts = [asdict(_offer(part)) for part in lie.steep]
    found = {"field": field.pk, "way": lie.way, "seen": stamp_of_field(field), "parts": parts}
    return signing.dumps(found, salt=SALT, compress=True)


def _offer(part: SteepPart) -> Offer:
    return Offer(
        part.limit_pct,
        outline_json(part.outline),
        part.acres,
        up_to_a_tenth(part.steepest),
        part.rest_acres,
        up_to_a_tenth(part.rest_steepest),
        part.spots_acres,
    )


def offers_of(field: Field, text: str) -> Offers | None:
    """What was sealed of this field within a day; None for anything else."""
    try:
        found = signing.loads(text, salt=SALT, max_age=KEPT)
    except signing.BadSignature:
        return None
    if found["field"] != field.pk:
        return None
    return Offers(found["way"], found["seen"], [Offer(**part) for part in found["parts"]])


def sides_of(field: Field, part: Offer) -> tuple[Outline, Outline] | None:
    """The rest of the field and its steep part; None where the field is another by now."""
    outline = outline_of(field)
    sides = take_out(outline, shape(part.drawn), LEAST_ACRES) if outline else None
    return sides and (sides[1], sides[0])


@transaction.atomic
def steep_part_off(
    *, field: Field, sides: tuple[Outline, Outline], part: Offer, found: Offers, name: str, on: date
) -> tuple[Field, Field]:
    """The field with the rest, and a new field of its steep part, each as steep as it was found.

    Raises what `field_divide` raises.
    """
    rest, steep = field_divide(field=field, pieces=sides, new=[1], name=name, on=on, seen=found.seen)
    services.slope_take(field=rest, source=found.way, on=on, slope_pct=part.rest_steepest_pct)
    services.slope_take(field=steep, source=found.way, on=on, slope_pct=part.steepest_pct)
    return rest, steep
