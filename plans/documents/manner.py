"""The manner in force while something is printed, and the words of its language."""

from __future__ import annotations

import gettext as catalogues
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from contextvars import ContextVar
from functools import cache, wraps
from pathlib import Path
from typing import Concatenate, ParamSpec, TypeVar

from reportlab.lib.pagesizes import A4, letter

from plans.planning import tables
from plans.planning.job import Manner
from plans.planning.plan import Plan

P = ParamSpec("P")
R = TypeVar("R")

LOCALE = Path(__file__).resolve().parents[2] / "locale"
SHEETS: dict[str, tuple[float, float]] = {"letter": letter, "A4": A4}
"""Width and height of an upright sheet [pt]."""

USUAL = Manner()
_in_force: ContextVar[Manner] = ContextVar("manner", default=USUAL)


def in_force() -> Manner:
    """The manner in which things are printed right now."""
    return _in_force.get()


@contextmanager
def using(manner: Manner) -> Iterator[None]:
    """Everything inside is printed in this manner."""
    token = _in_force.set(manner)
    try:
        yield
    finally:
        _in_force.reset(token)


def in_its_manner(print_it: Callable[Concatenate[Plan, P], R]) -> Callable[Concatenate[Plan, P], R]:
    """Whatever prints a plan prints it in its job's manner, and knows the species that were added there."""

    @wraps(print_it)
    def printed(plan: Plan, *args: P.args, **kwargs: P.kwargs) -> R:
        with using(plan.job.manner), tables.knowing(plan.job.added_species):
            return print_it(plan, *args, **kwargs)

    return printed


def sheet() -> tuple[float, float]:
    """Width and height of an upright page [pt]."""
    return SHEETS[in_force().paper]


@cache
def _catalogue(language: str) -> catalogues.NullTranslations:
    return catalogues.translation("django", LOCALE, [language], fallback=True)


def _(text: str) -> str:
    """The text in the language in force; as it stands where no translation is known."""
    return _catalogue(in_force().language).gettext(text) if text else ""


def marked(text: str) -> str:
    """A text that is translated where it is used, since it is written down before the language is known."""
    return text


def several(one: str, many: str, n: int) -> str:
    """The form of the text that goes with that number."""
    return _catalogue(in_force().language).ngettext(one, many, n)
