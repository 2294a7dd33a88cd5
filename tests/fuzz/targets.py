"""What is fuzzed: every form of every page, and every address beside, with the names that it asks for."""

from __future__ import annotations

from dataclasses import dataclass, field
from functools import cached_property

from django.db import transaction
from django.test import Client as Browser
from django.urls import Resolver404, resolve

from tests.conftest import Cast
from tests.fuzz.asked import names_asked
from tests.fuzz.seen import Control, SeenForm, forms_of
from tests.fuzz.worlds import ENDS_THE_SESSION, Address, every_address

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
        found: dict[tuple[str, str, str], list[Target]] = {}
        for address in self.addresses:
            for actor in address.actors:
                for target in self._of(address, actor):
                    alike = found.setdefault((target.name, target.method, target.actor), [])
                    names = {control.name for control in target.controls}
                    if len(alike) < MOST_FORMS and all(
                        names != {c.name for c in one.controls} for one in alike
                    ):
                        alike.append(target)
        return [target for alike in found.values() for target in alike]

    def _of(self, address: Address, actor: str) -> list[Target]:
        """Forms that its page shows, wherever they go; then the address itself with what it asks for."""
        found, asked = [], {}
        cast = address.world.cast
        for method in address.row.methods:
            if method == "GET" and address.path.endswith(BINARY) and not address.row.data:
                asked[method] = set()
                continue
            browser = self.sessions.browser(cast, actor)
            with names_asked() as names, transaction.atomic():
                send = browser.post if method == "POST" else browser.get
                response = send(address.path, address.row.data)
                transaction.set_rollback(True)
            asked[method] = names
            if response.headers.get("Content-Type", "").startswith("text/html") and not response.streaming:
                for form in forms_of(response.content.decode(), address.path):
                    found += self._target(form, cast, actor)
        for method in address.row.methods:
            known = {
                name for target in found if target.path == address.path for name in _names(target, method)
            }
            more = sorted(asked[method] - known)
            row = address.row.data
            controls = [Control(name, "text", str(row.get(name, ""))) for name in more]
            if not known or more:
                form = SeenForm(address.path, method, controls)
                found += self._target(form, cast, actor)
        return found

    def _target(self, form: SeenForm, cast: Cast, actor: str) -> list[Target]:
        path = form.path.partition("?")[0]
        try:
            match = resolve(path)
        except Resolver404:
            return []
        if match.url_name in ENDS_THE_SESSION:
            return []
        args = tuple(str(value) for name, value in match.kwargs.items() if name != "practice")
        controls = tuple(one for one in form.controls if one.name != "csrfmiddlewaretoken")
        return [Target(match.url_name or "", form.method, path, args, cast, actor, controls)]


def _names(target: Target, method: str) -> set[str]:
    return {control.name for control in target.controls} if target.method == method else set()
