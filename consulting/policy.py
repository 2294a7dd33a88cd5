"""Who may do what: the only place that compares roles."""

from __future__ import annotations

from enum import StrEnum
from typing import TYPE_CHECKING

from django.utils.translation import gettext_lazy

if TYPE_CHECKING:
    from consulting.models import Membership


class Role(StrEnum):
    OWNER = "owner"
    PLANNER = "planner"
    CREW = "crew"


class Right(StrEnum):
    SEE_WORK = "see_work"
    """Clients, farms, fields and what is to be done there."""
    RECORD_WORK = "record_work"
    """Say what was done on a visit."""
    SEE_PRICES = "see_prices"
    EDIT_RECORDS = "edit_records"
    """Clients, farms, fields, mixes, prices, plans; book and move visits."""
    OFFER = "offer"
    RUN_PRACTICE = "run_practice"
    """Practice details, default terms, people."""


RIGHTS: dict[Role, frozenset[Right]] = {
    Role.OWNER: frozenset(Right),
    Role.PLANNER: frozenset(Right) - {Right.RUN_PRACTICE},
    Role.CREW: frozenset({Right.SEE_WORK, Right.RECORD_WORK}),
}

ROLE_CHOICES = [
    (Role.OWNER.value, gettext_lazy("Owner: everything")),
    (Role.PLANNER.value, gettext_lazy("Planner: everything but people and the practice's terms")),
    (Role.CREW.value, gettext_lazy("Crew: the work, no prices")),
]

IN_WORDS = {
    Role.OWNER: gettext_lazy("owner"),
    Role.PLANNER: gettext_lazy("planner"),
    Role.CREW: gettext_lazy("crew"),
}


def in_words(role: str) -> str:
    """The role as a sentence names it."""
    return str(IN_WORDS[Role(role)])


def crews_may(right: Right) -> bool:
    """Whether a page under this right is one that a crew reads."""
    return right in RIGHTS[Role.CREW]


def may(membership: Membership, right: Right) -> bool:
    return right in RIGHTS[Role(membership.role)]


def owns(role: str | None) -> bool:
    """Whether `role` is the one that every practice must keep at least one of."""
    return role == Role.OWNER
