"""The cast: three people of one practice, and the owner of another. And which tests a run takes."""

from __future__ import annotations

import gc
import time
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import pytest
from django.conf import settings
from django.db import connection
from django.db.migrations.loader import MigrationLoader
from django.db.migrations.recorder import MigrationRecorder
from django.test import Client as Browser
from hypothesis import settings as hypothesis_settings

from consulting.models import Membership, Practice, User
from tests.factories import make_member, make_practice

# Nothing is timed: a slow machine is no fault of the code.
hypothesis_settings.register_profile("untimed", deadline=None)
hypothesis_settings.load_profile("untimed")


def pytest_collection_finish() -> None:
    """All that is loaded by now stays: gone through again and again, it would take a fifth of the time."""
    gc.collect()
    gc.freeze()
    gc.set_threshold(50_000, 20, 100)


NIGHTLY = frozenset({"access"})
ASKS = frozenset({"db", "transactional_db", "live_server"})


def pytest_addoption(parser: pytest.Parser) -> None:
    parser.addoption(
        "--asking-the-database",
        action="store_true",
        help="leave out tests that ask no database, or ask of it what is the same on any (on_any_database)",
    )
    parser.addoption("--nightly", action="store_true", help="with the tests that are too long for every day")


def pytest_ignore_collect(collection_path: Path, config: pytest.Config) -> bool | None:
    """Tests that are too long for every day stand aside until asked for."""
    return True if collection_path.name in NIGHTLY and not config.getoption("--nightly") else None


def pytest_collection_modifyitems(config: pytest.Config, items: list[pytest.Item]) -> None:
    if not config.getoption("--asking-the-database"):
        return

    def asks(item: pytest.Item) -> bool:
        if item.get_closest_marker("on_any_database"):
            return False
        return bool(item.get_closest_marker("django_db") or ASKS & set(getattr(item, "fixturenames", ())))

    config.hook.pytest_deselected(items=[item for item in items if not asks(item)])
    items[:] = [item for item in items if asks(item)]


@pytest.fixture(scope="session")
def django_db_setup(django_db_setup: None, django_db_blocker: Any) -> None:
    """Tables are made as the models stand, which takes a third of the time; they count as migrated."""
    settings.MIGRATION_MODULES = {}
    with django_db_blocker.unblock():
        recorder = MigrationRecorder(connection)
        recorder.ensure_schema()
        for app, name in MigrationLoader(None).disk_migrations:
            recorder.record_applied(app, name)


@dataclass
class Cast:
    practice: Practice
    owner: User
    planner: User
    crew: User
    other_practice: Practice
    stranger: User
    """Owner of the other practice."""

    def url(self, path: str = "") -> str:
        return f"/{self.practice.slug}/{path}"

    def browser(self, user: User | None = None, *, proven: bool = False) -> Browser:
        """A browser in which `user` is logged in; `proven`: and has just typed their password again."""
        browser = Browser()
        if user is not None:
            browser.force_login(user)
            if proven:
                prove(browser)
        return browser


def prove(browser: Browser) -> None:
    """As if the password had just been typed again."""
    session = browser.session
    session["account_authentication_methods_user"] = session["_auth_user_id"]
    session["account_authentication_methods"] = [
        {"method": "password", "at": time.time(), "reauthenticated": True}
    ]
    session.save()


def member(practice: Practice, role: str, name: str) -> Membership:
    return make_member(practice, role, name=name, email=f"{role}@{practice.slug}.example.org")


@pytest.fixture
def cast(db: None) -> Cast:
    kestrel = make_practice("Kestrel Cover Company", slug="kestrel")
    other = make_practice("Upland & Daughters", slug="upland")
    return Cast(
        practice=kestrel,
        owner=member(kestrel, "owner", "Ottilie Owner").user,
        planner=member(kestrel, "planner", "Perrin Planner").user,
        crew=member(kestrel, "crew", "Cass Crew").user,
        other_practice=other,
        stranger=member(other, "owner", "Stig Stranger").user,
    )
