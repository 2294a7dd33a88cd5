"""What the head of every page needs: sections, which one is open, and the person's practices."""

from __future__ import annotations

from functools import lru_cache
from typing import Any

from django.http import HttpRequest
from django.urls import NoReverseMatch, reverse
from django.utils.translation import gettext_lazy

from consulting.models import Membership, Practice
from consulting.policy import Right, may

SECTIONS: tuple[tuple[Any, str, frozenset[str], Right], ...] = (
    (gettext_lazy("Work"), "work", frozenset({"work"}), Right.SEE_WORK),
    (
        gettext_lazy("Farms"),
        "clients",
        frozenset({"clients", "farms", "fields", "landmarks", "brought"}),
        Right.SEE_WORK,
    ),
    (gettext_lazy("Plans"), "plans", frozenset({"plans", "proposals", "letters"}), Right.SEE_PRICES),
    (gettext_lazy("Mixes"), "mixes", frozenset({"mixes"}), Right.SEE_PRICES),
    (gettext_lazy("Prices"), "prices", frozenset({"prices"}), Right.SEE_PRICES),
    (gettext_lazy("Machines"), "machines", frozenset({"machines"}), Right.SEE_WORK),
    (gettext_lazy("Reckoner"), "reckoner", frozenset({"reckoner"}), Right.SEE_WORK),
    (gettext_lazy("Practice"), "practice_details", frozenset({"practice", "history"}), Right.RUN_PRACTICE),
    (gettext_lazy("Practice"), "practice_look", frozenset({"practice", "history"}), Right.SEE_PRICES),
)
"""Of two with one name the first that a person may open."""


KEPT_COPY = "X-Kept-Copy"
"""The header with which a device asks for a page to keep: what is said only once is not said there."""


@lru_cache(maxsize=4096)
def _address(name: str, slug: str) -> str:
    """Kept, as each page has one for each section. Empty where there is none."""
    try:
        return reverse(name, args=[slug])
    except NoReverseMatch:
        return ""


def _sections(practice: Practice, membership: Membership, path: str) -> list[dict[str, Any]]:
    opened = path.removeprefix(f"/{practice.slug}/").partition("/")[0]
    shown: dict[str, dict[str, Any]] = {}
    for title, name, segments, right in SECTIONS:
        label, url = str(title), _address(name, practice.slug)
        if url and label not in shown and may(membership, right):
            shown[label] = {"label": label, "url": url, "current": opened in segments}
    return list(shown.values())


def navigation(request: HttpRequest) -> dict[str, Any]:
    practice: Practice | None = getattr(request, "practice", None)
    membership: Membership | None = getattr(request, "membership", None)
    if practice is None or membership is None:
        return {}
    mine: list[Membership] = getattr(request, "memberships", [])
    return {
        "practice": practice,
        "kept_copy": KEPT_COPY in request.headers,
        "sections": _sections(practice, membership, request.path),
        "other_practices": [own.practice for own in mine if own.practice != practice],
        "rights": {right.value: may(membership, right) for right in Right},
    }
