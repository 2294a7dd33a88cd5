"""Dates, amounts and lists as they are printed, in the manner in force."""

from __future__ import annotations

import calendar
import re
from collections.abc import Iterable, Sequence
from datetime import date
from decimal import Decimal
from functools import cache, lru_cache
from typing import Literal

from babel import Locale
from babel.dates import format_date, format_skeleton, get_month_names
from babel.numbers import format_currency, format_decimal

from plans.documents import measures
from plans.documents.manner import _, in_force, marked, several, using
from plans.planning.figures import Number, plain
from plans.planning.job import LocaleName, Manner, Measures
from plans.planning.plan import Task

MARKS = (
    (re.compile(r"[\[(](?:from )?memory[\])]"), marked("(from memory of the trade)")),
    (re.compile(r"\[derived\]"), marked("(derived)")),
    (re.compile(r"\s*[\[(]seen[\])]|, seen(?=\))"), ""),
    (re.compile(r"\(seen[,:] "), "("),
)
"""What the reference tables write behind a source, and how a reader is told it."""


CENT = Decimal("0.01")
Width = Literal["wide", "abbreviated", "narrow"]


@cache
def _locale(name: str) -> Locale:
    return Locale.parse(name)


_YEAR_BEHIND = re.compile(r"(?:,| 'de')? y$")
"""What the pattern of a whole date ends with in each of our locales."""


@lru_cache(maxsize=4096)
def _date(on: date, form: str, locale: str) -> str:
    if form in ("full", "long", "medium"):
        return format_date(on, form, locale=_locale(locale))
    if form == "weekday and day":
        whole = _locale(locale).date_formats["full"].pattern
        return format_date(on, _YEAR_BEHIND.sub("", whole), locale=_locale(locale))
    if form == "weekday":
        return format_date(on, "EEEE", locale=_locale(locale))
    return format_skeleton(form, on, locale=_locale(locale))


def day(on: date) -> str:
    """November 25, 2026."""
    return _date(on, "long", in_force().locale)


def short(on: date, year: bool = True) -> str:
    """Nov 25, 2026."""
    return _date(on, "medium" if year else "MMMd", in_force().locale)


def weekday(on: date, *, short: bool = False) -> str:
    """Monday, November 30, 2026, or Mon, Nov 30."""
    return _date(on, "MMMEd" if short else "full", in_force().locale)


def weekday_here(on: date) -> str:
    """Monday, November 30, where the year goes without saying."""
    return _date(on, "weekday and day", in_force().locale)


def weekday_name(on: date) -> str:
    """Monday."""
    return _date(on, "weekday", in_force().locale)


def month_of_year(on: date) -> str:
    """Nov 2026."""
    return _date(on, "yMMM", in_force().locale)


def month_day_words(on: date) -> str:
    """November 25."""
    return _date(on, "MMMMd", in_force().locale)


@cache
def _months(width: Width, locale: str) -> tuple[str, ...]:
    named = get_month_names(width, "stand-alone", _locale(locale))
    return tuple(named[number] for number in range(1, 13))


def months(width: Width = "wide") -> tuple[str, ...]:
    """The twelve names, January first: `wide` (January), `abbreviated` (Jan) or `narrow` (J)."""
    return _months(width, in_force().locale)


def month_day(text: str, year: int) -> date:
    """A `MM-DD` in that year; a day the month does not have becomes its last."""
    month, number = (int(part) for part in text.split("-"))
    return date(year, month, min(number, calendar.monthrange(year, month)[1]))


def window(first: date, last: date) -> str:
    """Sep 20 – Oct 31, 2027."""
    if first == last:
        return short(first)
    return f"{short(first, year=first.year != last.year)} – {short(last)}"


def when(task: Task) -> str:
    """The task's window, or the day it was done."""
    if task.done_on:
        return _("done {day}").format(day=short(task.done_on))
    return window(task.earliest, task.latest)


_LETTER_BESIDE_DIGIT = re.compile(r"(?<=[A-Za-z])(?=\d)")


@lru_cache(maxsize=4096)
def _usd(amount: Decimal, locale: str) -> str:
    """With the space that CLDR sets between a sign of letters and the digits, and Babel leaves out."""
    return _LETTER_BESIDE_DIGIT.sub(
        "\N{NO-BREAK SPACE}", format_currency(amount, "USD", locale=_locale(locale))
    )


@lru_cache(maxsize=8192)
def _decimal(amount: Decimal, pattern: str, locale: str) -> str:
    return format_decimal(amount, pattern, locale=_locale(locale))


def usd(amount: Decimal) -> str:
    """$1,234.50, a credit as −$1,234.50. Always dollars of the United States."""
    sign = "−" if amount < 0 else ""
    return sign + _usd(abs(amount), in_force().locale)


def cents(amount: Decimal) -> str:
    """The amount for a column of dollars: 1,234.50, and a dash for nothing."""
    if not amount:
        return "–"
    sign = "−" if amount < 0 else ""
    return sign + _decimal(abs(amount), "#,##0.00", in_force().locale)


def fixed(value: float, places: int) -> str:
    """Always that many decimals, for a column: 1,234.5."""
    return _decimal(Decimal(f"{value:.{places}f}"), "#,##0." + "0" * places, in_force().locale)


def number(value: float, most: int = 2) -> str:
    """Up to `most` decimals, no trailing zeros: 11.2, 18."""
    return _decimal(Decimal(f"{value:.{most}f}"), "#,##0." + "#" * most, in_force().locale)


def count(n: int, one: str, many: str = "") -> str:
    """two fields, 14 species. The words are marked for translation where they are given."""
    forms = "{count} " + one, "{count} " + (many or one + "s")
    return several(*forms, n).format(count=_spelled(n))


