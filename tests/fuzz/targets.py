"""What is fuzzed: every form of every page, and every address beside, with the names that it asks for."""

from __future__ import annotations

from dataclasses import dataclass, field
from functools import cached_property
from typing import Any

from django.db import transaction
from django.test import Client as Browser
from django.urls import Resolver404, resolve

from tests.conftest import Cast
from tests.fuzz.asked import names_asked
from tests.fuzz.seen import Control, SeenForm, forms_of
from tests.fuzz.worlds import Address, every_address

BINARY = (".pdf", ".xlsx", ".zip", ".png", ".jpg", ".js", ".css")
MOST_FORMS = 3
"""Of one address, that ask for different things."""


@dataclass(frozen=True)
class Target:
    name: str
    method: str
    path: str
    args: tuple[str, ...]
    """Parts of the path that name a record or a choice."""
    cast: Cast
    actor: str
    controls: tuple[Control, ...]

    def __str__(self) -> str:
        return f"{self.method} {self.name} as {self.actor}"


@dataclass
class Sessions:
    """Cookies of those who are signed in; each request is sent by a fresh browser."""

    keys: dict[int, str] = field(default_factory=dict)

    def browser(self, cast: Cast, actor: str) -> Browser:
        browser = Browser()
        if actor != "anonymous":
            user = getattr(cast, actor)
            if user.pk not in self.keys:
                self.keys[user.pk] = cast.browser(user).cookies["sessionid"].value
            browser.cookies["sessionid"] = self.keys[user.pk]
        return browser


class Site:
    """The worlds, who is signed in, and the targets in them; needs the database."""

    def __init__(self) -> None:
        self.addresses = list(every_address())
        self.sessions = Sessions()

    @cached_property
    def targets(self) -> list[Target]:
        """Forms that pages show, wherever they go; then each address that none of them goes to."""
        found: dict[tuple[str, str, str], list[Target]] = {}
        for address in self.addresses:
            for actor in address.actors:
                if "GET" in address.row.methods and not address.path.endswith(BINARY):
                    self._add(found, self._of_page(address, actor))
        for address in self.addresses:
            for actor in address.actors:
                for method in address.row.methods:
                    if (address.name, method, actor) not in found:
                        self._add(found, [self._of_address(address, actor, method)])
        return [target for alike in found.values() for target in alike]

    def _add(self, found: dict[tuple[str, str, str], list[Target]], targets: list[Target]) -> None:
        for target in targets:
            alike = found.setdefault((target.name, target.method, target.actor), [])
            names = {control.name for control in target.controls}
            if len(alike) < MOST_FORMS and all(names != {c.name for c in one.controls} for one in alike):
                alike.append(target)

    def _of_page(self, address: Address, actor: str) -> list[Target]:
        """Its forms, and itself with the parameters that it asks for and no form of its has."""
        response, asked = self._answer(address, actor, "GET")
        found: list[Target] = []
        if response.headers.get("Content-Type", "").startswith("text/html") and not response.streaming:
            for form in forms_of(response.content.decode(), address.path):
                found += self._target(form, address.world.cast, actor)
        own = [one for one in found if one.path == address.path and one.method == "GET"]
        more = asked - {control.name for one in own for control in one.controls}
        if more or not own:
            found += self._bare(address, actor, "GET", more)
        return found

    def _of_address(self, address: Address, actor: str, method: str) -> Target:
        binary = method == "GET" and address.path.endswith(BINARY)
        asked = set[str]() if binary else self._answer(address, actor, method)[1]
        return self._bare(address, actor, method, asked)[0]

    def _bare(self, address: Address, actor: str, method: str, asked: set[str]) -> list[Target]:
        given = address.row.data
        controls = [Control(name, "text", str(given.get(name, ""))) for name in sorted(asked | set(given))]
        return self._target(SeenForm(address.path, method, controls), address.world.cast, actor)

    def _answer(self, address: Address, actor: str, method: str) -> tuple[Any, set[str]]:
        browser = self.sessions.browser(address.world.cast, actor)
        with names_asked() as names, transaction.atomic():
            send = browser.post if method == "POST" else browser.get
            response = send(address.path, address.row.data)
            transaction.set_rollback(True)
        return response, names

    def _target(self, form: SeenForm, cast: Cast, actor: str) -> list[Target]:
        path = form.path.partition("?")[0]
        try:
            match = resolve(path)
        except Resolver404:
            return []
        args = tuple(str(value) for name, value in match.kwargs.items() if name != "practice")
        controls = tuple(one for one in form.controls if one.name != "csrfmiddlewaretoken")
        return [Target(match.url_name or "", form.method, path, args, cast, actor, controls)]
