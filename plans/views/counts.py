"""Counting a stand on a visit."""

from __future__ import annotations

from django.contrib import messages
from django.core.exceptions import ValidationError
from django.http import Http404, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.http import require_http_methods

from consulting.access import PracticeRequest, practice_view
from consulting.clock import today_for
from consulting.formkit import show_errors
from consulting.policy import Right
from consulting.sent_later import kept_reply, sent_later, wrong_reply
from plans.counts import COUNTING, aim_of, count_write, counted
from plans.forms.counts import MOST_ROWS, CountForm
from plans.manners import in_the_readers_manner
from plans.models import Visit


@require_http_methods(["GET", "HEAD", "POST"])
@practice_view(Right.RECORD_WORK)
@in_the_readers_manner
def count(request: PracticeRequest, pk: int) -> HttpResponse:
    visit = get_object_or_404(Visit.objects.select_related("field__farm"), pk=pk)
    if visit.operation != COUNTING:
        raise Http404("no stand is counted on this visit")
    aim, today = aim_of(visit), today_for(request.practice)
    asks_rows = "more" in request.POST
    form = CountForm(request.POST or None, visit=visit, aim=aim, today=today)
    later = sent_later(request)
    if request.method == "POST" and not asks_rows and form.is_valid():
        try:
            row = count_write(visit=visit, user=request.user, uid=form.cleaned_data["uid"], **form.values())
        except ValidationError as refused:
            show_errors(form, refused)
        else:
            stand = counted(row).stand
            said = f"Counted. {stand.verdict}. {stand.next_step.label}: {stand.because}."
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
