"""Mixes: the list, and the builder whose sums follow what is typed."""

from __future__ import annotations

from django.contrib import messages
from django.core.exceptions import ValidationError
from django.db.models import Count, ProtectedError
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from consulting.access import PracticeRequest, practice_view
from consulting.formkit import show_errors
from consulting.models import SeedPrice
from consulting.opened import unmoved
from consulting.policy import Right
from plans import facts, services
from plans.forms.mixes import BaseLines, Lines, MixForm, lines_for, whole, with_more_lines
from plans.mix_sums import MixSum, mix_sum
from plans.models import Mix
from plans.own_species import known
from plans.planning import job, tables
from plans.planning.fields import Prices, index_prices
from plans.planning.price_list import PriceList


@require_safe
@practice_view(Right.SEE_PRICES)
@known()
def mixes(request: PracticeRequest) -> HttpResponse:
    """The current version of every mix with its sums on an acre."""
    rows = Mix.objects.filter(replaced=False).prefetch_related("lines").annotate(uses=Count("conversions"))
    prices = seed_prices()
    shown: list[tuple[Mix, MixSum | None, str]] = []
    for mix in rows:
        try:
            shown.append((mix, mix_sum(facts.mix_of(mix), prices), ""))
        except ValueError as unsound:
            shown.append((mix, None, str(unsound)))
    return render(request, "plans/mixes.html", {"mixes": shown})


def seed_prices() -> Prices:
    """The seed part of the price list, as a plan looks it up."""
    return index_prices(PriceList(seed=tuple(facts.seed_price_of(row) for row in SeedPrice.objects.all())))


@require_http_methods(["GET", "HEAD", "POST"])
@practice_view(Right.EDIT_RECORDS)
@known()
def new(request: PracticeRequest) -> HttpResponse:
    return builder(request, Mix(practice=request.practice))


@require_http_methods(["GET", "HEAD", "POST"])
@practice_view(Right.EDIT_RECORDS)
@known()
def edit(request: PracticeRequest, pk: int) -> HttpResponse:
    mix = get_object_or_404(Mix.objects.prefetch_related("lines"), pk=pk)
    if mix.replaced:
        newer = Mix.objects.filter(name=mix.name, replaced=False).first()
        if newer and request.method == "POST":
            mix = newer
        elif newer:
            return redirect("mix", request.practice.slug, newer.pk)
    return builder(request, mix)


def builder(request: PracticeRequest, mix: Mix) -> HttpResponse:
    so_far: dict[str, MixSum | str | None] = {}
    if request.method == "POST" and "save" in request.POST:
        form, lines = MixForm(request.POST, instance=mix), Lines(request.POST, prefix="lines")
        fact = whole(form, lines)
        if fact is not None:
            try:
                kept = services.mix_save(mix=form.instance, lines=fact.lines)
            except ValidationError as refused:
                show_errors(form, refused)
            else:
                messages.success(request, _("{name} saved.").format(name=kept))
                return redirect("mixes", request.practice.slug)
    elif request.method == "POST":
        form, lines = MixForm(initial=typed(request, mix), instance=mix), with_more_lines(request.POST)
        so_far = typed_sums(request)
    else:
        form, lines = MixForm(instance=mix), lines_for(mix)
    context = {
        "form": form,
        "lines": lines,
        "mix": mix if mix.pk else None,
        "offered": bool(mix.pk) and services.was_offered(mix),
        "species": sorted(tables.species()),
        **(so_far or sums_context(form, lines, mix)),
    }
    failed = form.errors or (lines.is_bound and not lines.is_valid())
    return render(request, "plans/mix_form.html", context, status=422 if failed else 200)


def typed(request: PracticeRequest, mix: Mix) -> dict[str, str]:
    """What stands in the mix's own fields, to be shown again unchecked."""
    return {name: request.POST.get(name, "") for name in MixForm(instance=mix).fields}


def sums_context(form: MixForm, lines: BaseLines, mix: Mix) -> dict[str, MixSum | str | None]:
    """The sums of the sound part of what is typed, or why there are none yet."""
    try:
        fact = fact_so_far(form, lines) if form.is_bound else facts.mix_of(mix) if mix.pk else None
        return {"sums": mix_sum(fact, seed_prices()) if fact else None, "why_none": ""}
    except ValueError as unsound:
        message = str(unsound)
        return {"sums": None, "why_none": message[0].upper() + message[1:] + "."}


def fact_so_far(form: MixForm, lines: BaseLines) -> job.Mix | None:
    form.is_valid()
    cleaned, sound = form.cleaned_data, lines.facts()
    if not sound or "basis" not in cleaned:
        return None
    return job.Mix(
        name=cleaned.get("name") or _("this mix"),
        basis=cleaned["basis"],
        seeds_per_sqft=cleaned.get("seeds_per_sqft"),
        lines=tuple(sound),
    )


@require_POST
@practice_view(Right.EDIT_RECORDS)
@known()
def sums(request: PracticeRequest) -> HttpResponse:
    """The sums of what is typed so far; saves nothing."""
    return render(request, "plans/_mix_after.html", typed_sums(request))


def typed_sums(request: PracticeRequest) -> dict[str, MixSum | str | None]:
    mix = Mix(practice=request.practice)
    return sums_context(MixForm(request.POST, instance=mix), Lines(request.POST, prefix="lines"), mix)


@require_POST
@practice_view(Right.EDIT_RECORDS)
def copy(request: PracticeRequest, pk: int) -> HttpResponse:
    mix = get_object_or_404(Mix.objects.prefetch_related("lines"), pk=pk)
    unmoved(request, mix, *mix.lines.all())
    new_mix = services.mix_copy(mix=mix)
    messages.success(
        request, _("This is a copy of {mix}. Change it freely: {mix} stays as it is.").format(mix=mix)
    )
    return redirect("mix", request.practice.slug, new_mix.pk)


@require_http_methods(["GET", "HEAD", "POST"])
@practice_view(Right.EDIT_RECORDS)
def remove(request: PracticeRequest, pk: int) -> HttpResponse:
    mix = get_object_or_404(Mix, pk=pk)
    if request.method == "POST":
        unmoved(request, mix, *mix.lines.all())
        try:
            services.mix_remove(mix=mix)
            messages.success(request, _("{name} removed.").format(name=mix))
        except ProtectedError:
            messages.error(request, _("{mix} is used in a plan and stays.").format(mix=mix))
        return redirect("mixes", request.practice.slug)
    context = {
        "title": _("Remove {mix}?").format(mix=mix),
        "text": _("A mix that any plan uses cannot be removed."),
        "act": _("Remove it"),
        "back": reverse("mixes", args=[request.practice.slug]),
        "records": [mix, *mix.lines.all()],
    }
    return render(request, "confirm.html", context)
