"""Lists that come in and go out. Nothing of a file is written before its differences were looked at."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from django.contrib import messages
from django.core.exceptions import ValidationError
from django.http import Http404, HttpResponse, HttpResponseBase, StreamingHttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.template.loader import render_to_string
from django.utils.html import format_html
from django.utils.translation import gettext
from django.views.decorators.http import require_http_methods, require_POST, require_safe
from django_scopes import scope

from consulting.access import PracticeRequest, practice_view
from consulting.clock import today_for
from consulting.formkit import show_errors
from consulting.policy import Right
from plans.documents.rows import as_csv, as_workbook
from plans.forms.in_out import ListForm, MatchForm
from plans.in_out import taking
from plans.in_out.going_out import rows_of
from plans.in_out.kinds import KINDS, Kind
from plans.in_out.reading import Sheet, Unreadable
from plans.models import ListUpload
from plans.own_species import known
from plans.services import Refused
from plans.views.offers import XLSX, as_file
from sites.bringing import readable

PROGRESS = "@@progress@@"


def kind_or_404(key: str) -> Kind:
    if key not in KINDS:
        raise Http404("no such list")
    return KINDS[key]


@require_safe
@practice_view(Right.EDIT_RECORDS)
@known()
def lists(request: PracticeRequest) -> HttpResponse:
    waiting = ListUpload.objects.defer("data").filter(by=request.user)
    context = {
        "kinds": KINDS.values(),
        "waiting": [(upload, KINDS[upload.kind]) for upload in waiting if upload.kind in KINDS],
    }
    return render(request, "in_out/lists.html", context)


@require_http_methods(["GET", "HEAD", "POST"])
@practice_view(Right.EDIT_RECORDS)
@known()
def bring(request: PracticeRequest, kind: str) -> HttpResponse:
    part = kind_or_404(kind)
    form = ListForm(request.POST or None, request.FILES or None)
    if form.is_valid():
        file = form.cleaned_data["file"]
        try:
            upload = taking.upload_keep(
                practice=request.practice,
                kind=part,
                by=request.user,
                name=readable(file.name),
                data=file.read(),
            )
            return redirect("list_brought", request.practice.slug, upload.pk)
        except Unreadable as error:
            form.add_error("file", readable(str(error)))
    context = {"form": form, "kind": part, "columns": part.columns(request.practice)}
    return render(request, "in_out/bring.html", context, status=422 if form.errors else 200)


@require_safe
@practice_view(Right.EDIT_RECORDS)
@known()
def go_out(request: PracticeRequest, kind: str, form: str) -> HttpResponse:
    part = kind_or_404(kind)
    if form not in ("csv", "xlsx"):
        raise Http404("no such form of a list")
    columns, rows = rows_of(part, request.practice)
    if form == "csv":
        return as_file(as_csv(columns, rows).encode(), "text/csv; charset=utf-8", f"{part.key}.csv")
    today = today_for(request.practice)
    about = [request.practice.name, f"{today}"]
    title = str(part.title)
    content = as_workbook(columns, rows, title=title, about=about, on=today, name=title)
    return as_file(content, XLSX, f"{part.key}.xlsx")


def upload_or_404(request: PracticeRequest, pk: int) -> ListUpload:
    upload = get_object_or_404(ListUpload.objects.select_related("practice"), pk=pk)
    if upload.kind not in KINDS:
        raise Http404("no such list")
    return upload


@require_safe
@practice_view(Right.EDIT_RECORDS)
@known()
def brought(request: PracticeRequest, pk: int) -> HttpResponseBase:
    """What the file would do here. A long list says how far its check is."""
    upload = upload_or_404(request, pk)
    sheet = taking.sheet_of(upload)
    missing = taking.checker_of(upload, sheet).missing
    if missing:
        names = ", ".join(column.title for column in missing)
        messages.error(
            request, gettext("Which column holds this: {names}? Choose below.").format(names=names)
        )
        return redirect("list_match", request.practice.slug, pk)
    if len(sheet.rows) <= taking.AT_ONCE:
        *_, looked = taking.look(upload, sheet)
        return HttpResponse(_page(request, upload, sheet, looked))
    return StreamingHttpResponse(_told(request, upload, sheet))


def _told(request: PracticeRequest, upload: ListUpload, sheet: Sheet) -> Iterator[str]:
    """The page in parts: its head at once, a line each thousand rows, and what was found at the end."""
    with scope(practice=request.practice), known():
        begun = _page(request, upload, sheet, None).partition(PROGRESS)[0]
        yield begun
        for looked in taking.look(upload, sheet):
            rows = gettext("{done} of {total} rows").format(
                done=f"{looked.done:,}", total=f"{looked.total:,}"
            )
            yield format_html("<li>{}</li>", rows)
        yield _page(request, upload, sheet, looked).partition(PROGRESS)[2]


def _page(request: PracticeRequest, upload: ListUpload, sheet: Sheet, looked: taking.Looked | None) -> str:
    kind = KINDS[upload.kind]
    titles = {column.name: column.title for column in kind.columns(request.practice)}
    matched = [(titles[name], sheet.heads[at]) for name, at in upload.matched.items() if name in titles]
    context = {
        "upload": upload,
        "kind": kind,
        "sheet": sheet,
        "matched": matched,
        "unused": [head for at, head in enumerate(sheet.heads) if head and at not in upload.matched.values()],
        "looked": looked,
        "progress": PROGRESS if len(sheet.rows) > taking.AT_ONCE else "",
    }
    if looked:
        context["groups"] = [
            (title, what, looked.some(what), looked.counts[what], looked.unshown(what))
            for title, what in (
                (gettext("Wrong"), "wrong"),
                (gettext("Changed"), "changed"),
                (gettext("New"), "new"),
            )
            if looked.counts[what]
        ]
    return render_to_string("in_out/brought.html", context, request)


@require_http_methods(["GET", "HEAD", "POST"])
@practice_view(Right.EDIT_RECORDS)
@known()
def match(request: PracticeRequest, pk: int) -> HttpResponse:
    upload = upload_or_404(request, pk)
    kind, sheet = KINDS[upload.kind], taking.sheet_of(upload)
    mark = {None: "", False: "point", True: "comma"}[upload.decimal_comma]
    form = MatchForm(
        request.POST or None,
        columns=kind.columns(request.practice),
        sheet=sheet,
        initial={"mark": mark} | {name: str(at) for name, at in upload.matched.items()},
    )
    if form.is_valid():
        try:
            taking.upload_match(upload=upload, matched=form.matched(), decimal_comma=form.decimal_comma())
            return redirect("list_brought", request.practice.slug, pk)
        except ValidationError as error:
            show_errors(form, error)
    context: dict[str, Any] = {"form": form, "kind": kind, "upload": upload, "sheet": sheet}
    return render(request, "in_out/match.html", context, status=422 if form.errors else 200)


@require_POST
@practice_view(Right.EDIT_RECORDS)
@known()
def take(request: PracticeRequest, pk: int) -> HttpResponse:
    upload = upload_or_404(request, pk)
    kind = KINDS[upload.kind]
    try:
        counts = taking.upload_take(upload=upload, seen=request.POST.get("seen", ""), user=request.user)
    except Refused as refused:
        messages.error(request, str(refused))
        return redirect("list_brought", request.practice.slug, pk)
    said = gettext("{list}: {added} added, {changed} changed, from {file}.")
    added, changed = f"{counts['new']:,}", f"{counts['changed']:,}"
    messages.success(request, said.format(list=kind.title, added=added, changed=changed, file=upload.name))
    return redirect("lists", request.practice.slug)


@require_POST
@practice_view(Right.EDIT_RECORDS)
def drop(request: PracticeRequest, pk: int) -> HttpResponse:
    """Leaves the file, of which nothing was kept."""
    upload = get_object_or_404(ListUpload.objects.defer("data"), pk=pk)
    upload.delete()
    messages.success(request, gettext("{name} is gone again. Nothing was changed.").format(name=upload.name))
    return redirect("lists", request.practice.slug)
