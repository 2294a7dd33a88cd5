"""Stand counts: written once, and read over the years of a field."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any
from uuid import UUID, uuid4

from django.db import transaction

from consulting.models import User
from plans.models import Conversion, StandCount, Visit
from plans.planning.stand_count import Stand, reckon

COUNTING = "stand_count"


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
    """Add a count. A `uid` that is written already is written no second time. Raises ValidationError."""
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
    return row
