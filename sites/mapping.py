"""Writes to the map of a farm, none of which overwrites what someone else drew meanwhile."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date
from typing import Any, TypeVar

from django.core.exceptions import ValidationError
from django.db import transaction
from django.utils.translation import gettext as _
from shapely import LineString, Point
from shapely.geometry.base import BaseGeometry

from consulting.services import save
from sites import services
from sites.drawing import stamp_of_field, stamp_of_landmark
from sites.drawn import geometry_json, outline_of
from sites.ground.errors import GroundError
from sites.ground.outline import Outline, to_geometry
from sites.ground.shaping import split, union
from sites.ground.typed import Rings, outline_of_rings
from sites.models import Farm, Field, Landmark
from sites.signals import field_divided

Row = TypeVar("Row", Field, Landmark)
OF_ITS_OWN = frozenset({"id", "name", "acres", "outline", "outline_from", "outline_on"})
"""What a piece of a divided field does not take over; all else that is known holds for both pieces."""


class Changed(ValidationError):
    """Someone else changed it since it was shown; `now` is the row as it is."""

    def __init__(self, now: Any) -> None:
        super().__init__(
            _("Someone changed it while this page was open. Look at both, then save again to keep yours.")
        )
        self.now = now


def in_one_line(source: str, mended: Sequence[str]) -> str:
    """Where an outline is from and what was mended of it, as it is kept with it: without a full stop."""
    return "; ".join([source, *(said.rstrip(".") for said in mended)])


def _unchanged(row: Row, seen: str, stamp: Any) -> Row:
    """The row locked as it is now. Raises Changed unless it is as it was `seen`."""
    now = type(row).objects.select_for_update(of=("self",)).get(pk=row.pk)
    if stamp(now) != seen:
        raise Changed(now)
    return now


@transaction.atomic
def outline_draw(*, field: Field, outline: Outline, source: str, on: date, seen: str) -> Field:
    """The field with this outline. Raises Changed, or ValidationError for acres that no field has."""
    now = _unchanged(field, seen, stamp_of_field)
    return services.outline_keep(field=now, outline=outline, source=source, on=on)


@transaction.atomic
def acres_type(*, field: Field, acres: float, seen: str) -> Field:
    """The field with typed acres in place of an outline. Raises Changed."""
    now = services.outline_remove(field=_unchanged(field, seen, stamp_of_field))
    return save(now, acres=acres)


@transaction.atomic
def field_draw_new(*, farm: Farm, name: str, cover: str, outline: Outline, source: str, on: date) -> Field:
    """A new field with its outline. Raises ValidationError."""
    blank = Field(practice_id=farm.practice_id, farm=farm, name=name, cover=cover)
    return services.outline_keep(field=blank, outline=outline, source=source, on=on)


def pieces_of(field: Field, line: Sequence[tuple[float, float]]) -> tuple[Outline, ...]:
    """The field's pieces on either side of a line, west to east. Raises GroundError."""
    outline = outline_of(field)
    if outline is None:
        raise GroundError(_("The field has no outline to divide. Draw it first."))
    return split(outline, line)


@transaction.atomic
def field_divide(
    *, field: Field, pieces: Sequence[Outline], new: Sequence[int], name: str, on: date, seen: str
) -> tuple[Field, Field]:
    """The field with the other pieces, and a new field of the pieces numbered in `new`, from 0.

    Both keep what was known of the ground, and the landmarks they stay away from. Raises Changed, and
    ValidationError where a side is empty, the name is taken or signed work stands on the whole field.
    """
    now = _unchanged(field, seen, stamp_of_field)
    sides = [
        [piece for number, piece in enumerate(pieces) if (number in new) == wanted]
        for wanted in (False, True)
    ]
    if not all(sides):
        raise ValidationError({"new": _("Leave at least one piece on either side.")})
    old, split_off = (union(side) if len(side) > 1 else side[0] for side in sides)
    known = {
        column.attname: getattr(now, column.attname)
        for column in Field._meta.concrete_fields
        if column.name not in OF_ITS_OWN
    }
    made = Field(**known, name=name)
    services.outline_keep(field=made, outline=split_off, source=f"Divided from {now.name}", on=on)
    source = f"{now.outline_from}; divided from {made.name}"
    services.outline_keep(field=now, outline=old, source=source, on=on)
    for row in now.exclusions.all():
        row.pk, row._state.adding, row.field = None, True, made
        row.save()
    field_divided.send(Field, field=now, made=made)
    return now, made


def geometry_of_rings(rings: Rings, made_of: str) -> BaseGeometry:
    """A point, a line or an area from corners. Raises GroundError where they do not make one."""
    if made_of == "area":
        return to_geometry(outline_of_rings(rings)[0])
    if len(rings) > 1:
        raise GroundError(_("An empty line parts the corners. Only an area may have several rings."))
    if made_of == "point":
        if len(rings[0]) > 1:
            raise GroundError(_("A point is one corner. Give one, or choose a line or an area."))
        return Point(rings[0][0])
    if len(rings[0]) < 2:
        raise GroundError(_("A line needs two corners at least. Give another, or choose a point."))
    return LineString(rings[0])


@transaction.atomic
def landmark_save(*, landmark: Landmark, seen: str, **values: Any) -> Landmark:
    """A new landmark, or one as it was `seen` with these values. Raises Changed, ValidationError."""
    now = _unchanged(landmark, seen, stamp_of_landmark) if landmark.pk else landmark
    shape = values.pop("shape")
    return save(now, shape=geometry_json(shape), **values)
