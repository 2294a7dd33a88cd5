"""Season reports: one as it stands with its own words, its print, sending it, and those that were sent."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from django.contrib import messages
from django.http import Http404, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils.translation import gettext as _
from django.views.decorators.http import require_POST, require_safe

from consulting.access import PracticeRequest, practice_view
from consulting.clock import today_for
from consulting.policy import Right, may
from plans import reports
from plans.documents.season_facts import SeasonReport, Shot, read_report
from plans.forms.reports import WordsForm
from plans.models import Plan, SentReport
from plans.report_pages import report_shown
from plans.services import Refused
from plans.views.offers import as_file, file_stem


def plan_or_404(pk: int) -> Plan:
    rows = Plan.objects.select_related("practice", "farm__client").prefetch_related("farm__observations")
    return get_object_or_404(rows, pk=pk)


def report_or_back(request: PracticeRequest, plan: Plan, year: int) -> SeasonReport | HttpResponse:
    """The report, or the way back with why there is none."""
    if not 1990 <= year <= today_for(request.practice).year:
        raise Http404("no such year")
    try:
        return reports.report_of(plan, year, today_for(request.practice))
    except Refused as refused:
        messages.error(request, str(refused))
        return redirect("plan", request.practice.slug, plan.pk)


@require_safe
@practice_view(Right.SEE_PRICES)
def latest(request: PracticeRequest, pk: int) -> HttpResponse:
    plan = plan_or_404(pk)
    year = reports.usual_year(plan, today_for(request.practice))
    return redirect("season_report", request.practice.slug, pk, year)


def photo_at(request: PracticeRequest) -> Callable[[Shot], str]:
    """The address of a photograph of a report, as the practice's own pages show it."""
    return lambda shot: reverse(f"{shot.kind}_photo", args=[request.practice.slug, shot.photo])


@require_safe
@practice_view(Right.SEE_PRICES)
def page(request: PracticeRequest, pk: int, year: int) -> HttpResponse:
    """The report as it stands."""
    return report_page(request, plan_or_404(pk), year)


def report_page(
    request: PracticeRequest, plan: Plan, year: int, form: WordsForm | None = None
) -> HttpResponse:
    found = report_or_back(request, plan, year)
    if isinstance(found, HttpResponse):
        return found
    if form is None and may(request.membership, Right.EDIT_RECORDS):
        form = words_form(request, plan, year)
    context = report_shown(found, photo_at(request)) | {
        "plan": plan,
        "year": year,
        "years": reports.years_of_work(plan, today_for(request.practice)),
        "sent": reports.sent_reports(plan),
        "form": form,
    }
    return render(request, "plans/report.html", context, status=422 if form and form.errors else 200)


def words_form(request: PracticeRequest, plan: Plan, year: int) -> WordsForm:
    kept = reports.words_of(plan, year)
    return WordsForm(request.POST or None, kept=kept, initial={"words": kept.words})


@require_POST
@practice_view(Right.EDIT_RECORDS)
def words(request: PracticeRequest, pk: int, year: int) -> HttpResponse:
    """Keep the consultant's own words; what is refused stands at its field, with what was typed."""
    plan = plan_or_404(pk)
    form = words_form(request, plan, year)
    if not form.is_valid():
        return report_page(request, plan, year, form)
    found = report_or_back(request, plan, year)
    if isinstance(found, HttpResponse):
        return found
    reports.words_keep(plan=plan, year=year, words=form.cleaned_data["words"])
    messages.success(request, _("Kept."))
    return redirect("season_report", request.practice.slug, pk, year)


@require_safe
@practice_view(Right.SEE_PRICES)
def preview(request: PracticeRequest, pk: int, year: int) -> HttpResponse:
    plan = plan_or_404(pk)
    found = report_or_back(request, plan, year)
    if isinstance(found, HttpResponse):
        return found
    name = f"season-report-{year}-{file_stem(plan.title)}.pdf"
    return as_file(reports.printed(found, plan), "application/pdf", name, inline=True)


@require_POST
@practice_view(Right.OFFER)
def send(request: PracticeRequest, pk: int, year: int) -> HttpResponse:
    plan = plan_or_404(pk)
    found = report_or_back(request, plan, year)
    if isinstance(found, HttpResponse):
        return found
    made = reports.report_send(plan=plan, year=year, user=request.user, today=today_for(request.practice))
    messages.success(request, _("{made} is on record and will not change.").format(made=made))
    return redirect("sent_report", request.practice.slug, made.pk)


@require_safe
@practice_view(Right.SEE_PRICES)
def sent(request: PracticeRequest, pk: int) -> HttpResponse:
    """A report as it was sent, read from what was stored and from nothing else."""
    row = get_object_or_404(SentReport.objects.select_related("plan").defer("pdf"), pk=pk)
    report = read_report(row.content)
    context: dict[str, Any] = {"sent": row, "plan": row.plan}
    if report:
        context |= report_shown(report, photo_at(request))
    return render(request, "plans/sent_report.html", context)


@require_safe
@practice_view(Right.SEE_PRICES)
def sent_pdf(request: PracticeRequest, pk: int) -> HttpResponse:
    """The very bytes that were sent."""
    row = get_object_or_404(SentReport.objects.select_related("plan").defer("content"), pk=pk)
    name = f"season-report-{row.year}-{file_stem(row.plan.title)}.pdf"
    return as_file(bytes(row.pdf), "application/pdf", name, inline="inline" in request.GET)
