"""Which reads a replica gets, and which never."""

from __future__ import annotations

import os
import subprocess
import sys
from collections.abc import Callable

import pytest
from django.contrib.sessions.models import Session
from django.core.cache import caches
from django.core.cache.backends.db import BaseDatabaseCache
from django.db import OperationalError
from django.http import HttpRequest, HttpResponse
from django.test import RequestFactory, override_settings

from consulting import replica
from consulting.models import Client, Membership
from consulting.replica import COOKIE, PRIMARY, REPLICA, ReadsAside, Router, Watch

KEY = "only for the tests: only for the tests: only for the tests"
router = Router()


@pytest.fixture(autouse=True)
def near(monkeypatch: pytest.MonkeyPatch) -> None:
    """A replica that is up to date, beside a primary in no transaction."""
    monkeypatch.setattr(Watch, "fresh", lambda self: True)
    monkeypatch.setattr(replica, "connections", {PRIMARY: type("Idle", (), {"in_atomic_block": False})()})


def asked(request: HttpRequest, *acts: Callable[[], str]) -> tuple[list[str], HttpResponse]:
    """Which databases a view that does this asks in turn, and its answer."""
    found: list[str] = []

    def view(request: HttpRequest) -> HttpResponse:
        found.extend(act() for act in acts)
        return HttpResponse()

    with override_settings(REPLICA_SECONDS=5):
        return found, ReadsAside(view)(request)


def read() -> str:
    return router.db_for_read(Client)


def write() -> str:
    return router.db_for_write(Client)


def test_a_request_that_looks_reads_from_the_replica() -> None:
    found, answer = asked(RequestFactory().get("/"), read, read)
    assert found == [REPLICA, REPLICA] and COOKIE not in answer.cookies
    assert read() == PRIMARY, "outside a request nobody reads aside"


def test_after_a_write_it_reads_what_it_wrote() -> None:
    found, answer = asked(RequestFactory().get("/"), read, write, read)
    assert found == [REPLICA, PRIMARY, PRIMARY]
    assert answer.cookies[COOKIE]["max-age"] == 5 and answer.cookies[COOKIE]["httponly"]


def test_a_form_that_is_sent_reads_from_the_primary_and_so_does_its_browser() -> None:
    found, answer = asked(RequestFactory().post("/"), read)
    assert found == [PRIMARY] and COOKIE in answer.cookies
    again = RequestFactory().get("/")
    again.COOKIES[COOKIE] = "1"
    found, answer = asked(again, read)
    assert found == [PRIMARY] and COOKIE not in answer.cookies, "it may read aside when its time is over"


def test_neither_a_transaction_nor_a_limit_nor_who_somebody_is_is_read_aside(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    cache = BaseDatabaseCache("cache", {})
    found, answer = asked(
        RequestFactory().get("/"),
        lambda: router.db_for_read(cache.cache_model_class),
        lambda: router.db_for_write(cache.cache_model_class),
        lambda: router.db_for_read(Membership),
        lambda: router.db_for_read(Session),
        read,
    )
    assert found == [*[PRIMARY] * 4, REPLICA] and COOKIE not in answer.cookies
    assert type(caches["default"]).__name__ == "DatabaseCache", "limits are counted over all processes"
    assert asked(RequestFactory().get("/health/"), read)[0] == [PRIMARY]
    monkeypatch.setattr(replica, "connections", {PRIMARY: type("Busy", (), {"in_atomic_block": True})()})
    assert asked(RequestFactory().get("/"), read)[0] == [PRIMARY]


@pytest.mark.parametrize(
    ("places", "fresh"),
    [
        ([(100, 100), (250, 250)], [True, True]),
        ([(100, 100), (99, 250)], [True, False]),
        ([(90, 100)], [False]),
        ([(None, 100)], [False]),
        ([OperationalError], [False]),
    ],
)
def test_a_replica_that_is_behind_or_away_is_left_alone(
    places: list[tuple[int | None, int]], fresh: list[bool], monkeypatch: pytest.MonkeyPatch
) -> None:
    closed = type("Lost", (), {"close": lambda self: None})()
    monkeypatch.setattr(replica, "connections", {REPLICA: closed})
    watch = Watch()

    def look(at: float, both: tuple[int | None, int]) -> bool:
        def place(alias: str, of: str) -> int | None:
            if both is OperationalError:
                raise OperationalError
            return both[alias == PRIMARY]

        monkeypatch.setattr(replica, "place", place)
        return watch._look(at)

    with override_settings(REPLICA_SECONDS=5):
        assert [look(6.0 * turn, both) for turn, both in enumerate(places)] == fresh


def test_only_postgresql_has_a_replica() -> None:
    given = {"SECRET_KEY": KEY, "DATABASE_URL": "sqlite:///x.sqlite3", "REPLICA_URL": "postgres://a@b/c"}
    done = subprocess.run(
        [sys.executable, "-c", "import consulting.settings"],
        env={"PATH": os.environ["PATH"], **given},
        capture_output=True,
        text=True,
    )
    assert done.returncode == 1 and "REPLICA_URL: only PostgreSQL has a replica" in done.stderr
