"""Every address × everybody × method, against the table; and what every page must and must not have."""

from __future__ import annotations

import re
from collections.abc import Iterator
from html.parser import HTMLParser
from typing import Any

import pytest
from django.apps import apps
from django.db import transaction
from django.db.models import Model
from django.http import HttpResponse
from django.urls import URLResolver, get_resolver, resolve, reverse
from django_scopes import scopes_disabled
from django_scopes.exceptions import ScopeError

from consulting.policy import RIGHTS, Right, Role
from tests.conftest import Cast
from tests.web import (
    rights,
    rights_of_client_page,
    rights_of_ground,
    rights_of_machines,
    rights_of_plans,
    rights_of_work,
)
from tests.web.forms import forms_of
from tests.web.opened import must_know
from tests.web.rights import ACTORS, EVERYONE, SIGNED_IN, Row, World

TABLE: dict[str, Row] = {
    **rights.ROWS,
    **rights_of_client_page.ROWS,
    **rights_of_ground.ROWS,
    **rights_of_machines.ROWS,
    **rights_of_plans.ROWS,
    **rights_of_work.ROWS,
}
ALLOWED = {200, 302, 422}


def names(resolver: URLResolver) -> Iterator[str]:
    for pattern in resolver.url_patterns:
        if isinstance(pattern, URLResolver):
            yield from names(pattern)
        else:
            assert pattern.name, f"{pattern.pattern} has no name"
            yield pattern.name


def address(name: str, row: Row, world: World, slug: str = "") -> str:
    before = [slug or world.cast.practice.slug] if isinstance(row.who, Right) else []
    return reverse(name, args=[*before, *row.args(world)])


def send(world: World, actor: str, method: str, url: str, row: Row, *, proven: bool = False) -> HttpResponse:
    """One request whose effects are undone."""
    browser = world.cast.browser(None if actor == "anonymous" else getattr(world.cast, actor), proven=proven)
    with transaction.atomic():
        response = browser.generic(method, url) if method not in ("GET", "POST") else None
        if response is None:
            response = browser.post(url, row.data) if method == "POST" else browser.get(url)
        transaction.set_rollback(True)
    return response


def expected(row: Row, actor: str) -> str:
    if row.who == EVERYONE:
        return "allowed"
    if actor == "anonymous":
        return "sent to sign in"
    if row.who == SIGNED_IN:
        return "allowed"
    if actor == "stranger":
        return "missing"
    return "allowed" if row.who in RIGHTS[Role(actor)] else "refused"


def seen(response: HttpResponse, row: Row) -> str:
    if response.status_code == 302 and response.headers["Location"].startswith(reverse("account_login")):
        return "sent to sign in"
    if response.status_code == 403:
        return "refused"
    if response.status_code == 404:
        return "missing"
    return "allowed" if response.status_code in ALLOWED | row.also else f"status {response.status_code}"


def test_every_address_is_in_the_table() -> None:
    there = set(names(get_resolver()))
    assert there - set(TABLE) == set(), "addresses without a row"
    assert set(TABLE) - there == set(), "rows without an address"


@pytest.mark.parametrize("name", TABLE)
def test_who_may_what(cast: Cast, name: str) -> None:
    world, row = World(cast), TABLE[name]
    url = address(name, row, world)
    found = {}
    for actor in ACTORS:
        for method in row.methods:
            want = expected(row, actor)
            got = seen(send(world, actor, method, url, row), row)
            fits = {want}
            if row.missing and want == "allowed":
                fits = {"missing"}
            if row.who == EVERYONE:
                # A step of signing in that has not begun sends everybody to its start.
                fits.add("sent to sign in")
            if got not in fits:
                found[actor, method] = (got, "expected", want)
    assert found == {}


OURS = [name for name, row in TABLE.items() if not name.startswith(("account_", "mfa_"))]


@pytest.mark.on_any_database
@pytest.mark.parametrize("name", OURS)
def test_other_methods_are_not_allowed(cast: Cast, name: str) -> None:
    world, row = World(cast), TABLE[name]
    url = address(name, row, world)
    others = {"GET", "POST", "PUT", "PATCH", "DELETE"} - set(row.methods)
    assert {method: send(world, "owner", method, url, row).status_code for method in others} == dict.fromkeys(
        others, 405
    )


@pytest.mark.parametrize(
    "name",
    [n for n, row in TABLE.items() if isinstance(row.who, Right) and row.args is not rights.no_args],
)
def test_another_practices_record_is_missing_under_ones_own_address(cast: Cast, name: str) -> None:
    world, row = World(cast), TABLE[name]
    args = row.args(world)
    if not any(isinstance(arg, int) for arg in args):
        pytest.skip("no record in the address")
    url = reverse(name, args=[cast.other_practice.slug, *args])
    for method in row.methods:
        assert send(world, "stranger", method, url, row, proven=True).status_code == 404


