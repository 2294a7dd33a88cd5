"""Every page and state by axe, with the rules of WCAG 2.2 AA, at 320, 390 and 1280 px.

320 px is what 1280 px become at a zoom of 400 % (WCAG 2.2, 1.4.10 reflow); 640 px at 200 %.
"""

from __future__ import annotations

from collections.abc import Callable
from datetime import date
from typing import Any

import pytest
from axe_playwright_python.sync_playwright import Axe
from django.db import transaction
from django.test import Client
from django_scopes import scope
from playwright.sync_api import Page

from consulting.models import Practice, User
from plans.client_links import link_make
from plans.demo import demo_found
from plans.models import Plan
from tests.browser.access.every_page import Found, reachable
from tests.conftest import Cast
from tests.factories import make_member, make_practice
from tests.web.rights import World
from tests.web.test_who_may_what import OURS, TABLE, address

WIDTHS = (320, 390, 1280)
WCAG = ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"]
PASSWORD = "native grass by the mile"
TODAY = date(2026, 11, 25)

pytestmark = pytest.mark.django_db(transaction=True)


@pytest.fixture
def demo(live_server: Any) -> Practice:
    return demo_found(password=PASSWORD, today=TODAY)


def visitor(email: str) -> Client:
    client = Client()
    client.force_login(User.objects.get(email=email))
    return client


def looked_at(page: Page, found: Found) -> list[str]:
    """What is wrong with a page, at every width."""
    if not found.as_found:
        page.route(f"**{found.path}", lambda route: route.fulfill(body=found.html, content_type="text/html"))
    page.goto(found.path)
    wrong = []
    for width in WIDTHS:
        page.set_viewport_size({"width": width, "height": 900})
        report = Axe().run(page, options={"resultTypes": ["violations"], "runOnly": WCAG})
        wrong += [
            f"{found.name} at {width}: {one['id']} {one['nodes'][0]['html'][:200]}"
            for one in report.response["violations"]
        ]
        wide = page.evaluate("document.documentElement.scrollWidth - document.documentElement.clientWidth")
        if wide > 0:
            wrong.append(f"{found.name} at {width}: {wide} px too wide ({found.path})")
    page.unroute_all()
    return wrong


def crawl(
    page: Page, sign_in: Callable[[Page, User], None], email: str, start: str
) -> tuple[set[str], list[str]]:
    sign_in(page, User.objects.get(email=email))
    seen, wrong = set(), []
    for found in reachable(visitor(email), start):
        seen.add(found.name)
        wrong += looked_at(page, found)
    return seen, wrong


@pytest.mark.parametrize("role", ["owner", "crew"])
def test_every_page_of_the_demo(
    role: str, demo: Practice, laptop: Page, sign_in: Callable[..., None], troubles: list[str]
) -> None:
    seen, wrong = crawl(laptop, sign_in, f"{role}@kestrel.example", f"/{demo.slug}/")
    # The answer to a form that is shown here came by no request of the page's.
    troubles.clear()
    assert wrong == []


def test_every_address_of_the_table(
    cast: Cast, live_server: Any, laptop: Page, sign_in: Callable[..., None], troubles: list[str]
) -> None:
    """Whatever no link of the demo leads to is here: each address once, with a record of its own."""
    sign_in(laptop, cast.owner)
    wrong: list[str] = []
    for name in OURS:
        if "GET" not in TABLE[name].methods:
            continue
        # What the last round undid, the row in hand still had.
        cast.practice.refresh_from_db()
        with transaction.atomic():
            path = address(name, TABLE[name], World(cast))
            answer = cast.browser(cast.owner, proven=True).get(path)
            html = answer.getvalue().decode(errors="replace")
            transaction.set_rollback(True)
        if answer.headers.get("Content-Type", "").startswith("text/html") and "<main" in html:
            wrong += looked_at(laptop, Found(path, name, html, as_found=False))
    troubles.clear()
    assert wrong == []


def test_every_page_of_a_practice_that_has_just_begun(
    live_server: Any, laptop: Page, sign_in: Callable[..., None], troubles: list[str]
) -> None:
    practice = make_practice("Sundown Cover", slug="sundown")
    owner = make_member(practice, "owner", email="new@example.org")
    _, wrong = crawl(laptop, sign_in, owner.user.email, "/sundown/")
    troubles.clear()
    assert wrong == []


@pytest.mark.parametrize("start", ["/", "/accounts/signup/", "/accounts/password/reset/", "/no/such/page/"])
def test_pages_before_one_logs_in(start: str, live_server: Any, laptop: Page, troubles: list[str]) -> None:
    found = reachable(Client(), start) if start != "/no/such/page/" else [Found(start, "404", "")]
    wrong = [said for one in found for said in looked_at(laptop, one)]
    troubles.clear()
    assert wrong == []


def test_the_clients_page(demo: Practice, laptop: Page, troubles: list[str]) -> None:
    with scope(practice=demo):
        plan = Plan.objects.filter(state="offered")[0]
        owner = User.objects.get(email="owner@kestrel.example")
        _, key = link_make(plan=plan, user=owner, expires_on=date(2029, 12, 31), today=TODAY)
    wrong = [said for one in reachable(Client(), f"/client/{key}/") for said in looked_at(laptop, one)]
    troubles.clear()
    assert wrong == []
