"""Farms: one farm with its fields and climate, and the forms."""

from __future__ import annotations

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils.translation import gettext
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from consulting.access import PracticeRequest, practice_view
from consulting.formkit import attempt
from consulting.models import Client
from consulting.opened import unmoved
from consulting.policy import Right
from consulting.services import fresh
from sites import services
from sites.drawn import stations_near
from sites.forms import ClimateForm, FarmForm, NewFarmForm, ObservationForm, StationForm
from sites.layout import farm_layout
from sites.models import Farm, Observation, PrevailingWind, in_words
from sites.wind_forms import WindForm


def _farm(pk: int) -> Farm:
    return get_object_or_404(Farm.objects.select_related("client"), pk=pk)


@require_safe
@practice_view(Right.SEE_WORK)
def farm(request: PracticeRequest, pk: int) -> HttpResponse:
    return _page(request, _farm(pk), ObservationForm())


def _page(
    request: PracticeRequest, found: Farm, seen: ObservationForm, wind: WindForm | None = None
) -> HttpResponse:
    fields, landmarks = list(found.fields.all()), list(found.landmarks.all())
    layout = farm_layout(found, fields, landmarks, request.GET.get("aim", ""))
    context = {
        "farm": found,
        "client": found.client,
        "fields": fields,
        "landmarks": landmarks,
        "acres": sum(field.acres for field in fields),
        "means": list(enumerate(found.monthly_mean_f, start=1)),
        "spring": in_words(found.last_spring_freeze),
        "fall": in_words(found.first_fall_freeze),
        "observations": list(found.observations.all()),
        "form": seen,
        "layout": layout,
        "wind_form": wind or WindForm(winds=layout.winds),
    }
    failed = seen.errors or (wind and wind.errors)
    return render(request, "sites/farm.html", context, status=422 if failed else 200)


@require_POST
@practice_view(Right.EDIT_RECORDS)
def wind(request: PracticeRequest, pk: int) -> HttpResponse:
    """Keeps where the wind of a season comes from."""
    found = _farm(pk)
    form = WindForm(request.POST, winds=found.winds.all())
    if form.is_valid() and attempt(form, services.wind_keep, farm=found) is not None:
        return redirect(reverse("farm", args=[request.practice.slug, found.pk]) + "#layout")
    return _page(request, found, ObservationForm(), form)


@require_POST
@practice_view(Right.EDIT_RECORDS)
def wind_remove(request: PracticeRequest, pk: int) -> HttpResponse:
    found = get_object_or_404(PrevailingWind, pk=pk)
    unmoved(request, found)
    services.wind_remove(wind=found)
    return redirect(reverse("farm", args=[request.practice.slug, found.farm_id]) + "#layout")


@require_POST
@practice_view(Right.EDIT_RECORDS)
def observe(request: PracticeRequest, pk: int) -> HttpResponse:
    """Adds what was seen to the farm's year."""
    found = _farm(pk)
    mine = Observation(practice_id=found.practice_id, farm=found)
    seen = ObservationForm(request.POST, instance=mine)
    if (
        seen.is_valid()
        and attempt(seen, services.observation_create, farm=found, by=request.user) is not None
    ):
        messages.success(request, gettext("Noted. Plans on this farm follow it in its season."))
        return redirect("farm", request.practice.slug, found.pk)
    return _page(request, found, seen)


@require_POST
@practice_view(Right.EDIT_RECORDS)
def observation_remove(request: PracticeRequest, pk: int) -> HttpResponse:
    seen = get_object_or_404(Observation.objects.select_related("farm"), pk=pk)
    unmoved(request, seen)
    services.observation_remove(observation=seen, by=request.user)
    messages.success(request, gettext("Taken back: {what}.").format(what=seen))
    return redirect("farm", request.practice.slug, seen.farm_id)


@require_http_methods(["GET", "HEAD", "POST"])
@practice_view(Right.EDIT_RECORDS)
def new(request: PracticeRequest, pk: int) -> HttpResponse:
    client = get_object_or_404(Client, pk=pk)
    form = NewFarmForm(request.POST or None)
    if form.is_valid():
        made = attempt(form, services.farm_create, client=client)
        if made:
            messages.success(request, gettext("{name} is added. Next: its fields.").format(name=made.name))
            return redirect("farm", request.practice.slug, made.pk)
    context = {"form": form, "client": client}
    return render(request, "sites/farm_form.html", context, status=422 if form.errors else 200)


@require_http_methods(["GET", "HEAD", "POST"])
@practice_view(Right.EDIT_RECORDS)
def edit(request: PracticeRequest, pk: int) -> HttpResponse:
    found = _farm(pk)
    form = FarmForm(request.POST or None, instance=fresh(found))
    if form.is_valid() and attempt(form, services.farm_update, farm=found) is not None:
        messages.success(request, gettext("Saved."))
        return redirect("farm", request.practice.slug, found.pk)
    context = {"form": form, "client": found.client, "farm": found}
    return render(request, "sites/farm_form.html", context, status=422 if form.errors else 200)


@require_http_methods(["GET", "HEAD", "POST"])
@practice_view(Right.EDIT_RECORDS)
def climate(request: PracticeRequest, pk: int) -> HttpResponse:
    found = _farm(pk)
    form = ClimateForm(request.POST or None, instance=fresh(found))
    if form.is_valid() and attempt(form, services.farm_update, farm=found) is not None:
        messages.success(request, gettext("The climate of this farm is saved."))
        return redirect("farm", request.practice.slug, found.pk)
    return _climate_page(request, found, form, StationForm(farm=found))


def _climate_page(
    request: PracticeRequest, found: Farm, form: ClimateForm, station_form: StationForm
) -> HttpResponse:
    context = {
        "form": form,
        "station_form": station_form,
        "client": found.client,
        "farm": found,
        "near": [
            (one, in_words(one.station.last_spring_freeze), in_words(one.station.first_fall_freeze))
            for one in stations_near(found)
        ],
    }
    status = 422 if form.errors or station_form.errors else 200
    return render(request, "sites/climate_form.html", context, status=status)


@require_POST
@practice_view(Right.EDIT_RECORDS)
def take_climate(request: PracticeRequest, pk: int) -> HttpResponse:
    """Overwrites the farm's climate with a station's."""
    found = _farm(pk)
    station_form = StationForm(request.POST, farm=found)
    if station_form.is_valid() and attempt(station_form, services.farm_take_climate, farm=found) is not None:
        messages.success(
            request, gettext("The climate is now that of {place}.").format(place=found.climate_place)
        )
        return redirect("farm", request.practice.slug, found.pk)
    return _climate_page(request, found, ClimateForm(instance=fresh(found)), station_form)
