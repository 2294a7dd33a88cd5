"""Machines: what there is, what is known of each, and whether a rig of them goes together."""

from __future__ import annotations

from typing import Any

from django.contrib import messages
from django.core.exceptions import ValidationError
from django.http import Http404, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils.translation import gettext, gettext_lazy
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from consulting import services
from consulting.access import PracticeRequest, practice_view
from consulting.formkit import show_errors, whole_number
from consulting.models import Machine, MachinePhoto
from consulting.opened import unmoved
from consulting.policy import Right
from plans import rigs
from plans.forms.machines import MachineForm, RigForm
from plans.machine_facts import known_facts
from plans.models import Visit
from plans.planning import tables

MANY: dict[str, Any] = {
    Machine.Kind.TRACTOR: gettext_lazy("Tractors"),
    Machine.Kind.IMPLEMENT: gettext_lazy("Implements"),
    Machine.Kind.TRUCK: gettext_lazy("Tow vehicles"),
    Machine.Kind.TRAILER: gettext_lazy("Trailers"),
}


@require_safe
@practice_view(Right.SEE_WORK)
def machines(request: PracticeRequest) -> HttpResponse:
    found = list(Machine.objects.all())
    groups = [(kind, MANY[kind], [row for row in found if row.kind == kind]) for kind in Machine.Kind]
    return render(request, "machines/machines.html", {"groups": groups, "any": bool(found)})


@require_safe
@practice_view(Right.SEE_WORK)
def machine(request: PracticeRequest, pk: int) -> HttpResponse:
    row = get_object_or_404(Machine, pk=pk)
    works = tables.operations()
    spans = list(row.spans.all())
    context = {
        "machine": row,
        "works": [works[key].label for key in row.operations if key in works],
        "facts": known_facts(row.kind, row.facts),
        "spans": [span for span in spans if not span.taken_back],
        "spans_back": [span for span in spans if span.taken_back],
        "photo": MachinePhoto.objects.filter(machine=row).defer("jpeg").first(),
    }
    return render(request, "machines/machine.html", context)


@require_http_methods(["GET", "HEAD", "POST"])
@practice_view(Right.EDIT_RECORDS)
def new(request: PracticeRequest, kind: str) -> HttpResponse:
    if kind not in Machine.Kind.values:
        raise Http404("no such kind of machine")
    return machine_form(request, Machine(practice=request.practice, kind=kind))


@require_http_methods(["GET", "HEAD", "POST"])
@practice_view(Right.EDIT_RECORDS)
def edit(request: PracticeRequest, pk: int) -> HttpResponse:
    return machine_form(request, get_object_or_404(Machine, pk=pk))


ADD = {
    Machine.Kind.TRACTOR: gettext_lazy("Add a tractor"),
    Machine.Kind.IMPLEMENT: gettext_lazy("Add an implement"),
    Machine.Kind.TRUCK: gettext_lazy("Add a tow vehicle"),
    Machine.Kind.TRAILER: gettext_lazy("Add a trailer"),
}


def machine_form(request: PracticeRequest, row: Machine) -> HttpResponse:
    known, title = row.pk, row.name
    form = MachineForm(request.POST or None, request.FILES or None, instance=row)
    if request.method == "POST" and form.is_valid():
        try:
            services.machine_save(machine=form.instance, photo=form.cleaned_data["photo"])
        except ValidationError as wrong:
            show_errors(form, wrong)
        else:
            messages.success(request, gettext("{name} saved.").format(name=row))
            return redirect("machine", request.practice.slug, row.pk)
    context = {
        "form": form,
        "title": title if known else ADD[Machine.Kind(row.kind)],
        "machine": row if known else None,
    }
    return render(request, "machines/form.html", context, status=422 if form.errors else 200)


@require_http_methods(["GET", "HEAD", "POST"])
@practice_view(Right.EDIT_RECORDS)
def remove(request: PracticeRequest, pk: int) -> HttpResponse:
    row = get_object_or_404(Machine, pk=pk)
    if request.method == "POST":
        unmoved(request, row)
        services.machine_remove(machine=row)
        messages.success(request, gettext("{row} is off the list.").format(row=row))
        return redirect("machines", request.practice.slug)
    context = {
        "title": gettext("Take {row} off the list?").format(row=row),
        "text": gettext(
            "All that is known of it goes, its photograph too. A machine that only rests can be marked "
            "as not in use instead."
        ),
        "act": gettext("Take it off"),
        "of": row.name,
        "back": reverse("machine", args=[request.practice.slug, row.pk]),
        "records": [row],
    }
    return render(request, "confirm.html", context)


@require_safe
@practice_view(Right.SEE_WORK)
def photo(request: PracticeRequest, pk: int) -> HttpResponse:
    found = get_object_or_404(MachinePhoto, machine_id=pk)
    return HttpResponse(bytes(found.jpeg), content_type="image/jpeg")


@require_POST
@practice_view(Right.EDIT_RECORDS)
def photo_remove(request: PracticeRequest, pk: int) -> HttpResponse:
    row = get_object_or_404(Machine, pk=pk)
    unmoved(request, MachinePhoto.objects.filter(machine=row).defer("jpeg").first())
    services.machine_photo_remove(machine=row)
    messages.success(request, gettext("The photograph is removed."))
    return redirect("machine", request.practice.slug, row.pk)


@require_safe
@practice_view(Right.SEE_WORK)
def rig(request: PracticeRequest) -> HttpResponse:
    """Whether the machines asked for go together. The address holds what was asked."""
    visit = visit_asked(request.GET.get("visit", ""))
    asked = request.GET if {"tractor", "implement"} & set(request.GET) else None
    choice = list(Machine.objects.filter(active=True))
    form = RigForm(choice, visit, asked)
    found = form.found if form.is_valid() else None
    kinds = {row.kind for row in choice}
    context: dict[str, Any] = {
        "form": form,
        "visit": visit,
        "rig": rigs.shown(found) if found else None,
        "chosen": form.rig_machines() if found else [],
        "enough": {Machine.Kind.TRACTOR, Machine.Kind.IMPLEMENT} <= kinds,
    }
    return render(request, "machines/rig.html", context, status=422 if form.errors else 200)


def visit_asked(raw: str) -> Visit | None:
    """The visit that the rig is for. Only looked at."""
    if not raw:
        return None
    return get_object_or_404(Visit.objects.select_related("field__farm"), pk=whole_number(raw))
