"""Headless Chromium on the live server: a phone, a laptop, a laptop without scripts; strict by default."""

from __future__ import annotations

import os
import re
from collections.abc import Callable, Iterator
from typing import Any

import pytest
from axe_playwright_python.sync_playwright import Axe
from django.conf import settings
from django.test import Client
from playwright.sync_api import BrowserContext, ConsoleMessage, Page, Request

from consulting.models import User

# Playwright keeps an event loop running in the test's thread, where Django would refuse the database.
os.environ.setdefault("DJANGO_ALLOW_ASYNC_UNSAFE", "true")

LAPTOP = {"width": 1280, "height": 900}
PHONE = {"width": 390, "height": 844}

# A form with errors answers 422; a request for sums that later typing overtakes is given up.
EXPECTED = re.compile("status of 422|^htmx:(sendAbort|afterRequest)")

NewPage = Callable[..., Page]


@pytest.fixture(scope="session")
def browser_type_launch_args(browser_type_launch_args: dict[str, Any]) -> dict[str, Any]:
    """Debian's Chromium, which makes no connections of its own."""
    return browser_type_launch_args | {
        "executable_path": os.environ.get("CHROMIUM", "/usr/bin/chromium"),
        "args": [
            "--no-sandbox",
            "--disable-gpu",
            "--disable-quic",
            "--disable-background-networking",
            "--disable-component-update",
            "--disable-sync",
            "--no-first-run",
            "--host-resolver-rules=MAP * ~NOTFOUND, EXCLUDE localhost",
        ],
    }


@pytest.fixture
def troubles() -> Iterator[list[str]]:
    """What went wrong behind the page. A test that provokes something looks at it here and clears it."""
    found: list[str] = []
    yield found
    assert not found, "behind the page: " + "; ".join(found)


@pytest.fixture
def new_page(new_context: Callable[..., BrowserContext], live_server: Any, troubles: list[str]) -> NewPage:
    """Makes a page on the live server that reports console errors, broken policy and requests elsewhere."""

    def asked(request: Request) -> None:
        if not request.url.startswith(f"{live_server.url}/"):
            troubles.append(f"a request went elsewhere: {request.url}")

    def heard(said: ConsoleMessage) -> None:
        if said.type == "error" and not EXPECTED.search(said.text):
            troubles.append(f"the console says: {said.text}")

    def make(viewport: dict[str, int] = LAPTOP, service_workers: str = "block", **context_args: Any) -> Page:
        context = new_context(
            base_url=live_server.url, viewport=viewport, service_workers=service_workers, **context_args
        )
        context.set_default_timeout(10_000)
        # Heard rather than routed: with a route, Chromium keeps no file from one page to the next.
        context.on("request", asked)
        page = context.new_page()
        page.on("pageerror", lambda error: troubles.append(f"a script failed: {error}"))
        page.on("console", heard)
        return page

    return make


@pytest.fixture
def laptop(new_page: NewPage) -> Page:
    return new_page()


@pytest.fixture
def phone(new_page: NewPage) -> Page:
    return new_page(PHONE, is_mobile=True, has_touch=True)


@pytest.fixture
def no_script(new_page: NewPage) -> Page:
    """A laptop with scripts off. axe is a script: it cannot look at this page."""
    return new_page(java_script_enabled=False)


@pytest.fixture(params=["laptop", "phone"])
def screen(request: pytest.FixtureRequest, live_server: Any) -> Page:
    """The test runs once on each. `live_server` is named so that the database is shared with it."""
    return request.getfixturevalue(request.param)


@pytest.fixture
def sign_in(live_server: Any) -> Callable[[Page, User], None]:
    """Signs `user` in without the log-in form."""

    def sign(page: Page, user: User) -> None:
        client = Client()
        client.force_login(user)
        session = client.cookies[settings.SESSION_COOKIE_NAME].value
        page.context.add_cookies(
            [{"name": settings.SESSION_COOKIE_NAME, "value": session, "url": live_server.url}]
        )

    return sign


@pytest.fixture
def axe() -> Callable[[Page], None]:
    """Asserts that axe finds nothing and that the page is no wider than its screen."""

    def look(page: Page) -> None:
        found = Axe().run(page, options={"resultTypes": ["violations"]})
        assert found.violations_count == 0, f"{page.url}\n{found.generate_report()}"
        wide, screen = page.evaluate(
            "() => [document.documentElement.scrollWidth, document.documentElement.clientWidth]"
        )
        assert wide <= screen, f"{page.url} is {wide} px wide on a screen of {screen} px"

    return look
