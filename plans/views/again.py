"""Steps that may be needed on agreed work: making one a visit, and what to do where a kill did not take."""

from __future__ import annotations

from django.contrib import messages
from django.http import Http404, HttpResponse
from django.shortcuts import redirect, render
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods, require_safe

from consulting.access import PracticeRequest, practice_view
from consulting.clock import today_for
from consulting.policy import Right
from plans.again import may_have_failed, offers_of, visit_add
from plans.forms.visits import FailedForm, ReasonedForm, ReopenForm
from plans.models import Visit
from plans.planning import tables
from plans.services import Refused
from plans.views.work import labelled, visit_or_404

MOST_REASON = 1000


@require_http_methods(["GET", "HEAD", "POST"])
@practice_view(Right.EDIT_RECORDS)
def add(request: PracticeRequest, pk: int, step: str) -> HttpResponse:
    """What a step would bring and move first; then the visit."""
    found, today = visit_or_404(pk), today_for(request.practice)
    if step not in tables.steps():
        raise Http404("no such step")
    there = Visit.objects.filter(plan=found.plan_id, field=found.field_id, step=step).first()
    if there is not None:
        messages.error(request, _("“{label}” is a visit on this field already.").format(label=there.label))
        return redirect("visit", request.practice.slug, there.pk)
    form = ReasonedForm(request.POST or None, visit=found)
    form.initial["reason"] = request.GET.get("reason", "")[:MOST_REASON]
    if request.method == "POST" and form.is_valid():
        asked = {"visit": found, "version": found.version, "user": request.user, "step": step, "today": today}
        try:
            made = visit_add(**asked, **form.cleaned_data)
        except Refused as refused:
            messages.error(request, str(refused))
            return redirect("visit", request.practice.slug, pk)
        else:
            messages.success(request, _("{label} is a visit now.").format(label=made[0].label))
            return redirect("visit", request.practice.slug, made[0].pk)
    offer = next((one for one in offers_of(found, today) if one.step.step == step), None)
    if offer is None:
        raise Http404("not a step that may be needed here")
    context = {
        "visit": found,
        "form": form,
        "offer": offer,
        "shifts": labelled(offer.shifts),
    }
    return render(request, "work/add.html", context, status=422 if form.errors else 200)


@require_safe
@practice_view(Right.EDIT_RECORDS)
def failed(request: PracticeRequest, pk: int) -> HttpResponse:
    """A kill that did not take: what was seen, then the kills that are left."""
    found, today = visit_or_404(pk), today_for(request.practice)
    if not may_have_failed(found):
        raise Http404("no kill was done on this visit")
    form = FailedForm(request.GET if "reason" in request.GET else None)
    seen = form.cleaned_data["reason"] if form.is_valid() else ""
    reopen = ReopenForm(visit=found)
    reopen.initial["reason"] = seen
    offers = offers_of(found, today, phase="kill") if seen else []
    context = {
        "visit": found,
        "form": form,
        "seen": seen,
        "offers": offers,
        "none_left": not any(offer.added for offer in offers),
        "reopen": reopen,
    }
    return render(request, "work/failed.html", context, status=422 if form.errors else 200)
