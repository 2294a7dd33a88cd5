"""The price list: seed, plants, supplies, products, adjuvants, work and hauling on one page."""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass
from decimal import Decimal, InvalidOperation
from typing import Any

from django.contrib import messages
from django.core.exceptions import ValidationError
from django.http import Http404, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils.html import format_html
from django.utils.translation import gettext, gettext_lazy, ngettext
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from consulting.access import PracticeRequest, practice_view
from consulting.formkit import show_errors, whole_number
from consulting.models import AdjuvantPrice, PlantPrice, PriceRow, Product, SeedPrice, SupplyPrice, WorkRate
from consulting.opened import unmoved
from consulting.policy import Right
from consulting.services import fresh
from plans import services
from plans.documents.words import exactly, month_of_year, usd
from plans.forms.prices import (
    AdjuvantForm,
    HaulingForm,
    PlantForm,
    PriceForm,
    ProductForm,
    SeedPriceForm,
    SupplyForm,
    WorkRateForm,
)
from plans.own_species import known
from plans.planning import seed, tables
from plans.planning.figures import Figure


@dataclass(frozen=True, slots=True)
class Kind:
    key: str
    model: type[PriceRow]
    form: type[PriceForm]
    add: Any
    """Says that one is to be added."""


KINDS = {
    kind.key: kind
    for kind in (
        Kind("seed", SeedPrice, SeedPriceForm, gettext_lazy("Add a seed lot")),
        Kind("plants", PlantPrice, PlantForm, gettext_lazy("Add a plant")),
        Kind("supplies", SupplyPrice, SupplyForm, gettext_lazy("Add a supply")),
        Kind("products", Product, ProductForm, gettext_lazy("Add a product")),
        Kind("adjuvants", AdjuvantPrice, AdjuvantForm, gettext_lazy("Add an adjuvant")),
        Kind("work", WorkRate, WorkRateForm, gettext_lazy("Add a work rate")),
    )
}


def kind_or_404(key: str) -> Kind:
    if key not in KINDS:
        raise Http404("no such part of the price list")
    return KINDS[key]


def pls_price(basis: str, price: Decimal, purity: float, germination: float, dormant: float) -> Figure | None:
    """Price of a pound of pure live seed from either basis; None for values that make no lot."""
    try:
        if basis == "bulk":
            return seed.price_per_pls_lb(float(price), purity, germination, dormant)
        seed.pls_pct(purity, germination, dormant)
        return Figure(
            price,
            "$",
            gettext("the price is per pound of pure live seed already"),
            source=gettext("price list"),
        )
    except ValueError:
        return None


def lot_price(lot: SeedPrice) -> Figure | None:
    return pls_price(lot.basis, lot.price_usd_per_lb, lot.purity_pct, lot.germination_pct, lot.dormant_pct)


@dataclass(frozen=True, slots=True)
class SeedRow:
    """A lot in words. Put together here, as the page has many."""

    lot: SeedPrice
    listed: str
    pls: Figure | None
    tag: str
    tested: str

    @classmethod
    def of(cls, lot: SeedPrice) -> SeedRow:
        by = (
            gettext('{price} a lb <abbr title="pure live seed">PLS</abbr>')
            if lot.basis == "PLS"
            else gettext("{price} a lb bulk")
        )
        alive = lot.germination_pct + lot.dormant_pct
        tag = gettext("{pure} % pure, {alive} % alive")
        tested = gettext("tested {month}").format(month=month_of_year(lot.tested_on)) if lot.tested_on else ""
        return cls(
            lot=lot,
            listed=format_html(by, price=usd(lot.price_usd_per_lb)),
            pls=lot_price(lot),
            tag=tag.format(pure=exactly(lot.purity_pct), alive=exactly(alive)),
            tested=tested,
        )


@dataclass(frozen=True, slots=True)
class WorkRow:
    """A rate in words, as above."""

    rate: WorkRate
    label: str
    pace: str
    beyond: str

    @classmethod
    def of(cls, rate: WorkRate) -> WorkRow:
        operation = tables.operations().get(rate.operation)
        pace = beyond = ""
        if rate.acres_per_hour:
            pace = gettext("{pace} acres an hour, measured").format(pace=exactly(rate.acres_per_hour))
        elif rate.width_ft:
            numbers = (rate.width_ft, rate.speed_mph, rate.efficiency_pct)
            width, speed, efficiency = ("" if value is None else exactly(value) for value in numbers)
            said = gettext("{width} ft, {speed} mph, {efficiency} %")
            pace = said.format(width=width, speed=speed, efficiency=efficiency)
        if rate.allowance_pct:
            beyond = gettext("{share} % beyond the plan").format(share=exactly(rate.allowance_pct))
        return cls(rate, operation.label if operation else rate.operation, pace, beyond)


@require_safe
@practice_view(Right.SEE_PRICES)
def prices(request: PracticeRequest) -> HttpResponse:
    lots = sorted(SeedPrice.objects.all(), key=lambda lot: lot.species.lower())
    plants = list(PlantPrice.objects.all())
    supplies = list(SupplyPrice.objects.all())
    products = list(Product.objects.all())
    adjuvants = list(AdjuvantPrice.objects.all())
    work = list(WorkRate.objects.all())
    rows: dict[str, list[Any]] = {
        "seed": lots,
        "plants": plants,
        "supplies": supplies,
        "products": products,
        "adjuvants": adjuvants,
        "work": work,
    }
    unchecked = [f"{kind}-{row.pk}" for kind, some in rows.items() for row in some if row.unchecked]
    context = {
        "lots": [SeedRow.of(lot) for lot in lots],
        "plants": plants,
        "supplies": supplies,
        "products": products,
        "adjuvants": adjuvants,
        "work": [WorkRow.of(rate) for rate in work],
        "unchecked": unchecked,
        "unchecked_count": len(unchecked) + request.practice.hauling_unchecked,
    }
    return render(request, "plans/prices.html", context)


