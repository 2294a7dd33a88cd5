"""In whose manner something is printed or a page is shown: the client's, or that of whoever works."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from contextlib import AbstractContextManager, contextmanager
from dataclasses import replace

from django.utils import translation

from consulting.manner import ReaderFields
from consulting.models import Membership, Practice
from plans.documents.manner import USUAL, using
from plans.planning.job import Manner
from plans.planning.own_look import OwnLook

SITE = {"en": "en", "es_US": "es-mx", "es_MX": "es-mx", "es_ES": "es"}
"""The web framework's name of a language, by locale or else by language alone."""


def look_of(practice: Practice) -> OwnLook:
    """The practice's look; the house's where it has chosen none."""
    own = getattr(practice, "own_look", None)
    if own is None:
        return OwnLook()
    return OwnLook(
        main=own.main,
        accent=own.accent,
        beside=own.beside,
        below=own.below,
        foot=own.foot,
        words=dict(own.words),
    )


def manner_of(practice: Practice, reader: ReaderFields | None = None) -> Manner:
    """The practice's manner and look, in the reader's own language where they have one."""
    return replace(spoken_to(practice, reader), look=look_of(practice))


def spoken_to(practice: Practice, reader: ReaderFields | None) -> Manner:
    """The same in the house's look, as pages of the site have it."""
    return Manner(
        locale=(reader.own_locale if reader else "") or practice.locale,  # type: ignore[arg-type]
        paper=practice.paper,  # type: ignore[arg-type]
        measures=practice.measures,  # type: ignore[arg-type]
    )


def of_the_crew(practice: Practice, people: Iterable[Membership], asking: Membership) -> Manner:
    """Of the first of the crew with a language of their own; without one, of whoever asks."""
    return manner_of(practice, next((person for person in people if person.own_locale), asking))


@contextmanager
def speaking(manner: Manner) -> Iterator[None]:
    """Templates and print inside are written in this manner."""
    with using(manner), translation.override(SITE.get(manner.locale) or SITE[manner.language]):
        yield


def reading(practice: Practice, member: Membership | None) -> AbstractContextManager[None]:
    """A page of the practice as this member reads it; without one, as consultants' own pages are."""
    return speaking(spoken_to(practice, member) if member else USUAL)
