"""One year of the plan on a page: what happens by month and who does it; what to look for and leave alone."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from typing import Literal

from reportlab.graphics.shapes import Drawing, Group, Line, Rect
from reportlab.platypus import CondPageBreak, Flowable, Paragraph, Table

from plans.documents.fonts import SANS
from plans.documents.look import INK, QUIET, RULE, TEXT_WIDTH, beside, gap, p, plain, rich, strong
from plans.documents.manner import _
from plans.documents.marks import Axis, draw_bar, phase_key, rule, stack, words
from plans.documents.told import told
from plans.documents.wall_type import WallType
from plans.documents.words import day, listed, months, sentence, short, unique, upper_first
from plans.planning.plan import Plan, Task
from plans.planning.wall_notes import Kind, WallNote, notes_for, who_does

BARE = [
    ("FONT", (0, 0), (-1, -1), SANS),
    ("VALIGN", (0, 0), (-1, -1), "TOP"),
    ("LEFTPADDING", (0, 0), (-1, -1), 0),
    ("RIGHTPADDING", (0, 0), (-1, -1), 0),
    ("TOPPADDING", (0, 0), (-1, -1), 0),
    ("BOTTOMPADDING", (0, 0), (-1, -1), 0),
]
BETWEEN = 18.0
"""Between two columns [pt]."""
MOST_NAMED = 4
"""Of more fields than this only the number is printed."""


@dataclass(frozen=True, slots=True)
class YearStep:
    """A step on the fields that do it then. `number` leads from the strip of months to its line."""

    number: int
    tasks: tuple[Task, ...]

    @property
    def task(self) -> Task:
        return self.tasks[0]

    @property
    def first(self) -> date:
        return min(first_day(task) for task in self.tasks)

    @property
    def last(self) -> date:
        return max(last_day(task) for task in self.tasks)


def first_day(task: Task) -> date:
    return task.done_on or task.earliest


def last_day(task: Task) -> date:
    return task.done_on or task.latest


def years_of(plan: Plan) -> range:
    """The years in which something is to be done or was done."""
    if not plan.tasks:
        return range(0)
    return range(min(map(first_day, plan.tasks)).year, max(map(last_day, plan.tasks)).year + 1)


def tasks_in(plan: Plan, year: int) -> tuple[Task, ...]:
    return tuple(task for task in plan.tasks if first_day(task).year <= year <= last_day(task).year)


def steps_in(plan: Plan, year: int) -> tuple[YearStep, ...]:
    """The year's steps in order of their first day; fields that do the same in one month share a line."""
    groups: dict[tuple, list[Task]] = {}
    for task in tasks_in(plan, year):
        key = (task.step, task.season, max(first_day(task), date(year, 1, 1)).month, task.done_on is None)
        groups.setdefault(key, []).append(task)
    ordered = sorted(groups.values(), key=lambda tasks: min(map(first_day, tasks)))
    return tuple(YearStep(number, tuple(tasks)) for number, tasks in enumerate(ordered, start=1))


def phases_in(plan: Plan, year: int) -> list[str]:
    """What the year is for, in words, in the order of the work."""
    said = {
        "kill": _("kill the old cover"),
        "plant": _("plant"),
        "establish": _("help it establish"),
        "keep": _("keep it"),
    }
    used = {task.phase for task in tasks_in(plan, year)}
    return [text for phase, text in said.items() if phase in used]


def title_of(plan: Plan, year: int) -> str:
    phases = phases_in(plan, year)
    if not phases:
        return _("{year}: no work planned").format(year=year)
    return _("{year}: {work}").format(year=year, work=listed(phases))


@dataclass(frozen=True, slots=True)
class Fit:
    """How a year is laid out: in what type, with a strip of months or not, with how many notes of a kind."""

    type_: WallType
    strip: bool = True
    most_notes: int | None = None
    notes: Literal["columns", "run in", "stacked"] = "columns"
    """In two columns, as one paragraph a kind, or as a list in one column."""


def year_page(plan: Plan, year: int, fit: Fit, booked: Mapping[str, date]) -> list[Flowable]:
    """The year as a page takes it; of one in which all is done no more than that."""
    type_, steps, tasks = fit.type_, steps_in(plan, year), tasks_in(plan, year)
    over = bool(tasks) and all(task.done_on for task in tasks)
    found = {} if over else notes_for(tasks, plan.job.conversions)
    notes = {kind: of_kind[: fit.most_notes] for kind, of_kind in found.items()}
    cut = [p(_("Shortened to keep the year on a page: the large print has all of it."), type_.body)]
    story: list[Flowable] = [p(title_of(plan, year), type_.title)]
    if expect := notes.get("expect"):
        story.append(p(" ".join(told(note.text) for note in expect), type_.body))
    if fit.strip and steps:
        story += [_strip(steps, year, type_.size), gap(type_.size * 0.5)]
    story += _work(plan, steps, year, fit, booked)
    return [*story, *_notes(notes, fit), *(cut if notes != found else [])]


# By month


