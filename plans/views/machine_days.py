"""Days on which a machine can or cannot be had: enter, change and take back."""

from __future__ import annotations

from django.contrib import messages
from django.core.exceptions import ValidationError
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods, require_POST

from consulting import services
from consulting.access import PracticeRequest, practice_view
from consulting.formkit import show_errors
from consulting.models import Machine, MachineSpan
from consulting.opened import unmoved
from consulting.policy import Right
from plans.forms.machine_days import MachineSpanForm


@require_http_methods(["GET", "HEAD", "POST"])
@practice_view(Right.EDIT_RECORDS)
def new(request: PracticeRequest, pk: int) -> HttpResponse:
    machine = get_object_or_404(Machine, pk=pk)
    return span_form(request, MachineSpan(practice=request.practice, machine=machine))


@require_http_methods(["GET", "HEAD", "POST"])
@practice_view(Right.EDIT_RECORDS)
def edit(request: PracticeRequest, pk: int) -> HttpResponse:
    return span_form(request, span_or_404(pk))


def span_or_404(pk: int) -> MachineSpan:
    return get_object_or_404(MachineSpan.objects.select_related("machine"), pk=pk, taken_back=False)


def span_form(request: PracticeRequest, span: MachineSpan) -> HttpResponse:
    machine = span.machine
    form = MachineSpanForm(request.POST or None, instance=span)
    if request.method == "POST" and form.is_valid():
        try:
            services.machine_span_save(span=form.instance, user=request.user)
        except ValidationError as wrong:
            show_errors(form, wrong)
        else:
            messages.success(request, _("Kept."))
            return redirect("machine", request.practice.slug, machine.pk)
    context = {
        "form": form,
        "title": _("Days of {machine}").format(machine=machine),
        "of": machine.name,
        "back": reverse("machine", args=[request.practice.slug, machine.pk]),
        "act": _("Keep them"),
    }
    return render(request, "plans/form.html", context, status=422 if form.errors else 200)


@require_POST
@practice_view(Right.EDIT_RECORDS)
def take_back(request: PracticeRequest, pk: int) -> HttpResponse:
    span = span_or_404(pk)
    unmoved(request, span)
    services.machine_span_take_back(span=span, user=request.user)
    messages.success(request, _("Taken back."))
    return redirect("machine", request.practice.slug, span.machine_id)
