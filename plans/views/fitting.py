"""Fitting a season: ask for it, watch it get better, stop it, and take up all of it or some."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import timedelta
from decimal import Decimal
from functools import partial
from typing import Any

from django.contrib import messages
from django.core.exceptions import ValidationError
from django.db import transaction
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.utils.translation import gettext as _
from django.utils.translation import ngettext
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from consulting.access import PracticeRequest, practice_view
from consulting.clock import today_for
from consulting.formkit import show_errors
from consulting.machines import Machine
from consulting.models import Membership
from consulting.opened import unmoved
from consulting.policy import Right
from consulting.services import save
from plans import fitting as fittings
from plans.forms.fitting import DayOffForm, FittingForm
from plans.models import DayOff, Fitting, Visit
from plans.planning.booking import BookedVisit, Booking, Explanation


@dataclass(frozen=True, slots=True)
class Line:
    """A fitted visit with names in place of keys."""

    visit: Visit
    booked: BookedVisit
    machines: str
    people: str
    changed: bool
    """Somebody changed the visit since."""


@require_http_methods(["GET", "HEAD", "POST"])
@practice_view(Right.EDIT_RECORDS)
def fit(request: PracticeRequest) -> HttpResponse:
    """Ask for a season to be fitted; the attempts so far."""
    form = FittingForm(request.POST or None, today=today_for(request.practice))
    if request.method == "POST" and form.is_valid():
        try:
            made = fittings.fitting_start(practice=request.practice, user=request.user, **form.cleaned_data)
        except ValueError as refused:
            form.add_error(None, str(refused))
        else:
            # Its process must find the row.
            transaction.on_commit(partial(fittings.launch, made))
            return redirect("fitting", request.practice.slug, made.pk)
    context = {
        "form": form,
        "fittings": Fitting.objects.defer("season", "booking", "versions")[:12],
        "days_off": DayOff.objects.select_related("member__user").filter(
            last__gte=today_for(request.practice)
        ),
    }
    return render(request, "work/fit.html", context, status=422 if form.errors else 200)


@require_safe
@practice_view(Right.EDIT_RECORDS)
def fitting(request: PracticeRequest, pk: int) -> HttpResponse:
    """The best so far; while it is looked for, the page asks anew every two seconds."""
    found = get_object_or_404(Fitting, pk=pk)
    template = "work/_fitting.html" if request.htmx else "work/fitting.html"
    return render(request, template, context_of(found))


def context_of(found: Fitting) -> dict[str, Any]:
    booking = fittings.booking_of(found)
    silent = timezone.now() - found.changed_at > timedelta(seconds=found.seconds + fittings.SILENT_SECONDS)
    return {
        "fitting": found,
        "booking": booking,
        "lines": lines_of(found, booking) if booking else [],
        "left": named(booking.unfitted) if booking else [],
        "reasons": reasons_of(booking) if booking else [],
        "steps": steps_of(found),
        "gap": gap_in_words(booking) if booking else "",
        "silent": silent and not found.is_over,
    }


def steps_of(found: Fitting) -> list[dict[str, Any]]:
    """Each improvement with its money as money."""
    money = ("usd", "least_usd")
    return [
        step | {name: Decimal(step[name]) if step[name] is not None else None for name in money}
        for step in found.steps
    ]


def gap_in_words(booking: Booking) -> str:
    """How near the best is to the proven least."""
    if booking.optimal:
        return _("Proven: no booking of these visits does better.")
    if booking.gap is None or booking.bound is None or booking.gap >= 1:
        return _("Nothing is proven yet about how much better it could be.")
    said = (
        _("At most {share} % fewer days late is possible: that is proven.")
        if booking.score.late > booking.bound.late
        else _("At most {share} % less cost is possible: that is proven.")
    )
    return said.format(share=f"{100 * booking.gap:.1f}")


def named(keys: tuple[str, ...]) -> list[Visit]:
    rows = Visit.objects.select_related("field__farm").in_bulk([int(key) for key in keys])
    return [rows[int(key)] for key in keys if int(key) in rows]


def lines_of(found: Fitting, booking: Booking) -> list[Line]:
    """The fitted visits in order of their first day."""
    machines = {str(row.pk): row.name for row in Machine.objects.all()}
    people = {str(row.pk): str(row.user) for row in Membership.objects.select_related("user")}
    rows = Visit.objects.select_related("field__farm").in_bulk([int(one.visit) for one in booking.visits])
    return [
        Line(
            visit=rows[int(one.visit)],
            booked=one,
            machines=", ".join(machines.get(key, _("a machine since removed")) for key in one.machines),
            people=", ".join(people.get(key, _("somebody who left")) for key in one.people),
            changed=found.versions.get(one.visit) != rows[int(one.visit)].version,
        )
        for one in sorted(booking.visits, key=lambda one: (one.first, one.visit))
        if int(one.visit) in rows
    ]


def reasons_of(booking: Booking) -> list[tuple[Visit, Explanation, list[str]]]:
    """Why a visit is late or left, with what would free it, and which machines are away meanwhile."""
    by_key = {str(visit.pk): visit for visit in named(tuple(one.visit for one in booking.explanations))}
    bound = {int(one.visit): one.what for one in booking.explanations if "machine" in one.binds}
    away = fittings.away_in_window(bound)
    return [
        (by_key[one.visit], one, away.get(int(one.visit), []))
        for one in booking.explanations
        if one.visit in by_key
    ]


@require_POST
@practice_view(Right.EDIT_RECORDS)
def stop(request: PracticeRequest, pk: int) -> HttpResponse:
    found = get_object_or_404(Fitting, pk=pk)
    fittings.fitting_stop(found)
    messages.success(request, _("It ends in a moment; the best so far stays."))
    return redirect("fitting", request.practice.slug, found.pk)


@require_POST
@practice_view(Right.EDIT_RECORDS)
def take(request: PracticeRequest, pk: int) -> HttpResponse:
    """Book the ticked visits as they were fitted."""
    found = get_object_or_404(Fitting, pk=pk)
    chosen = [key for key in request.POST.getlist("visit") if key.isdigit()]
    taken, changed, refused = fittings.fitting_take(fitting=found, visits=chosen, user=request.user)
    booked = ngettext("{count} visit booked.", "{count} visits booked.", taken)
    messages.success(request, booked.format(count=taken))
    for visit in changed:
        messages.error(request, _("{visit} was changed since and stays as it is.").format(visit=visit))
    for visit, why in refused:
        messages.error(request, _("{visit} stays as it is. {why}").format(visit=visit, why=why))
    return redirect("work", request.practice.slug)


@require_http_methods(["GET", "HEAD", "POST"])
@practice_view(Right.EDIT_RECORDS)
def day_off(request: PracticeRequest) -> HttpResponse:
    form = DayOffForm(request.POST or None, instance=DayOff(practice=request.practice))
    if request.method == "POST" and form.is_valid():
        try:
            save(form.instance)
        except ValidationError as refused:
            show_errors(form, refused)
        else:
            messages.success(request, _("Kept."))
            return redirect("fit", request.practice.slug)
    context = {"form": form, "title": _("Days off"), "back": "../", "act": _("Keep them")}
    return render(request, "plans/form.html", context, status=422 if form.errors else 200)


@require_POST
@practice_view(Right.EDIT_RECORDS)
def day_off_remove(request: PracticeRequest, pk: int) -> HttpResponse:
    off = get_object_or_404(DayOff, pk=pk)
    unmoved(request, off)
    off.delete()
    messages.success(request, _("Taken back."))
    return redirect("fit", request.practice.slug)