def tenant_models() -> list[type[Model]]:
    """Every model that belongs to a practice, whatever it extends."""
    return [m for m in apps.get_models() if any(field.name == "practice" for field in m._meta.fields)]


@pytest.mark.parametrize("model", tenant_models(), ids=lambda model: model.__name__)
def test_a_query_without_a_practice_raises(db: None, model: Any) -> None:
    for ask in (
        lambda: model.objects.count(),
        lambda: model.objects.exists(),
        lambda: model.objects.contains(model()),
        lambda: list(model.objects.all()),
        lambda: model.objects.filter(pk=1),
        lambda: model.objects.get(pk=1),
        lambda: model.objects.update(pk=1),
    ):
        with pytest.raises(ScopeError):
            ask()
    with scopes_disabled():
        assert model.objects.count() == 0


def test_every_model_of_ours_belongs_to_a_practice() -> None:
    not_below_a_practice = {"User", "Practice", "ErasedPractice", "LawfulRecord", "Sending"}
    ours = {m for m in apps.get_models() if m._meta.app_label in ("consulting", "sites", "plans")}
    assert {m.__name__ for m in ours - set(tenant_models())} == not_below_a_practice


class Page(HTMLParser):
    """Collects what a page must and must not have."""

    def __init__(self, html: str) -> None:
        super().__init__()
        self.h1s = 0
        self.forbidden: list[str] = []
        self.ids: list[str] = []
        self.title = ""
        self._in_title = False
        self.feed(html)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        given = dict(attrs)
        self.h1s += tag == "h1"
        self._in_title = tag == "title"
        self.ids += [given["id"]] if given.get("id") else []
        if tag == "style" or "style" in given or any(name.startswith("on") for name in given):
            self.forbidden.append(self.get_starttag_text() or tag)
        if tag == "script" and "src" not in given and given.get("type") != "application/json":
            self.forbidden.append(self.get_starttag_text() or tag)
        if (given.get("href") or "").startswith("javascript:"):
            self.forbidden.append(self.get_starttag_text() or tag)

    def handle_endtag(self, tag: str) -> None:
        self._in_title = self._in_title and tag != "title"

    def handle_data(self, data: str) -> None:
        if self._in_title:
            self.title += data


@pytest.mark.on_any_database
@pytest.mark.parametrize("name", [n for n, row in TABLE.items() if "GET" in row.methods])
def test_every_page_is_well_formed(cast: Cast, name: str) -> None:
    """One h1, a title, no doubled id, no inline script or style, and a policy that forbids them."""
    world, row = World(cast), TABLE[name]
    for actor in ("anonymous", "owner") if row.who == EVERYONE else ("owner",):
        response = send(world, actor, "GET", address(name, row, world), row)
        policy = response.headers["Content-Security-Policy"]
        assert "default-src 'none'" in policy and "unsafe" not in policy and "data:" not in policy
        if response.status_code != 200 or not response.headers["Content-Type"].startswith("text/html"):
            continue
        html = response.content.decode()
        page = Page(html)
        assert page.forbidden == []
        for form in forms_of(html, response.request["PATH_INFO"]):
            assert "once" in form.data, form.action
            taken_at = str(resolve(form.action).url_name)
            assert "opened" in form.data or not must_know(taken_at), f"{taken_at} is not told what it is on"
        assert len(page.ids) == len(set(page.ids)), [i for i in page.ids if page.ids.count(i) > 1]
        if html.lstrip().lower().startswith("<!doctype"):
            assert page.h1s == 1
            assert page.title.strip()


def test_policy_is_the_strict_one(client: Any, db: None) -> None:
    policy = client.get("/").headers["Content-Security-Policy"]
    assert dict(part.strip().split(" ", 1) for part in policy.split(";")) == {
        "default-src": "'none'",
        "script-src": "'self'",
        "style-src": "'self'",
        "img-src": "'self'",
        "font-src": "'self'",
        "connect-src": "'self'",
        "form-action": "'self'",
        "base-uri": "'self'",
        "frame-ancestors": "'none'",
    }


def test_templates_hold_no_inline_script_or_style(settings: Any) -> None:
    inline = re.compile(
        r"<style|\sstyle=|\son[a-z]+=|<script(?![^>]*(\bsrc=|application/json))", re.IGNORECASE
    )
    found = [
        f"{path}: {match.group()}"
        for path in settings.TEMPLATES[0]["DIRS"][0].rglob("*.html")
        for match in inline.finditer(path.read_text())
    ]
    assert found == []
