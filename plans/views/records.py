"""Records of work: found, read, printed, corrected, and the chain checked."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from typing import Any

from django.contrib import messages
from django.core.exceptions import ValidationError
from django.core.paginator import Paginator
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils.translation import gettext
from django.views.decorators.http import require_http_methods, require_safe

from consulting.access import PracticeRequest, practice_view
from consulting.clock import today_for
from consulting.formkit import show_errors
from consulting.policy import Right, may
from consulting.services import save
from plans.documents.record_sheet import records_csv, records_xlsx
from plans.documents.records import LABEL_FIRST, records_pdf
from plans.documents.words import number
from plans.forms.records import AskedForm, CorrectForm
from plans.lots_drawn import moves_of, said
from plans.manners import manner_of, speaking
from plans.models import WorkRecord
from plans.planning.sprayday import wind_cautions
from plans.record_pages import (
    MOST_IN_A_WORKBOOK,
    MOST_PRINTED,
    PER_PAGE,
    RecordsAsked,
    after_of,
    arranged,
    choices,
    entered,
    versions,
)
from plans.record_rows import record_rows
from plans.records import Corrected, Kind, asked_by, chain, record_correct
from plans.services import Refused
from plans.views.offers import XLSX, as_file, file_stem


def record_or_404(pk: int) -> Any:
    rows = WorkRecord.objects.select_related("corrects", "visit__field").prefetch_related("lines")
    return get_object_or_404(rows, pk=pk)


@require_safe
@practice_view(Right.SEE_WORK)
def records(request: PracticeRequest) -> HttpResponse:
    asked = RecordsAsked.of(request.GET)
    page = Paginator(asked.rows(), PER_PAGE).get_page(asked.page)
    keeping = asked_by(request.practice)
    context = {
        "asked": asked,
        "choices": choices(asked),
        "page": page,
        "rows": [(row, arranged(row, request.practice, keeping.keep_years)) for row in page.object_list],
        "keep_years": keeping.keep_years,
        "older": replace(asked, page=page.next_page_number()).query if page.has_next() else "",
        "newer": replace(asked, page=page.previous_page_number()).query if page.has_previous() else "",
        "whole": asked.whole,
        "narrow": page.paginator.count > MOST_PRINTED,
        "label_first": gettext(LABEL_FIRST),
    }
    return render(request, "work/records.html", context)


@require_safe
@practice_view(Right.SEE_WORK)
def csv(request: PracticeRequest) -> HttpResponse:
    asked = RecordsAsked.of(request.GET)
    found = record_rows(asked, request.practice, asked_by(request.practice).keep_years)
    name = f"records-{file_stem(asked.title())}.csv"
    return as_file(records_csv(found.rows, found.labels).encode(), "text/csv; charset=utf-8", name)


@require_safe
@practice_view(Right.SEE_WORK)
def xlsx(request: PracticeRequest) -> HttpResponse:
    asked, practice = RecordsAsked.of(request.GET), request.practice
    if asked.standing().count() > MOST_IN_A_WORKBOOK:
        return narrow(request, asked, MOST_IN_A_WORKBOOK)
    found = record_rows(asked, practice, asked_by(practice).keep_years)
    title = asked.title()
    content = records_xlsx(
        found.rows, found.labels, practice=practice.name, title=title, on=today_for(practice)
    )
    return as_file(content, XLSX, f"records-{file_stem(title)}.xlsx")


def narrow(request: PracticeRequest, asked: RecordsAsked, most: int) -> HttpResponse:
    """Back to the list, where less can be asked for."""
    many = gettext("More than {most} records fit. Choose a client, a field or a season first.")
    messages.error(request, many.format(most=number(most)))
    response = redirect("records", request.practice.slug)
    response["Location"] += asked.whole
    return response


@require_safe
@practice_view(Right.SEE_WORK)
def pdf(request: PracticeRequest) -> HttpResponse:
    """All that is asked for, the oldest first; too much for one file is sent back to be narrowed."""
    asked = RecordsAsked.of(request.GET)
    rows = asked.rows().order_by("on", "number")
    if rows.count() > MOST_PRINTED:
        return narrow(request, asked, MOST_PRINTED)
    return printed(request, [(row, None) for row in rows], asked.title)


def printed(
    request: PracticeRequest, rows: list[tuple[WorkRecord, WorkRecord | None]], titled: Callable[[], str]
) -> HttpResponse:
    """Records, each with the one that followed it, in the practice's own language."""
    practice = request.practice
    keep_years = asked_by(practice).keep_years
    with speaking(manner_of(practice)):
        title = titled()
        content = records_pdf(
            [arranged(row, practice, keep_years, after) for row, after in rows],
            practice=practice.name,
            address=practice.address,
            title=title,
            printed_on=today_for(practice),
        )
    name = f"records-{file_stem(title)}.pdf"
    return as_file(content, "application/pdf", name, inline="inline" in request.GET)


