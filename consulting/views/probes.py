"""Whether the site lives and whether it can work: for whatever watches it. They say no more than that."""

from __future__ import annotations

from functools import cache

from django.db import DatabaseError, connection
from django.db.migrations.loader import MigrationLoader
from django.db.migrations.recorder import MigrationRecorder
from django.http import HttpRequest, HttpResponse
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_safe


@cache
def migrations() -> frozenset[tuple[str, str]]:
    """Every one that this version brings; read once, as the program does not change while it runs."""
    return frozenset(MigrationLoader(None).graph.nodes)


def missing() -> str:
    """What keeps the site from working; empty when nothing does."""
    try:
        applied = MigrationRecorder(connection).applied_migrations()
    except DatabaseError:
        return "the database does not answer"
    return "" if migrations() <= applied.keys() else "migrations have not run"


@require_safe
@never_cache
def health(request: HttpRequest) -> HttpResponse:
    """This process answers."""
    return HttpResponse("alive\n", content_type="text/plain")


@require_safe
@never_cache
def ready(request: HttpRequest) -> HttpResponse:
    """The database answers and fits this version: requests may be sent here."""
    problem = missing()
    return HttpResponse(f"{problem or 'ready'}\n", content_type="text/plain", status=503 if problem else 200)
