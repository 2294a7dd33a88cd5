"""Small seasons: days of ten hours, all fit for work, no road, unless a test says otherwise."""

from __future__ import annotations

from datetime import date, timedelta
from decimal import Decimal
from typing import Any

from plans.planning.booking import BookVisit, Leg, Machine, Person, Prices, Season, Wait

FIRST = date(2027, 6, 7)
"""A Monday."""
EVERY_MONTH = range(1, 13)


def on(day: int) -> date:
    """The day of the season, which begins on day 0."""
    return FIRST + timedelta(days=day)


def visit(id: str, days: float = 1.0, window: tuple[int, int] = (0, 9), **changes: Any) -> BookVisit:
    """Mowing for `days` whole days, to end by the window's last day; `after=(("a", 3),)` waits 3 days."""
    waits = tuple(Wait(*pair) for pair in changes.pop("after", ()))
    asked = {
        "id": id,
        "farm": "home",
        "field": id,
        "operation": "rotary_mowing",
        "hours": days * 10,
        "earliest": on(window[0]),
        "latest": on(window[1]),
        "needs": ("mower",),
        "after": waits,
    }
    return BookVisit(**(asked | changes))


def season(*visits: BookVisit, days: int = 30, **changes: Any) -> Season:
    """One mower, two people."""
    asked: dict[str, Any] = {
        "first": FIRST,
        "last": on(days - 1),
        "visits": visits,
        "machines": (Machine(id="mower", classes=("mower",)),),
        "people": (Person(id="Ada"), Person(id="Ben")),
        "travel": {"home": Leg(0.0, 0.0), "north": Leg(10.0, 0.5), "south": Leg(20.0, 0.5)},
        "fit_share_by_month": dict.fromkeys(EVERY_MONTH, 1.0),
        "daylight_hours_by_month": dict.fromkeys(EVERY_MONTH, 24.0),
        "weekdays_off": (),
        "prices": Prices(usd_per_mile=Decimal(1), usd_per_trip=Decimal(5)),
    }
    return Season(**(asked | changes))


def second_mower(**changes: Any) -> Machine:
    """For rent at 100 a day and 150 each time it is brought."""
    asked = {
        "id": "rented mower",
        "classes": ("mower",),
        "holding": "rented",
        "rent_usd_per_day": Decimal(100),
        "delivery_usd": Decimal(150),
    }
    return Machine(**(asked | changes))
