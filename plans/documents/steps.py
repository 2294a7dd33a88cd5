"""The work and why then: each step once, with its window, its reason, its conditions and cautions."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

from reportlab.platypus import Flowable

from plans.documents import fonts
from plans.documents.look import (
    BODY,
    CELL,
    DATES,
    FINE,
    GREEN,
    STRAW_DARK,
    TEXT_WIDTH,
    p,
    plain,
    quiet,
    rich,
    section,
    strong,
    table,
)
from plans.documents.manner import _, several
from plans.documents.marks import same_windows
from plans.documents.reasons import reasons
from plans.documents.told import told
from plans.documents.words import listed, measured, sentence, short, unique, when
from plans.planning.plan import Plan, Task

MOST_NAMED = 4
"""Of more fields than this only the number is printed beside a step."""
WIDTHS = (60.0, 216.0, 192.0)
STEP = CELL.clone("work", fontSize=8.8, leading=11.6)
LISTED = FINE.clone("listed", spaceAfter=2.5)
CARE = FINE.clone("care", leading=10.6)


def _where(tasks: Sequence[Task], in_order: Sequence[str]) -> str:
    acres = measured(sum(task.acres for task in tasks), "acre", most=1)
    here = {task.field for task in tasks}
    fields = [name for name in in_order if name in here]
    if len(fields) == len(in_order):
        return acres
    if len(fields) > MOST_NAMED:
        many = several("{number} field", "{number} fields", len(fields)).format(number=len(fields))
        return f"{many}, {acres}"
    return f"{listed(fields)}, {acres}"


def _window(task: Task) -> str:
    """The window under its year's heading: first day over last day."""
    if task.done_on is not None:
        return when(task)
    if task.earliest == task.latest:
        return short(task.earliest, year=False)
    last = short(task.latest, year=task.earliest.year != task.latest.year)
    return f"{short(task.earliest, year=False)} –\n{last}"


def _step(
    tasks: Sequence[Task], in_order: Sequence[str], explained: Mapping[str, str], said: dict[str, int]
) -> str:
    """The step, why it is done and why then, and where. A reason that was `said` is not said again."""
    usual, year = sentence(told(tasks[0].why)), tasks[0].earliest.year
    why = [
        text if (first := said.setdefault(text, year)) == year else _("As in {year}.").format(year=first)
        for text in unique(explained.get(task.key, usual) for task in tasks)
    ]
    return (
        strong(sentence(told(tasks[0].label)))
        + plain(f" {' '.join(why)}")
        + quiet(f" {_where(tasks, in_order)}.")
    )


@dataclass(slots=True)
class _Before:
    """What steps above said, and the first that said it."""

    whole: dict[tuple[str, tuple[str, ...]], str] = field(default_factory=dict)
    cautions: dict[tuple[str, ...], str] = field(default_factory=dict)


def _care(task: Task, before: _Before) -> str:
    """Conditions and cautions, the chief caution always; the rest is pointed to where it was said above."""
    whole = before.whole.setdefault((task.conditions, task.cautions), task.label)
    said = []
    if task.conditions.strip() and (whole == task.label or not task.cautions):
        said.append(plain(sentence(told(task.conditions))))
    if task.cautions:
        first = before.cautions.setdefault(task.cautions, task.label)
        cautions = [sentence(told(caution)) for caution in task.cautions]
        if whole != task.label:
            cautions = [cautions[0], _("All else as with “{step}” above.").format(step=told(whole))]
        elif first != task.label and len(cautions) > 1:
            cautions = [cautions[0], _("The rest as with “{step}” above.").format(step=told(first))]
        head = plain(_("Take care:"), fonts.SANS_BOLD)
        care = f'<font name="{fonts.SANS_BOLD}" color="{STRAW_DARK.hex}">{head}</font> '
        said.append(care + plain(" ".join(cautions)))
    return "<br/>".join(said)


def the_work(plan: Plan) -> list[Flowable]:
    story = [
        *section(_("The work, step by step"), 150),
        p(
            _(
                "A window is the span of days on which a step is sound in a normal year at this place; we "
                "choose the day in it by the weather and the ground. The product label and local codes "
                "come before anything printed here."
            ),
            BODY,
        ),
    ]
    if not plan.tasks:
        return [*story, p(_("No work is left to plan on these fields."))]
    rows: list[list[object]] = []
    heads: list[tuple] = []
    last = 0
    before, said = _Before(), dict[str, int]()
    explained = {task.key: reason.said for reason in reasons(plan) for task in reason.tasks}
    fields = [conversion.field for conversion in plan.job.conversions]
    for tasks in same_windows(plan.tasks):
        task = tasks[0]
        year = (task.done_on or task.earliest).year
        first_of_year = year != last
        if first_of_year:
            last, row = year, len(rows) + 1
            heads += [("LINEABOVE", (0, row), (-1, row), 0.8, GREEN), ("TOPPADDING", (0, row), (-1, row), 4)]
        named = strong(f"{year}\n", fonts.SERIF_BOLD) if first_of_year else ""
        rows.append(
            [
                rich(named, plain(_window(task), fonts.SERIF_ITALIC), style=DATES),
                rich(_step(tasks, fields, explained, said), style=STEP),
                rich(_care(task, before), style=CARE),
            ]
        )
    head = [_("Window"), _("Step and reason"), _("Conditions and cautions")]
    return [*story, table(head, rows, WIDTHS, extra=heads, tight=True)]


def in_full(plan: Plan) -> list[Flowable]:
    """The usual cautions of the work in this plan, each whole and once, in two columns."""
    if not plan.cautions:
        return []
    half = (len(plan.cautions) + 1) // 2
    columns = [
        [p(f"• {told(caution)}", LISTED) for caution in some]
        for some in (plan.cautions[:half], plan.cautions[half:])
    ]
    wide = TEXT_WIDTH / 2
    extra = [("TOPPADDING", (0, 0), (-1, -1), 0), ("BOTTOMPADDING", (0, 0), (-1, -1), 2)]
    return [
        *section(_("Take care"), 50 + 16 * len(plan.cautions)),
        table([], [columns], [wide, wide], ruled=False, text=FINE, tight=True, extra=extra),
    ]
