"""What the planning service and the tables say, in the language, measures and formats in force.

The planning service speaks English, and a proposal keeps its very words. So a text is known again by what it
says: first as a whole, then as one of the sentences with values in them that the service makes, then sentence
by sentence. What is known nowhere (a name, a text somebody typed) stays as it is.
"""

from __future__ import annotations

import re
from datetime import date
from functools import cache, lru_cache

from babel.messages.mofile import read_mo

from plans.documents import in_text
from plans.documents.manner import LOCALE, in_force, using
from plans.documents.words import day, month_day_words
from plans.planning.job import Manner

CONTEXT = "said"
"""Of texts that the planning service and its tables say, in the catalogue."""
PLACE = re.compile(r"\{(\w+)\}")
_BETWEEN = re.compile(r"(?<=[.!?;:]) ")
_MONTHS = "January February March April May June July August September October November December".split()
_DATE = re.compile(rf"\b({'|'.join(_MONTHS)}) (\d{{1,2}})(?:, (\d{{4}}))?\b")


def told(text: str, *, convert: bool = True) -> str:
    """The text as a client or a crew reads it; without `convert` its amounts stay as they are."""
    return _told(text, in_force(), convert) if text.strip() else text


@lru_cache(maxsize=8192)
def _told(text: str, manner: Manner, convert: bool) -> str:
    with using(manner):
        if manner.language != "en":
            text = in_language(text, manner.language)
        if manner.metric and convert:
            text = in_text.metric(text)
        elif manner.locale != "en_US":
            text = in_text.numbers(text)
        return _DATE.sub(_date, text) if manner.locale != "en_US" else text


def _date(found: re.Match[str]) -> str:
    month, number, year = found.groups()
    on = date(int(year or 2000), _MONTHS.index(month) + 1, int(number))
    return day(on) if year else month_day_words(on)


def in_language(text: str, language: str) -> str:
    """The text in another language, as far as the catalogue knows it."""
    known = _known(language)
    if (said := known.say(text)) is not None:
        return said
    parts = _BETWEEN.split(text)
    return " ".join(known.say(part) or part for part in parts) if len(parts) > 1 else text


class _Known:
    """A language's texts: whole ones, and patterns for those with values in them."""

    def __init__(self, language: str):
        self.language = language
        self.whole: dict[str, str] = {}
        self.patterns: list[tuple[int, re.Pattern[str], str]] = []
        path = LOCALE / language / "LC_MESSAGES" / "django.mo"
        if not path.is_file():
            return
        with path.open("rb") as file:
            entries = [entry for entry in read_mo(file) if entry.context == CONTEXT]
        for entry in entries:
            asked, answer = str(entry.id), str(entry.string)
            if PLACE.search(asked):
                self.patterns.append((len(PLACE.sub("", asked)), _pattern(asked), answer))
            else:
                self.whole[asked] = answer
        self.patterns.sort(key=lambda found: found[0], reverse=True)

    def say(self, text: str) -> str | None:
        """None where the text is not known."""
        for asked, turn in ((text, _same), (text[:1].upper() + text[1:], _lower), (_lower(text), _upper)):
            if (whole := self.whole.get(asked)) is not None:
                return turn(whole)
            if (whole := self.whole.get(asked.removesuffix("."))) is not None and asked.endswith("."):
                return turn(whole) + "."
            if (whole := self.whole.get(asked + ".")) is not None:
                return turn(whole).removesuffix(".")
        for _, pattern, answer in self.patterns:
            if found := pattern.fullmatch(text):
                values = {
                    name: in_language(value, self.language) for name, value in found.groupdict().items()
                }
                return answer.format(**values)
        return None


def _same(text: str) -> str:
    return text


def _lower(text: str) -> str:
    return text if text[1:2].isupper() else text[:1].lower() + text[1:]


def _upper(text: str) -> str:
    return text[:1].upper() + text[1:]


def _pattern(template: str) -> re.Pattern[str]:
    """What the template could have become: any text in each of its places."""
    parts = PLACE.split(template)
    return re.compile(
        "".join(re.escape(part) if at % 2 == 0 else f"(?P<{part}>.+?)" for at, part in enumerate(parts)), re.S
    )


@cache
def _known(language: str) -> _Known:
    return _Known(language)
