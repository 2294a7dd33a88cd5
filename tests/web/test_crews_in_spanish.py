"""Each page that a crew may open, as one of the crew reads it who reads Spanish."""

from __future__ import annotations

import gettext
import re
from collections.abc import Iterator
from html.parser import HTMLParser
from pathlib import Path
from zoneinfo import available_timezones

import allauth
import django
import pytest
from django.apps import apps
from django.http import HttpResponse
from django_scopes import scopes_disabled

from consulting.models import Membership
from consulting.policy import RIGHTS, Right, Role
from tests.conftest import Cast
from tests.tools.catalogue import MO
from tests.tools.unmarked import READ
from tests.web.rights import EVERYONE, SIGNED_IN, Row, World
from tests.web.test_who_may_what import TABLE, address, send

pytestmark = pytest.mark.on_any_database

FILES = re.compile(
    r"_(pdf|csv|xlsx|sheet|photo|css|logo|feed|worker|kept|send_out)$|^wall_plan$|^large_print$"
)
"""Addresses that answer with something else than a page."""
OF_OTHERS = {"health", "ready", "account_logout", "account_inactive"} | {
    name for name in TABLE if name.startswith("client_")
}
"""Probes, and pages that a client or nobody reads."""
TYPED = """
    address applicator caption certificate climate_place climate_source customer_address customer_name county
    directions email entered_by_name field_name farm_name geography label lender lot name note notes number
    outline_from people phone place reason site slug target title
""".split()
"""Columns that people fill in, by name."""
WORD = re.compile(r"[^\W\d_]{3,}")
UNITS = "acres gal mph rpm ft lb PLS CSV XLSX PDF KML GPX GeoJSON SHA Delta Coverstead".split()
BESIDE = re.compile(r"\([^()]*\)")
"""A publication beside a sentence."""
CITED = {"src", "source", "hash", "address"}
"""Classes of what is told in the language of a publication, or is no text."""


VOID = "br circle hr img input line link meta path polygon rect".split()


class Page(HTMLParser):
    """The words of a page: between its tags, but for sources, and in attributes that are read."""

    def __init__(self, html: str):
        super().__init__()
        self.lang, self.found, self.open, self.silent = "", list[str](), list[str](), 0
        self.feed(html)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        given = {name: value or "" for name, value in attrs}
        self.lang = given["lang"] if tag == "html" else self.lang
        for name in READ:
            self.handle_data(given.get(name, ""))
        if tag not in VOID:
            quiet = self.silent or tag in ("script", "style") or CITED & set(given.get("class", "").split())
            self.open.append(tag)
            self.silent += 1 if quiet else 0

    def handle_endtag(self, tag: str) -> None:
        if tag in self.open:
            while self.open.pop() != tag:
                self.silent -= 1 if self.silent else 0
            self.silent -= 1 if self.silent else 0

    def handle_data(self, data: str) -> None:
        if not self.silent and (text := " ".join(data.split())):
            self.found.append(text)


def spanish() -> Iterator[str]:
    """What stands in Spanish catalogues: ours, and those of what we build on."""
    built_on = [Path(str(package.__file__)).parent for package in (django, allauth)]
    for path in (
        MO,
        *(path for root in built_on for path in sorted(root.rglob("locale/es/LC_MESSAGES/*.mo"))),
    ):
        with path.open("rb") as file:
            yield from map(str, gettext.GNUTranslations(file)._catalog.values())  # type: ignore[attr-defined]


def typed() -> Iterator[str]:
    """What people wrote: names, places, notes."""
    with scopes_disabled():
        for model in apps.get_models():
            names = {one.name for one in model._meta.fields} & set(TYPED)
            if model._meta.model_name not in ("visit", "proposal", "letter"):
                for row in model._base_manager.values_list(*names) if names else ():
                    yield from map(str, row)


def words(texts: Iterator[str]) -> set[str]:
    return {word.lower() for text in texts for word in WORD.findall(text)}


def crews_pages() -> dict[str, Row]:
    mine = {EVERYONE, SIGNED_IN, *RIGHTS[Role.CREW]}
    return {
        name: row
        for name, row in TABLE.items()
        if row.who in mine and not row.missing and not FILES.search(name) and name not in OF_OTHERS
    }


@pytest.fixture
def world(cast: Cast) -> World:
    with scopes_disabled():
        Membership.objects.filter(user=cast.crew).update(own_locale="es_US")
    return World(cast)


def shown(world: World) -> Iterator[tuple[str, HttpResponse]]:
    """Every page, and each form of the crew's sent back empty."""
    for name, row in crews_pages().items():
        for method in row.methods:
            if method == "GET" or row.who == Right.RECORD_WORK:
                response = send(world, "crew", method, address(name, row, world), row)
                if response.status_code in (200, 422):
                    yield f"{method} {name}", response


def test_each_page_of_the_crew_is_in_spanish_and_says_nothing_of_ours_in_english(world: World) -> None:
    known = words(spanish()) | {unit.lower() for unit in UNITS}
    pages = dict(shown(world))
    assert len(pages) > 50
    known |= words(typed())
    left: dict[str, list[str]] = {}
    for name, response in pages.items():
        page = Page(response.content.decode())
        assert page.lang.startswith("es"), name
        for text in page.found:
            ours = BESIDE.sub("", text)
            if words(iter([ours])) - known and text.replace(" ", "_") not in available_timezones():
                left.setdefault(text, []).append(name)
    assert not left