@require_http_methods(["GET", "HEAD", "POST"])
@practice_view(Right.EDIT_RECORDS)
@known()
def new(request: PracticeRequest, kind: str) -> HttpResponse:
    part = kind_or_404(kind)
    return price_form(request, part, part.model(practice=request.practice), part.add)


@require_http_methods(["GET", "HEAD", "POST"])
@practice_view(Right.EDIT_RECORDS)
@known()
def edit(request: PracticeRequest, kind: str, pk: int) -> HttpResponse:
    part = kind_or_404(kind)
    row = get_object_or_404(part.model, pk=pk)
    return price_form(request, part, row, str(row)[:1].upper() + str(row)[1:])


def price_form(request: PracticeRequest, part: Kind, row: PriceRow, title: str) -> HttpResponse:
    form = part.form(request.POST or None, instance=row)
    if request.method == "POST" and form.is_valid():
        try:
            services.price_save(row=form.instance)
        except ValidationError as refused:
            show_errors(form, refused)
        else:
            messages.success(request, gettext("{name} saved.").format(name=form.instance))
            return redirect(reverse("prices", args=[request.practice.slug]) + f"#{part.key}")
    context = {"form": form, "title": title, "kind": part, "row": row if row.pk else None}
    if part.key == "seed":
        context["per_pls_lb"] = typed_pls_price(form)
    return render(request, "plans/price_form.html", context, status=422 if form.errors else 200)


MOST_USD = 10**10
"""More than any price that is kept, which has twelve digits."""


def typed_pls_price(form: Any) -> Figure | None:
    """Price per PLS pound of what stands in the form, sound or not."""
    try:
        price = Decimal(str(form["price_usd_per_lb"].value()))
        numbers = [
            float(form[name].value() or 0) for name in ("purity_pct", "germination_pct", "dormant_pct")
        ]
    except (InvalidOperation, TypeError, ValueError):
        return None
    if not (price.is_finite() and price < MOST_USD):
        return None
    found = pls_price(str(form["basis"].value()), price, *numbers)
    return found if found is not None and found.value < MOST_USD else None


@require_POST
@practice_view(Right.EDIT_RECORDS)
def per_pls_lb(request: PracticeRequest) -> HttpResponse:
    figure = typed_pls_price(SeedPriceForm(request.POST))
    return render(request, "plans/_per_pls_lb.html", {"per_pls_lb": figure})


@require_POST
@practice_view(Right.EDIT_RECORDS)
def confirm(request: PracticeRequest, kind: str, pk: int) -> HttpResponse:
    part = kind_or_404(kind)
    row = get_object_or_404(part.model, pk=pk)
    unmoved(request, row)
    services.prices_confirm(model=part.model, pks=[row.pk])
    messages.success(request, gettext("The price of {row} is checked.").format(row=row))
    return redirect(reverse("prices", args=[request.practice.slug]) + f"#{part.key}")


@require_POST
@practice_view(Right.EDIT_RECORDS)
def confirm_shown(request: PracticeRequest) -> HttpResponse:
    """Confirm the rows that the page showed, no later ones."""
    pks: dict[str, list[int]] = defaultdict(list)
    for shown in request.POST.getlist("shown"):
        kind, _, pk = shown.partition("-")
        if (found := whole_number(pk)) is not None:
            pks[kind_or_404(kind).key].append(found)
    count = sum(services.prices_confirm(model=KINDS[kind].model, pks=rows) for kind, rows in pks.items())
    said = ngettext("{count} price confirmed.", "{count} prices confirmed.", count)
    messages.success(request, said.format(count=count))
    return redirect("prices", request.practice.slug)


@require_http_methods(["GET", "HEAD", "POST"])
@practice_view(Right.EDIT_RECORDS)
def remove(request: PracticeRequest, kind: str, pk: int) -> HttpResponse:
    part = kind_or_404(kind)
    row = get_object_or_404(part.model, pk=pk)
    if request.method == "POST":
        unmoved(request, row)
        services.price_remove(row=row)
        messages.success(request, gettext("{row} is off the price list.").format(row=row))
        return redirect(reverse("prices", args=[request.practice.slug]) + f"#{part.key}")
    context = {
        "title": gettext("Take {row} off the price list?").format(row=row),
        "text": gettext(
            "Plans that need it will stop until there is a price again. "
            "Offered proposals keep the price they were made with."
        ),
        "act": gettext("Take it off"),
        "back": reverse("prices", args=[request.practice.slug]),
        "records": [row],
    }
    return render(request, "confirm.html", context)


@require_http_methods(["GET", "HEAD", "POST"])
@practice_view(Right.EDIT_RECORDS)
def hauling(request: PracticeRequest) -> HttpResponse:
    form = HaulingForm(request.POST or None, instance=fresh(request.practice))
    if request.method == "POST" and form.is_valid():
        services.hauling_save(
            practice=request.practice, usd_per_mile=form.cleaned_data["hauling_usd_per_mile"]
        )
        messages.success(request, gettext("Hauling saved."))
        return redirect(reverse("prices", args=[request.practice.slug]) + "#hauling")
    context = {
        "form": form,
        "title": gettext("Hauling"),
        "back": reverse("prices", args=[request.practice.slug]),
    }
    return render(request, "plans/form.html", context, status=422 if form.errors else 200)
