"""How letters write what the tables and the practice say."""

from __future__ import annotations

from collections.abc import Iterable

from django import template

from consulting.models import Membership
from plans.documents import words
from plans.documents.told import told as told_in_words

register = template.Library()


@register.filter
def told(text: str) -> str:
    """Text of our tables in the reader's language."""
    return told_in_words(text)


@register.filter
def acres(value: float) -> str:
    """11.2 acres, or hectares by manner."""
    return words.measured(value, "acre")


@register.filter
def persons(people: Iterable[Membership]) -> str:
    return words.listed(str(person.user) for person in people)


@register.filter
def names(things: Iterable[object]) -> str:
    """In a row, without an and: a name may hold one."""
    return ", ".join(str(thing) for thing in things)
