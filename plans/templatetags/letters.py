"""How letters name people and machines."""

from __future__ import annotations

from collections.abc import Iterable

from django import template

from consulting.models import Membership
from plans.documents import words

register = template.Library()


@register.filter
def persons(people: Iterable[Membership]) -> str:
    return words.listed(str(person.user) for person in people)


@register.filter
def names(things: Iterable[object]) -> str:
    """In a row, without an and: a name may hold one."""
    return ", ".join(str(thing) for thing in things)
