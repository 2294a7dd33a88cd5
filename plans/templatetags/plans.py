"""Figures that open to their working, and a few ways of printing a value."""

from __future__ import annotations

from datetime import date
from decimal import Decimal
from typing import Any

from django import template

from plans.documents import words
from plans.planning.figures import Figure, plain
from plans.planning.plan import Task

register = template.Library()


@register.inclusion_tag("plans/_figure.html")
def figure(fig: Figure | None, places: int | None = None, unit: bool = False) -> dict[str, Any]:
    """A value that opens to formula, inputs and source.

    `places` fixes the decimals; `unit` prints the unit behind (a table heading usually carries it).
    Dollars are always printed with their sign and cents.
    """
    return {"fig": fig, "shown": shown(fig, places, unit) if fig else ""}


def shown(fig: Figure, places: int | None, unit: bool) -> str:
    if fig.unit == "$" or fig.unit.startswith("$/"):
        return plain(fig.value, "$")
    if places is None:
        return fig.shown if unit else plain(fig.value)
    return f"{float(fig.value):,.{places}f}" + (f" {fig.unit}" if unit else "")


@register.filter
def usd(amount: Decimal | None) -> str:
    """Dollars and cents; nothing for nothing."""
    return "" if amount is None else words.usd(amount)


@register.filter
def number(value: float | None) -> str:
    """As a person writes it: no needless zeros."""
    return "" if value is None else plain(value)


@register.filter
def day(on: date | None) -> str:
    return "" if on is None else words.day(on)


@register.filter
def when(task: Task) -> str:
    """The task's window, or the day it was done."""
    return words.when(task)
