"""What an act is to be killed in: how it is prepared, done, and told whole from half."""

from __future__ import annotations

from abc import ABC, abstractmethod
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, field
from enum import StrEnum
from typing import Any, ClassVar

from django.db import connections
from django.test import Client as Browser
from django_scopes import scope

from consulting.models import Practice, User
from plans.models import Mix, Plan
from tests.factories import make_client, make_farm, make_field, make_member, make_practice
from tests.faults.site import Answer, Ask
from tests.faults.strike import Strike
from tests.plan_factories import make_conversion, make_mix, make_plan, make_prices

AUTUMN, OFFERING = "2027-09-20", "2026-11-25"


class Standing(StrEnum):
    WHOLE = "done"
    NOTHING = "not done"
    ASKED = "left to a person"
    """A letter that may have gone."""
    HALF = "HALF DONE"


@dataclass(frozen=True, slots=True)
class Found:
    standing: Standing
    said: str = ""


@dataclass(frozen=True, slots=True)
class Blow:
    """One kill: exact, told to whoever does the act; or by `outside`, so many seconds after it began."""

    strike: Strike | None = None
    outside: Callable[[], None] | None = None
    after_s: float = 0.0
    letter_at: str = ""
    """A point of the conversation with the mail server, at which `outside` is done."""


NO_BLOW = Blow()


@dataclass(frozen=True, slots=True)
class Did:
    promised: bool
    """Whoever asked was told that it is done."""
    steps: str = ""
    said: str = ""


def counted(counts: Mapping[str, tuple[int, int]]) -> Found:
    """`counts` has for each trace of an act how many there are, and how many a whole act leaves."""
    if all(there == whole for there, whole in counts.values()):
        return Found(Standing.WHOLE)
    if not any(there for there, _ in counts.values()):
        return Found(Standing.NOTHING)
    said = ", ".join(f"{there} of {whole} {what}" for what, (there, whole) in counts.items())
    return Found(Standing.HALF, said)


class Act(ABC):
    """An act in a practice of its own. `subject` is what one doing of it is about."""

    name: ClassVar[str]
    day: ClassVar[str]
    on_site: ClassVar[bool] = False
    """Done by the site, not by a command."""
    most_gaps: ClassVar[int | None] = None
    """Between steps at which it is killed, where all of them would take too long."""
    costly: bool = False
    """Takes long, so it is killed less often."""
    talks_at: ClassVar[tuple[str, ...]] = ()
    """Points of its talk with a mail server."""
    practice: Practice
    owner: User
    mix: Mix

    def settle(self) -> None:
        """Make the practice, its owner, its prices and a mix."""
        self.practice = make_practice(self.name.capitalize(), email="office@example.org")
        self.owner = make_member(self.practice, "owner", name="Ottilie Owner").user
        make_prices(self.practice)
        self.mix = make_mix(self.practice)

    def plan(self) -> Plan:
        """A draft with one field, on a farm of its own."""
        farm = make_farm(make_client(self.practice, email="lena@example.org"))
        plan = make_plan(farm)
        make_conversion(plan, make_field(farm), self.mix)
        return plan

    def scope(self) -> Any:
        return scope(practice=self.practice)

    @abstractmethod
    def prepare(self) -> Any:
        """Something to do it with, in the practice's scope."""

    @abstractmethod
    def do(self, subject: Any, blow: Blow) -> Did:
        """Do it, and be hit."""

    @abstractmethod
    def look(self, subject: Any) -> Found:
        """How it stands, in the practice's scope."""

    def wrong(self) -> Iterator[str]:
        """What does not hold that always must, in the practice's scope."""
        yield from ()

    def done_again(self, subject: Any, found: Found) -> Iterator[str]:
        """What is wrong once it was repeated after it stood as `found`; in the practice's scope."""
        now = self.look(subject)
        if now.standing != Standing.WHOLE:
            yield f"repeated, it is {now.standing}: {now.said}"

    def clear(self, subject: Any) -> None:
        """Take away what would be in the way of the next."""
        return None


@dataclass
class WebAct(Act):
    """A form that is sent to the site."""

    on_site = True
    ask_site: Callable[[Ask, Blow], Answer | None]
    sessions: dict[int, str] = field(default_factory=dict)

    @abstractmethod
    def ask(self, subject: Any) -> Ask: ...

    def do(self, subject: Any, blow: Blow) -> Did:
        asked = self.ask(subject)
        connections.close_all()
        answer = self.ask_site(asked, blow)
        if answer is None:
            return Did(promised=False)
        return Did(answer.status == 302, answer.steps, f"{answer.status} {answer.body[-2000:]}")

    def session(self) -> str:
        """A log-in of the owner."""
        if self.owner.pk not in self.sessions:
            browser = Browser()
            browser.force_login(self.owner)
            self.sessions[self.owner.pk] = browser.cookies["sessionid"].value
        return self.sessions[self.owner.pk]

    def form(self, path: str, **data: str | list[str]) -> Ask:
        return Ask(f"/{self.practice.slug}/{path}", self.day, data, self.session())

    def page(self, path: str) -> str:
        """The page as it is before anything happens."""
        asked = Ask(f"/{self.practice.slug}/{path}", self.day, session=self.session())
        answer = self.ask_site(asked, NO_BLOW)
        assert answer and answer.status == 200, f"{path}: {answer and answer.status}"
        return answer.body
