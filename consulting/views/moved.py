"""What is shown where a form met records that somebody changed or removed meanwhile. Nothing is written."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from django.apps import apps
from django.core.exceptions import FieldDoesNotExist
from django.http import Http404, HttpRequest, HttpResponse, HttpResponseBase
from django.shortcuts import render
from django.urls import reverse
from django.utils.http import url_has_allowed_host_and_scheme
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from consulting.beside import Beside, beside, typed_in_words, typed_into
from consulting.changes import Change
from consulting.followed import ChangedMeanwhile, OwnChange
from consulting.on_records import MEND
from consulting.once import WORD
from consulting.opened import OPENED, MovedOn, changes_since, own_changes_since, removed_since, stamp

CAME_FROM = "came_from"
NOT_CARRIED = frozenset({"csrfmiddlewaretoken", OPENED, CAME_FROM, MEND})
LONGEST_SHOWN = 120
BY = {"client": gettext_lazy("the client, on their page"), "itself": gettext_lazy("the site by itself")}


@dataclass(frozen=True, slots=True)
class Told:
    """A change since the form was opened: by whom, and what of it."""

    at: datetime
    by: str
    columns: tuple[str, ...]
    fields: Mapping[str, list[Any]]
    """What it touched, by the name of its field: [before, after], [before], or [] where that is not kept."""
    key: int = 0
    act: str = ""
    record: str = ""
    sentence: str = ""
    """All of it, of a record that keeps its own history."""


def unless_moved(request: HttpRequest, answer: Callable[[], HttpResponseBase]) -> HttpResponseBase:
    """The answer of a view, or both sides where its records moved on since the form was opened.

    Where somebody writes between a view's reading and its writing, it reads once more: then it sees it.
    """
    try:
        try:
            return answer()
        except ChangedMeanwhile:
            for _name, files in request.FILES.lists():
                for file in files:
                    file.seek(0)
            return answer()
    except MovedOn as moved:
        return moved_page(request, moved)
    except ChangedMeanwhile as late:
        return moved_page(request, MovedOn([late.now] if late.now else [], stamp([late.row])))
    except Http404:
        gone = removed_since(request.POST.get(OPENED, "")) if request.method == "POST" else []
        if not gone:
            raise
        return gone_page(request, gone)


def moved_page(request: HttpRequest, moved: MovedOn) -> HttpResponse:
    form: Any = moved.form
    told = [
        *_told(changes_since(moved.opened, moved.rows)),
        *_told_by_themselves(own_changes_since(moved.opened, moved.rows)),
    ]
    carried = [name for name in request.POST if name not in NOT_CARRIED]
    context: dict[str, Any] = {
        "told": told,
        "record": moved.rows[0].called if moved.rows else _("this"),
        "act": form is None or form.adds,
        "stands": list(form.stands()) if form else [],
        "typed": typed_into(form) if form and form.adds else [],
        "sides": [(row, *_latest(row, told)) for row in beside(form)] if form and not form.adds else [],
        "carried": [(name, text) for name in carried for text in request.POST.getlist(name)],
        "opened": stamp(moved.rows),
        "had_files": bool(request.FILES),
        "word": request.POST.get(WORD, ""),
        "back": _way_back(request),
    }
    response = render(request, "consulting/moved.html", context, status=409)
    if "HX-Request" in request.headers:
        # What was asked to be put into a part of the page takes its place.
        response["HX-Retarget"] = response["HX-Reselect"] = "#main"
        response["HX-Reswap"] = "outerHTML show:#main:top"
    return response


def gone_page(request: HttpRequest, gone: list[Change]) -> HttpResponse:
    context = {
        "told": [*_told(gone)],
        "typed": typed_in_words(request.POST),
        "back": reverse("overview", args=[request.practice.slug]),  # type: ignore[attr-defined]
    }
    return render(request, "consulting/gone.html", context, status=404)


def _told(changes: Iterable[Change]) -> Iterator[Told]:
    for change in changes:
        model: Any = next((one for one in apps.get_models() if one._meta.model_name == change.kind), None)
        what = str(model._meta.verbose_name) if model else change.kind
        by = change.by_name or str(BY.get(change.way, ""))
        yield Told(
            at=change.at,
            by=by,
            columns=tuple(_column(model, *one) for one in change.fields.items()),
            fields=change.fields,
            key=change.key,
            act=str(change.get_what_display()),
            record=change.name or what,
        )


def _told_by_themselves(changes: Iterable[OwnChange]) -> Iterator[Told]:
    for change in changes:
        yield Told(change.at, change.by, change.parts, change.fields, sentence=change.sentence)


def _column(model: Any, name: str, values: list[Any]) -> str:
    """`acres: 12 → 14`, or the column alone where its values are not kept or too long to read in a line."""
    try:
        label = _(str(model._meta.get_field(name).verbose_name))
    except (AttributeError, FieldDoesNotExist):
        label = name
    shown = [_short(value) for value in values]
    if not shown or None in shown:
        return label
    return _("{what}: {before} → {after}").format(what=label, before=shown[0], after=shown[1])


def _short(value: Any) -> str | None:
    if isinstance(value, dict | list):
        return None
    if isinstance(value, bool):
        return _("yes") if value else _("no")
    text = _("nothing") if value in (None, "") else f"{value}"
    return text if len(text) <= LONGEST_SHOWN else None


def _latest(row: Beside, told: list[Told]) -> tuple[Told | None, bool]:
    """The latest change to what a field shows, and whether the person left it as it was before.

    A field of one of several records is named `12-column`.
    """
    key, _dash, column = row.name.rpartition("-")
    own = [one for one in told if column in one.fields and key in ("", f"{one.key}")]
    first = own[-1].fields[column] if own else []
    untouched = bool(first) and (_same(first[0], row.value) or first[0] == row.typed)
    return own[0] if own else None, untouched


def _same(kept: Any, sent: str) -> bool:
    """Whether what was sent is what was kept: 12 is 12.0."""
    text = "" if kept is None else "\n".join(f"{kept}".splitlines())
    if text == "\n".join(sent.splitlines()):
        return True
    try:
        return float(text) == float(sent)
    except ValueError:
        return False


def _way_back(request: HttpRequest) -> str:
    """The page that the form stood on."""
    asked = request.POST.get(CAME_FROM) or request.headers.get("Referer", "")
    if url_has_allowed_host_and_scheme(asked, {request.get_host()}, require_https=request.is_secure()):
        return asked
    return reverse("overview", args=[request.practice.slug])  # type: ignore[attr-defined]