def _strip(steps: Sequence[YearStep], year: int, size: float) -> Drawing:
    """Twelve months with a numbered bar for each step."""
    axis = Axis(date(year, 1, 1), date(year, 12, 31), 0.0, TEXT_WIDTH)
    bars = stack(
        [
            axis.bar(
                max(step.first, axis.first),
                min(step.last, axis.last),
                str(step.number),
                step.task.phase,
                size,
            )
            for step in steps
        ],
        apart=5.0,
    )
    lane, high = size * 1.35, size * 0.85
    lanes = 1 + max(bar.lane for bar in bars)
    drawing, group = Drawing(TEXT_WIDTH, lanes * lane + size * 1.6), Group()
    drawing.add(group)
    top = drawing.height - size * 1.4
    for first in axis.months():
        at = axis.at(first)
        rule(group, at, 0, at, top, RULE, 0.4)
        words(
            group, at + 2, top + size * 0.3, months("abbreviated")[first.month - 1], size=size, colour=QUIET
        )
    rule(group, axis.right, 0, axis.right, top, RULE, 0.4)
    rule(group, 0, top, TEXT_WIDTH, top, INK, 0.6)
    for bar in bars:
        draw_bar(group, bar, top - (bar.lane + 1) * lane + 1, size, high)
    return drawing


def _work(
    plan: Plan, steps: Sequence[YearStep], year: int, fit: Fit, booked: Mapping[str, date]
) -> list[Flowable]:
    """A line a step under or beside its month, each with a box to tick."""
    type_ = fit.type_
    if not steps:
        return [p(_("No work is planned this year."), type_.body)]
    ours: list[Flowable] = [p(_("We do all of this, where a line names nobody else."), type_.body)]
    if fit.strip:
        key = phase_key({step.task.phase for step in steps}, type_.size)
        ours = beside(ours[0], key, TEXT_WIDTH)
    said: set[str] = set()
    rows: list[tuple[str, YearStep, list[Paragraph]]] = []
    for step in steps:
        rows.append((_month(step, year), step, _lines(plan, step, year, type_, booked, said)))
    if type_.large:
        return [*ours, *(flowable for row in _by_month(rows) for flowable in _under_month(*row, type_))]
    return [*ours, _beside_months(list(_by_month(rows)), type_, close=fit.notes == "run in")]


def _by_month(
    rows: Sequence[tuple[str, YearStep, list[Paragraph]]],
) -> Iterator[tuple[str, YearStep, list[Paragraph]]]:
    """The rows with each month named once."""
    last = ""
    for month, step, lines in rows:
        yield ("" if month == last else month), step, lines
        last = month


def _month(step: YearStep, year: int) -> str:
    if step.first.year < year:
        return _("Since {before}").format(before=step.first.year)
    return upper_first(months()[step.first.month - 1])


def _beside_months(
    rows: Sequence[tuple[str, YearStep, list[Paragraph]]], type_: WallType, *, close: bool
) -> Table:
    between = type_.size * (0.04 if close else 0.16)
    month_wide, box_wide = type_.size * 6.2, type_.size * 1.6
    cells = [
        [p(month, type_.bold), _box(type_.size, done=step.task.done_on is not None), lines]
        for month, step, lines in rows
    ]
    starts = [at for at, (month, _step, _lines) in enumerate(rows) if month]
    return Table(
        cells,
        colWidths=[month_wide, box_wide, TEXT_WIDTH - month_wide - box_wide],
        style=[
            *BARE,
            ("TOPPADDING", (0, 0), (-1, -1), between),
            ("BOTTOMPADDING", (0, 0), (-1, -1), between),
            *(("LINEABOVE", (0, at), (-1, at), 0.5, INK) for at in starts),
        ],
        hAlign="LEFT",
        splitInRow=1,
    )


def _under_month(month: str, step: YearStep, lines: Sequence[Paragraph], type_: WallType) -> list[Flowable]:
    indent = type_.size * 1.7
    boxes = [_box(type_.size, done=step.task.done_on is not None), *[""] * (len(lines) - 1)]
    made = [
        Table([[box, line]], colWidths=[indent, TEXT_WIDTH - indent], style=BARE, hAlign="LEFT", splitInRow=1)
        for box, line in zip(boxes, lines, strict=True)
    ]
    head = [CondPageBreak(type_.size * 8), p(month, type_.head)] if month else []
    return [*head, *made, gap(type_.size * 0.4)]


def _lines(
    plan: Plan, step: YearStep, year: int, type_: WallType, booked: Mapping[str, date], said: set[str]
) -> list[Paragraph]:
    """What, where, when and by whom; then what to take care of: each caution whole once, then as `said`.

    In large print, whose pages part what is above from what is below, each caution is whole each time.
    """
    number = "" if type_.large else f"{step.number}. "
    parts = [strong(number + sentence(told(step.task.label)))]
    if who := who_does(step.task):
        parts.append(strong(sentence(told(who))))
    parts.append(plain(_where_and_when(plan, step, year, booked)))
    cautions = () if step.task.done_on else step.task.cautions
    fresh = [caution for caution in cautions if type_.large or caution not in said]
    if cautions and not fresh:
        parts.append(plain(_("Take care as above.")))
    lines = [rich(" ".join(parts), style=type_.line)]
    if fresh:
        care = " ".join(sentence(told(caution)) for caution in fresh)
        if len(fresh) < len(cautions):
            care = _("{cautions} The rest as above.").format(cautions=care)
        said |= set(fresh)
        lines.append(rich(strong(_("Take care:")), plain(f" {care}"), style=type_.line))
    return lines


