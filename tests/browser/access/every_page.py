"""Every page that can be reached by following links, and what its forms say when they are sent empty."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass
from html.parser import HTMLParser
from urllib.parse import urldefrag, urljoin, urlsplit

from django.db import transaction
from django.test import Client
from django.urls import Resolver404, resolve
from django_scopes import scopes_disabled

EACH = 2
"""So many pages of one address are looked at; they differ by their record."""
STEP_ASIDE = re.compile(r"/logout/|/phone/worker\.js$")


@dataclass(frozen=True, slots=True)
class Found:
    path: str
    name: str
    """Of the address."""
    html: str
    as_found: bool = True
    """False where the address, asked again, would answer otherwise: `html` is shown in its place."""


class Links(HTMLParser):
    def __init__(self, html: str):
        super().__init__()
        self.links: list[str] = []
        self.forms: list[str] = []
        self.feed(html)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        given = dict(attrs)
        if tag == "a" and given.get("href"):
            self.links.append(str(given["href"]))
        if tag == "form" and str(given.get("method", "")).lower() == "post":
            self.forms.append(given.get("action") or "")


def name_of(path: str) -> str:
    try:
        return resolve(path).url_name or ""
    except Resolver404:
        return ""


def reachable(visitor: Client, start: str) -> Iterator[Found]:
    """Pages in the order of their discovery; those that are no HTML are left out."""
    waiting, known, taken = [start], {start}, Counter[str]()
    while waiting:
        path = waiting.pop(0)
        name = name_of(urlsplit(path).path)
        if taken[name] >= EACH:
            continue
        answer = visitor.get(path)
        if answer.status_code != 200 or not answer.headers["Content-Type"].startswith("text/html"):
            continue
        taken[name] += 1
        html = answer.getvalue().decode()
        yield Found(path, name, html)
        links = Links(html)
        if taken[name] == 1:
            yield from refusals(visitor, path, name, links.forms)
        for link in links.links:
            to = urlsplit(urljoin(path, link))
            target = to.path + (f"?{to.query}" if to.query else "")
            if not to.netloc and target not in known and not STEP_ASIDE.search(target):
                known.add(target)
                waiting.append(target)


def refusals(visitor: Client, path: str, name: str, forms: list[str]) -> Iterator[Found]:
    """What forms answer to nothing at all, where that is a page with errors. What they did is undone."""
    for action in dict.fromkeys(urldefrag(urljoin(path, form)).url for form in forms):
        if STEP_ASIDE.search(action):
            continue
        with transaction.atomic(), scopes_disabled():
            answer = visitor.post(action, {})
            transaction.set_rollback(True)
        if answer.status_code == 422:
            yield Found(action, f"{name}, sent empty", answer.getvalue().decode(), as_found=False)
