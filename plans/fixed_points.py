"""Photographs of a field from one point through the years, from walk-overs and stand counts together."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date

from django.db.models import QuerySet

from plans.documents.manner import _
from plans.documents.season_facts import Kind, PhotoPoint, Shot
from plans.models import CountPhoto
from sites.models import WalkPhoto

MOST_POINTS = 6
MOST_SHOTS = 3
SAME_PLACE_DEG = 0.00015
"""About 50 ft: two photographs taken nearer than this, without names, are from one point."""


@dataclass(frozen=True, slots=True)
class Taken:
    """A photograph without its picture."""

    kind: Kind
    photo: int
    field: int
    on: date
    point: str
    """As it was named; a walk-over's caption. Empty where it was not."""
    longitude: float | None
    latitude: float | None
    width_px: int
    height_px: int

    @property
    def named(self) -> str:
        """The name without case and spaces."""
        return " ".join(self.point.casefold().split())


SIZE = ("longitude", "latitude", "width_px", "height_px")


def of_walks(fields: Iterable[int]) -> QuerySet[WalkPhoto]:
    return WalkPhoto.objects.filter(walk__field__in=list(fields), walk__replaced_by__isnull=True)


def of_counts(fields: Iterable[int]) -> QuerySet[CountPhoto]:
    return CountPhoto.objects.filter(count__visit__field__in=list(fields), count__replaced_by__isnull=True)


def taken(fields: Iterable[int], year: int) -> list[Taken]:
    """Photographs of the fields up to the year, the first first: two queries, no bytes."""
    fields = list(fields)
    walks = of_walks(fields).filter(walk__on__year__lte=year)
    counts = of_counts(fields).filter(count__on__year__lte=year)
    found = [
        Taken("walk", *row) for row in walks.values_list("pk", "walk__field", "walk__on", "caption", *SIZE)
    ]
    found += [
        Taken("count", *row)
        for row in counts.values_list("pk", "count__visit__field", "count__on", "point", *SIZE)
    ]
    return sorted(found, key=lambda one: (one.on, one.kind, one.photo))


def names_of(field: int) -> list[str]:
    """Names of the field's points so far, each once as it was last written, in order."""
    known = [*of_walks([field]).order_by("walk__on", "pk").values_list("caption", flat=True)]
    known += of_counts([field]).order_by("count__on", "pk").values_list("point", flat=True)
    latest = {" ".join(name.casefold().split()): name.strip() for name in known if name.strip()}
    return sorted(latest.values(), key=str.casefold)


def points(fields: Mapping[int, str], year: int) -> list[PhotoPoint]:
    """Photographs that show a field from one point up to the year, those of most years first.

    Those with one name belong together, and those without one that were taken in one place. Of a year
    the last counts, of more years than there is room for the first and the last ones.
    """
    together: dict[tuple[int, str], list[Taken]] = defaultdict(list)
    for one in taken(fields, year):
        if key := point_of(one, together):
            together[one.field, key].append(one)
    found = [
        PhotoPoint(
            field=fields[field],
            name=photos[0].point.strip() or _("the same place"),
            shots=tuple(shots(photos)),
        )
        for (field, _key), photos in together.items()
    ]
    shown = [point for point in found if point.shots[-1].on.year == year]
    return sorted(shown, key=lambda point: -len(point.shots))[:MOST_POINTS]


def point_of(one: Taken, known: Mapping[tuple[int, str], Sequence[Taken]]) -> str:
    """The point as a key: its name, else a place known already or its own; empty without either."""
    if one.named:
        return one.named
    if one.latitude is None or one.longitude is None:
        return ""
    for (field, key), others in known.items():
        first = others[0]
        if field == one.field and first.latitude is not None and first.longitude is not None:
            off = max(abs(first.latitude - one.latitude), abs(first.longitude - one.longitude))
            if off <= SAME_PLACE_DEG:
                return key
    return f"{one.latitude:.5f} {one.longitude:.5f}"


def shots(photos: Sequence[Taken]) -> list[Shot]:
    kept = list({photo.on.year: photo for photo in photos}.values())
    if len(kept) > MOST_SHOTS:
        kept = [kept[0], *kept[1 - MOST_SHOTS :]]
    return [
        Shot(kind=one.kind, photo=one.photo, on=one.on, width_px=one.width_px, height_px=one.height_px)
        for one in kept
    ]


# What is kept of a report's photographs


def rows_of(shots: Iterable[Shot], kind: Kind) -> QuerySet[WalkPhoto] | QuerySet[CountPhoto]:
    model = CountPhoto if kind == "count" else WalkPhoto
    return model.objects.filter(pk__in=[shot.photo for shot in shots if shot.kind == kind])


def pictures(shots: Sequence[Shot]) -> dict[str, bytes]:
    """Those that are still there, as JPEGs by name."""
    kept: dict[tuple[str, int], bytes] = {}
    for kind in {shot.kind for shot in shots}:
        kept |= {(kind, pk): bytes(jpeg) for pk, jpeg in rows_of(shots, kind).values_list("pk", "jpeg")}
    return {shot.name: kept[shot.kind, shot.photo] for shot in shots if (shot.kind, shot.photo) in kept}


def left(shots: Sequence[Shot]) -> set[str]:
    """Names of those that were not taken away since."""
    kept: set[tuple[str, int]] = set()
    for kind in {shot.kind for shot in shots}:
        kept |= {(kind, pk) for pk in rows_of(shots, kind).values_list("pk", flat=True)}
    return {shot.name for shot in shots if (shot.kind, shot.photo) in kept}
