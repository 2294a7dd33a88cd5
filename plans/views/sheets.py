"""Sheets as PDF: a visit's crew sheet, that of all fields a day's operation goes to, and the farm plan."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date
from typing import Any

from django.contrib import messages
from django.http import Http404, HttpResponse
from django.shortcuts import get_object_or_404, redirect
from django.utils.translation import gettext_lazy
from django.views.decorators.http import require_safe

from consulting.access import PracticeRequest, practice_view
from consulting.policy import Right
from plans.board import open_visits
from plans.documents.farm_plan import farm_plan_pdf
from plans.field_plans import farm_drawn
from plans.manners import manner_of, of_the_crew, speaking
from plans.models import Visit
from plans.trips import first_of_each_field, sheet_of, trip_of
from plans.views.offers import as_file, file_stem
from plans.views.work import visit_or_404
from sites.models import Farm

UNREAD = gettext_lazy("No crew sheet can be made: the proposal was made by an earlier version of the site.")


def crew_sheet(
    request: PracticeRequest, visits: Sequence[Visit], on: date | None, back: tuple[Any, ...]
) -> HttpResponse:
    trip = trip_of(visits, on)
    if trip is None:
        messages.error(request, UNREAD)
        return redirect(*back)
    name = file_stem("crew sheet", on or "", visits[0].operation, visits[0].field.farm.name)
    crew = [person for visit in visits for person in visit.people.all()]
    with speaking(of_the_crew(request.practice, crew, request.membership)):
        content = sheet_of(trip, request.practice)
    return as_file(content, "application/pdf", f"{name}.pdf", inline=True)


@require_safe
@practice_view(Right.SEE_WORK)
def visit_sheet(request: PracticeRequest, pk: int) -> HttpResponse:
    visit = visit_or_404(pk)
    return crew_sheet(request, [visit], visit.booked_on, ("visit", request.practice.slug, pk))


@require_safe
@practice_view(Right.SEE_WORK)
def day_sheet(request: PracticeRequest, on: str, plan: int, operation: str) -> HttpResponse:
    try:
        day = date.fromisoformat(on)
    except ValueError:
        raise Http404("no such day") from None
    booked = open_visits().filter(booked_on=day, plan=plan, operation=operation)
    visits, _ = first_of_each_field(booked.order_by("field__farm__name", "field__name", "order"))
    if not visits:
        raise Http404("nothing of the kind is booked on that day")
    return crew_sheet(request, visits, day, ("work_day", request.practice.slug, f"{day}"))


@require_safe
@practice_view(Right.SEE_WORK)
def farm_plan(request: PracticeRequest, pk: int) -> HttpResponse:
    farm = get_object_or_404(Farm.objects.select_related("client"), pk=pk)
    drawn = farm_drawn(farm, list(farm.fields.all()), farm.landmarks.all())
    if drawn is None:
        raise Http404("no field of this farm has an outline")
    with speaking(manner_of(request.practice, farm.client)):
        content = farm_plan_pdf(
            drawn, practice=request.practice.name, client=farm.client.name, place=farm.place
        )
    return as_file(content, "application/pdf", f"{file_stem('farm plan', farm.name)}.pdf", inline=True)
