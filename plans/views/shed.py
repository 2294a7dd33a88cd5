"""The shed: lots, what they went to, and what comes in, goes out or is counted anew."""

from __future__ import annotations

from collections.abc import Callable
from itertools import groupby

from django.contrib import messages
from django.core.exceptions import ValidationError
from django.db.models import Case, IntegerField, Value, When
from django.http import Http404, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils.translation import gettext, gettext_lazy
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from consulting.access import PracticeRequest, practice_view
from consulting.clock import today_for
from consulting.formkit import show_errors, whole_number
from consulting.policy import Right, may
from plans import shed as acts
from plans.forms.shed import ArriveForm, CountForm, LotForm, MoveForm, UseForm
from plans.models import StockLot, StockMove
from plans.own_species import known
from plans.planning.needs import offers_of
from plans.selectors import prices_for
from plans.shed import visits_for, went_to
from sites.models import Field

PAGE = 100
MOST_FIELDS = 3
MOST_MOVES = 200
NEW = {
    StockLot.Kind.SEED: gettext_lazy("Add a seed lot"),
    StockLot.Kind.PRODUCT: gettext_lazy("Add a product"),
    StockLot.Kind.SUPPLY: gettext_lazy("Add plants or a supply"),
}
ORDER = Case(
    *(When(kind=kind, then=Value(place)) for place, kind in enumerate(StockLot.Kind.values)),
    output_field=IntegerField(),
)


@require_safe
@practice_view(Right.SEE_WORK)
def shed(request: PracticeRequest) -> HttpResponse:
    """What is on hand, or which lots went to one field."""
    page = max(1, whole_number(request.GET.get("page", "")) or 1)
    field = whole_number(request.GET.get("field", ""))
    empty = "empty" in request.GET
    lots = StockLot.objects.all()
    if field is not None:
        lots = lots.filter(pk__in=StockMove.objects.filter(visit__field=field).values("lot"))
    else:
        lots = lots.filter(on_hand=0) if empty else lots.filter(on_hand__gt=0)
    first = (page - 1) * PAGE
    found = list(lots.order_by(ORDER, "name", "lot", "pk")[first : first + PAGE + 1])
    went = went_to(found[:PAGE])
    rows = [
        (lot, went.get(lot.pk, [])[:MOST_FIELDS], len(went.get(lot.pk, [])[MOST_FIELDS:]))
        for lot in found[:PAGE]
    ]
    context = {
        "groups": [
            (kind.label, kind == StockLot.Kind.SEED, list(some))
            for kind, some in groupby(rows, key=lambda row: StockLot.Kind(row[0].kind))
        ],
        "new": [(kind.value, label) for kind, label in NEW.items()],
        "fields": fields_served(),
        "field": field,
        "empty": empty,
        "page": page,
        "earlier": page - 1,
        "further": page + 1 if len(found) > PAGE else 0,
    }
    return render(request, "work/shed.html", context)


def fields_served() -> list[Field]:
    """Fields that something of the shed went to."""
    moves = StockMove.objects.filter(visit__isnull=False)
    served = Field.objects.filter(pk__in=moves.values("visit__field"))
    return list(served.select_related("farm").order_by("farm__name", "name", "pk")[:500])


@require_http_methods(["GET", "HEAD", "POST"])
@practice_view(Right.EDIT_RECORDS)
@known()
def new(request: PracticeRequest, kind: str) -> HttpResponse:
    if kind not in StockLot.Kind.values:
        raise Http404("no such kind of stock")
    lot = StockLot(practice=request.practice, kind=kind)
    form = LotForm(request.POST or None, instance=lot, offers=offers_of(prices_for(request.practice)))
    if request.method == "POST" and form.is_valid():
        given = {name: form.cleaned_data[name] for name in ("amount", "on")}
        try:
            made = acts.lot_add(lot=form.instance, user=request.user, **given)
        except ValidationError as wrong:
            show_errors(form, wrong)
        else:
            messages.success(request, gettext("{lot} is in the shed.").format(lot=made))
            return redirect("shed_lot", request.practice.slug, made.pk)
    context = {"form": form, "title": NEW[StockLot.Kind(kind)], "lot": None}
    return render(request, "work/lot_form.html", context, status=422 if form.errors else 200)


