"""Exclusions of a field: the form for a new one, for changing one, and taking one off."""

from __future__ import annotations

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods

from consulting.access import PracticeRequest, practice_view
from consulting.formkit import attempt
from consulting.opened import unmoved
from consulting.policy import Right
from consulting.services import fresh
from sites import away
from sites.away_forms import ExclusionForm, NewExclusionForm
from sites.models import Exclusion, Field
from sites.views.fields import field_or_404


def _page(request: PracticeRequest, form: ExclusionForm, field: Field, title: str) -> HttpResponse:
    context = {"form": form, "field": field, "farm": field.farm, "title": title}
    return render(request, "sites/exclusion_form.html", context, status=422 if form.errors else 200)


def _back(request: PracticeRequest, field: int) -> str:
    return f"{reverse('field', args=[request.practice.slug, field])}#away"


@require_http_methods(["GET", "HEAD", "POST"])
@practice_view(Right.EDIT_RECORDS)
def new(request: PracticeRequest, pk: int) -> HttpResponse:
    found = field_or_404(pk)
    form = NewExclusionForm(request.POST or None, field=found)
    if form.is_valid():
        made = attempt(form, away.exclusion_create, field=found)
        if made:
            messages.success(request, _("Kept free: {what}.").format(what=away.words_of(made)))
            return redirect(_back(request, found.pk))
    return _page(request, form, found, _("What stays away on {name}").format(name=found.name))


def _exclusion(pk: int) -> Exclusion:
    return get_object_or_404(Exclusion.objects.select_related("landmark", "field__farm__client"), pk=pk)


@require_http_methods(["GET", "HEAD", "POST"])
@practice_view(Right.EDIT_RECORDS)
def edit(request: PracticeRequest, pk: int) -> HttpResponse:
    row = _exclusion(pk)
    form = ExclusionForm(request.POST or None, instance=fresh(row))
    if form.is_valid() and attempt(form, away.exclusion_update, exclusion=row) is not None:
        messages.success(request, _("Saved."))
        return redirect(_back(request, row.field_id))
    return _page(request, form, row.field, _("Stay away from {landmark}").format(landmark=row.landmark))


@require_http_methods(["GET", "HEAD", "POST"])
@practice_view(Right.EDIT_RECORDS)
def remove(request: PracticeRequest, pk: int) -> HttpResponse:
    row = _exclusion(pk)
    back = _back(request, row.field_id)
    if request.method == "POST":
        unmoved(request, row)
        away.exclusion_remove(exclusion=row)
        messages.success(request, _("No longer kept free: {what}.").format(what=away.words_of(row)))
        return redirect(back)
    context = {
        "title": _("Go up to {landmark} again?").format(landmark=row.landmark),
        "text": _("{name} is then worked to its edge. What is drawn on the farm stays.").format(
            name=row.field.name
        ),
        "act": _("Take it off"),
        "of": row.field.name,
        "back": back,
        "records": [row],
    }
    return render(request, "confirm.html", context)
