"""A person with a browser: logged in, looking at pages and sending forms, by the standard library alone."""

from __future__ import annotations

import http.client
import random
import re
import time
from collections.abc import Sequence
from dataclasses import dataclass, field
from html import unescape
from urllib.parse import urlencode

HIDDEN = re.compile(r'<input type="hidden" name="(csrfmiddlewaretoken|version)" value="([^"]*)"')
WAITED = "ground too wet to drive on"


@dataclass(frozen=True, slots=True)
class Answer:
    status: int
    body: str
    seconds: float


@dataclass(slots=True)
class Told:
    """What happened to one person."""

    looked: list[float] = field(default_factory=list)
    wrote: list[float] = field(default_factory=list)
    errors: list[str] = field(default_factory=list)
    clients: int = 0
    """New ones that the site said it has."""
    moved_meanwhile: int = 0
    """Forms refused because somebody else had changed the visit: shown to the person, not an error."""
    unread: int = 0
    """What the person had just written and the next page did not show."""


@dataclass(slots=True)
class Person:
    ports: Sequence[int]
    """Groups of web processes, asked in turn: a session belongs to none of them."""
    slug: str
    visits: Sequence[int]
    plans: Sequence[int]
    role: str
    cookies: dict[str, str]
    number: int
    writes_only: bool = False
    told: Told = field(default_factory=Told)
    asked: int = 0
    primary_until: float = 0.0
    """By the clock that only goes on; 0 where the browser has no such cookie."""

    def ask(self, method: str, address: str, form: dict[str, str] | None = None) -> Answer:
        """One request; an error of the site or of the line is noted."""
        self.asked += 1
        port = self.ports[self.asked % len(self.ports)]
        headers = {"Cookie": "; ".join(f"{name}={value}" for name, value in self.cookies.items())}
        body = None
        if form is not None:
            body = urlencode(form)
            headers |= {
                "Content-Type": "application/x-www-form-urlencoded",
                "Referer": f"http://127.0.0.1:{port}/",
            }
        began = time.perf_counter()
        line = http.client.HTTPConnection("127.0.0.1", port, timeout=60)
        try:
            line.request(method, address, body, headers)
            got = line.getresponse()
            text = got.read().decode(errors="replace")
            for said in got.headers.get_all("Set-Cookie") or ():
                name, _, value = said.partition(";")[0].partition("=")
                self.cookies[name] = value
                if "Max-Age=" in said:
                    self.until(name, said)
            answer = Answer(got.status, text, time.perf_counter() - began)
            if got.status >= 500 or got.status in (403, 404):
                self.told.errors.append(f"{method} {address}: {got.status}")
        except OSError as lost:
            answer = Answer(0, "", time.perf_counter() - began)
            self.told.errors.append(f"{method} {address}: {lost!r}")
        finally:
            line.close()
        return answer

    def until(self, name: str, said: str) -> None:
        """A browser forgets a cookie when its time is over."""
        if name == "reads_primary":
            seconds = re.search(r"Max-Age=(\d+)", said)
            self.primary_until = time.monotonic() + int(seconds[1]) if seconds else 0.0

    def look(self, path: str) -> Answer:
        if self.primary_until and time.monotonic() > self.primary_until:
            self.cookies.pop("reads_primary", None)
            self.primary_until = 0.0
        answer = self.ask("GET", f"/{self.slug}/{path}")
        self.told.looked.append(answer.seconds)
        return answer

    def send(self, path: str, page: Answer, form: dict[str, str]) -> Answer:
        """A form of a page that was looked at."""
        known = {name: unescape(value) for name, value in HIDDEN.findall(page.body)}
        answer = self.ask("POST", f"/{self.slug}/{path}", known | form)
        self.told.wrote.append(answer.seconds)
        return answer

    def add_a_client(self, turn: int) -> None:
        name = f"Newcomer {self.number}-{turn}"
        kept = self.send("clients/new/", self.look("clients/new/"), {"name": name, "own_locale": ""})
        if kept.status == 302:
            self.told.clients += 1
            if name not in self.look(f"clients/?q={name.replace(' ', '+')}").body:
                self.told.unread += 1
        elif kept.status and kept.status < 500:
            self.told.errors.append(f"a client was refused: {kept.status}")

    def let_a_visit_wait(self, visit: int) -> None:
        page = self.look(f"work/{visit}/")
        kept = self.send(f"work/{visit}/weather/", page, {"reason": WAITED})
        if kept.status == 302:
            if WAITED not in self.look(f"work/{visit}/").body:
                self.told.unread += 1
        elif kept.status in (409, 422):
            self.told.moved_meanwhile += 1

    def day(self, until: float, think: float) -> None:
        """Pages and forms in turn, with a while to read between them [s], until the clock says so."""
        draw = random.Random(self.number)
        may_plan = self.role != "crew"
        pages = ["work/", "work/?by=farm", "work/day/", "clients/?q=la", "work/records/", "work/shed/"]
        if may_plan:
            pages += ["plans/", "plans/?state=under+way", "", "work/buy/", "letters/", "lists/visits/out.csv"]
        time.sleep(draw.uniform(0, think))
        turn = 0
        while time.monotonic() < until:
            turn += 1
            choice = draw.uniform(0, 0.35) if self.writes_only else draw.random()
            if choice < 0.15 and may_plan:
                self.add_a_client(turn)
            elif choice < 0.35:
                self.let_a_visit_wait(draw.choice(self.visits))
            elif choice < 0.5 and may_plan:
                self.look(f"plans/{draw.choice(self.plans)}/")
            else:
                self.look(draw.choice(pages))
            time.sleep(draw.uniform(0.5, 1.5) * think)
