"""What is printed for the wall beside the plan itself."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date
from typing import Literal

from plans.documents.manner import _
from plans.documents.words import day

Standing = Literal["draft", "offered", "agreed"]


@dataclass(frozen=True, slots=True, kw_only=True)
class WallAbout:
    """What is printed beside the plan itself; what is empty becomes a line to fill in."""

    printed_on: date
    standing: Standing = "draft"
    reference: str = ""
    """Number and revision of what was offered."""
    contacts: tuple[tuple[str, str], ...] = ()
    """Who and the number."""
    hospital: str = ""
    booked: Mapping[str, date] = field(default_factory=dict)
    """The day a step is booked for, by task."""


def standing_in_words(about: WallAbout) -> str:
    """What the plan shows: a draft, an offer, or the work as it stands, and of which day."""
    text = {
        "draft": _("A draft of {day}: nothing is agreed yet."),
        "offered": _("As offered: {reference}. Printed {day}."),
        "agreed": _("As the work stands on {day}."),
    }[about.standing]
    return text.format(day=day(about.printed_on), reference=about.reference)
