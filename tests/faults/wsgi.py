"""The site as gunicorn runs it, struck where a request's header says."""

from __future__ import annotations

import os
from collections.abc import Callable, Iterable
from typing import Any

os.environ["DJANGO_SETTINGS_MODULE"] = "tests.faults.settings"

from django.urls import get_resolver

from consulting.wsgi import application as site
from tests.faults.strike import Strike, fix_the_day, watched

get_resolver().check()  # reads all views, before workers are forked from this process


def application(environ: dict[str, Any], start_response: Callable[..., Any]) -> Iterable[bytes]:
    told = environ.get("HTTP_X_STRIKE", "")
    fix_the_day(environ["HTTP_X_DAY"])
    begun: list[Any] = []
    with watched(Strike.read(told) if told else None) as steps:
        answer = site(environ, lambda *said: begun.append(said))
        body = list(answer)
        answer.close()  # type: ignore[attr-defined]
        steps.end()
    status, headers = begun[0][:2]
    start_response(status, [*headers, ("X-Steps", steps.done)])
    return body
