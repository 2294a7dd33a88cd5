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
CROWDED = 40
"""From more farms than this on, circles are small, and only what has room is named."""
NAME_WIDE, NAME_HIGH = 105.0, 26.0
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
    crowded = len(placed) > CROWDED
    least, grows = (2.5, 0.9) if crowded else (5.0, 2.4)
    spots = []
    for farm, (east, north) in zip(placed, places, strict=True):
        x, y = WIDE / 2 + east * scale, HIGH / 2 + north * scale
        size = least + grows * math.sqrt(farm.due_count)
        group.add(Circle(x, y, size, fillColor=GREEN if farm.due_count else None, strokeColor=GREEN))
        spots.append((farm, x, y, size))
    named: list[tuple[float, float]] = []
    for farm, x, y, size in sorted(spots, key=lambda spot: (-spot[0].due_count, -spot[0].open_count)):
        left = x > WIDE * LABEL_LEFT_FROM
        at, room = (x - size - 4, x - size - 8) if left else (x + size + 4, WIDE - x - size - 8)
        begins = at - NAME_WIDE if left else at
        if crowded and any(abs(begins - u) < NAME_WIDE and abs(y - v) < NAME_HIGH for u, v in named):
            continue
        named.append((begins, y))
        anchor = "end" if left else "start"
        room = min(room, NAME_WIDE) if crowded else room
        words(group, at, y + 1, farm.name, size=10, room=room, anchor=anchor)
        words(group, at, y - 10, due_and_open(farm), size=8.5, colour=QUIET, anchor=anchor)
    miles = next(step for step in (1, 2, 5, 10, 20, 50, 100, 1000) if step * scale > 40)
    rule(group, 14, 16, 14 + miles * scale, 16, RULE, 1.2)
    words(group, 14, 21, measured(miles, "mile"), size=8.5, colour=QUIET)
    words(group, WIDE - 24, HIGH - 16, "N ↑", size=10, colour=QUIET)
    if crowded:
        said = _("Named: farms with the most due, as far as there is room")
        words(group, 14, HIGH - 16, said, size=8.5, colour=QUIET)
    return inline_svg(drawing, name="farms", title=_("Farms with open work"), description=describe(placed))


def describe(farms: Sequence[Any]) -> str:
    """The same in words."""
    return " ".join(f"{farm.name}: {due_and_open(farm)}." for farm in farms)


def due_and_open(farm: Any) -> str:
    return _("{due} due, {open} open").format(due=farm.due_count, open=farm.open_count)