@require_http_methods(["GET", "HEAD", "POST"])
@practice_view(Right.EDIT_RECORDS)
@known()
def edit(request: PracticeRequest, pk: int) -> HttpResponse:
    """Put a lot's facts right; how much there is changes by counting."""
    lot = get_object_or_404(StockLot.objects.select_related("practice"), pk=pk)
    name, offers = str(lot), offers_of(prices_for(request.practice))
    form = LotForm(request.POST or None, instance=lot, offers=offers)
    if request.method == "POST" and form.is_valid():
        values = {name: form.cleaned_data[name] for name in form.Meta.fields if name in form.fields}
        try:
            acts.lot_save(stock=lot, version=lot.version, unit=lot.unit, **values)
        except ValidationError as wrong:
            show_errors(form, wrong)
        else:
            messages.success(request, gettext("The lot’s facts are saved."))
            return redirect("shed_lot", request.practice.slug, pk)
    context = {"form": form, "title": gettext("Facts of {lot}").format(lot=name), "lot": lot}
    return render(request, "work/lot_form.html", context, status=422 if form.errors else 200)


FORMS: dict[str, type[MoveForm]] = {"use": UseForm, "arrive": ArriveForm, "count": CountForm}


def lot_or_404(pk: int) -> StockLot:
    found: StockLot = get_object_or_404(StockLot.objects.select_related("practice"), pk=pk)
    return found


def lot_page(request: PracticeRequest, lot: StockLot, form: MoveForm | None = None) -> HttpResponse:
    visits = form.visits if form else visits_for(lot.kind, today_for(request.practice))
    asked = request.GET.get("visit", "")
    record = may(request.membership, Right.RECORD_WORK)
    forms = {name: kind(lot=lot, visits=visits) for name, kind in FORMS.items()} if record else {}
    if record and asked:
        forms["use"] = UseForm(lot=lot, visits=visits, visit=asked)
    forms |= {name: form for name, kind in FORMS.items() if form is not None and type(form) is kind}
    moves = list(
        StockMove.objects.filter(lot=lot).select_related("visit__field__farm", "record")[: MOST_MOVES + 1]
    )
    context = {
        "lot": lot,
        "went": went_to([lot]).get(lot.pk, []),
        "moves": moves[:MOST_MOVES],
        "older": len(moves) > MOST_MOVES,
        "forms": forms,
        "form": form,
    }
    return render(request, "work/lot.html", context, status=422 if form and form.errors else 200)


@require_safe
@practice_view(Right.SEE_WORK)
def lot(request: PracticeRequest, pk: int) -> HttpResponse:
    return lot_page(request, lot_or_404(pk))


def move(
    request: PracticeRequest, pk: int, kind: type[MoveForm], do: Callable[..., StockMove], said: str
) -> HttpResponse:
    """Do what a sound form asks; what is refused stands beside it, with what was typed."""
    found = lot_or_404(pk)
    visits = visits_for(found.kind, today_for(request.practice))
    form = kind(request.POST, lot=found, visits=visits)
    if not form.is_valid():
        return lot_page(request, found, form)
    try:
        do(lot=found, version=found.version, user=request.user, **form.cleaned_data)
    except ValidationError as wrong:
        show_errors(form, wrong)
        return lot_page(request, found, form)
    messages.success(request, said)
    return redirect("shed_lot", request.practice.slug, pk)


@require_POST
@practice_view(Right.RECORD_WORK)
def use(request: PracticeRequest, pk: int) -> HttpResponse:
    return move(request, pk, UseForm, acts.stock_out, gettext("Taken out of the shed."))


@require_POST
@practice_view(Right.RECORD_WORK)
def arrive(request: PracticeRequest, pk: int) -> HttpResponse:
    return move(request, pk, ArriveForm, acts.stock_in, gettext("Put into the shed."))


@require_POST
@practice_view(Right.RECORD_WORK)
def count(request: PracticeRequest, pk: int) -> HttpResponse:
    return move(request, pk, CountForm, acts.stock_count, gettext("Counted anew."))
