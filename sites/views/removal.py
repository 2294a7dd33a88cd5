"""Taking a client, a farm or a field off the records, after asking."""

from __future__ import annotations

from django.contrib import messages
from django.core.exceptions import ValidationError
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils.translation import gettext as _
from django.utils.translation import ngettext
from django.views.decorators.http import require_http_methods

from consulting.access import PracticeRequest, practice_view
from consulting.models import Client
from consulting.opened import unmoved
from consulting.policy import Right
from sites import services
from sites.models import Farm, Field, Landmark

Record = Client | Farm | Field


def ask(request: PracticeRequest, row: Record, back: str, after: str) -> HttpResponse:
    """Ask on GET, remove on POST; say why when something still hangs on it."""
    if request.method == "POST":
        unmoved(request, row)
        try:
            services.record_remove(row=row)
        except ValidationError as refused:
            messages.error(request, " ".join(refused.messages))
            return redirect(back)
        messages.success(request, _("{name} is removed.").format(name=row.name))
        return redirect(after)
    context = {
        "title": _("Remove {name}?").format(name=row.name),
        "text": _("It goes off the records for good. Offered proposals keep what they were printed with."),
        "act": _("Remove it"),
        "of": row.name,
        "back": back,
        "records": [row],
    }
    return render(request, "confirm.html", context)


@require_http_methods(["GET", "HEAD", "POST"])
@practice_view(Right.EDIT_RECORDS)
def client(request: PracticeRequest, pk: int) -> HttpResponse:
    row = get_object_or_404(Client, pk=pk)
    slug = request.practice.slug
    return ask(request, row, reverse("client", args=[slug, pk]), reverse("clients", args=[slug]))


@require_http_methods(["GET", "HEAD", "POST"])
@practice_view(Right.EDIT_RECORDS)
def farm(request: PracticeRequest, pk: int) -> HttpResponse:
    row = get_object_or_404(Farm, pk=pk)
    slug = request.practice.slug
    return ask(request, row, reverse("farm", args=[slug, pk]), reverse("client", args=[slug, row.client_id]))


@require_http_methods(["GET", "HEAD", "POST"])
@practice_view(Right.EDIT_RECORDS)
def field(request: PracticeRequest, pk: int) -> HttpResponse:
    row = get_object_or_404(Field, pk=pk)
    slug = request.practice.slug
    return ask(
        request, row, reverse("field_edit", args=[slug, pk]), reverse("farm", args=[slug, row.farm_id])
    )


@require_http_methods(["GET", "HEAD", "POST"])
@practice_view(Right.EDIT_RECORDS)
def landmark(request: PracticeRequest, pk: int) -> HttpResponse:
    row = get_object_or_404(Landmark, pk=pk)
    back = reverse("farm_map", args=[request.practice.slug, row.farm_id])
    if request.method == "POST":
        unmoved(request, row)
        name = str(row)
        row.delete()
        messages.success(request, _("{name} is off the map.").format(name=name))
        return redirect(back)
    kept_away = row.exclusions.count()
    text = _("It goes off the farm’s map for good.")
    if kept_away:
        too = ngettext(
            "{count} of the fields keeps away from it now; that goes too.",
            "{count} of the fields keep away from it now; that goes too.",
            kept_away,
        )
        text = f"{text} {too.format(count=kept_away)}"
    context = {
        "title": _("Remove {name}?").format(name=row),
        "text": text,
        "act": _("Remove it"),
        "of": str(row),
        "back": back,
        "records": [row],
    }
    return render(request, "confirm.html", context)