def _where_and_when(plan: Plan, step: YearStep, year: int, booked: Mapping[str, date]) -> str:
    """Fields with their window, each window once; the day it is booked for, where it is."""
    by_window: dict[str, list[str]] = {}
    for task in step.tasks:
        by_window.setdefault(_when(task, year, booked.get(task.key)), []).append(task.field)
    every = len(plan.job.conversions)
    said = []
    for when, fields in by_window.items():
        fields = unique(fields)
        if len(fields) == every and every > 1:
            where = _("All fields")
        else:
            where = listed(fields) if len(fields) <= MOST_NAMED else _("{n} fields").format(n=len(fields))
        said.append(_("{where}: {when}.").format(where=where, when=when))
    return " ".join(said)


def _when(task: Task, year: int, booked_on: date | None) -> str:
    if task.done_on:
        return _("done {day}").format(day=short(task.done_on))
    within = task.earliest.year == task.latest.year == year
    first, last = (short(on, year=not within) for on in (task.earliest, task.latest))
    days = first if first == last else _("{first} – {last}").format(first=first, last=last)
    return _("{window}, booked for {day}").format(window=days, day=day(booked_on)) if booked_on else days


def _box(size: float, *, done: bool) -> Drawing:
    side = size * 0.95
    drawing, group = Drawing(side + 1, size * 1.25), Group()
    drawing.add(group)
    base = size * 0.1
    group.add(Rect(0.5, base, side, side, fillColor=None, strokeColor=INK, strokeWidth=0.9))
    if done:
        for x1, y1, x2, y2 in ((0.2, 0.5, 0.42, 0.22), (0.42, 0.22, 0.82, 0.85)):
            ends = (0.5 + side * x1, base + side * y1, 0.5 + side * x2, base + side * y2)
            group.add(Line(*ends, strokeColor=INK, strokeWidth=size * 0.13))
    return drawing


# What to look for, leave, do and call about


def heads() -> dict[Kind, str]:
    """The notes' kinds in the order in which they are read."""
    return {
        "look_for": _("Look for"),
        "do_not": _("Do not"),
        "call": _("Call us"),
        "you": _("Your part"),
        "renter": _("Whoever rents ground here"),
    }


def _notes(notes: Mapping[Kind, Sequence[WallNote]], fit: Fit) -> list[Flowable]:
    shown = [(title, notes[kind]) for kind, title in heads().items() if notes.get(kind)]
    if fit.notes == "run in":
        return [_run_in(title, found, fit.type_) for title, found in shown]
    blocks = [block(title, found, fit.type_) for title, found in shown]
    if fit.notes == "stacked" or not blocks:
        return [flowable for one in blocks for flowable in one]
    wide = (TEXT_WIDTH - BETWEEN) / 2
    columns = _balanced(blocks, wide)
    both = Table(
        [[columns[0], "", columns[1]]],
        colWidths=[wide, BETWEEN, wide],
        style=[*BARE, ("LINEABOVE", (0, 0), (-1, 0), 0.5, INK)],
        hAlign="LEFT",
    )
    return [gap(fit.type_.size * 0.3), both]


def _balanced(blocks: Sequence[list[Flowable]], wide: float) -> tuple[list[Flowable], list[Flowable]]:
    """The blocks in two columns of about one height, in their order in each; the first block stands left."""
    heights = [height(one, wide) for one in blocks]

    def longer(split: int) -> float:
        left = sum(high for at, high in enumerate(heights) if not split >> at & 1)
        return max(left, sum(heights) - left)

    best = min(range(0, 2 ** len(blocks), 2), key=longer)
    columns: tuple[list[Flowable], list[Flowable]] = ([], [])
    for at, one in enumerate(blocks):
        columns[best >> at & 1].extend(one)
    return columns


def _run_in(title: str, notes: Sequence[WallNote], type_: WallType) -> Paragraph:
    head = strong(_("{title}:").format(title=title))
    return rich(head, plain(" " + " ".join(told(note.text) for note in notes)), style=type_.body)


def block(title: str, notes: Sequence[WallNote], type_: WallType) -> list[Flowable]:
    return [p(title, type_.head), *(item(told(note.text), type_) for note in notes)]


def item(text: str, type_: WallType) -> Paragraph:
    return Paragraph(plain(text), type_.item, bulletText="•")


def height(flowables: Sequence[Flowable], wide: float) -> float:
    """How high they stand one below the other [pt]."""
    total, space = 0.0, 0.0
    for flowable in flowables:
        total += max(space, flowable.getSpaceBefore()) if total else 0.0
        total += flowable.wrap(wide, 10_000)[1]
        space = flowable.getSpaceAfter()
    return total
