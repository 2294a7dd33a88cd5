"""Taking all of a practice away, and erasing it. Only an owner, who has just proved again who they are."""

from __future__ import annotations

import tempfile

from django.contrib import messages
from django.http import FileResponse, HttpResponse, HttpResponseBase
from django.shortcuts import redirect, render
from django.utils import timezone
from django.utils.translation import gettext as _
from django.utils.translation import ngettext
from django.views.decorators.http import require_http_methods, require_safe

from consulting.access import PracticeRequest, practice_view
from consulting.clock import today_for
from consulting.formkit import attempt
from consulting.policy import Right
from plans.forms.leaving import EraseForm
from plans.leaving import practice_erase, take_away


@require_safe
@practice_view(Right.RUN_PRACTICE, proven="always")
def taken(request: PracticeRequest) -> HttpResponseBase:
    """All of the practice's rows, files, lists and maps as one zip."""
    on = today_for(request.practice)
    file = tempfile.TemporaryFile()  # noqa: SIM115 - the response closes it
    take_away(request.practice, file, on=on)
    file.seek(0)
    return FileResponse(file, as_attachment=True, filename=f"{request.practice.slug}-{on}.zip")


@require_http_methods(["GET", "HEAD", "POST"])
@practice_view(Right.RUN_PRACTICE, proven="always")
def leave(request: PracticeRequest) -> HttpResponse:
    form = EraseForm(request.POST or None)
    if form.is_valid():
        moment = {"now": timezone.now(), "today": today_for(request.practice)}
        kept = attempt(form, practice_erase, practice=request.practice, **moment)
        if kept is not None:
            said = _("{name} is erased.").format(name=request.practice.name)
            if kept:
                stays = ngettext(
                    "{count} record of work stays as long as the law asks.",
                    "{count} records of work stay as long as the law asks.",
                    kept,
                )
                said = f"{said} {stays.format(count=kept)}"
            messages.success(request, said)
            return redirect("home")
    return render(request, "consulting/leave.html", {"form": form}, status=422 if form.errors else 200)
