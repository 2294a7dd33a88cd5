"""Bringing in a map file: first the file, then what goes where; nothing is kept of it before that."""

from __future__ import annotations

from typing import Any

from django.contrib import messages
from django.core.exceptions import ValidationError
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods, require_POST

from consulting.access import PracticeRequest, practice_view
from consulting.clock import today_for
from consulting.policy import Right
from sites import bringing
from sites.bring_forms import BringInForm, DoubtForm, SortForm
from sites.ground.errors import GroundFileError
from sites.models import Farm, MapUpload
from sites.views.drawing import again


@require_http_methods(["GET", "HEAD", "POST"])
@practice_view(Right.EDIT_RECORDS)
def bring(request: PracticeRequest, pk: int) -> HttpResponse:
    """Takes the file. One that cannot be read, whatever is said of it, is refused here."""
    farm = get_object_or_404(Farm.objects.select_related("client"), pk=pk)
    form = BringInForm(
        request.POST or None, request.FILES or None, farm=farm, initial={"field": request.GET.get("field")}
    )
    if form.is_valid():
        file, field = form.cleaned_data["file"], form.cleaned_data["field"]
        name, data = bringing.readable(file.name), file.read()
        doubt = None
        try:
            bringing.read(farm, name, data)
        except GroundFileError as error:
            doubt = error
        if doubt is None or doubt.asks:
            kept = bringing.upload_keep(farm=farm, field=field, by=request.user, name=name, data=data)
            return redirect("brought", request.practice.slug, kept.pk)
        form.add_error("file", bringing.readable(str(doubt)))
    context = {"form": form, "farm": farm, "client": farm.client}
    return render(request, "sites/bring_in.html", context, status=422 if form.errors else 200)


@require_http_methods(["GET", "HEAD", "POST"])
@practice_view(Right.EDIT_RECORDS)
def sort_out(request: PracticeRequest, pk: int) -> HttpResponse:
    """Shows what the file holds, asks what it leaves in doubt and what goes where, and keeps that."""
    upload = bringing.upload_or_none(pk)
    if upload is None:
        get_object_or_404(MapUpload, pk=pk)
        messages.error(request, _("That file is no longer kept. Bring it in again."))
        return redirect("clients", request.practice.slug)
    doubts = DoubtForm(request.GET or None)
    context: dict[str, Any] = {
        "upload": upload,
        "farm": upload.farm,
        "client": upload.farm.client,
        "doubts": doubts,
    }
    try:
        found = bringing.read(upload.farm, upload.name, bytes(upload.data), **doubts.answers())
    except GroundFileError as error:
        context |= {"asked": {error.asks}, "words": bringing.readable(error.words)}
        return render(request, "sites/brought.html", context, status=422 if request.GET else 200)
    form = _sort_form(request, upload, found)
    if form.is_valid():
        try:
            return _take(request, upload, form)
        except ValidationError as refused:
            again(form, refused, bringing.stamp_of_fields(upload.farm.fields.order_by("pk")))
    context |= {
        "form": form,
        "found": found,
        "said": [bringing.readable(said) for said in (*found.repairs, *found.problems)],
        "asked": {question.asks for question in found.questions},
        "words": " ".join(question.words for question in found.questions),
        "picture": bringing.found_picture(upload.farm, found),
    }
    return render(request, "sites/brought.html", context, status=422 if form.errors else 200)


def _sort_form(request: PracticeRequest, upload: MapUpload, found: Any) -> SortForm:
    fields = list(upload.farm.fields.order_by("pk"))
    return SortForm(
        request.POST or None,
        found=found,
        fields=fields,
        wanted=upload.field,
        initial={"seen": bringing.stamp_of_fields(fields)},
    )


def _take(request: PracticeRequest, upload: MapUpload, form: SortForm) -> HttpResponse:
    made = bringing.take(
        upload=upload,
        goes=form.goes(),
        cover=form.cleaned_data.get("cover", ""),
        on=today_for(request.practice),
        source=f"Brought in from {upload.name} ({form.found.format}) by {request.user}",
        seen=form.cleaned_data["seen"],
    )
    messages.success(request, _("Brought in: {made}.").format(made="; ".join(made)))
    if upload.field_id:
        return redirect("field", request.practice.slug, upload.field_id)
    return redirect("farm", request.practice.slug, upload.farm_id)


@require_POST
@practice_view(Right.EDIT_RECORDS)
def drop(request: PracticeRequest, pk: int) -> HttpResponse:
    """Leaves the file, of which nothing was kept."""
    upload = get_object_or_404(MapUpload.objects.defer("data"), pk=pk)
    upload.delete()
    messages.success(request, _("{name} is gone again. Nothing was changed.").format(name=upload.name))
    return redirect("farm", request.practice.slug, upload.farm_id)
