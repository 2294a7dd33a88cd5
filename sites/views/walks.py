"""Walk-overs of a field: the form, one walk-over, and its photographs."""

from __future__ import annotations

from django.contrib import messages
from django.core.exceptions import ValidationError
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils.cache import get_conditional_response
from django.utils.translation import gettext, ngettext
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from consulting.access import PracticeRequest, practice_view
from consulting.clock import today_for
from consulting.formkit import show_errors
from consulting.opened import unmoved
from consulting.policy import Right
from consulting.sent_later import kept_reply, sent_later, wrong_reply
from sites import walks
from sites.models import Field, WalkOver, WalkPhoto
from sites.views.fields import field_or_404
from sites.walk_forms import CaptionForm, PhotosForm, WalkForm, initial_of


def walk_or_404(pk: int) -> WalkOver:
    rows = WalkOver.objects.select_related("field__farm__client", "replaced_by")
    return get_object_or_404(walks.with_photos(rows), pk=pk)


@require_safe
@practice_view(Right.SEE_WORK)
def walk(request: PracticeRequest, pk: int) -> HttpResponse:
    return walk_page(request, walk_or_404(pk), PhotosForm())


def walk_page(request: PracticeRequest, found: WalkOver, form: PhotosForm) -> HttpResponse:
    context = {
        "walked": walks.walked(found),
        "walk": found,
        "newer": getattr(found, "replaced_by", None),
        "field": found.field,
        "farm": found.field.farm,
        "client": found.field.farm.client,
        "form": form,
    }
    return render(request, "sites/walk.html", context, status=422 if form.errors else 200)


@require_http_methods(["GET", "HEAD", "POST"])
@practice_view(Right.RECORD_WORK)
def new(request: PracticeRequest, pk: int) -> HttpResponse:
    return walk_form(request, field_or_404(pk))


@require_http_methods(["GET", "HEAD", "POST"])
@practice_view(Right.RECORD_WORK)
def correct(request: PracticeRequest, pk: int) -> HttpResponse:
    """The form with a walk-over to correct; what is kept stands in its place."""
    old = walk_or_404(pk)
    return walk_form(request, old.field, old)


def walk_form(request: PracticeRequest, field: Field, old: WalkOver | None = None) -> HttpResponse:
    initial = initial_of(old) if old else {"people": str(request.user)}
    form = WalkForm(request.POST or None, today=today_for(request.practice), initial=initial)
    later = sent_later(request)
    if request.method == "POST" and form.is_valid():
        uid = form.cleaned_data["uid"]
        try:
            row = walks.walk_write(field=field, user=request.user, uid=uid, replaces=old, **form.values())
        except ValidationError as refused:
            show_errors(form, refused)
        else:
            said = (
                gettext("Corrected; the earlier one stays on record.")
                if old
                else gettext("Kept. Now photographs?")
            )
            if later:
                return kept_reply(said)
            messages.success(request, said)
            return redirect("walk", request.practice.slug, row.pk)
    if request.method == "POST" and later:
        return wrong_reply(form)
    context = {"form": form, "field": field, "farm": field.farm, "client": field.farm.client, "old": old}
    return render(request, "sites/walk_form.html", context, status=422 if form.errors else 200)


@require_POST
@practice_view(Right.RECORD_WORK)
def photos(request: PracticeRequest, pk: int) -> HttpResponse:
    """Adds photographs to a walk-over."""
    found = walk_or_404(pk)
    form = PhotosForm(request.POST, request.FILES)
    if form.is_valid():
        kept, caption = form.cleaned_data["photos"], form.cleaned_data["caption"]
        try:
            walks.photos_add(walk=found, photos=kept, caption=caption)
        except ValidationError as refused:
            show_errors(form, refused)
        else:
            said = ngettext("{number} photograph kept.", "{number} photographs kept.", len(kept))
            messages.success(request, said.format(number=len(kept)))
            return redirect(reverse("walk", args=[request.practice.slug, pk]) + "#photographs")
    return walk_page(request, found, form)


@require_safe
@practice_view(Right.SEE_WORK)
def photo(request: PracticeRequest, pk: int) -> HttpResponse:
    """The JPEG. It never changes, so a browser that has it is told to keep it."""
    found = get_object_or_404(WalkPhoto, pk=pk)
    response = HttpResponse(bytes(found.jpeg), content_type="image/jpeg")
    response["ETag"] = f'"walk-photo-{found.pk}"'
    return get_conditional_response(request, etag=response["ETag"], response=response) or response


@require_http_methods(["GET", "HEAD", "POST"])
@practice_view(Right.RECORD_WORK)
def photo_caption(request: PracticeRequest, pk: int) -> HttpResponse:
    found = get_object_or_404(WalkPhoto.objects.defer("jpeg").select_related("walk__field"), pk=pk)
    back = reverse("walk", args=[request.practice.slug, found.walk_id]) + "#photographs"
    form = CaptionForm(request.POST if request.method == "POST" else None, instance=found)
    if form.is_valid():
        walks.photo_caption(photo=found, caption=form.cleaned_data["caption"])
        return redirect(back)
    context = {"form": form, "photo": found, "back": back}
    return render(request, "sites/photo_caption.html", context, status=422 if form.errors else 200)


@require_POST
@practice_view(Right.RECORD_WORK)
def photo_remove(request: PracticeRequest, pk: int) -> HttpResponse:
    found = get_object_or_404(WalkPhoto.objects.defer("jpeg"), pk=pk)
    back = reverse("walk", args=[request.practice.slug, found.walk_id]) + "#photographs"
    unmoved(request, found)
    walks.photo_remove(photo=found)
    messages.success(request, gettext("The photograph is gone for good."))
    return redirect(back)
