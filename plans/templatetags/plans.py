"""Figures that open to their working, and a few ways of printing a value."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import date
from decimal import Decimal
from typing import Any

from django import template
from django.utils.html import escape
from django.utils.safestring import SafeString, mark_safe
from django.utils.text import capfirst

from plans.documents import changed, season_report, words
from plans.documents.manner import _
from plans.documents.season_facts import UsedLine
from plans.documents.stand_chart import density
from plans.documents.told import told as told_in_words
from plans.documents.told import whole
from plans.models import Visit
from plans.planning.figures import Figure, Term, plain
from plans.planning.plan import Task

register = template.Library()


@register.simple_tag
def figure(fig: Figure | None, places: int | None = None, unit: bool = False) -> SafeString:
    """A value that opens to formula, inputs and source. Built here: a page shows hundreds.

    `places` fixes the decimals; `unit` prints the unit behind (a table heading usually carries it).
    Dollars are always printed with their sign and cents.
    """
    if not fig:
        return mark_safe("")  # noqa: S308  nothing
    formula = capfirst(told_in_words(fig.formula, convert=False))
    inputs = "".join(f"<li>{escape(said(term))}</li>" for term in fig.inputs)
    inputs = f"<ul>{inputs}</ul>" if inputs else ""
    exact = words.exactly(fig.value, fig.unit)
    return mark_safe(  # noqa: S308  every text in it is escaped
        '<details class="figure" name="working">'
        f'<summary class="fig">{escape(shown(fig, places, unit))}</summary><div class="working">'
        f"<p>{escape(formula)}</p>{inputs}<p>= <strong>{escape(exact)}</strong></p>"
        f'<p class="src">{escape(capfirst(source(fig.source)))}</p></div></details>'
    )


def said(term: Term) -> str:
    """An input of a working, in the measure that it was worked out in."""
    value = (
        told_in_words(term.value, convert=False)
        if isinstance(term.value, str)
        else words.exactly(term.value, term.unit)
    )
    return f"{told_in_words(term.name, convert=False)} {value}"


def shown(fig: Figure, places: int | None, unit: bool) -> str:
    if fig.unit == "$" or fig.unit.startswith("$/"):
        return plain(fig.value, "$")
    if places is None:
        return words.amount(fig.value, fig.unit) if unit else words.exactly(fig.value)
    value = words.fixed(words.converted(float(fig.value), fig.unit) if unit else float(fig.value), places)
    return f"{value} {words.unit(fig.unit)}" if unit else value


@register.filter
def usd(amount: Decimal | None) -> str:
    """Dollars and cents; nothing for nothing."""
    return "" if amount is None else words.usd(amount)


@register.filter
def signed(amount: Decimal) -> str:
    """A difference in dollars with its sign."""
    return changed.signed(amount)


@register.filter
def used(line: UsedLine) -> str:
    """What was used and how much of it."""
    return season_report.used_words(line.name, line.amount, line.unit, line.lot)


@register.filter
def in_unit(amount: float | None, unit: str) -> str:
    """An amount with its unit; a dash for none."""
    return "–" if amount is None else words.quantity(amount, unit)


register.filter("density", density)
register.filter("apart", season_report.apart)
register.filter("late", season_report.late)
register.filter("stands", season_report.stands)


@register.filter
def number(value: float | None) -> str:
    """As a person writes it: no needless zeros."""
    return "" if value is None else words.exactly(value)


@register.filter(expects_localtime=True)
def day(on: date | None) -> str:
    return "" if on is None else words.day(on)


@register.filter(expects_localtime=True)
def short_day(on: date | None) -> str:
    return "" if on is None else words.short(on)


register.filter("weekday_here", words.weekday_here)
register.filter("weekday_name", words.weekday_name)
register.filter("month_of_year", words.month_of_year)


@register.filter
def weekday(on: date) -> str:
    return words.weekday(on)


@register.filter
def weekday_short(on: date) -> str:
    return words.weekday(on, short=True)


@register.filter
def window(visit: Visit) -> str:
    return words.window(visit.window_opens, visit.window_shuts)


@register.filter
def acres(value: float) -> str:
    """12.5 acres, or hectares by manner."""
    return words.measured(value, "acre")


@register.filter
def bare_acres(value: float) -> str:
    """The number alone, where the unit follows."""
    return words.number(words.converted(value, "acres"))


@register.filter
def plants(number: int) -> str:
    return words.amount(number, "plants")


@register.filter
def about_hours(value: float) -> str:
    return _("about {hours}").format(hours=words.measured(value, "hour", most=1))


@register.filter
def told(text: str) -> str:
    """What the planning service or a table says, in the language and measures in force."""
    return told_in_words(str(text))


@register.filter
def told_as_measured(text: str) -> str:
    """The same with its amounts as they are: sizes of pins and shafts are names of parts."""
    return told_in_words(str(text), convert=False)


@register.filter
def month_brief(number: int) -> str:
    """Jan for 1."""
    return words.months("abbreviated")[number - 1]


@register.filter
def month_day(stamp: str) -> str:
    """`04-13` as April 13."""
    return words.month_day_words(words.month_day(stamp, 2001))


@register.filter
def labels(things: Iterable[Any]) -> str:
    """What each is called, in a row, for the midst of a sentence."""
    return ", ".join(str(thing.label).lower() for thing in things)


@register.filter
def source(text: str) -> str:
    """Where a value comes from, as a reader is told it."""
    return whole(words.source(text))


@register.filter
def when(task: Task) -> str:
    """The task's window, or the day it was done."""
    return words.when(task)
