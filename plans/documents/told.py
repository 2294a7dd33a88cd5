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
from plans.documents.words import day, listed, month_day_words, short
from plans.planning.job import LocaleName, Manner, Measures

CONTEXT = "said"
"""Of texts that the planning service and its tables say, in the catalogue."""
PLACE = re.compile(r"\{(\w+)\}")
_SENTENCE_END = re.compile(r"(?<=[.!?]) (?=[A-Z“{])")
_MONTHS = "January February March April May June July August September October November December".split()
_BRIEF = [month[:3] for month in _MONTHS]
_DATE = re.compile(rf"\b({'|'.join(_MONTHS + _BRIEF)}) (\d{{1,2}})(?:, (\d{{4}}))?\b")


def told(text: str, *, convert: bool = True) -> str:
    """The text as a client or a crew reads it; without `convert` its amounts stay as they are."""
    manner, text = in_force(), str(text)
    return _told(text, manner.locale, manner.measures, convert) if text.strip() else text


def whole(text: str) -> str:
    """The text in the language in force where it is known as it stands: a source that is no publication."""
    language = in_force().language
    return text if language == "en" else _known(language).whole_or_none(text) or text


@lru_cache(maxsize=8192)
def _told(text: str, locale: LocaleName, measures: Measures, convert: bool) -> str:
    manner = Manner(locale=locale, measures=measures)
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
    try:
        on = date(int(year or 2000), _BRIEF.index(month[:3]) + 1, int(number))
    except ValueError:
        return found.group()
    if month not in _MONTHS:
        return short(on, year=bool(year))
    return day(on) if year else month_day_words(on)


def sentences(text: str) -> list[str]:
    return _SENTENCE_END.split(text)


def in_language(text: str, language: str) -> str:
    """The text in another language, as far as the catalogue knows it."""
    known = _known(language)
    for reach in (_PHRASE, _CLAUSE):
        if (said := known.say(text, reach)) is not None:
            return said
    if len(parts := sentences(text)) > 1:
        return " ".join(in_language(part, language) for part in parts)
    if (said := known.say(text, _SENTENCE)) is not None:
        return said
    if len(parts := text.split("; ")) > 1:
        return "; ".join(in_language(part, language) for part in parts)
    if (said := known.say(text, _ANYTHING)) is not None:
        return said
    return _list(text, language)


def _list(text: str, language: str) -> str:
    """Names in a row, where one of them at least is known; else the text as it is."""
    start, colon, rest = text.partition(": ")
    if colon:
        told_start, told_rest = in_language(start, language), in_language(rest, language)
        return f"{told_start}: {told_rest}"
    names = re.split(r", | and ", text)
    if len(names) < 2:
        return text
    known = [in_language(name, language) for name in names]
    return text if known == names else listed(known) if " and " in text else ", ".join(known)


_PHRASE = r"(?:(?!, |; |[.!?] [A-Z]).)+?"
_CLAUSE, _SENTENCE, _ANYTHING = r"(?:(?!; |[.!?] [A-Z]).)+?", r"(?:(?![.!?] [A-Z]).)+?", r".+?"
"""How far a value within a sentence may reach: to a comma, over a clause, a sentence, anywhere."""


class _Template:
    """A sentence with values in it."""

    def __init__(self, asked: str, answer: str):
        parts = PLACE.split(asked)
        self.literals, self.names, self.answer = parts[::2], parts[1::2], answer
        self.weight = sum(map(len, self.literals))
        self.longest = max(self.literals, key=len)

    @lru_cache(maxsize=4096)  # noqa: B019 - templates live as long as the process
    def pattern(self, reach: str) -> re.Pattern[str]:
        pieces = [re.escape(self.literals[0])]
        for name, literal in zip(self.names, self.literals[1:], strict=True):
            pieces.append(f"(?P<{name}>{reach}){re.escape(literal)}")
        return re.compile("".join(pieces), re.S)

    def values(self, text: str, reach: str) -> dict[str, str] | None:
        if self.longest not in text:
            return None
        found = self.pattern(reach).fullmatch(text)
        return found.groupdict() if found else None


class _Known:
    """A language's texts: whole ones, and templates of those with values in them."""

    def __init__(self, language: str):
        self.language = language
        self.whole: dict[str, str] = {}
        self.templates: list[_Template] = []
        path = LOCALE / language / "LC_MESSAGES" / "django.mo"
        if not path.is_file():
            return
        with path.open("rb") as file:
            entries = [entry for entry in read_mo(file) if entry.context == CONTEXT]
        for entry in entries:
            asked, answer = str(entry.id), str(entry.string)
            if PLACE.search(asked):
                self.templates.append(_Template(asked, answer))
            else:
                self.whole[asked] = answer
        self.templates.sort(key=lambda template: template.weight, reverse=True)

    def say(self, text: str, reach: str) -> str | None:
        """None where the text is not known."""
        if (whole := self.whole_or_none(text)) is not None:
            return whole
        for template in self.templates:
            if (values := template.values(text, reach)) is not None:
                told = {name: in_language(value, self.language) for name, value in values.items()}
                return template.answer.format(**told)
        return None

    def whole_or_none(self, text: str) -> str | None:
        """As it stands, or with another case at its start, or with a full stop more or less."""
        for asked, turn in ((text, _same), (_upper(text), _lower), (_lower(text), _upper)):
            bare = asked.removesuffix(".")
            if asked in self.whole:
                return turn(self.whole[asked])
            if bare != asked and bare in self.whole:
                return turn(self.whole[bare]) + "."
            if f"{asked}." in self.whole:
                return turn(self.whole[f"{asked}."]).removesuffix(".")
        return None


def _same(text: str) -> str:
    return text


def _lower(text: str) -> str:
    return text if text[1:2].isupper() else text[:1].lower() + text[1:]


def _upper(text: str) -> str:
    return text[:1].upper() + text[1:]


@cache
def _known(language: str) -> _Known:
    return _Known(language)
