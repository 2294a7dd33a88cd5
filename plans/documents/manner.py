"""How something is printed: in which language, on which paper, in which measures."""

from __future__ import annotations

import gettext as catalogues
from collections.abc import Iterator
from contextlib import contextmanager
from contextvars import ContextVar
from dataclasses import dataclass
from functools import cache
from pathlib import Path

LOCALE = Path(__file__).resolve().parents[2] / "locale"


@dataclass(frozen=True, slots=True, kw_only=True)
class Manner:
    """A practice's ways of printing; frozen with what it prints."""

    language: str = "en"


USUAL = Manner()
_now: ContextVar[Manner] = ContextVar("manner", default=USUAL)


def now() -> Manner:
    """The manner in force."""
    return _now.get()


@contextmanager
def using(manner: Manner) -> Iterator[None]:
    """Everything inside is printed in this manner."""
    token = _now.set(manner)
    try:
        yield
    finally:
        _now.reset(token)


@cache
def _catalogue(language: str) -> catalogues.NullTranslations:
    return catalogues.translation("django", LOCALE, [language], fallback=True)


def _(text: str) -> str:
    """The text in the language in force; as it stands where no translation is known."""
    return _catalogue(now().language).gettext(text) if text else ""


def several(one: str, many: str, n: int) -> str:
    """The form of the text that goes with that number."""
    return _catalogue(now().language).ngettext(one, many, n)
