"""How steep a field is: four ways of finding out, and taking what was found into the field."""

from __future__ import annotations

from typing import Any

from django.contrib import messages
from django.core.exceptions import ValidationError
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods, require_POST

from consulting.access import PracticeRequest, practice_view
from consulting.clock import today_for
from consulting.formkit import attempt, show_errors
from consulting.policy import Right
from consulting.services import fresh
from sites import mapping, services
from sites.lie import Lie
from sites.models import Field
from sites.pictures import pieces_picture
from sites.slope_forms import WAYS, SlopeTakeForm, SteepForm
from sites.steep import sealed, sides_of, steep_part_off
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
    context: dict[str, Any] = {"lie": lie, "shares": _shares(field, lie)}
    if lie.steep:
        context |= _steep(field, SteepForm(initial=_first_part(field, lie), field=field))
    return _page(request, field, take=SlopeTakeForm(instance=field, initial=first), **context)


def _first_part(field: Field, lie: Lie) -> dict[str, str]:
    return {"sealed": sealed(field, lie), "limit": f"{lie.steep[0].limit_pct:g}"}


def _steep(field: Field, form: SteepForm) -> dict[str, Any]:
    """The form of what can be split off, and a picture of each."""
    pictures = [
        (part, pieces_picture(field, sides, name=f"steep-{part.limit_pct:g}"))
        for part in form.parts.values()
        if (sides := sides_of(field, part))
    ]
    return {"steep": form, "pictures": pictures}


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
        said = (
            _("Taken: {slope} % at its steepest, faces {side}.")
            if field.faces
            else _("Taken: {slope} % at its steepest.")
        )
        messages.success(request, said.format(slope=f"{field.slope_pct:g}", side=field.faces))
        return redirect("field", request.practice.slug, field.pk)
    return _page(request, field, 422, take=form, wrong=form)


@require_POST
@practice_view(Right.EDIT_RECORDS)
def steep(request: PracticeRequest, pk: int) -> HttpResponse:
    """Splits the steep part off as a field of its own."""
    field = field_or_404(pk)
    form = SteepForm(request.POST, field=field)
    part = form.parts[form.cleaned_data["limit"]] if form.is_valid() else None
    sides = part and sides_of(field, part)
    if part and form.offers:
        try:
            if not sides:
                raise mapping.Changed(field)
            rest, made = steep_part_off(
                field=field,
                sides=sides,
                part=part,
                found=form.offers,
                name=form.cleaned_data["name"],
                on=today_for(request.practice),
            )
            split_off = _("{name} is split off with {acres} acres, up to {slope} %.")
            kept = _("{name} keeps {acres} acres, up to {slope} %.")
            said = [
                words.format(name=one.name, acres=f"{one.acres:g}", slope=f"{one.slope_pct:g}")
                for words, one in ((split_off, made), (kept, rest))
            ]
            messages.success(request, " ".join(said))
            return redirect("farm", request.practice.slug, field.farm_id)
        except mapping.Changed:
            messages.error(
                request, _("Someone changed {name} meanwhile. Read the grid again.").format(name=field.name)
            )
            return redirect("field_slope", request.practice.slug, pk)
        except ValidationError as refused:
            show_errors(form, refused)
    return _page(request, field, 422, wrong=form, **_steep(field, form))