@require_safe
@practice_view(Right.SEE_WORK)
def record(request: PracticeRequest, pk: int) -> HttpResponse:
    found = record_or_404(pk)
    every, keep_years = versions(found), asked_by(request.practice).keep_years
    latest = every[-1]
    context = {
        "record": found,
        "shown": arranged(found, request.practice, keep_years, after_of(found)),
        "latest": latest,
        "standing": latest.pk == found.pk and not found.taken_back,
        "versions": [(one, entered(one, request.practice)) for one in every] if len(every) > 1 else [],
        "cautions": wind_cautions(found.wind_mph, found.sky) if found.kind == Kind.APPLICATION else (),
        "may_correct": may(request.membership, Right.RECORD_WORK),
        "label_first": gettext(LABEL_FIRST),
        "moves": [(move, said(move)) for move in moves_of(found)],
    }
    return render(request, "work/record.html", context)


@require_safe
@practice_view(Right.SEE_WORK)
def record_pdf(request: PracticeRequest, pk: int) -> HttpResponse:
    found = record_or_404(pk)
    return printed(
        request,
        [(found, after_of(found))],
        lambda: gettext("Record {number}").format(number=found.number),
    )


@require_http_methods(["GET", "HEAD", "POST"])
@practice_view(Right.RECORD_WORK)
def correct(request: PracticeRequest, pk: int) -> HttpResponse:
    """Add a record in place of this one; the one corrected stays to be read."""
    found = record_or_404(pk)
    labels = asked_by(request.practice).labels if found.kind == Kind.APPLICATION else []
    form = CorrectForm(request.POST or None, record=found, labels=labels)
    if request.method == "POST" and form.is_valid():
        try:
            if form.cleaned_data["on"] > today_for(request.practice):
                raise ValidationError(
                    {"on": gettext("That day is still to come. Enter the day of the work.")}
                )
            added = record_correct(
                record=found,
                user=request.user,
                uid=form.cleaned_data["uid"],
                because=form.cleaned_data["because"],
                values=form.values(),
                lines=form.lines(),
                draws=form.draws(),
            )
        except ValidationError as wrong:
            show_errors(form, wrong)
        except Corrected as late:
            messages.error(request, str(late))
            return redirect("record", request.practice.slug, late.record.pk)
        except Refused as refused:
            messages.error(request, str(refused))
            return redirect("record", request.practice.slug, pk)
        else:
            messages.success(request, gettext("Corrected. The record before stays to be read."))
            for move in moves_of(added):
                messages.info(request, said(move))
            return redirect("record", request.practice.slug, added.pk)
    context = {"record": found, "form": form}
    return render(request, "work/record_correct.html", context, status=422 if form.errors else 200)


@require_safe
@practice_view(Right.SEE_WORK)
def check(request: PracticeRequest) -> HttpResponse:
    """Whether every record says what it said when it was written."""
    return render(request, "work/records_check.html", {"chain": chain()})


@require_http_methods(["GET", "HEAD", "POST"])
@practice_view(Right.RUN_PRACTICE)
def labels(request: PracticeRequest) -> HttpResponse:
    """What the practice's state asks besides: of an application, and how long records are kept."""
    asked = asked_by(request.practice)
    form = AskedForm(request.POST if request.method == "POST" else None, asked=asked)
    if request.method == "POST" and form.is_valid():
        try:
            save(asked, **form.cleaned_data)
        except ValidationError as wrong:
            show_errors(form, wrong)
        else:
            messages.success(
                request, gettext("Kept. The next application asks for it, and every print says how long.")
            )
            return redirect("records", request.practice.slug)
    return render(request, "work/record_labels.html", {"form": form}, status=422 if form.errors else 200)
