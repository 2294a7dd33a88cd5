"""The years ahead: twelve months across, one row per field in each year, tasks as bars with words."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date

from reportlab.graphics.shapes import Drawing, Group

from plans.documents import fonts
from plans.documents.data_table import DataTable
from plans.documents.fonts import SERIF_BOLD
from plans.documents.look import GREEN, QUIET, RULE
from plans.documents.manner import _
from plans.documents.marks import BAR, Axis, Bar, draw_bar, rule, same_windows, stack, words
from plans.documents.told import told
from plans.documents.words import listed, lower_first, months, short, unique, when
from plans.planning.plan import Plan, Task

SIZE = 7.5
"""Of the words beside a bar [pt]; all that follows is in proportion to it."""
LANES = (12.0, 11.0, 10.0, 9.0)
"""Heights of a row of bars, widest first; the widest that needs the fewest drawings is taken [pt]."""
YEAR_ROOM = 40.0
FIELD_ROOM = 92.0
HEAD = 14.0
NAME_HIGH = 9.0
MOST_NAMED = 4
"""Of more fields each has a row of its own."""
BETWEEN_YEARS = 5.0


@dataclass(frozen=True, slots=True)
class _Row:
    """One field in one year, or several whose bars are the same in it."""

    year: int
    fields: tuple[str, ...]
    bars: list[Bar]
    lane: float
    scale: float

    @property
    def height(self) -> float:
        lanes = max(1, 1 + max((bar.lane for bar in self.bars), default=0))
        return max(self.lane * lanes, NAME_HIGH * self.scale * len(self.fields)) + 4 * self.scale


def _words_for(task: Task) -> str:
    if task.done_on:
        return _("{step}, done {day}").format(step=told(task.label), day=short(task.done_on, year=False))
    first, last = short(task.earliest, year=False), short(task.latest, year=False)
    return _("{step}, {first} – {last}").format(step=told(task.label), first=first, last=last)


def fields_alike(plan: Plan) -> list[list[str]]:
    """Fields with the same steps in the same windows, together."""
    groups: dict[tuple, list[str]] = {}
    for conversion in plan.job.conversions:
        own = tuple(
            (task.label, task.earliest, task.latest, task.done_on)
            for task in plan.tasks
            if task.field == conversion.field
        )
        groups.setdefault(own, []).append(conversion.field)
    return list(groups.values())


def _together(rows: Sequence[_Row]) -> list[_Row]:
    """Rows of a year with the same bars as one, their fields beneath each other."""
    found: dict[tuple[Bar, ...], _Row] = {}
    for row in rows:
        bars = tuple(row.bars)
        found[bars] = replace(row, fields=found[bars].fields + row.fields) if bars in found else row
    return list(found.values())


def _rows(plan: Plan, wide: float, scale: float, alike: bool, together: bool = False) -> list[_Row]:
    spans = [(task, task.done_on or task.earliest, task.done_on or task.latest) for task in plan.tasks]
    if not spans:
        return []
    fields = fields_alike(plan) if alike else [[conversion.field] for conversion in plan.job.conversions]
    rows = []
    years = [on.year for _task, *days in spans for on in days]
    for year in range(min(years), max(years) + 1):
        axis = Axis(date(year, 1, 1), date(year, 12, 31), scale * (YEAR_ROOM + FIELD_ROOM), wide)
        of_year = []
        for names in fields:
            bars = [
                axis.bar(
                    max(first, axis.first), min(last, axis.last), _words_for(task), task.phase, SIZE * scale
                )
                for task, first, last in spans
                if task.field == names[0] and first.year <= year <= last.year
            ]
            if bars or not alike:
                label = names[0] if len(names) == 1 else _("{n} fields alike").format(n=len(names))
                stacked = stack(bars, apart=8.0 * scale)
                of_year.append(_Row(year, (label,), stacked, LANES[0] * scale, scale))
        rows += _together(of_year) if together and len(fields) <= MOST_NAMED else of_year
    return rows


def years_ahead(
    plan: Plan,
    *,
    wide: float,
    most_high: float | None = None,
    size: float = SIZE,
    alike: bool = False,
    lanes: Sequence[float] = LANES,
    together: bool = False,
) -> list[Drawing]:
    """Drawings `wide` pt across; more than one where `most_high` [pt] does not hold all rows.

    A year is kept on one drawing unless it is taller than a drawing by itself. `size` is that of the least
    words on it [pt]. With `alike`, fields that do the same share a row, and a field has none in a year off;
    with `together`, those share a row that do the same in that year.
    """
    return [
        _sheet(sheet, wide, size / SIZE)
        for sheet in _fewest(plan, wide, most_high, size, alike, lanes, together)
    ]


def sheets_needed(plan: Plan, *, wide: float, most_high: float, size: float, alike: bool) -> tuple[int, bool]:
    """How many drawings `years_ahead` makes, and whether words beside some bar have no room."""
    sheets = _fewest(plan, wide, most_high, size, alike, LANES)
    return len(sheets), any(bar.text.endswith("…") for rows in sheets for row in rows for bar in row.bars)


def _fewest(
    plan: Plan,
    wide: float,
    most_high: float | None,
    size: float,
    alike: bool,
    lanes: Sequence[float],
    together: bool = False,
) -> list[list[_Row]]:
    rows = _rows(plan, wide, size / SIZE, alike, together)
    ways = [_sheets([replace(row, lane=lane * row.scale) for row in rows], most_high) for lane in lanes]
    return min(ways, key=len)


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
    years = len({row.year for row in rows})
    return sum(row.height for row in rows) + rows[0].scale * (HEAD + BETWEEN_YEARS * years)


def _sheet(rows: Sequence[_Row], wide: float, scale: float) -> Drawing:
    drawing, group = Drawing(wide, round(_height(rows)) + 1), Group()
    drawing.add(group)
    size, bar_high = SIZE * scale, BAR * scale
    axis = Axis(date(2001, 1, 1), date(2001, 12, 31), scale * (YEAR_ROOM + FIELD_ROOM), wide)
    y = drawing.height - HEAD * scale
    narrow = (wide - axis.left) / 12 < max(fonts.width(name, fonts.SANS, size) for name in months()) + 4
    for first in axis.months():
        at = axis.at(first)
        name = months("abbreviated" if narrow else "wide")[first.month - 1]
        words(group, at + 2, y + 4 * scale, name, size=size, colour=QUIET)
        rule(group, at, 0, at, y, RULE, 0.4)
    rule(group, wide, 0, wide, y, RULE, 0.4)
    year = None
    for row in rows:
        if row.year != year:
            year = row.year
            rule(group, 0, y, wide, y, GREEN, 0.8 * scale)
            y -= BETWEEN_YEARS * scale
            words(group, 0, y - 11 * scale, str(year), font=SERIF_BOLD, size=12 * scale, colour=GREEN)
        else:
            rule(group, YEAR_ROOM * scale, y, wide, y, RULE, 0.4)
        base = y - 2 * scale - bar_high
        room = (FIELD_ROOM - 8) * scale
        for at, name in enumerate(row.fields):
            words(group, YEAR_ROOM * scale, base - at * NAME_HIGH * scale, name, size=8.5 * scale, room=room)
        if not row.bars:
            words(group, axis.left + 2, base + scale, _("no work planned"), size=size, colour=QUIET)
        for bar in row.bars:
            draw_bar(group, bar, base - bar.lane * row.lane, size, bar_high)
        y -= row.height
    return drawing


def data_table(plan: Plan) -> DataTable:
    """Every bar of the drawing, year by year; fields that share a step and its window share a row."""
    order = [conversion.field for conversion in plan.job.conversions]
    rows = [
        (
            told(group[0].label),
            str((group[0].done_on or group[0].earliest).year),
            listed(sorted(unique(task.field for task in group), key=order.index)),
            short(group[0].done_on or group[0].earliest),
            _("done") if group[0].done_on else short(group[0].latest),
        )
        for group in same_windows(plan.tasks)
    ]
    head = (_("Step"), _("Year"), _("Fields"), _("From"), _("To"))
    return DataTable(_("The years ahead, step by step"), head, tuple(rows))


def describe(plan: Plan) -> str:
    """The years in words, for a reader who cannot see them."""
    said = []
    for conversion in plan.job.conversions:
        steps = [
            f"{lower_first(told(task.label))} ({when(task)})"
            for task in plan.tasks
            if task.field == conversion.field
        ]
        said.append(f"{conversion.field}: {listed(steps) or _('no work planned')}.")
    return " ".join(said)