def _spelled(n: int) -> str:
    spelled = _("no one two three four five six seven eight nine ten eleven twelve").split()
    return spelled[n] if n < len(spelled) else number(n)


def measured(value: float, one: str, many: str = "", most: int = 2) -> str:
    """11.2 acres, 1 acre: in the singular where it is printed as 1. An acre becomes hectares by manner."""
    if in_force().metric and (metric := measures.in_metric(value, one)):
        value, one = metric
        many = one
    text = number(value, most)
    forms = "{amount} " + one, "{amount} " + (many or one + "s")
    return several(*forms, 1 if text == "1" else 2).format(amount=text)


UNIT_WORDS = (
    ("acre", "acres"),
    ("ft", "ft"),
    ("hour", "hours"),
    ("in", "in"),
    ("mile", "miles"),
    ("plant", "plants"),
    ("ton", "tons"),
    ("trip", "trips"),
    ("tube", "tubes"),
    ("seeds/ft²", "seeds/ft²"),
    ("seeds/m²", "seeds/m²"),
    ("plants/ft²", "plants/ft²"),
    ("plants/m²", "plants/m²"),
    ("plants/acre", "plants/acre"),
    ("plants/ha", "plants/ha"),
    ("stems/acre", "stems/acre"),
    ("stems/ha", "stems/ha"),
    ("tons/acre", "tons/acre"),
)
"""Units that are words; the signs of the others are the same everywhere."""
ONE_OF = {
    "acres": "acre",
    "hours": "hour",
    "plants": "plant",
    "tons": "ton",
    "trips": "trip",
    "tubes": "tube",
}
MANY_OF = {"acre": "acres", "h": "hours", "hour": "hours", "mile": "miles", "trip": "trips"}


def quantity(value: float, unit: str, most: int = 2) -> str:
    """A figure's value with its unit as a line of a table has it: 1 plant, 230 miles, 5.78 lb."""
    if not unit:
        return number(value, most)
    many = MANY_OF.get(unit, unit)
    one = "hour" if unit == "h" else ONE_OF.get(unit, unit)
    return measured(value, one, many, most)


def amount(value: Number, unit: str = "") -> str:
    """A figure as a person writes it, to about four figures: 853.3 fl oz, 12.5 gal, or liters by manner."""
    manner = in_force()
    return _amount(value, unit, manner.locale, manner.measures)


def exactly(value: Number, unit: str = "") -> str:
    """A figure in the measure it was worked out in."""
    return _amount(value, unit, in_force().locale, "US customary")


@lru_cache(maxsize=16_384)
def _amount(value: Number, unit: str, locale: LocaleName, measures_in: Measures) -> str:
    """Kept, as a plan’s page has hundreds and most of them many times."""
    with using(Manner(locale=locale, measures=measures_in)):
        if unit == "$" or unit.startswith("$/"):
            # Dollars an acre are said as such: $40.00/acre.
            per = unit.removeprefix("$")
            dollars = Decimal(str(converted(float(value), unit) if per else value)).quantize(CENT)
            return usd(dollars) + (per.replace("/acre", "/ha") if in_force().metric else per)
        many = MANY_OF.get(unit, unit)
        one = "hour" if unit == "h" else ONE_OF.get(unit, unit)
        if in_force().metric and (metric := measures.in_metric(float(value), one)):
            value, one = metric
            many = one
        text = plain(value)
        text = number(float(text.replace(",", "")), len(text.partition(".")[2]))
        said = several(f"{{amount}} {one}", f"{{amount}} {many}", 1 if text == "1" else 2)
        return said.format(amount=text).strip()


def by_label(value: Number, unit: str) -> str:
    """An amount of a product in the unit of its label, since that is measured out, with the metric one."""
    text = exactly(value, unit)
    return f"{text} [{amount(value, unit)}]" if in_force().metric and unit in measures.METRIC else text


def unit(name: str) -> str:
    """A unit for the head of a column: lb, or kg by manner."""
    if in_force().metric and (metric := measures.METRIC.get(ONE_OF.get(name, name))):
        name = metric.unit
    return _(name)


def area_head() -> str:
    """The head of a column of acres, or of hectares."""
    return unit("acre") if in_force().metric else _("Acres")


def converted(value: float, name: str) -> float:
    """The bare number that stands under `unit(name)`."""
    metric = measures.METRIC.get(ONE_OF.get(name, name)) if in_force().metric else None
    return metric.value(value) if metric else value


def listed(items: Iterable[str]) -> str:
    """a, b and c."""
    items = list(items)
    if len(items) < 2:
        return "".join(items)
    return _("{first} and {last}").format(first=", ".join(items[:-1]), last=items[-1])


def lower_first(text: str) -> str:
    """For use inside a sentence; an acronym keeps its capitals."""
    return text if text[1:2].isupper() else text[:1].lower() + text[1:]


def upper_first(text: str) -> str:
    return text[:1].upper() + text[1:]


def sentence(text: str) -> str:
    """With a capital and a full stop."""
    text = text.strip()
    if not text:
        return ""
    return text[0].upper() + text[1:] + ("" if text[-1] in ".!?…。！？" else ".")


def unique(items: Iterable[str]) -> list[str]:
    return list(dict.fromkeys(items))


def source(text: str) -> str:
    """A source as a reader is told it: what was seen in print is plain, what was not says so in words."""
    return _source(text, in_force().locale)


@lru_cache(maxsize=4096)
def _source(text: str, locale: str) -> str:
    for mark, said in MARKS:
        text = mark.sub(_(said), text)
    return text


def fields_of(tasks: Sequence[Task]) -> str:
    return listed(unique(task.field for task in tasks))
