"""Text, bars and their rows, for the drawings."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta

from reportlab.graphics.shapes import STATE_DEFAULTS, Group, Line, Rect, String
from reportlab.lib.colors import Color

from plans.documents import fonts
from plans.documents.look import GREEN, INK, STRAW, WHITE
from plans.planning.plan import Task

# A drawing opens by naming its default font; Helvetica could not be embedded.
STATE_DEFAULTS["fontName"] = fonts.SANS
BAR = 7.0
"""Height of a task's bar [pt]."""
GAP = 3.0
"""Between a bar and its words [pt]."""


def words(
    group: Group,
    x: float,
    y: float,
    text: str,
    *,
    font: str = fonts.SANS,
    size: float = 7.5,
    colour: Color = INK,
    room: float | None = None,
    anchor: str = "start",
) -> tuple[float, float]:
    """One line of plain text on the drawing; returns its left and right edges."""
    if room is not None:
        text = fonts.fit(text, font, size, room)
    wide = fonts.width(text, font, size)
    left = x - wide if anchor == "end" else x - wide / 2 if anchor == "middle" else x
    at = left
    for name, piece in fonts.runs(text, font):
        group.add(String(at, y, piece, fontName=name, fontSize=size, fillColor=colour))
        at += fonts.width(piece, name, size)
    return left, left + wide


@dataclass(frozen=True, slots=True)
class Bar:
    """A task's window on the drawing and the words beside it [pt]."""

    start: float
    end: float
    text: str
    phase: str
    text_left: float
    text_right: float
    lane: int = 0

    @property
    def left(self) -> float:
        return min(self.start, self.text_left)

    @property
    def right(self) -> float:
        return max(self.end, self.text_right)


def stack(bars: Sequence[Bar], apart: float = 8.0) -> list[Bar]:
    """The bars in lanes, counted from 0, so that neither bars nor words meet."""
    ends: list[list[tuple[float, float]]] = []
    placed = []
    for bar in bars:
        lane = next(
            (
                i
                for i, taken in enumerate(ends)
                if all(bar.right + apart <= left or right + apart <= bar.left for left, right in taken)
            ),
            len(ends),
        )
        if lane == len(ends):
            ends.append([])
        ends[lane].append((bar.left, bar.right))
        placed.append(Bar(bar.start, bar.end, bar.text, bar.phase, bar.text_left, bar.text_right, lane))
    return placed


def draw_bar(group: Group, bar: Bar, y: float, size: float) -> None:
    """Kill bars are straw, planting is green, all later care an open outline; the words say which."""
    fill = {"kill": STRAW, "plant": GREEN}.get(bar.phase, WHITE)
    edge = fill if fill is not WHITE else INK
    group.add(Rect(bar.start, y, bar.end - bar.start, BAR, fillColor=fill, strokeColor=edge, strokeWidth=0.6))
    words(group, bar.text_left, y + 1, bar.text, size=size)


def rule(
    group: Group,
    x1: float,
    y1: float,
    x2: float,
    y2: float,
    colour: Color,
    width: float = 0.5,
    **more: object,
) -> None:
    group.add(Line(x1, y1, x2, y2, strokeColor=colour, strokeWidth=width, **more))


@dataclass(frozen=True, slots=True)
class Axis:
    """Days laid along the drawing, from `left` to `right` [pt]."""

    first: date
    last: date
    left: float
    right: float

    def at(self, on: date) -> float:
        share = (on - self.first).days / ((self.last - self.first).days + 1)
        return self.left + (self.right - self.left) * min(max(share, 0.0), 1.0)

    def bar(self, first: date, last: date, text: str, phase: str, size: float) -> Bar:
        """A bar at least 2 pt long, its words to the right, or to the left where the right has no room."""
        start = self.at(first)
        end = max(self.at(last + timedelta(days=1)), start + 2)
        before, after = start - GAP - self.left, self.right - end - GAP
        text = fonts.fit(text, fonts.SANS, size, max(before, after))
        wide = fonts.width(text, fonts.SANS, size)
        text_left = end + GAP if wide <= after else start - GAP - wide
        return Bar(start, end, text, phase, text_left, text_left + wide)

    def months(self) -> list[date]:
        """The first of each month on the axis, which itself begins with one."""
        starts = [self.first]
        while (following := next_month(starts[-1])) <= self.last:
            starts.append(following)
        return starts


def next_month(on: date, months: int = 1) -> date:
    """The first of the month that lies `months` after the month of `on`."""
    index = on.year * 12 + on.month - 1 + months
    return date(index // 12, index % 12 + 1, 1)


def same_windows(tasks: Sequence[Task]) -> list[list[Task]]:
    """Tasks that say the same with the same window, on several fields, together; order kept."""
    groups: dict[tuple, list[Task]] = {}
    for task in tasks:
        groups.setdefault((task.label, task.phase, task.earliest, task.latest, task.done_on), []).append(task)
    return list(groups.values())
