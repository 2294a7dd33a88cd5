"""Who acts: set at the gates of the site, written down with every change."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from contextvars import ContextVar
from dataclasses import dataclass
from typing import TYPE_CHECKING

from django.db import models

if TYPE_CHECKING:
    from consulting.models import User


class Way(models.TextChoices):
    MEMBER = "member", "A member"
    CLIENT = "client", "The client’s page"
    ITSELF = "itself", "By itself"


@dataclass(frozen=True, slots=True)
class Actor:
    way: Way
    user: User | None = None


ITSELF = Actor(Way.ITSELF)
"""Commands that run at night, and the program's own reckoning."""
CLIENT = Actor(Way.CLIENT)
_acts: ContextVar[Actor] = ContextVar("acts", default=ITSELF)


def who_acts() -> Actor:
    return _acts.get()


@contextmanager
def acting(who: Actor | User) -> Iterator[None]:
    """What is changed inside is changed by this person, or by the client's page."""
    token = _acts.set(who if isinstance(who, Actor) else Actor(Way.MEMBER, who))
    try:
        yield
    finally:
        _acts.reset(token)
