"""Reads that may be a moment old, asked of a replica of the database; everything else of the primary.

A request that only looks (GET, HEAD) reads from the replica. From the first write on it reads what was
written, and so does its browser for `REPLICA_SECONDS` afterwards: a cookie of that age says so, so that no
process has to remember anybody. What is read within a transaction or locked is asked of the primary, and so
are limits and who somebody is: whoever was logged out or lost a right has lost it everywhere at once. A
replica that does not answer, or that is further behind than those seconds, is left alone until it is there
again.
"""

from __future__ import annotations

import logging
import time
from collections import deque
from collections.abc import Callable
from contextvars import ContextVar
from typing import Any

from django.conf import settings
from django.db import DEFAULT_DB_ALIAS, DatabaseError, connections
from django.db.models import Model
from django.http import HttpRequest, HttpResponse

from consulting.logs import PROBES

logger = logging.getLogger(__name__)

PRIMARY, REPLICA = DEFAULT_DB_ALIAS, "replica"
COOKIE = "reads_primary"
LOOKS = frozenset({"GET", "HEAD"})
OF_CACHE = "django_cache"
"""The app that Django's cache, in which limits are counted, gives its table."""
AT_ONCE = frozenset(
    {"sessions.session", "consulting.user", "consulting.membership", "plans.clientlink", "plans.calendarfeed"}
)
"""Tables of who may come in."""

_aside: ContextVar[bool] = ContextVar("aside", default=False)
"""Whether what is asked now may be asked of the replica."""
_wrote: ContextVar[bool] = ContextVar("wrote", default=False)


class Router:
    """Django's question which database to ask, for each query."""

    def db_for_read(self, model: type[Model], **hints: Any) -> str:
        if not _aside.get() or connections[PRIMARY].in_atomic_block:
            return PRIMARY
        meta = model._meta
        return PRIMARY if meta.app_label == OF_CACHE or meta.label_lower in AT_ONCE else REPLICA

    def db_for_write(self, model: type[Model], **hints: Any) -> str:
        if model._meta.app_label != OF_CACHE:
            _aside.set(False)
            _wrote.set(True)
        return PRIMARY

    def allow_relation(self, one: Model, other: Model, **hints: Any) -> bool:
        """They hold the same rows."""
        return True

    def allow_migrate(self, db: str, app_label: str, **hints: Any) -> bool:
        return db != REPLICA


class ReadsAside:
    """Lets a request that only looks read from the replica, unless its browser wrote a moment ago."""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]):
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        looks = request.method in LOOKS and COOKIE not in request.COOKIES
        looks = looks and request.path_info.lstrip("/") not in PROBES
        aside, wrote = _aside.set(looks and watch.fresh()), _wrote.set(False)
        try:
            response = self.get_response(request)
            if _wrote.get() or request.method not in LOOKS:
                response.set_cookie(
                    COOKIE,
                    "1",
                    max_age=settings.REPLICA_SECONDS,
                    httponly=True,
                    secure=settings.SESSION_COOKIE_SECURE,
                    samesite="Lax",
                )
        finally:
            _aside.reset(aside)
            _wrote.reset(wrote)
        return response


class Watch:
    """How far the replica is behind, looked at once a second at most by each process."""

    def __init__(self) -> None:
        self.looked = 0.0
        self.was_fresh = False
        self.places: deque[tuple[float, int]] = deque(maxlen=600)
        """When the primary's log had reached which byte."""

    def fresh(self) -> bool:
        """Whether it holds all that had been written `REPLICA_SECONDS` ago."""
        now = time.monotonic()
        if now - self.looked >= 1:
            self.looked = now
            before, self.was_fresh = self.was_fresh, self._look(now)
            if before != self.was_fresh:
                logger.warning("replica %s", "is read from" if self.was_fresh else "is left alone")
        return self.was_fresh

    def _look(self, now: float) -> bool:
        try:
            there, here = place(REPLICA, "pg_last_wal_replay_lsn()"), place(PRIMARY, "pg_current_wal_lsn()")
        except DatabaseError:
            connections[REPLICA].close()
            return False
        if there is None or here is None:  # no replica at all
            return False
        self.places.append((now, here))
        then = now - settings.REPLICA_SECONDS
        known = [reached for at, reached in self.places if then - settings.REPLICA_SECONDS <= at <= then]
        # Where nobody looked at that time, it has to hold all.
        return there >= (known[-1] if known else here)


def place(alias: str, of: str) -> int | None:
    """How far a database's log has come [bytes]; None where it keeps none of that kind."""
    with connections[alias].cursor() as cursor:
        cursor.execute(f"SELECT ({of} - '0/0'::pg_lsn)::bigint")
        found: int | None = cursor.fetchone()[0]
    return found


watch = Watch()
