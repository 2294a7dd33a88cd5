"""Who changed what: on the whole practice, and on one record."""

from __future__ import annotations

from functools import wraps
from typing import Any
from zoneinfo import ZoneInfo

from django.apps import apps
from django.core.exceptions import PermissionDenied
from django.http import Http404, HttpResponse, HttpResponseBase
from django.shortcuts import render
from django.utils import timezone
from django.views.decorators.http import require_safe

from consulting.access import PracticeRequest, View, practice_view
from consulting.followed import Followed
from consulting.models import Membership
from consulting.policy import Right, may
from plans.change_kinds import WHOLES, address, may_read
from plans.changes_found import CLIENT, ITSELF, Asked, Found, practice_changes, record_changes
from plans.changes_told import Told


def rights_of(request: PracticeRequest) -> dict[str, bool]:
    return {right.value: may(request.membership, right) for right in Right}


def rows(request: PracticeRequest, found: Found) -> list[tuple[Told, str]]:
    """Each change with the address of its record's page."""
    return [(told, address(told.about, request.practice.slug)) for told in found.told]


def on_its_clock(view: View) -> View:
    """Let days and hours be those of the place where the practice works."""

    @wraps(view)
    def timed(request: PracticeRequest, **kwargs: Any) -> HttpResponseBase:
        with timezone.override(ZoneInfo(request.practice.time_zone)):
            return view(request, **kwargs)

    return timed


@require_safe
@practice_view(Right.EDIT_RECORDS)
@on_its_clock
def changes(request: PracticeRequest) -> HttpResponse:
    asked, rights = Asked.of(request.GET), rights_of(request)
    found = practice_changes(asked, rights)
    context = {
        "asked": asked,
        "found": found,
        "rows": rows(request, found),
        "people": Membership.objects.select_related("user").order_by("user__name", "pk"),
        "others": (CLIENT, ITSELF),
        "kinds": [(kind, whole.title) for kind, whole in WHOLES.items() if may_read(kind, rights)],
        "later": asked.query(found.later) if found.later else "",
        "earlier": asked.query(found.earlier) if found.earlier else "",
    }
    return render(request, "history/changes.html", context)


@require_safe
@practice_view(Right.SEE_WORK)
@on_its_clock
def record(request: PracticeRequest, kind: str, key: int) -> HttpResponse:
    rights = rights_of(request)
    if kind not in WHOLES:
        raise Http404("nothing of that kind is followed")
    if not may_read(kind, rights):
        raise PermissionDenied
    asked = Asked.of(request.GET)
    row = record_of(request, kind, key)
    found = record_changes(kind, key, asked.page, rights)
    if row is None and not found.told:
        raise Http404("no such record")
    context = {
        "found": found,
        "rows": rows(request, found),
        "name": row.called if row else "",
        "back": address(f"{kind}:{key}", request.practice.slug) if row else "",
        "back_to": row.called if row and WHOLES[kind].page else WHOLES[kind].title,
        "later": f"?page={found.later}" if found.later else "",
        "earlier": f"?page={found.earlier}" if found.earlier else "",
    }
    return render(request, "history/record.html", context)


def record_of(request: PracticeRequest, kind: str, key: int) -> Followed | None:
    if kind == "practice":
        return request.practice if request.practice.pk == key else None
    model: Any = next(model for model in apps.get_models() if model._meta.model_name == kind)
    found: Followed | None = model.objects.filter(pk=key).first()
    return found
