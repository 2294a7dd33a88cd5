"""The years ahead: twelve months across, one row per field in each year, tasks as bars with words."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

from reportlab.graphics.shapes import Drawing, Group

from plans.documents import fonts
from plans.documents.fonts import SERIF_BOLD
from plans.documents.look import GREEN, QUIET, RULE
from plans.documents.marks import BAR, Axis, Bar, draw_bar, rule, stack, words
from plans.documents.words import MONTHS, listed, lower_first, short, when
from plans.planning.plan import Plan, Task

LANES = (12.0, 11.0, 10.0)
"""Heights of a row of bars, widest first; the widest that needs the fewest drawings is taken [pt]."""
SIZE = 7.5
YEAR_ROOM = 40.0
FIELD_ROOM = 92.0
HEAD = 14.0
BETWEEN_YEARS = 7.0


@dataclass(frozen=True, slots=True)
class _Row:
    """One field in one year."""

    year: int
    field: str
    bars: list[Bar]
    lane: float

    @property
    def height(self) -> float:
        return self.lane * max(1, 1 + max((bar.lane for bar in self.bars), default=0)) + 4


def _words_for(task: Task) -> str:
    if task.done_on:
        return f"{task.label}, done {short(task.done_on, year=False)}"
    return f"{task.label}, {short(task.earliest, year=False)} – {short(task.latest, year=False)}"


def _rows(plan: Plan, wide: float, lane: float) -> list[_Row]:
    spans = [(task, task.done_on or task.earliest, task.done_on or task.latest) for task in plan.tasks]
    if not spans:
        return []
    rows = []
    for year in range(min(first.year for _, first, _ in spans), max(last.year for _, _, last in spans) + 1):
        axis = Axis(date(year, 1, 1), date(year, 12, 31), YEAR_ROOM + FIELD_ROOM, wide)
        for conversion in plan.job.conversions:
            bars = [
                axis.bar(max(first, axis.first), min(last, axis.last), _words_for(task), task.phase, SIZE)
                for task, first, last in spans
                if task.field == conversion.field and first.year <= year <= last.year
            ]
            rows.append(_Row(year, conversion.field, stack(bars), lane))
    return rows


def years_ahead(plan: Plan, *, wide: float, most_high: float | None = None) -> list[Drawing]:
    """Drawings `wide` pt across; more than one where `most_high` [pt] does not hold all rows.

    A year is kept on one drawing unless it is taller than a drawing by itself.
    """
    ways = [_sheets(_rows(plan, wide, lane), most_high) for lane in LANES]
    return [_sheet(sheet, wide) for sheet in min(ways, key=len)]


def _sheets(rows: Sequence[_Row], most_high: float | None) -> list[list[_Row]]:
    sheets: list[list[_Row]] = []
    for year in dict.fromkeys(row.year for row in rows):
        block = [row for row in rows if row.year == year]
        if sheets and (most_high is None or _height([*sheets[-1], *block]) <= most_high):
            sheets[-1] += block
            continue
        sheets.append([])
        for row in block:
            if sheets[-1] and most_high is not None and _height([*sheets[-1], row]) > most_high:
                sheets.append([])
            sheets[-1].append(row)
    return sheets


def _height(rows: Sequence[_Row]) -> float:
    return HEAD + sum(row.height for row in rows) + BETWEEN_YEARS * len({row.year for row in rows})


def _sheet(rows: Sequence[_Row], wide: float) -> Drawing:
    drawing, group = Drawing(wide, round(_height(rows)) + 1), Group()
    drawing.add(group)
    axis = Axis(date(2001, 1, 1), date(2001, 12, 31), YEAR_ROOM + FIELD_ROOM, wide)
    y = drawing.height - HEAD
    narrow = (wide - axis.left) / 12 < fonts.width(max(MONTHS, key=len), fonts.SANS, 7.5) + 4
    for first in axis.months():
        at = axis.at(first)
        name = MONTHS[first.month - 1]
        words(group, at + 2, y + 4, name[:3] if narrow else name, size=7.5, colour=QUIET)
        rule(group, at, 0, at, y, RULE, 0.4)
    rule(group, wide, 0, wide, y, RULE, 0.4)
    year = None
    for row in rows:
        if row.year != year:
            year = row.year
            rule(group, 0, y, wide, y, GREEN, 0.8)
            y -= BETWEEN_YEARS
            words(group, 0, y - 11, str(year), font=SERIF_BOLD, size=12, colour=GREEN)
        else:
            rule(group, YEAR_ROOM, y, wide, y, RULE, 0.4)
        words(group, YEAR_ROOM, y - 2 - BAR, row.field, size=8.5, room=FIELD_ROOM - 8)
        if not row.bars:
            words(group, axis.left + 2, y - 1 - BAR, "no work planned", size=SIZE, colour=QUIET)
        for bar in row.bars:
            draw_bar(group, bar, y - 2 - BAR - bar.lane * row.lane, SIZE)
        y -= row.height
    return drawing


def describe(plan: Plan) -> str:
    """The years in words, for a reader who cannot see them."""
    said = []
    for conversion in plan.job.conversions:
        steps = [
            f"{lower_first(task.label)} ({when(task)})"
            for task in plan.tasks
            if task.field == conversion.field
        ]
        said.append(f"{conversion.field}: {listed(steps) or 'no work planned'}.")
    return " ".join(said)
