"""Text, bars and their rows, for the drawings."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import dataclass
from datetime import date, timedelta

from reportlab.graphics.shapes import STATE_DEFAULTS, Drawing, Group, Line, Path, Rect, String
from reportlab.lib.colors import Color

from plans.documents import fonts
from plans.documents.look import GREEN, INK, STRAW_DARK, STRAW_WASH, WHITE
from plans.documents.manner import _
from plans.planning.plan import Task

# A drawing opens by naming its default font; Helvetica could not be embedded.
STATE_DEFAULTS["fontName"] = fonts.SANS
BAR = 7.0
"""Height of a task's bar [pt]."""
GAP = 3.0
"""Between a bar and its words [pt]."""
HATCH_APART = 3.2
"""Between the strokes that fill a bar, in widths of a bar of `BAR` [pt]."""


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


@dataclass(frozen=True, slots=True)
class Look:
    """How a phase's bars are told apart, in color and in black on white alike."""

    fill: Color
    edge: Color
    strokes: str = ""
    """`leaning` over the bar, `upright` across it, or none."""


LOOKS = {
    "kill": Look(STRAW_WASH, STRAW_DARK, "leaning"),
    "plant": Look(GREEN, GREEN),
    "establish": Look(WHITE, INK),
    "keep": Look(WHITE, INK, "upright"),
}


def phases() -> dict[str, str]:
    """What a phase's bars stand for, in words."""
    return {"kill": _("kill"), "plant": _("plant"), "establish": _("help it establish"), "keep": _("keep")}


def draw_bar(group: Group, bar: Bar, y: float, size: float, high: float = BAR) -> None:
    """Kill bars are hatched, planting bars solid, care of the young stand open, later care ruled across.

    The words beside them say which, too.
    """
    _fill_bar(group, bar.start, y, bar.end - bar.start, high, LOOKS.get(bar.phase, LOOKS["establish"]))
    if bar.start < bar.text_left < bar.end:
        plate, edge = high / 4, high / 12
        wide = bar.text_right - bar.text_left + 2 * plate
        inside = Rect(
            bar.text_left - plate, y + edge, wide, high - 2 * edge, fillColor=WHITE, strokeColor=None
        )
        group.add(inside)
    words(group, bar.text_left, y + high / 7, bar.text, size=size)


def _fill_bar(group: Group, x: float, y: float, wide: float, high: float, look: Look) -> None:
    edge = 0.6 * high / BAR
    group.add(Rect(x, y, wide, high, fillColor=look.fill, strokeColor=look.edge, strokeWidth=edge))
    if not look.strokes:
        return
    apart = HATCH_APART * high / BAR
    strokes = Path(strokeColor=look.edge, strokeWidth=edge, fillColor=None)
    lean = high if look.strokes == "leaning" else 0.0
    for step in range(1, int((wide + lean) / apart) + 1):
        foot = x + step * apart - lean
        start, end = max(foot, x), min(foot + lean, x + wide) if lean else foot
        if lean and end <= start or start >= x + wide:
            continue
        strokes.moveTo(round(start, 2), round(y + (start - foot if lean else 0.0), 2))
        strokes.lineTo(round(end, 2), round(y + (end - foot if lean else high), 2))
    if strokes.points:
        group.add(strokes)


def phase_key(used: Collection[str], size: float) -> Drawing:
    """What the bars stand for, for those phases that are used: one line of bars with words."""
    high = size * BAR / 7.5
    drawing, group, at = Drawing(10, size + 4), Group(), 0.0
    drawing.add(group)
    for phase, said in phases().items():
        if phase in used:
            _fill_bar(group, at, 2, 3 * high, high, LOOKS[phase])
            _, right = words(group, at + 3 * high + GAP * size / 7.5, 2 + high / 7, said, size=size)
            at = right + 2 * size
    drawing.width = max(at, 10.0)
    return drawing


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
        """A bar at least 2 pt long, its words to the right, to the left, or on it where neither has room."""
        start, gap = self.at(first), GAP * size / 7.5
        end = max(self.at(last + timedelta(days=1)), start + 2)
        before, after = start - gap - self.left, self.right - end - gap
        wide = fonts.width(text, fonts.SANS, size)
        if max(before, after) < wide <= end - start - 4 * gap:
            text_left = start + 2 * gap
            return Bar(start, end, text, phase, text_left, text_left + wide)
        text = fonts.fit(text, fonts.SANS, size, max(before, after))
        wide = fonts.width(text, fonts.SANS, size)
        text_left = end + gap if wide <= after else start - gap - wide
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
