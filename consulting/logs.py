"""What is written down of requests, queries and errors: enough to find a fault, nothing of a person.

An address is written as its pattern, a query without its values, an error as its kind and the lines it came
through: what was typed, a name, a mail or network address or a key never stands in a log.
"""

from __future__ import annotations

import json
import logging
import re
import traceback
from collections.abc import Callable
from contextvars import ContextVar
from datetime import UTC, datetime
from time import monotonic
from typing import Any
from uuid import uuid4

from django.conf import settings
from django.db.backends.base.base import BaseDatabaseWrapper
from django.http import HttpRequest, HttpResponse

requests_log = logging.getLogger("consulting.requests")
queries_log = logging.getLogger("consulting.queries")

request_id: ContextVar[str] = ContextVar("request_id", default="")
route: ContextVar[str] = ContextVar("route", default="")
KNOWN_ID = re.compile(r"[A-Za-z0-9._-]{8,64}")
PROBES = frozenset({"health/", "ready/"})
LONGEST_SQL = 2000
KEY_IN_ADDRESS = re.compile(r"(?<=/client/)[^/\s]+|(?<=/calendar/)[^/\s]+|(?<=/invitation/)[^/\s]+")
HIDDEN = (
    (KEY_IN_ADDRESS, "[key]"),
    (re.compile(r"[^\s<>\"'(]+@[^\s<>\"')]+"), "[mail address]"),
    (re.compile(r"\b\d{1,3}(\.\d{1,3}){3}\b"), "[network address]"),
    (re.compile(r"\b(?:[0-9a-fA-F]{0,4}:){3,7}[0-9a-fA-F]{0,4}\b"), "[network address]"),
    (re.compile(r"\b[A-Za-z0-9_-]{32,}\b"), "[key]"),
)
"""What other people's messages may hold."""


def hide(text: str) -> str:
    for what, instead in HIDDEN:
        text = what.sub(instead, text)
    return text


class JsonLines(logging.Formatter):
    """One object a line: at, level, logger, message, request, route, and what the record adds as `fields`."""

    def format(self, record: logging.LogRecord) -> str:
        said: dict[str, Any] = {
            "at": datetime.fromtimestamp(record.created, UTC).isoformat(timespec="milliseconds"),
            "level": record.levelname.lower(),
            "logger": record.name,
            "message": self.message_of(record),
        }
        if request_id.get():
            said["request"] = request_id.get()
        if hasattr(record, "request") or route.get():
            said["route"] = route_of(getattr(record, "request", None)) or route.get()
        said |= getattr(record, "fields", {})
        if record.exc_info and record.exc_info[1] is not None:
            said["error"] = error_of(record.exc_info[1])
        return json.dumps(said, ensure_ascii=False, default=str)

    def message_of(self, record: logging.LogRecord) -> str:
        """A message about a request quotes what was asked for: its form must do, or else who says it."""
        if not hasattr(record, "request"):
            return hide(record.getMessage())
        form = str(record.msg)
        return form.replace(": %s", "").replace("%s", "…") if record.args else record.name


class PlainLines(logging.Formatter):
    """For someone who reads along on his own machine: with the error's words, without addresses and keys."""

    def format(self, record: logging.LogRecord) -> str:
        return hide(super().format(record))


def error_of(error: BaseException) -> dict[str, Any]:
    """The kind of an error, what caused it, and where: its own words may quote a row of the database."""
    frames = traceback.extract_tb(error.__traceback__)
    found: dict[str, Any] = {
        "kind": f"{type(error).__module__}.{type(error).__qualname__}",
        "where": [f"{frame.filename}:{frame.lineno} {frame.name}" for frame in frames],
    }
    if (cause := error.__cause__ or error.__context__) is not None:
        found["cause"] = error_of(cause)
    return found


def route_of(request: Any) -> str:
    """The pattern of an address, `<slug:practice>/plans/<int:pk>/`; empty for one that leads nowhere."""
    match = getattr(request, "resolver_match", None)
    return match.route if match else ""


class RequestLog:
    """Gives each request a name, which the answer carries, and writes down how it went."""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]):
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        given = request.headers.get("X-Request-ID", "") if settings.BEHIND_PROXY else ""
        name = given if KNOWN_ID.fullmatch(given) else uuid4().hex
        id_token, route_token = request_id.set(name), route.set("")
        begun = monotonic()
        try:
            response = self.get_response(request)
            self.write(request, response, round((monotonic() - begun) * 1000))
        finally:
            request_id.reset(id_token)
            route.reset(route_token)
        response["X-Request-ID"] = name
        return response

    def process_view(self, request: HttpRequest, *args: Any) -> None:
        route.set(route_of(request))

    def write(self, request: HttpRequest, response: HttpResponse, ms: int) -> None:
        pattern = route_of(request)
        unasked = pattern in PROBES or request.path.startswith(settings.STATIC_URL)
        if unasked and response.status_code < 400:
            return
        fields = {
            "method": request.method if request.method in METHODS else "other",
            "route": pattern,
            "status": response.status_code,
            "ms": ms,
        }
        level = logging.ERROR if response.status_code >= 500 else logging.INFO
        requests_log.log(level, "request", extra={"fields": fields})


METHODS = frozenset({"GET", "HEAD", "POST", "PUT", "PATCH", "DELETE", "OPTIONS"})


def watch_queries(sender: Any, connection: BaseDatabaseWrapper, **kwargs: Any) -> None:
    """Have every query of a connection timed, once."""
    if settings.SLOW_QUERY_MS and timed not in connection.execute_wrappers:
        connection.execute_wrappers.append(timed)


def timed(execute: Callable[..., Any], sql: str, params: Any, many: bool, context: Any) -> Any:
    begun = monotonic()
    try:
        return execute(sql, params, many, context)
    finally:
        ms = round((monotonic() - begun) * 1000)
        if ms >= settings.SLOW_QUERY_MS:
            fields = {"sql": " ".join(str(sql).split())[:LONGEST_SQL], "ms": ms}
            queries_log.warning("slow query", extra={"fields": fields})
