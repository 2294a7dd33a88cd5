"""Stand counts: written once, and read over the years of a field."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any
from uuid import UUID, uuid4

from django.core.exceptions import ValidationError
from django.db import transaction
from django.utils.translation import gettext as _

from consulting.images import Photo
from consulting.models import User
from consulting.services import save
from plans.models import Conversion, CountPhoto, StandCount, Visit
from plans.planning.stand_count import Stand, reckon

COUNTING = "stand_count"
MOST_PHOTOS = 6
"""Of one count."""


@dataclass(frozen=True, slots=True)
class Counted:
    count: StandCount
    stand: Stand


def counted(count: Any) -> Counted:
    return Counted(
        count,
        reckon(
            method=count.method,
            throws=count.throws,
            cells=count.cells,
            frame_sqft=count.frame_sqft,
            aim=count.aim,
            season=count.season,
            growth=count.growth,
            acres=count.visit.field.acres,
        ),
    )


def counts_of(field: int) -> list[Counted]:
    """Counts of a field over the years that nothing was put in place of, the latest first."""
    return counts_of_fields([field]).get(field, [])


def counts_of_fields(fields: Iterable[int]) -> dict[int, list[Counted]]:
    """The same of several fields, in one query; those that were never counted are left out."""
    rows = StandCount.objects.filter(visit__field__in=list(fields), replaced_by__isnull=True)
    found: dict[int, list[Counted]] = {}
    for row in rows.select_related("visit__field"):
        found.setdefault(row.visit.field_id, []).append(counted(row))
    return found


def aim_of(visit: Visit) -> str:
    """What the field's planting is for, as far as a stand is judged by it."""
    forage = Conversion.objects.filter(plan=visit.plan_id, field=visit.field_id, purpose="forage").exists()
    return "forage" if forage else "cover"


@transaction.atomic
def count_write(*, visit: Visit, user: User, uid: UUID | None, **values: Any) -> StandCount:
    """Add a count. A `uid` that is written already is written no second time.

    Photographs of the count it replaces go along. Raises ValidationError.
    """
    Visit.objects.select_for_update(of=("self",)).get(pk=visit.pk)
    first = StandCount.objects.filter(uid=uid).first() if uid else None
    if first:
        return first
    row = StandCount(
        practice_id=visit.practice_id,
        visit=visit,
        season=visit.season,
        uid=uid or uuid4(),
        counted_by=user,
        counted_by_name=str(user),
        **values,
    )
    row.full_clean()
    row.save()
    if row.replaces_id:
        CountPhoto.objects.filter(count=row.replaces_id).update(count=row)
    return row


# Photographs from fixed points


def photos_of(count: StandCount) -> list[CountPhoto]:
    """Without their bytes."""
    return list(CountPhoto.objects.filter(count=count).defer("jpeg"))


@transaction.atomic
def photo_add(*, count: StandCount, photo: Photo, point: str) -> CountPhoto:
    """Add what was seen from a fixed point. Raises ValidationError where the count would hold too many."""
    Visit.objects.select_for_update(of=("self",)).get(pk=count.visit_id)
    if StandCount.objects.filter(replaces=count).exists():
        raise ValidationError(_("A newer count stands in place of this one. Add the photograph there."))
    if CountPhoto.objects.filter(count=count).count() >= MOST_PHOTOS:
        said = _("A count holds {most} photographs. Take one away first.")
        raise ValidationError(said.format(most=MOST_PHOTOS))
    longitude, latitude = photo.place or (None, None)
    row = CountPhoto(
        practice_id=count.practice_id,
        count=count,
        jpeg=photo.jpeg,
        width_px=photo.width_px,
        height_px=photo.height_px,
        longitude=longitude,
        latitude=latitude,
    )
    return save(row, point=point)


def photo_remove(*, photo: CountPhoto) -> None:
    photo.delete()
