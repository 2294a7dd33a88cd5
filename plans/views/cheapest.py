"""The least-cost mix: asked by an address that can be kept, compared with own mixes, and kept as a mix."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

from django.contrib import messages
from django.core.exceptions import ValidationError
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.utils.translation import gettext
from django.views.decorators.http import require_http_methods

from consulting.access import PracticeRequest, practice_view
from consulting.formkit import show_errors
from consulting.policy import Right
from plans import cheapest as least
from plans import facts, services
from plans.forms.cheapest import CheapestForm, KeepForm
from plans.mix_sums import mix_sum
from plans.models import Mix
from plans.own_species import known
from plans.planning import tables
from plans.planning.fields import Prices
from plans.planning.job import MixLine
from plans.planning.mixing import MixAnswer
from plans.planning.targets import Goal
from plans.views.mixes import seed_prices

PLACES = 6
"""Of a share of the seeds as it is kept: a hundredth of a cent on the dearest acre."""


@require_http_methods(["GET", "HEAD", "POST"])
@practice_view(Right.EDIT_RECORDS)
@known()
def cheapest(request: PracticeRequest) -> HttpResponse:
    """The question stands in the address; a POST keeps its answer as a mix."""
    prices = seed_prices()
    market = least.market_of(prices)
    mixes = list(Mix.objects.filter(replaced=False).prefetch_related("lines"))
    if "work" not in request.GET:
        form = CheapestForm(market, mixes, initial=request.GET.dict())
        return shown(request, form, {})
    form = CheapestForm(market, mixes, request.GET)
    if not form.is_valid():
        return shown(request, form, {})
    goal = form.goal()
    try:
        answer = least.answer_of(goal, market)
    except ValueError as refused:
        form.add_error(None, spoken(refused))
        return shown(request, form, {})
    keep = None
    if answer.mix is not None:
        keep = keep_form(request, form, Decimal(answer.mix.usd_per_acre.value))
        if request.method == "POST" and keep.is_valid():
            kept = kept_mix(request, form, keep, answer)
            if kept is not None:
                messages.success(request, gettext("{name} saved.").format(name=kept))
                return redirect("mix", request.practice.slug, kept.pk)
    return shown(request, form, {"answer": answer, "keep": keep, **told(form, goal, answer, prices, mixes)})


def shown(request: PracticeRequest, form: CheapestForm, answered: dict[str, Any]) -> HttpResponse:
    purpose, way, _ = form.asked()
    context = {
        "form": form,
        "market": form.market,
        "purpose": purpose,
        "way": way,
        "sources": tables.purposes()[purpose],
        **answered,
    }
    keep = answered.get("keep")
    failed = form.errors or (keep is not None and keep.errors)
    return render(request, "plans/cheapest.html", context, status=422 if failed else 200)


def spoken(refused: ValueError) -> str:
    """What the planning service refuses, without the name of its own input."""
    message = str(refused).rpartition(": ")[2]
    return message[0].upper() + message[1:] + "."


def told(
    form: CheapestForm, goal: Goal, answer: MixAnswer, prices: Prices, mixes: list[Mix]
) -> dict[str, Any]:
    """The answer in sentences, and the mixes side by side."""
    costs, free = least.costs(answer, goal.targets)
    looked_at: list[tuple[str, dict[str, float]]] = []
    if answer.mix is not None:
        looked_at.append((gettext("Least-cost mix"), least.densities(answer.mix)))
    for field, key in form.chosen().items():
        mix = next(mix for mix in mixes if str(mix.pk) == key)
        try:
            sown = mix_sum(facts.mix_of(mix), prices).seed.lines
            densities = {line.species: float(line.seeds_per_sqft.value) for line in sown}
            least.side_by_side(goal, form.market, [(str(mix), densities)])
        except ValueError as refused:
            said = gettext("{mix} cannot stand beside it: {reason}")
            form.add_error(field, said.format(mix=mix, reason=spoken(refused)))
        else:
            looked_at.append((str(mix), densities))
    parts = sorted(answer.mix.parts, key=lambda part: part.species.lower()) if answer.mix else []
    return {
        "parts": parts,
        "costs": costs,
        "free": free,
        "clashes": least.clashes(answer, goal.targets),
        "beside": least.side_by_side(goal, form.market, looked_at) if form.chosen() else (),
        "unchecked": [part.species for part in parts if part.species in form.market.unchecked],
    }


def keep_form(request: PracticeRequest, form: CheapestForm, usd_per_acre: Decimal) -> KeepForm:
    """Bound when it is sent; a cost that has changed since it was shown is an error."""
    if request.method != "POST":
        name = gettext("{purpose}, least cost").format(purpose=form.cleaned_data["purpose"].capitalize())
        return KeepForm(initial={"name": name, "shown": usd_per_acre})
    keep = KeepForm({"name": request.POST.get("name"), "shown": request.POST.get("shown")})
    if keep.is_valid() and keep.cleaned_data["shown"] != usd_per_acre:
        said = gettext("Your prices have changed since you looked: the mix is {price} an acre now.")
        keep.add_error(None, said.format(price=f"${usd_per_acre:,.2f}"))
        keep.data = {**keep.data, "shown": usd_per_acre}
    return keep


def kept_mix(request: PracticeRequest, form: CheapestForm, keep: KeepForm, answer: MixAnswer) -> Mix | None:
    way = "broadcast" if form.cleaned_data["way"] == "broadcast" else "drilled"
    fact = answer.as_mix(keep.cleaned_data["name"], way)  # type: ignore[arg-type]
    mix = Mix(
        practice=request.practice,
        name=fact.name,
        basis=fact.basis,
        seeds_per_sqft=fact.seeds_per_sqft,
        rate_is_for=fact.rate_is_for,
    )
    lines = [MixLine(species=line.species, amount=round(line.amount, PLACES)) for line in fact.lines]
    try:
        return services.mix_save(mix=mix, lines=lines)
    except ValidationError as refused:
        show_errors(keep, refused)
        return None
