"""The counts of a field over the years against what its aim asks: one drawing for page and print."""

from __future__ import annotations

from collections.abc import Callable
from datetime import date

from reportlab.graphics.shapes import Circle, Drawing, Group, Line

from plans.documents import fonts
from plans.documents.look import GREEN, INK, QUIET, RULE, STRAW_DARK
from plans.documents.manner import _, in_force
from plans.documents.marks import rule, words
from plans.documents.measures import SQUARE_FOOT_M2
from plans.documents.season_facts import FieldCounts
from plans.documents.words import listed, number, short

HIGH = 116.0
LEFT, RIGHT, TOP, BOTTOM = 30.0, 92.0, 14.0, 24.0
SIZE = 7.5
TICKS = (0.1, 0.25, 0.5, 1.0, 2.0, 5.0, 10.0)
MOST_TICKS = 5
DOT = 2.6


def density(per_sqft: float) -> str:
    """Plants per square foot as they are printed: by the square meter where that is the manner."""
    return number(per_sqft / SQUARE_FOOT_M2, 1) if in_force().metric else number(per_sqft)


def per_area() -> str:
    return _("plants per square meter") if in_force().metric else _("plants per square foot")


def per_area_short() -> str:
    return _("Plants/m²") if in_force().metric else _("Plants/ft²")


def stand_chart(counts: FieldCounts, *, wide: float, high: float = HIGH) -> Drawing:
    """Plants per square foot over time with their 95 % interval; a broken line is what is asked."""
    drawing, group = Drawing(wide, high), Group()
    drawing.add(group)
    top_value = 1.12 * max([counts.target, *(point.high for point in counts.points)])
    first, last = _span(counts)
    right, top = wide - RIGHT, high - TOP

    def x(on: date) -> float:
        return LEFT + (right - LEFT) * (on - first).days / max(1, (last - first).days)

    def y(density: float) -> float:
        return BOTTOM + (top - BOTTOM) * density / top_value

    step = next((tick for tick in TICKS if top_value / tick <= MOST_TICKS), TICKS[-1])
    for at in range(int(top_value / step) + 1):
        rule(group, LEFT, y(at * step), right, y(at * step), INK if at == 0 else RULE, 0.5)
        words(group, LEFT - 5, y(at * step) - 2.5, density(at * step), size=SIZE, colour=QUIET, anchor="end")
    words(group, 0, high - 8, per_area(), size=SIZE, colour=QUIET)
    for year in range(first.year, last.year + 1):
        start = date(year, 1, 1)
        if start > first:
            rule(group, x(start), BOTTOM, x(start), top, RULE, 0.4)
        middle = (x(max(first, start)) + x(min(last, date(year, 12, 31)))) / 2
        words(group, middle, BOTTOM - 18, str(year), size=SIZE, colour=QUIET, anchor="middle")
    group.add(
        Line(
            LEFT,
            y(counts.target),
            right,
            y(counts.target),
            strokeColor=STRAW_DARK,
            strokeWidth=1.1,
            strokeDashArray=[4, 2],
        )
    )
    asked = _("asked: {density}").format(density=density(counts.target))
    words(group, right + 5, y(counts.target) - 2.5, asked, size=SIZE, colour=STRAW_DARK, room=RIGHT - 5)
    _points(group, counts, x, y)
    return drawing


def _span(counts: FieldCounts) -> tuple[date, date]:
    """Whole years about the counts."""
    days = [point.on for point in counts.points]
    return date(min(days).year, 1, 1), date(max(days).year, 12, 31)


def _points(
    group: Group, counts: FieldCounts, x: Callable[[date], float], y: Callable[[float], float]
) -> None:
    dots = [(x(point.on), y(point.density), point) for point in counts.points]
    for (x1, y1, _one), (x2, y2, _other) in zip(dots, dots[1:], strict=False):
        rule(group, x1, y1, x2, y2, GREEN, 0.8)
    for at, dense, point in dots:
        rule(group, at, y(point.low), at, y(point.high), GREEN, 1.1)
        for end in (point.low, point.high):
            rule(group, at - 2.5, y(end), at + 2.5, y(end), GREEN, 1.1)
        group.add(Circle(at, dense, DOT, fillColor=GREEN, strokeColor=GREEN))
        text = density(point.density)
        room = fonts.width(text, fonts.SANS_BOLD, SIZE)
        words(group, at + 5, dense + 3, text, font=fonts.SANS_BOLD, size=SIZE, room=room + 1)


def describe(counts: FieldCounts) -> str:
    """The chart in words, for a reader who cannot see it."""
    told = [
        _("{day}: {density}, between {low} and {high}").format(
            day=short(point.on),
            density=density(point.density),
            low=density(point.low),
            high=density(point.high),
        )
        for point in counts.points
    ]
    return _("{field}, {per}. {counts}. Asked for {aim}: {target}.").format(
        field=counts.field,
        counts=listed(told),
        aim=_(counts.aim),
        target=density(counts.target),
        per=per_area(),
    )
