"""Fifty people at once: their pages and forms, how long they waited, and what the web processes take."""

from __future__ import annotations

import threading
import time
from collections.abc import Sequence
from dataclasses import dataclass

from django.db.models import Count
from django.test import Client as Browser
from django_scopes import scope, scopes_disabled

from consulting.models import Client, Membership, Practice
from plans.models import Plan, Visit
from tests.load.pages import p95
from tests.load.person import Person, Told
from tests.load.servers import Site

PEOPLE, SECONDS, THINK = 50, 300.0, 5.0
"""How many, for how long, and how long each reads a page."""
WARM = 20.0
"""Seconds until the first look at the memory: every kind of page has been asked for by then."""


@dataclass(frozen=True, slots=True)
class Day:
    people: int
    seconds: float
    looked: list[float]
    wrote: list[float]
    errors: list[str]
    clients: int
    kept: int
    """New clients that the database has."""
    moved_meanwhile: int
    unread: int
    memory_mb: list[list[float]]
    """Of every web process: after the start, in the middle, at the end."""


def newcomers() -> int:
    with scopes_disabled():
        return Client.objects.filter(name__startswith="Newcomer ").count()


def crowd(many: int, ports: Sequence[int]) -> list[Person]:
    """People of the practices with the most plans, logged in."""
    with scopes_disabled():
        counted = Plan.objects.order_by().values_list("practice").annotate(many=Count("pk"))
        practices = Practice.objects.in_bulk([pk for pk, _ in counted])
        ordered = [practices[pk] for pk, _ in counted.order_by("-many", "practice")]
    people: list[Person] = []
    for practice in ordered:
        with scope(practice=practice):
            visits = list(
                Visit.objects.filter(state="open").order_by("pk").values_list("pk", flat=True)[:200]
            )
            plans = list(Plan.objects.order_by("pk").values_list("pk", flat=True)[:200])
            members = list(Membership.objects.select_related("user").order_by("pk"))
        for member in members:
            if len(people) == many:
                return people
            browser = Browser()
            browser.force_login(member.user)
            cookies = {name: morsel.value for name, morsel in browser.cookies.items()}
            people.append(Person(ports, practice.slug, visits, plans, member.role, cookies, len(people)))
    while people and len(people) < many:
        one = people[len(people) % len(people[:5])]
        people.append(
            Person(ports, one.slug, one.visits, one.plans, one.role, dict(one.cookies), len(people))
        )
    return people


def day(people: Sequence[Person], sites: Sequence[Site], seconds: float, think: float) -> Day:
    """Everybody at once for so long."""
    before, began = newcomers(), time.monotonic()
    until = began + seconds
    threads = [threading.Thread(target=person.day, args=(until, think), daemon=True) for person in people]
    for thread in threads:
        thread.start()
    memory = []
    for at in (min(WARM, seconds / 4), seconds / 2, seconds):
        time.sleep(max(0.0, began + at - time.monotonic()))
        memory.append([mb for site in sites for mb in site.memory_mb()])
    for thread in threads:
        thread.join(90)
    told: list[Told] = [person.told for person in people]
    return Day(
        people=len(people),
        seconds=seconds,
        looked=[took for one in told for took in one.looked],
        wrote=[took for one in told for took in one.wrote],
        errors=[error for one in told for error in one.errors],
        clients=sum(one.clients for one in told),
        kept=newcomers() - before,
        moved_meanwhile=sum(one.moved_meanwhile for one in told),
        unread=sum(one.unread for one in told),
        memory_mb=memory,
    )


def said(day: Day) -> list[str]:
    """The day in lines of text."""
    lines = []
    for what, took in (("pages", day.looked), ("forms sent", day.wrote)):
        if took:
            middle = sorted(took)[len(took) // 2]
            lines.append(
                f"{len(took):>6} {what}: median {middle * 1e3:.0f} ms, 95 % within {p95(took) * 1e3:.0f} ms"
            )
    names = ("after the start", "in the middle", "at the end")
    lines += [
        f"memory {name}: {', '.join(f'{mb:.0f}' for mb in taken)} MB a process"
        for name, taken in zip(names, day.memory_mb, strict=True)
    ]
    lines.append(f"{day.clients} clients were told to be kept, {day.kept} are there")
    lines.append(f"{day.moved_meanwhile} forms shown again, as somebody else had changed the visit")
    lines.append(f"{day.unread} pages did not show what their reader had just written")
    lines.append(f"{len(day.errors)} errors" + "".join(f"\n    {error}" for error in day.errors[:10]))
    return lines
