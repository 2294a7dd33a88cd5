"""The map of a farm and what is drawn on it beside the fields."""

from __future__ import annotations

from django.contrib import messages
from django.core.exceptions import ValidationError
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods, require_safe

from consulting.access import PracticeRequest, practice_view
from consulting.formkit import show_errors
from consulting.policy import Right
from sites import mapping
from sites.drawing import map_data, stamp_of_landmark, typed_landmark
from sites.ground_forms import LandmarkForm
from sites.models import Farm, Landmark
from sites.pictures import farm_picture, landmark_picture, sizes_of_landmarks
from sites.views.drawing import again, place_on, with_map


def landmark_or_404(pk: int) -> Landmark:
    return get_object_or_404(Landmark.objects.select_related("farm__client"), pk=pk)


@require_safe
@practice_view(Right.SEE_WORK)
def farm_map(request: PracticeRequest, pk: int) -> HttpResponse:
    """Fields and landmarks of a farm, on a map and as lists."""
    farm = get_object_or_404(Farm.objects.select_related("client"), pk=pk)
    fields, landmarks = list(farm.fields.all()), list(farm.landmarks.all())
    context = {
        "farm": farm,
        "client": farm.client,
        "fields": fields,
        "landmarks": sizes_of_landmarks(landmarks),
        "picture": farm_picture(farm, fields, landmarks),
        "map": map_data(request.practice, farm, draws=""),
    }
    return with_map(request, "sites/farm_map.html", context, False)


@require_http_methods(["GET", "HEAD", "POST"])
@practice_view(Right.EDIT_RECORDS)
def new(request: PracticeRequest, pk: int) -> HttpResponse:
    farm = get_object_or_404(Farm.objects.select_related("client"), pk=pk)
    return _form(request, Landmark(practice_id=farm.practice_id, farm=farm))


@require_http_methods(["GET", "HEAD", "POST"])
@practice_view(Right.EDIT_RECORDS)
def edit(request: PracticeRequest, pk: int) -> HttpResponse:
    return _form(request, landmark_or_404(pk))


def _form(request: PracticeRequest, landmark: Landmark) -> HttpResponse:
    farm = landmark.farm
    initial = typed_landmark(landmark) if landmark.pk else {}
    form = LandmarkForm(request.POST or None, expected=place_on(farm), initial=initial)
    context = {"form": form, "landmark": landmark, "farm": farm, "client": farm.client}
    if form.is_valid():
        try:
            kept = mapping.landmark_save(landmark=landmark, **form.values())
            messages.success(request, _("{kept} is on the map.").format(kept=kept))
            return redirect("farm_map", request.practice.slug, farm.pk)
        except mapping.Changed as changed:
            again(form, changed, stamp_of_landmark(changed.now))
            context |= {
                "now": changed.now,
                "picture": landmark_picture(changed.now, form.cleaned_data["shape"]),
            }
        except ValidationError as refused:
            show_errors(form, refused)
    context["map"] = map_data(request.practice, farm, draws="landmark", without=landmark)
    return with_map(request, "sites/landmark_form.html", context, bool(form.errors))
