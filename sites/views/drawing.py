"""Drawing a field: its outline by map or by typed corners, or its acres alone."""

from __future__ import annotations

from typing import Any, cast

from csp.decorators import csp_update
from django.contrib import messages
from django.core.exceptions import ValidationError
from django.http import HttpRequest, HttpResponse, JsonResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils.translation import gettext
from django.views.decorators.http import require_http_methods, require_POST

from consulting.access import PracticeRequest, practice_view
from consulting.clock import today_for
from consulting.formkit import show_errors
from consulting.policy import Right
from sites import mapping
from sites.drawing import fields_with_outlines, map_data, place_of, stamp_of_field, tile_host
from sites.drawn import outline_of
from sites.ground.errors import GroundError
from sites.ground.measuring import measure
from sites.ground.typed import rings_of, written
from sites.ground_forms import AcresForm, NewOutlineForm, OutlineForm
from sites.models import Farm, Field
from sites.pictures import field_picture
from sites.reckoning import reckon_shape
from sites.views.fields import field_or_404


def with_map(request: PracticeRequest, template: str, context: dict[str, Any], bad: bool) -> HttpResponse:
    """A page with a map: it alone may fetch tiles, from the practice's host and no other."""
    host = tile_host(request.practice)

    def page(request: HttpRequest) -> HttpResponse:
        return render(request, template, context, status=422 if bad else 200)

    return cast(HttpResponse, csp_update({"img-src": [host]})(page)(request)) if host else page(request)


def again(form: Any, refused: ValidationError, stamp: str) -> None:
    """The form says what happened, and saves over the row as it is now if it is sent once more."""
    form.data = form.data.copy()
    form.data[form.add_prefix("seen")] = stamp
    show_errors(form, refused)


def place_on(farm: Farm, without: Field | None = None) -> Any:
    return place_of(farm, [outline for _, outline in fields_with_outlines(farm, without)])


def _page(
    request: PracticeRequest, field: Field, *, sent: Any = None, mine: Any = None, now: Any = None
) -> HttpResponse:
    """The drawing page, with the form that was `sent`; `now` is the field where someone else changed it."""
    stamp, outline = stamp_of_field(field), outline_of(field)
    corners = written(rings_of(outline), latitude_first=True) if outline else ""
    form = OutlineForm(initial={"corners": corners, "seen": stamp})
    acres = AcresForm(initial={"acres": None if outline else field.acres, "seen": stamp}, auto_id="acres_%s")
    context = {
        "form": sent,
        "outline_form": sent if isinstance(sent, OutlineForm) else form,
        "acres_form": sent if isinstance(sent, AcresForm) else acres,
        "field": field,
        "farm": field.farm,
        "client": field.farm.client,
        "map": map_data(request.practice, field.farm, draws="outline", without=field),
        "now": now,
        "mine": mine and measure(mine).acres,
        "picture": field_picture(now, mine) if now else "",
    }
    return with_map(request, "sites/draw.html", context, bool(sent))


@require_http_methods(["GET", "HEAD", "POST"])
@practice_view(Right.EDIT_RECORDS)
def draw(request: PracticeRequest, pk: int) -> HttpResponse:
    """A field's outline, by map or by typed corners."""
    field = field_or_404(pk)
    if request.method != "POST":
        return _page(request, field)
    form = OutlineForm(request.POST, expected=place_on(field.farm, field))
    if not form.is_valid():
        return _page(request, field, sent=form)
    try:
        kept = mapping.outline_draw(
            field=field,
            outline=form.outline,
            source=form.source(request.user),
            on=today_for(request.practice),
            seen=form.cleaned_data["seen"],
        )
    except mapping.Changed as changed:
        again(form, changed, stamp_of_field(changed.now))
        return _page(request, field, sent=form, mine=form.outline, now=changed.now)
    except ValidationError as refused:
        show_errors(form, refused)
        return _page(request, field, sent=form)
    messages.success(
        request,
        " ".join(
            [gettext("Kept: {acres} acres.").format(acres=f"{kept.acres:g}"), *form.cleaned_data["mended"]]
        ),
    )
    return redirect("field", request.practice.slug, pk)


@require_POST
@practice_view(Right.EDIT_RECORDS)
def acres(request: PracticeRequest, pk: int) -> HttpResponse:
    """Acres as typed, in place of an outline."""
    field = field_or_404(pk)
    form = AcresForm(request.POST, auto_id="acres_%s")
    if not form.is_valid():
        return _page(request, field, sent=form)
    try:
        mapping.acres_type(field=field, **form.cleaned_data)
    except mapping.Changed as changed:
        again(form, changed, stamp_of_field(changed.now))
        return _page(request, field, sent=form, now=changed.now)
    messages.success(request, gettext("The acres are kept as typed."))
    return redirect("field", request.practice.slug, pk)


@require_http_methods(["GET", "HEAD", "POST"])
@practice_view(Right.EDIT_RECORDS)
def draw_new(request: PracticeRequest, pk: int) -> HttpResponse:
    """A new field by its outline."""
    farm = get_object_or_404(Farm.objects.select_related("client"), pk=pk)
    form = NewOutlineForm(request.POST or None, expected=place_on(farm))
    if form.is_valid():
        try:
            made = mapping.field_draw_new(
                farm=farm,
                name=form.cleaned_data["name"],
                cover=form.cleaned_data["cover"],
                outline=form.outline,
                source=form.source(request.user),
                on=today_for(request.practice),
            )
            messages.success(
                request,
                gettext("{name} is added with {acres} acres.").format(
                    name=made.name, acres=f"{made.acres:g}"
                ),
            )
            return redirect("field", request.practice.slug, made.pk)
        except ValidationError as refused:
            show_errors(form, refused)
    context = {
        "form": form,
        "outline_form": form,
        "farm": farm,
        "client": farm.client,
        "map": map_data(request.practice, farm, draws="outline"),
    }
    return with_map(request, "sites/draw.html", context, bool(form.errors))


@require_POST
@practice_view(Right.EDIT_RECORDS)
def reckon(request: PracticeRequest, pk: int) -> HttpResponse:
    """What the map's script asks while someone draws, answered as JSON."""
    farm = get_object_or_404(Farm, pk=pk)
    try:
        return JsonResponse(reckon_shape(farm, request.POST))
    except GroundError as error:
        return JsonResponse({"error": str(error)}, status=422)
