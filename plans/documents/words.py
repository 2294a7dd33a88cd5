"""Dates, amounts and lists as they are printed."""

from __future__ import annotations

import calendar
import re
from collections.abc import Iterable, Sequence
from datetime import date
from decimal import Decimal
from functools import lru_cache

from plans.planning.plan import Task

MONTHS = "January February March April May June July August September October November December".split()
COUNTS = "no one two three four five six seven eight nine ten eleven twelve".split()
MARKS = (
    (re.compile(r"[\[(](?:from )?memory[\])]"), "(from memory of the trade)"),
    (re.compile(r"\[derived\]"), "(derived)"),
    (re.compile(r"\s*[\[(]seen[\])]|, seen(?=\))"), ""),
    (re.compile(r"\(seen[,:] "), "("),
)
"""What the reference tables write behind a source, and how a reader is told it."""


def day(on: date) -> str:
    """November 25, 2026."""
    return f"{MONTHS[on.month - 1]} {on.day}, {on.year}"


def short(on: date, year: bool = True) -> str:
    """Nov 25, 2026."""
    return f"{MONTHS[on.month - 1][:3]} {on.day}" + (f", {on.year}" if year else "")


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
    return f"done {short(task.done_on)}" if task.done_on else window(task.earliest, task.latest)


def usd(amount: Decimal) -> str:
    """$1,234.50, a credit as −$1,234.50."""
    sign = "−" if amount < 0 else ""
    return f"{sign}${abs(amount):,.2f}"


def cents(amount: Decimal) -> str:
    """The amount for a column of dollars: 1,234.50, and a dash for nothing."""
    if not amount:
        return "–"
    sign = "−" if amount < 0 else ""
    return f"{sign}{abs(amount):,.2f}"


def number(value: float, most: int = 2) -> str:
    """Up to `most` decimals, no trailing zeros: 11.2, 18."""
    text = f"{value:,.{most}f}"
    return text.rstrip("0").rstrip(".") if "." in text else text


def count(n: int, one: str, many: str = "") -> str:
    """two fields, 14 species."""
    return f"{COUNTS[n] if n < len(COUNTS) else n} {one if n == 1 else many or one + 's'}"


def measured(value: float, one: str, many: str = "", most: int = 2) -> str:
    """11.2 acres, 1 acre: in the singular where it is printed as 1."""
    text = number(value, most)
    return f"{text} {one if text == '1' else many or one + 's'}"


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


def listed(items: Iterable[str]) -> str:
    """a, b and c."""
    items = list(items)
    return items[0] if len(items) == 1 else f"{', '.join(items[:-1])} and {items[-1]}" if items else ""


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


@lru_cache(maxsize=4096)
def source(text: str) -> str:
    """A source as a reader is told it: what was seen in print is plain, what was not says so in words."""
    for mark, said in MARKS:
        text = mark.sub(said, text)
    return text


def fields_of(tasks: Sequence[Task]) -> str:
    return listed(unique(task.field for task in tasks))
