"""How a practice looks in print and what it says there."""

from __future__ import annotations

from typing import Any

from django.core.exceptions import ValidationError
from django.db import models
from django.utils.translation import gettext, gettext_lazy

from consulting.append_only import Added
from consulting.followed import Editable
from consulting.models import Practice
from plans.documents import fonts
from plans.documents.colours import HOUSE, BadColour, checked_accent, checked_main
from plans.documents.look import FOOT_FONT, FOOT_SIZE, FOOT_WIDE
from plans.planning.own_words import problems

MOST_WORDS = 4000
"""Characters of own words at one place: about a page."""
MOST_BESIDE, MOST_BELOW = 8, 3
"""Lines that a letterhead has room for."""


def check_lines(text: str, most: int) -> None:
    lines = len([line for line in text.splitlines() if line.strip()])
    if lines > most:
        raise ValidationError(
            gettext("There is room for {most} lines; these are {lines}. Take some out.").format(
                most=most, lines=lines
            )
        )


def check_beside(text: str) -> None:
    check_lines(text, MOST_BESIDE)


def check_below(text: str) -> None:
    check_lines(text, MOST_BELOW)


def check_foot(text: str) -> None:
    if fonts.width(text, FOOT_FONT, FOOT_SIZE) > FOOT_WIDE:
        fits = fonts.fit(text, FOOT_FONT, FOOT_SIZE, FOOT_WIDE)
        raise ValidationError(
            gettext("This is too wide for the foot of a page. What fits is “{fits}”.").format(fits=fits)
        )


def check_words(text: str) -> None:
    """Every name in braces is one that can be filled in, and every brace has its other."""
    if len(text) > MOST_WORDS:
        raise ValidationError(
            gettext("These words are {length} characters long. Keep them to {most}.").format(
                length=f"{len(text):,}", most=f"{MOST_WORDS:,}"
            )
        )
    if found := problems(text):
        raise ValidationError(found)


def too_pale(bad: BadColour) -> ValidationError:
    return ValidationError(str(bad), code="too pale", params={"nearest": bad.nearest})


class PracticeLook(Editable):
    """Apart from Practice, so that it is read only where something is printed."""

    practice = models.OneToOneField(
        Practice, on_delete=models.CASCADE, primary_key=True, related_name="own_look", editable=False
    )
    main = models.CharField(gettext_lazy("main color"), max_length=7, default=HOUSE.main)
    accent = models.CharField(gettext_lazy("second color"), max_length=7, default=HOUSE.accent)
    beside = models.TextField(
        gettext_lazy("beside your name"), max_length=600, blank=True, validators=[check_beside]
    )
    below = models.TextField(
        gettext_lazy("below your name"), max_length=300, blank=True, validators=[check_below]
    )
    foot = models.CharField(
        gettext_lazy("at the foot of each page"), max_length=120, blank=True, validators=[check_foot]
    )
    words = models.JSONField(gettext_lazy("own words"), default=dict, blank=True, editable=False)
    """{place: text}, as plans.planning.own_words names places."""

    part_of = "practice"

    def __str__(self) -> str:
        return f"{self.main}, {self.accent}"

    def clean(self) -> None:
        super().clean()
        wrong: dict[str, Any] = {}
        nearest = ""
        try:
            self.accent = checked_accent(self.accent)
        except BadColour as bad:
            wrong["accent"], nearest = too_pale(bad), bad.nearest
        try:
            self.main = checked_main(self.main, nearest or (HOUSE.accent if wrong else self.accent))
        except BadColour as bad:
            wrong["main"] = too_pale(bad)
        for text in self.words.values():
            check_words(text)
        if wrong:
            raise ValidationError(wrong)


class KeptLogo(Added):
    """A logo that a proposal was printed with, once however many were."""

    sha256 = models.CharField(max_length=64)
    png = models.BinaryField()

    class Meta:
        constraints = [models.UniqueConstraint(fields=["practice", "sha256"], name="kept_logo_once")]

    def __str__(self) -> str:
        return self.sha256
