"""Pages for what went wrong: each says what happened and what can be done."""

from __future__ import annotations

import re
from typing import Any

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils import translation

from consulting.reading import language_of

SECRET = re.compile("password|csrf|token|code|credential|secret", re.IGNORECASE)


def said(request: HttpRequest, template: str, status: int, **context: Any) -> HttpResponse:
    """The page in the language of whoever met the trouble."""
    with translation.override(language_of(request) or translation.get_language()):
        return render(request, template, context, status=status)


def bad_request(request: HttpRequest, exception: Exception) -> HttpResponse:
    return said(request, "400.html", 400)


def permission_denied(request: HttpRequest, exception: Exception) -> HttpResponse:
    return said(request, "403.html", 403)


def page_not_found(request: HttpRequest, exception: Exception) -> HttpResponse:
    return said(request, "404.html", 404)


def server_error(request: HttpRequest) -> HttpResponse:
    """Uses neither the database nor the session: they may be what failed."""
    from django.template.loader import render_to_string

    return HttpResponse(render_to_string("500.html"), status=500)


def csrf_failure(request: HttpRequest, reason: str = "") -> HttpResponse:
    """Shows what was typed, to be copied; it is not sent on, since it may not have been typed here."""
    typed = [
        (name.replace("_", " "), value)
        for name, values in request.POST.lists()
        if not SECRET.search(name)
        for value in values
        if value.strip()
    ]
    return said(request, "403_csrf.html", 403, typed=typed, again=request.path)
