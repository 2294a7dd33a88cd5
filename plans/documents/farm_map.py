"""Farms where they lie, north up, each with how much work is open there."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Any

from reportlab.graphics.shapes import Circle, Drawing, Group

from plans.documents.look import GREEN, QUIET, RULE
from plans.documents.manner import _
from plans.documents.marks import rule, words
from plans.documents.svg import inline_svg
from plans.documents.words import measured

WIDE, HIGH, EDGE = 580.0, 360.0, 60.0
MOST_NAMED = 40
"""Farms with a name on the drawing: more would stand over one another."""
LABEL_LEFT_FROM = 0.65
"""From this share of the width on a name stands left of its farm."""
MILES_PER_DEGREE = 69.0
"""Of latitude: close enough to lay farms of a few counties beside each other."""


def _places(farms: Sequence[Any]) -> list[tuple[float, float]]:
    """East and north [miles] of the middle of all farms."""
    middle = sum(farm.latitude for farm in farms) / len(farms)
    west = math.cos(math.radians(middle)) * MILES_PER_DEGREE
    east = [farm.longitude * west for farm in farms]
    north = [farm.latitude * MILES_PER_DEGREE for farm in farms]
    return [
        (x - sum(east) / len(east), y - sum(north) / len(north)) for x, y in zip(east, north, strict=True)
    ]


def _scale(places: Sequence[tuple[float, float]]) -> float:
    """Points to a mile, so that every farm has room."""
    wide = max((abs(x) for x, _ in places), default=0) or 1
    high = max((abs(y) for _, y in places), default=0) or 1
    return min((WIDE / 2 - EDGE) / wide, (HIGH / 2 - EDGE) / high, 60.0)


def farm_map(farms: Sequence[Any]) -> str:
    """An SVG of farms that have a place, with their `open_count` and `due_count`; empty where none has."""
    placed = [farm for farm in farms if farm.latitude is not None and farm.longitude is not None]
    if not placed:
        return ""
    drawing, group = Drawing(WIDE, HIGH), Group()
    drawing.add(group)
    places = _places(placed)
    scale = _scale(places)
    busiest = sorted(placed, key=lambda farm: (-farm.due_count, -farm.open_count))[:MOST_NAMED]
    named = {id(farm) for farm in busiest}
    for farm, (east, north) in zip(placed, places, strict=True):
        x, y = WIDE / 2 + east * scale, HIGH / 2 + north * scale
        size = 5 + 2.4 * math.sqrt(farm.due_count)
        group.add(Circle(x, y, size, fillColor=GREEN if farm.due_count else None, strokeColor=GREEN))
        if id(farm) not in named:
            continue
        left = x > WIDE * LABEL_LEFT_FROM
        at, room = (x - size - 4, x - size - 8) if left else (x + size + 4, WIDE - x - size - 8)
        said = due_and_open(farm)
        anchor = "end" if left else "start"
        words(group, at, y + 1, farm.name, size=10, room=room, anchor=anchor)
        words(group, at, y - 10, said, size=8.5, colour=QUIET, anchor=anchor)
    miles = next(step for step in (1, 2, 5, 10, 20, 50, 100, 1000) if step * scale > 40)
    rule(group, 14, 16, 14 + miles * scale, 16, RULE, 1.2)
    words(group, 14, 21, measured(miles, "mile"), size=8.5, colour=QUIET)
    words(group, WIDE - 24, HIGH - 16, "N ↑", size=10, colour=QUIET)
    if len(placed) > MOST_NAMED:
        said = _("Named: the {count} farms with the most due").format(count=MOST_NAMED)
        words(group, 14, HIGH - 16, said, size=8.5, colour=QUIET)
    return inline_svg(drawing, name="farms", title=_("Farms with open work"), description=describe(placed))


def describe(farms: Sequence[Any]) -> str:
    """The same in words."""
    return " ".join(f"{farm.name}: {due_and_open(farm)}." for farm in farms)


def due_and_open(farm: Any) -> str:
    return _("{due} due, {open} open").format(due=farm.due_count, open=farm.open_count)
