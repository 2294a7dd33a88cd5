"""Walk-overs of a field: written once, corrected by adding, read over the years with their photographs."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Any
from uuid import UUID, uuid4

from django.core.exceptions import ValidationError
from django.db import transaction
from django.db.models import Prefetch, QuerySet
from django.utils.translation import gettext

from consulting.images import Photo
from consulting.models import User
from consulting.services import save
from sites.ground.stem_plots import Stems, stems_per_acre
from sites.models import Field, WalkOver, WalkPhoto

MOST_PHOTOS = 60
"""Of one walk-over."""
STAGES, ABUNDANCE, SIZES = dict(WalkOver.STAGE), dict(WalkOver.ABUNDANCE), dict(WalkOver.SIZE)


@dataclass(frozen=True, slots=True)
class Cover:
    what: str
    share_pct: float
    height_in: float | None
    stage: str
    """In words; empty where it was not noted."""


@dataclass(frozen=True, slots=True)
class Weed:
    what: str
    abundance: str


@dataclass(frozen=True, slots=True)
class Woody:
    what: str
    size: str
    stems: Stems


@dataclass(frozen=True, slots=True)
class Walked:
    """A walk-over as it is shown."""

    walk: WalkOver
    covers: tuple[Cover, ...]
    weeds: tuple[Weed, ...]
    woody: tuple[Woody, ...]
    all_stems: Stems | None
    """None where no plot was counted."""
    photos: tuple[WalkPhoto, ...]


def walks_of(field: Field) -> list[Walked]:
    """Walk-overs that nothing was put in place of, the latest first: two queries."""
    rows = with_photos(WalkOver.objects.filter(field=field, replaced_by__isnull=True))
    return [walked(row) for row in rows]


def with_photos(rows: QuerySet[WalkOver]) -> QuerySet[WalkOver]:
    """Walk-overs with their photographs, whose bytes are not read."""
    return rows.prefetch_related(Prefetch("photos", queryset=WalkPhoto.objects.defer("jpeg")))


def latest_walks(fields: Iterable[int]) -> dict[int, WalkOver]:
    """The latest walk-over of each field that has one: one query."""
    rows = WalkOver.objects.filter(field__in=list(fields), replaced_by__isnull=True).order_by("on", "pk")
    return {row.field_id: row for row in rows}


def walked(walk: WalkOver) -> Walked:
    """A walk-over from `with_photos`, arranged."""
    return Walked(
        walk,
        tuple(
            Cover(row["what"], row["share_pct"], row["height_in"], STAGES.get(row["stage"], ""))
            for row in sorted(walk.covers, key=lambda row: -row["share_pct"])
        ),
        tuple(Weed(row["what"], ABUNDANCE[row["abundance"]]) for row in walk.weeds),
        tuple(
            Woody(row["what"], SIZES[row["size"]], stems_per_acre(row["stems"], walk.plots))
            for row in walk.stems
        ),
        stems_per_acre(sum(row["stems"] for row in walk.stems), walk.plots) if walk.plots else None,
        tuple(walk.photos.all()),
    )


@transaction.atomic
def walk_write(
    *, field: Field, user: User, uid: UUID | None, replaces: WalkOver | None = None, **values: Any
) -> WalkOver:
    """Add a walk-over. A `uid` that is written already is written no second time.

    What it replaces stays on record; its photographs go along. Raises ValidationError.
    """
    Field.objects.select_for_update(of=("self",)).get(pk=field.pk)
    first = WalkOver.objects.filter(uid=uid).first() if uid else None
    if first:
        return first
    if replaces and WalkOver.objects.filter(replaces=replaces).exists():
        raise ValidationError(gettext("This walk-over was corrected already. Correct the newer one."))
    row = WalkOver(
        practice_id=field.practice_id,
        field=field,
        uid=uid or uuid4(),
        replaces=replaces,
        entered_by=user,
        entered_by_name=str(user),
        **values,
    )
    row.full_clean()
    row.save()
    if replaces:
        WalkPhoto.objects.filter(walk=replaces).update(walk=row)
    return row


@transaction.atomic
def photos_add(*, walk: WalkOver, photos: Sequence[Photo], caption: str) -> None:
    """Add photographs. Raises ValidationError where the walk-over would hold too many."""
    there = WalkPhoto.objects.filter(walk=walk).count()
    if there + len(photos) > MOST_PHOTOS:
        raise ValidationError(
            gettext("A walk-over holds {most} photographs, and has {there}. Take some away first.").format(
                most=MOST_PHOTOS, there=there
            )
        )
    for photo in photos:
        longitude, latitude = photo.place or (None, None)
        row = WalkPhoto(
            practice_id=walk.practice_id,
            walk=walk,
            jpeg=photo.jpeg,
            width_px=photo.width_px,
            height_px=photo.height_px,
            longitude=longitude,
            latitude=latitude,
        )
        save(row, caption=caption)


def photo_caption(*, photo: WalkPhoto, caption: str) -> None:
    save(photo, caption=caption)


def photo_remove(*, photo: WalkPhoto) -> None:
    photo.delete()
