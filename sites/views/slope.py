"""How steep a field is: four ways of finding out, and taking what was found into the field."""

from __future__ import annotations

from typing import Any

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.http import require_http_methods, require_POST

from consulting.access import PracticeRequest, practice_view
from consulting.clock import today_for
from consulting.formkit import attempt
from consulting.policy import Right
from consulting.services import fresh
from sites import services
from sites.lie import Lie
from sites.models import Field
from sites.slope_forms import WAYS, SlopeTakeForm
from sites.views.fields import field_or_404


def _page(request: PracticeRequest, field: Field, status: int = 200, **context: Any) -> HttpResponse:
    limits_pct = request.practice.slope_limits_pct
    forms = {way: form(field=field, limits_pct=limits_pct) for way, form in WAYS.items()}
    context = {"field": field, "farm": field.farm, "limits_pct": limits_pct, **forms, **context}
    return render(request, "sites/slope.html", context, status=status)


@require_http_methods(["GET", "HEAD", "POST"])
@practice_view(Right.EDIT_RECORDS)
def slope(request: PracticeRequest, pk: int) -> HttpResponse:
    """Shows what was found; nothing is kept until it is taken."""
    field = field_or_404(pk)
    way = WAYS.get(request.POST.get("way", ""))
    if request.method != "POST" or way is None:
        return _page(request, field, 422 if request.method == "POST" else 200)
    form = way(request.POST, request.FILES, field=field, limits_pct=request.practice.slope_limits_pct)
    lie = form.lie()
    if lie is None:
        return _page(request, field, 422, wrong=form, **{form.way: form})
    first = {"slope_pct": lie.steepest_pct, "source": lie.way[:300], "faces": lie.faces or field.faces}
    shares = _shares(field, lie)
    return _page(request, field, lie=lie, shares=shares, take=SlopeTakeForm(instance=field, initial=first))


def _shares(field: Field, lie: Lie) -> list[tuple[float, float, float]]:
    """Limit [%], share of the field above it [%], and acres."""
    above = lie.above_pct or {}
    return [(limit, share, field.acres * share / 100) for limit, share in above.items()]


@require_POST
@practice_view(Right.EDIT_RECORDS)
def take(request: PracticeRequest, pk: int) -> HttpResponse:
    field = field_or_404(pk)
    form = SlopeTakeForm(request.POST, instance=fresh(field))
    today = today_for(request.practice)
    if form.is_valid() and attempt(form, services.slope_take, field=field, on=today) is not None:
        faces = f", faces {field.faces}" if field.faces else ""
        messages.success(request, f"Taken: {field.slope_pct:g} % at its steepest{faces}.")
        return redirect("field", request.practice.slug, field.pk)
    return _page(request, field, 422, take=form, wrong=form)
