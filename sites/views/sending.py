"""Outlines sent out as files that other programs read."""

from __future__ import annotations

from collections.abc import Callable, Iterable

from django.http import Http404, HttpResponse
from django.shortcuts import get_object_or_404
from django.utils.text import slugify
from django.views.decorators.http import require_safe

from consulting.access import PracticeRequest, practice_view
from consulting.policy import Right
from sites.drawn import landmark_shape, outline_of
from sites.ground.found import Feature
from sites.ground.send_out import to_geojson, to_gpx, to_kml
from sites.models import Farm, Field

KINDS: dict[str, tuple[Callable[[Iterable[Feature]], bytes], str]] = {
    "geojson": (to_geojson, "application/geo+json"),
    "kml": (to_kml, "application/vnd.google-earth.kml+xml"),
    "gpx": (to_gpx, "application/gpx+xml"),
}


@require_safe
@practice_view(Right.SEE_WORK)
def field(request: PracticeRequest, pk: int, kind: str) -> HttpResponse:
    found = get_object_or_404(Field.objects.select_related("farm"), pk=pk)
    return _file(f"{found.farm.name} {found.name}", kind, _features([found]))


@require_safe
@practice_view(Right.SEE_WORK)
def farm(request: PracticeRequest, pk: int, kind: str) -> HttpResponse:
    """Every outline and landmark of the farm."""
    found = get_object_or_404(Farm, pk=pk)
    features = _features(found.fields.all())
    return _file(found.name, kind, [*features, *map(landmark_shape, found.landmarks.all())])


def _features(fields: Iterable[Field]) -> list[Feature]:
    return [Feature(row.name, "polygon", outline) for row in fields if (outline := outline_of(row))]


def _file(name: str, kind: str, features: list[Feature]) -> HttpResponse:
    if kind not in KINDS or not features:
        raise Http404("nothing to send")
    write, content_type = KINDS[kind]
    response = HttpResponse(write(features), content_type=content_type)
    response["Content-Disposition"] = f'attachment; filename="{slugify(name)[:80] or "map"}.{kind}"'
    return response
