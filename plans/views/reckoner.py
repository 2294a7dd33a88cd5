"""The reckoner: every single calculation with its inputs, its working and its source. It stores nothing."""

from __future__ import annotations

from django.http import Http404, HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_safe

from consulting.access import PracticeRequest, practice_view
from consulting.policy import Right
from plans import reckonings


@require_safe
@practice_view(Right.SEE_WORK)
def every(request: PracticeRequest) -> HttpResponse:
    return render(request, "plans/reckoner.html", {"groups": reckonings.GROUPS})


@require_safe
@practice_view(Right.SEE_WORK)
def one(request: PracticeRequest, name: str) -> HttpResponse:
    if name not in reckonings.TITLES:
        raise Http404("no such reckoning")
    form = reckonings.ReckoningForm(name, request.GET or None)
    answers = list(reckonings.answers(form.answer)) if form.is_valid() and form.answer else []
    context = {"form": form, "title": reckonings.TITLES[name], "answers": answers}
    return render(request, "plans/reckoning.html", context, status=422 if form.errors else 200)
