"""Fields: the form for a new one and for changing one."""

from __future__ import annotations

from typing import Any

from django.contrib import messages
from django.db.models import prefetch_related_objects
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils.translation import gettext
from django.views.decorators.http import require_http_methods, require_safe

from consulting.access import PracticeRequest, practice_view
from consulting.formkit import attempt
from consulting.policy import Right
from consulting.services import fresh
from sites import services
from sites.away import away_table
from sites.drawn import measured
from sites.forms import FieldForm
from sites.ground.slope import Slope
from sites.models import Farm, Field
from sites.walks import walks_of


def field_or_404(pk: int) -> Any:
    return get_object_or_404(Field.objects.select_related("farm__client"), pk=pk)


@require_safe
@practice_view(Right.SEE_WORK)
def field(request: PracticeRequest, pk: int) -> HttpResponse:
    """The field as it lies: its outline and acres, what stays away, slope, what grows there."""
    found = field_or_404(pk)
    prefetch_related_objects([found], "exclusions__landmark")
    context = {
        "field": found,
        "farm": found.farm,
        "client": found.farm.client,
        "measured": measured(found),
        "away": away_table(found),
        "steepest": Slope(found.slope_pct),
        "walks": walks_of(found),
    }
    return render(request, "sites/field.html", context)


@require_http_methods(["GET", "HEAD", "POST"])
@practice_view(Right.EDIT_RECORDS)
def new(request: PracticeRequest, pk: int) -> HttpResponse:
    farm = get_object_or_404(Farm.objects.select_related("client"), pk=pk)
    form = FieldForm(request.POST or None)
    if form.is_valid():
        made = attempt(form, services.field_create, farm=farm)
        if made:
            messages.success(request, gettext("{name} is added.").format(name=made.name))
            if "another" in request.POST:
                return redirect("field_new", request.practice.slug, farm.pk)
            return redirect("farm", request.practice.slug, farm.pk)
    context = {"form": form, "farm": farm, "client": farm.client}
    return render(request, "sites/field_form.html", context, status=422 if form.errors else 200)


@require_http_methods(["GET", "HEAD", "POST"])
@practice_view(Right.EDIT_RECORDS)
def edit(request: PracticeRequest, pk: int) -> HttpResponse:
    found = field_or_404(pk)
    form = FieldForm(request.POST or None, instance=fresh(found))
    if form.is_valid() and attempt(form, services.field_update, field=found) is not None:
        messages.success(request, gettext("Saved."))
        return redirect("field", request.practice.slug, found.pk)
    context = {"form": form, "farm": found.farm, "client": found.farm.client, "field": found}
    return render(request, "sites/field_form.html", context, status=422 if form.errors else 200)
