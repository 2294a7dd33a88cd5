"""What was typed before a session ran out, shown to its writer after the log-in."""

from __future__ import annotations

from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.utils.http import url_has_allowed_host_and_scheme
from django.views.decorators.http import require_http_methods

from consulting.access import PracticeRequest, practice_view
from consulting.left import forget, left_by
from consulting.policy import Right


@require_http_methods(["GET", "HEAD", "POST"])
@practice_view(Right.SEE_WORK)
def left(request: PracticeRequest) -> HttpResponse:
    """Ways on with it; sent here, it is thrown away."""
    found = left_by(request)
    if found is None:
        return redirect("overview", request.practice.slug)
    if request.method == "POST":
        forget(request)
        back = found.came_from
        return redirect(back if url_has_allowed_host_and_scheme(back, None) else "/")
    return render(request, "consulting/left.html", {"left": found})
