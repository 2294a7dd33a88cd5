"""A map file brought in: kept for a day, read, and sorted out into outlines, fields and landmarks at once."""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date

from django.core.exceptions import ValidationError
from django.db import transaction
from django.utils import timezone
from django.utils.translation import gettext

from consulting.models import User
from consulting.services import save
from sites import services
from sites.drawing import fields_with_outlines, place_of, stamp, stamp_of_field
from sites.drawn import geometry_json
from sites.ground.bring_in import bring_in
from sites.ground.errors import GroundFileError
from sites.ground.found import Feature, Found, geometry_of
from sites.ground.picture import Drawn, picture
from sites.mapping import in_one_line
from sites.models import Farm, Field, Landmark, MapUpload
from sites.pictures import drawn_field

MOST_SORTED = 200
"""More parts than this are no farm, and no page to sort them out on."""


@dataclass(frozen=True, slots=True)
class Goes:
    """Where a part of a file goes: the outline of `field`, a new field, or a landmark of `kind`."""

    feature: Feature
    name: str
    field: Field | None = None
    kind: str = ""


def readable(text: str) -> str:
    """Text from a file as any page, file or database takes it."""
    return re.sub(r"[\x00-\x1f\x7f]+", " ", text).encode("utf-8", "replace").decode()


def read(farm: Farm, name: str, data: bytes, *, projection: str = "", latitude_first: bool = False) -> Found:
    """What a file holds, looked at from where the farm lies. Raises GroundFileError."""
    expected = place_of(farm, [outline for _, outline in fields_with_outlines(farm)])
    found = bring_in(name, data, expected=expected, projection=projection, latitude_first=latitude_first)
    if len(found.features) > MOST_SORTED:
        said = gettext("It holds {count} parts. Export only those of the farm, up to {most}.")
        raise GroundFileError(name, said.format(count=f"{len(found.features):,}", most=MOST_SORTED))
    return found


def uploads_forget() -> int:
    """Removes files older than a day within the scope; how many there were."""
    return MapUpload.objects.filter(at__lt=timezone.now() - MapUpload.KEPT).delete()[0]


@transaction.atomic
def upload_keep(*, farm: Farm, field: Field | None, by: User, name: str, data: bytes) -> MapUpload:
    """The file, to be sorted out within a day. Those of the practice that are older go."""
    uploads_forget()
    blank = MapUpload(practice_id=farm.practice_id, farm=farm, field=field, by=by)
    return save(blank, name=name[:200], data=data)


def upload_or_none(pk: int) -> MapUpload | None:
    """A file that is still kept."""
    fresh = MapUpload.objects.filter(pk=pk, at__gte=timezone.now() - MapUpload.KEPT)
    return fresh.select_related("farm__client", "field").first()


def stamp_of_fields(fields: Iterable[Field]) -> str:
    return stamp(*((row.pk, row.name, stamp_of_field(row)) for row in fields))


@transaction.atomic
def take(
    *, upload: MapUpload, goes: Sequence[Goes], cover: str, on: date, source: str, seen: str
) -> list[str]:
    """All of it or nothing, and the file goes; what was made, in words.

    Raises ValidationError where a part cannot be kept, or the farm's fields are not as they were `seen`.
    """
    farm = upload.farm
    if not MapUpload.objects.select_for_update(of=("self",)).filter(pk=upload.pk).exists():
        raise ValidationError(gettext("This file was sorted out already."))
    if stamp_of_fields(farm.fields.select_for_update(of=("self",)).order_by("pk")) != seen:
        raise ValidationError(
            gettext(
                "Someone changed a field of this farm while this page was open. Look at the choices, "
                "then save again."
            )
        )
    made = []
    for one in goes:
        try:
            made.append(_take_one(farm, one, cover, on, source))
        except ValidationError as refused:
            raise ValidationError(f"{one.name or gettext('A part')}: {' '.join(refused.messages)}") from None
    upload.delete()
    return made


def _take_one(farm: Farm, one: Goes, cover: str, on: date, source: str) -> str:
    if one.kind:
        blank = Landmark(practice_id=farm.practice_id, farm=farm, kind=one.kind, name=one.name)
        return str(save(blank, shape=geometry_json(geometry_of(one.feature))))
    if one.feature.outline is None:
        raise ValidationError(gettext("A line or a point is no outline of a field."))
    field = one.field or Field(practice_id=farm.practice_id, farm=farm, name=one.name, cover=cover)
    said = in_one_line(source, [readable(repair) for repair in one.feature.repairs])
    kept = services.outline_keep(field=field, outline=one.feature.outline, source=said, on=on)
    return gettext("{name}, {acres} acres").format(name=kept.name, acres=f"{kept.acres:g}")


def found_picture(farm: Farm, found: Found) -> str:
    """What a file holds, over the outlines that the farm has, as SVG."""
    there = [
        Drawn(drawn_field(row, outline).feature, "beneath") for row, outline in fields_with_outlines(farm)
    ]
    parts = [
        Drawn(feature, "field" if feature.outline else "landmark", str(number))
        for number, feature in enumerate(found.features, start=1)
    ]
    said = gettext("{count} parts, {acres} acres in all.").format(
        count=len(parts), acres=f"{found.acres:,.2f}"
    )
    words = {"name": "found", "title": gettext("What the file holds"), "description": said}
    # Where the file lies too far from the farm for one map, it is shown by itself.
    return picture([*there, *parts], **words) or picture(parts, **words)
