"""Species that a practice adds to the table: a page of them, and a form for one."""

from __future__ import annotations

from django.contrib import messages
from django.core.exceptions import ValidationError
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils.translation import gettext
from django.views.decorators.http import require_http_methods, require_safe

from consulting.access import PracticeRequest, practice_view
from consulting.formkit import show_errors
from consulting.opened import unmoved
from consulting.policy import Right
from plans.forms.own_species import OwnSpeciesForm
from plans.models import OwnSpecies
from plans.own_species import own_species_remove, own_species_save
from plans.planning import tables


@require_safe
@practice_view(Right.SEE_PRICES)
def page(request: PracticeRequest) -> HttpResponse:
    context = {"own": OwnSpecies.objects.all(), "listed": len(tables.listed_species())}
    return render(request, "plans/own_species.html", context)


@require_http_methods(["GET", "HEAD", "POST"])
@practice_view(Right.EDIT_RECORDS)
def new(request: PracticeRequest) -> HttpResponse:
    return _form(request, OwnSpecies(practice=request.practice), gettext("Add a species"))


@require_http_methods(["GET", "HEAD", "POST"])
@practice_view(Right.EDIT_RECORDS)
def edit(request: PracticeRequest, pk: int) -> HttpResponse:
    row = get_object_or_404(OwnSpecies, pk=pk)
    return _form(request, row, row.common_name[:1].upper() + row.common_name[1:])


def _form(request: PracticeRequest, row: OwnSpecies, title: str) -> HttpResponse:
    form = OwnSpeciesForm(request.POST or None, instance=row)
    back = reverse("own_species", args=[request.practice.slug])
    if request.method == "POST" and form.is_valid():
        try:
            own_species_save(row=form.instance)
        except ValidationError as refused:
            show_errors(form, refused)
        else:
            messages.success(request, gettext("{name} saved.").format(name=row))
            return redirect(back)
    removing = reverse("own_species_remove", args=[request.practice.slug, row.pk]) if row.pk else ""
    context = {"form": form, "title": title, "back": back, "removing": removing}
    return render(request, "plans/own_species_form.html", context, status=422 if form.errors else 200)


@require_http_methods(["GET", "HEAD", "POST"])
@practice_view(Right.EDIT_RECORDS)
def remove(request: PracticeRequest, pk: int) -> HttpResponse:
    row = get_object_or_404(OwnSpecies, pk=pk)
    back = reverse("own_species", args=[request.practice.slug])
    if request.method == "POST":
        unmoved(request, row)
        try:
            own_species_remove(row=row)
            messages.success(request, gettext("{name} is off your list of species.").format(name=row))
        except ValidationError as refused:
            messages.error(request, " ".join(refused.messages))
        return redirect(back)
    context = {
        "title": gettext("Remove {name}?").format(name=row),
        "text": gettext("Proposals that were offered keep what they say of it."),
        "act": gettext("Remove it"),
        "back": back,
        "records": [row],
    }
    return render(request, "confirm.html", context)
