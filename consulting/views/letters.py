"""The letters of a practice: what waits, what went, and what somebody has to look at."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from django.contrib import messages
from django.core.paginator import Paginator
from django.db.models import Count
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils.translation import gettext, gettext_lazy
from django.views.decorators.http import require_POST, require_safe

from consulting import outbox
from consulting.access import PracticeRequest, practice_view
from consulting.letters import Enclosure, Letter, LetterState
from consulting.policy import Right

SHOWN_AT_ONCE = 50
GROUPS: dict[str, tuple[Any, tuple[str, ...]]] = {
    "trouble": (gettext_lazy("To look at"), Letter.TROUBLE),
    "waits": (gettext_lazy("Waiting"), (LetterState.WAITS, LetterState.SENDING)),
    "sent": (gettext_lazy("Sent"), (LetterState.SENT,)),
}


@require_safe
@practice_view(Right.OFFER)
def letters(request: PracticeRequest) -> HttpResponse:
    asked = request.GET.get("stands", "")
    counted = dict(Letter.objects.order_by().values_list("state").annotate(Count("pk")))
    rows = Letter.objects.defer("text")
    if asked in GROUPS:
        rows = rows.filter(state__in=GROUPS[asked][1])
    context = {
        "page": Paginator(rows, SHOWN_AT_ONCE).get_page(request.GET.get("page")),
        "asked": asked if asked in GROUPS else "",
        "all": sum(counted.values()),
        "groups": [
            (key, label, sum(counted.get(state, 0) for state in states))
            for key, (label, states) in GROUPS.items()
        ],
    }
    return render(request, "consulting/letters.html", context)


@require_safe
@practice_view(Right.OFFER)
def letter(request: PracticeRequest, pk: int) -> HttpResponse:
    found: Letter = get_object_or_404(Letter, pk=pk)
    enclosed = Enclosure.objects.filter(letter=found).defer("content")
    return render(request, "consulting/letter.html", {"letter": found, "enclosed": enclosed})


def decide(request: PracticeRequest, pk: int, act: Callable[..., Letter], done: str) -> HttpResponse:
    try:
        act(letter=get_object_or_404(Letter, pk=pk))
        messages.success(request, done)
    except outbox.Settled as settled:
        messages.error(request, str(settled))
    return redirect("letter", request.practice.slug, pk)


@require_POST
@practice_view(Right.OFFER)
def again(request: PracticeRequest, pk: int) -> HttpResponse:
    return decide(request, pk, outbox.send_again, gettext("It waits to be sent again."))


@require_POST
@practice_view(Right.OFFER)
def take_back(request: PracticeRequest, pk: int) -> HttpResponse:
    return decide(request, pk, outbox.take_back, gettext("Taken back. It is not sent."))
