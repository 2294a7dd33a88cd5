"""The buy list over all agreed plans, on the page, as a spreadsheet file and printed. It carries prices."""

from __future__ import annotations

from datetime import date

from django.http import Http404, HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_safe

from consulting.access import PracticeRequest, practice_view
from consulting.clock import today_for
from consulting.policy import Right
from plans.documents.buy_sheet import KIND_WORDS, buy_list_csv, buy_list_pdf, buy_list_xlsx
from plans.forms.shed import ByForm
from plans.manners import manner_of, speaking
from plans.needed import ToBuy, to_buy, usual_day
from plans.views.offers import XLSX, as_file


@require_safe
@practice_view(Right.SEE_PRICES)
def buy(request: PracticeRequest) -> HttpResponse:
    today = today_for(request.practice)
    form = ByForm(request.GET if "by" in request.GET else None, today=today, initial={"by": usual_day(today)})
    if form.is_bound and not form.is_valid():
        return render(request, "work/buy.html", {"form": form}, status=422)
    by = form.cleaned_data["by"] if form.is_bound else usual_day(today)
    found = to_buy(request.practice, by, today)
    context = {"form": form, "by": by, "found": found, "bought": found.bought, "groups": grouped(found)}
    return render(request, "work/buy.html", context)


def grouped(found: ToBuy) -> list[tuple[str, list[object]]]:
    groups: dict[str, list[object]] = {}
    for line in found.bought.lines:
        groups.setdefault(KIND_WORDS[line.kind], []).append(line)
    return list(groups.items())


def asked(request: PracticeRequest) -> tuple[date, ToBuy]:
    """The list of a download. 404 for a day that the page would refuse."""
    today = today_for(request.practice)
    form = ByForm({"by": request.GET.get("by", f"{usual_day(today)}")}, today=today)
    if not form.is_valid():
        raise Http404("no such day")
    by: date = form.cleaned_data["by"]
    return by, to_buy(request.practice, by, today)


@require_safe
@practice_view(Right.SEE_PRICES)
def buy_csv(request: PracticeRequest) -> HttpResponse:
    by, found = asked(request)
    content = buy_list_csv(found.bought, found.notes).encode()
    return as_file(content, "text/csv; charset=utf-8", f"buy-list-{by}.csv")


@require_safe
@practice_view(Right.SEE_PRICES)
def buy_xlsx(request: PracticeRequest) -> HttpResponse:
    by, found = asked(request)
    practice, today = request.practice.name, today_for(request.practice)
    content = buy_list_xlsx(found.bought, practice=practice, on=today, notes=found.notes)
    return as_file(content, XLSX, f"buy-list-{by}.xlsx")


@require_safe
@practice_view(Right.SEE_PRICES)
def buy_pdf(request: PracticeRequest) -> HttpResponse:
    by, found = asked(request)
    with speaking(manner_of(request.practice)):
        content = buy_list_pdf(found.bought, practice=request.practice.name, notes=found.notes)
    return as_file(content, "application/pdf", f"buy-list-{by}.pdf", inline=True)
