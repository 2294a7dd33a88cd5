"""Every address of the site with records behind it: what is fuzzed, and as whom."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from django.db import IntegrityError, transaction
from django.urls import reverse

from consulting.policy import Right
from tests.conftest import Cast, member
from tests.factories import make_practice
from tests.fuzz.budget import AT_NIGHT
from tests.web.rights import EVERYONE, Row, World
from tests.web.test_who_may_what import TABLE

MOST_WORLDS = 12


@dataclass(frozen=True)
class Address:
    """One address, with arguments of records that are there."""

    name: str
    row: Row
    world: World
    args: tuple[object, ...]

    @property
    def path(self) -> str:
        return reverse(self.name, args=list(self.args))

    @property
    def actors(self) -> tuple[str, ...]:
        """Whoever gets furthest; where everybody may, at night also who is signed in."""
        if self.row.who != EVERYONE:
            return ("owner",)
        return ("anonymous", "owner") if AT_NIGHT else ("anonymous",)


def make_world() -> World:
    kestrel = make_practice("Kestrel Cover Company")
    other = make_practice("Upland & Daughters")
    return World(
        Cast(
            practice=kestrel,
            owner=member(kestrel, "owner", "Ottilie Owner").user,
            planner=member(kestrel, "planner", "Perrin Planner").user,
            crew=member(kestrel, "crew", "Cass Crew").user,
            other_practice=other,
            stranger=member(other, "owner", "Stig Stranger").user,
        )
    )


def every_address() -> Iterator[Address]:
    """All of the table of rights. Records that cannot stand beside each other get a world each."""
    worlds: list[World] = []
    for name, row in TABLE.items():
        for at in range(MOST_WORLDS):
            if at == len(worlds):
                worlds.append(make_world())
            world, made = worlds[at], dict(worlds[at].more)
            try:
                with transaction.atomic():
                    yield _address(name, row, world)
                break
            except IntegrityError:
                # What was made on the way is undone, in memory too.
                world.more = made
                world.cast.practice.refresh_from_db()
        else:
            raise AssertionError(f"{name}: no world has room for its record")


def _address(name: str, row: Row, world: World) -> Address:
    before = (world.cast.practice.slug,) if isinstance(row.who, Right) else ()
    return Address(name, row, world, (*before, *row.args(world)))
