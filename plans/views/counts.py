"""Counting a stand on a visit, and a count with its photographs."""

from __future__ import annotations

from django.contrib import messages
from django.core.exceptions import ValidationError
from django.http import Http404, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils.cache import get_conditional_response
from django.utils.translation import gettext
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from consulting.access import PracticeRequest, practice_view
from consulting.clock import today_for
from consulting.formkit import show_errors
from consulting.opened import unmoved
from consulting.policy import Right
from consulting.sent_later import kept_reply, sent_later, wrong_reply
from plans import counts, fixed_points
from plans.counts import COUNTING, aim_of, count_write, counted
from plans.documents.told import told
from plans.forms.counts import AT_POINT, MOST_ROWS, CountForm, PointPhotoForm
from plans.models import CountPhoto, StandCount, Visit


@require_http_methods(["GET", "HEAD", "POST"])
@practice_view(Right.RECORD_WORK)
def count(request: PracticeRequest, pk: int) -> HttpResponse:
    visit = get_object_or_404(Visit.objects.select_related("field__farm"), pk=pk)
    if visit.operation != COUNTING:
        raise Http404("no stand is counted on this visit")
    aim, today = aim_of(visit), today_for(request.practice)
    asks_rows = "more" in request.POST
    sent = request.POST if request.method == "POST" else None
    form = CountForm(sent, visit=visit, aim=aim, today=today)
    later = sent_later(request)
    if request.method == "POST" and not asks_rows and form.is_valid():
        try:
            row = count_write(visit=visit, user=request.user, uid=form.cleaned_data["uid"], **form.values())
        except ValidationError as refused:
            show_errors(form, refused)
        else:
            stand = counted(row).stand
            said = gettext("Counted. {verdict}. {step}: {because}.").format(
                verdict=told(stand.verdict),
                step=told(stand.next_step.label),
                because=told(stand.because),
            )
            if later:
                return kept_reply(said)
            messages.success(request, said)
            return redirect("visit", request.practice.slug, pk)
    wrong = request.method == "POST" and not asks_rows
    if wrong and later:
        return wrong_reply(form)
    if asks_rows:
        form = CountForm(initial_of(request, form), visit=visit, aim=aim, today=today)
        form.full_clean()
        form.errors.clear()
    context = {"visit": visit, "form": form, "room": form.row_count < MOST_ROWS}
    return render(request, "work/count.html", context, status=422 if wrong else 200)


def initial_of(request: PracticeRequest, form: CountForm) -> dict[str, str]:
    """What was typed so far, in a form with more rows."""
    return {name: text for name, text in request.POST.dict().items() if name != "more"} | {
        "rows": str(form.row_count)
    }


def count_or_404(pk: int) -> StandCount:
    return get_object_or_404(StandCount.objects.select_related("visit__field__farm", "replaced_by"), pk=pk)


@require_safe
@practice_view(Right.SEE_WORK)
def one(request: PracticeRequest, pk: int) -> HttpResponse:
    """A count, what it means, and its photographs."""
    return count_page(request, count_or_404(pk), PointPhotoForm())


def count_page(request: PracticeRequest, found: StandCount, form: PointPhotoForm) -> HttpResponse:
    photos, newer = counts.photos_of(found), getattr(found, "replaced_by", None)
    context = {
        "visit": found.visit,
        "counts": [counted(found)],
        "count": found,
        "newer": newer,
        "photos": photos,
        "form": form,
        "room": newer is None and len(photos) < counts.MOST_PHOTOS,
        "most": counts.MOST_PHOTOS,
        "at_point": AT_POINT,
        "known_points": fixed_points.names_of(found.visit.field_id),
    }
    return render(request, "work/counted.html", context, status=422 if form.errors else 200)


def at_photographs(request: PracticeRequest, pk: int) -> HttpResponse:
    return redirect(reverse("counted", args=[request.practice.slug, pk]) + "#photographs")


@require_POST
@practice_view(Right.RECORD_WORK)
def photo_add(request: PracticeRequest, pk: int) -> HttpResponse:
    found = count_or_404(pk)
    form = PointPhotoForm(request.POST, request.FILES)
    if form.is_valid():
        typed = form.cleaned_data
        try:
            counts.photo_add(count=found, photo=typed["photo"], point=typed["point"])
        except ValidationError as refused:
            show_errors(form, refused)
        else:
            messages.success(request, _("The photograph is kept."))
            return at_photographs(request, pk)
    return count_page(request, found, form)


@require_safe
@practice_view(Right.SEE_WORK)
def photo(request: PracticeRequest, pk: int) -> HttpResponse:
    """The JPEG. It never changes, so a browser that has it is told to keep it."""
    found = get_object_or_404(CountPhoto, pk=pk)
    response = HttpResponse(bytes(found.jpeg), content_type="image/jpeg")
    response["ETag"] = f'"count-photo-{found.pk}"'
    return get_conditional_response(request, etag=response["ETag"], response=response) or response


@require_POST
@practice_view(Right.RECORD_WORK)
def photo_remove(request: PracticeRequest, pk: int) -> HttpResponse:
    found = get_object_or_404(CountPhoto.objects.defer("jpeg"), pk=pk)
    unmoved(request, found)
    counts.photo_remove(photo=found)
    messages.success(request, _("The photograph is gone for good."))
    return at_photographs(request, found.count_id)
