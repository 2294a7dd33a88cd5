"""The drawings on paper, and the schedule: each step with its window, conditions and cautions."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date

from reportlab.graphics.shapes import Drawing
from reportlab.lib.styles import ParagraphStyle
from reportlab.platypus import Flowable

from plans.documents import fonts
from plans.documents.look import (
    BODY,
    CELL,
    CELL_SMALL,
    DATES,
    FINE,
    GREEN,
    H2,
    SMALL,
    STRAW_DARK,
    YEAR,
    beside,
    gap,
    p,
    part,
    plain,
    quiet,
    rich,
    section,
    strong,
    table,
)
from plans.documents.manner import _
from plans.documents.marks import phase_key, same_windows
from plans.documents.page import wide_room
from plans.documents.reasons import Reason, reasons
from plans.documents.ribbon import growth_table, has_sod, numbered_moments, season_ribbon, summer_growers
from plans.documents.told import told
from plans.documents.words import (
    count,
    listed,
    lower_first,
    measured,
    month_day,
    months,
    sentence,
    short,
    when,
)
from plans.documents.years import years_ahead
from plans.planning.plan import Plan, Task

MOST_NAMED = 8
"""Of more fields than this only the number is printed beside a step."""
WIDE_TITLE = 64.0
"""Height that the title of the wide page takes [pt]."""
WHY = ParagraphStyle("why", parent=CELL, spaceAfter=4)


def why_these_dates(plan: Plan) -> list[Flowable]:
    drawing = season_ribbon(plan)
    said = _(
        "The straw ground with the thin line is the growth of {old} in a normal year at {place}; the heavy "
        "line is that of the new native grass. A kill spray works while the old growth is green and growing "
        "and the new is asleep; seed goes in when its own season opens. Bars are the windows of this plan: "
        "hatched for killing, solid for planting, open for the care of the young stand, ruled across for "
        "later care."
    ).format(old=old_in_words(plan), place=plan.season.place)
    if warm := summer_growers(plan):
        said += " " + _("Killed in summer, since it grows with the new grass: {covers}.").format(covers=warm)
    numbers = moments_in_words(plan)
    why = reasons(plan)
    return [
        *section(_("Why these dates"), 112 + drawing.height),
        p(said),
        drawing,
        *([p(_("Numbers on the base line: {numbers}.").format(numbers=numbers), FINE)] if numbers else []),
        *(part(_("Step by step, why then"), 60) if why else []),
        *(_why(reason) for reason in why),
        *_growth_across(plan),
    ]


def old_in_words(plan: Plan) -> str:
    """What the straw ground stands for, within a sentence."""
    return _("the old sod") if has_sod(plan) else _("cool-season weeds")


def _why(reason: Reason) -> Flowable:
    head = strong(_("{step}, {windows}.").format(step=reason.step, windows="; ".join(reason.windows)))
    return rich(head, plain(f" {reason.said}"), style=WHY)


def _growth_across(plan: Plan) -> list[Flowable]:
    """The two curves in numbers, a month a column."""
    found = growth_table(plan)
    if not found.rows:
        return []
    rows = [
        [p(found.head[column], FINE), *(p(row[column].removesuffix(" %"), FINE) for row in found.rows)]
        for column in (2, 3)
    ]
    return [
        gap(6),
        p(found.caption, CELL_SMALL),
        table(["", *months("abbreviated")], rows, [108, *[30] * 12], tight=True, text=FINE),
    ]


def moments_in_words(plan: Plan) -> str:
    return "; ".join(
        f"{at} {lower_first(told(moment.label))}, {short(month_day(moment.day, 2001), year=False)}"
        for at, moment in numbered_moments(plan)
    )


def the_years_ahead(plan: Plan) -> list[Flowable]:
    """For pages turned on their side; empty when there is nothing to show."""
    wide, high = wide_room()
    drawings: list[Drawing] = years_ahead(plan, wide=wide, most_high=high - WIDE_TITLE)
    if not drawings:
        return []
    said = _("For the wall. Bars are the windows in a normal year; a wet spring or a late fall moves them.")
    key = phase_key({task.phase for task in plan.tasks}, 7.5)
    title = p(_("The years ahead at {farm}").format(farm=plan.job.farm.name), H2)
    return [title, *beside(p(said, SMALL), key, wide), *drawings]


def season_name(on: date) -> str:
    """Fall 2027; winter runs from December to February."""
    if on.month == 12 or on.month <= 2:
        first = on.year if on.month == 12 else on.year - 1
        return _("Winter {first}–{last}").format(first=first, last=f"{(first + 1) % 100:02}")
    named = (_("Spring {year}"), _("Summer {year}"), _("Fall {year}"))
    return named[(on.month - 3) // 3].format(year=on.year)


def _step(tasks: list[Task], in_order: Sequence[str]) -> str:
    acres = measured(sum(task.acres for task in tasks), "acre", most=1)
    here = {task.field for task in tasks}
    fields = [name for name in in_order if name in here]
    where = listed(fields) if len(fields) <= MOST_NAMED else count(len(fields), "field")
    return strong(sentence(told(tasks[0].label))) + quiet(f"\n{where}, {acres}")


def _when(task: Task) -> str:
    """The window; one that runs into another year on two lines."""
    crosses = task.done_on is None and task.earliest.year != task.latest.year
    return when(task).replace(" – ", " –\n") if crosses else when(task)


def _care(task: Task) -> str:
    said = [plain(sentence(told(task.conditions)))] if task.conditions.strip() else []
    if task.cautions:
        care = f'<font name="{fonts.SANS_BOLD}" color="{STRAW_DARK.hex}">'
        care += f"{plain(_('Take care:'), fonts.SANS_BOLD)}</font> "
        said.append(care + plain(" ".join(sentence(told(caution)) for caution in task.cautions)))
    return "<br/>".join(said)


def the_schedule(plan: Plan) -> list[Flowable]:
    story = [
        *section(_("Schedule"), 180),
        p(
            _(
                "Each window is the span of days on which the step is sound in a normal year at this place. "
                "We choose the day within it by the weather and the ground. The product label and local "
                "codes come before anything printed here."
            )
        ),
    ]
    rows: list[list[object]] = []
    heads: list[tuple] = []
    last = ""
    fields = [conversion.field for conversion in plan.job.conversions]
    for tasks in same_windows(plan.tasks):
        task = tasks[0]
        season = season_name(task.done_on or task.earliest)
        if season != last:
            last = season
            row = len(rows) + 1
            rows.append([p(season, YEAR), "", ""])
            heads += [
                ("SPAN", (0, row), (-1, row)),
                ("TOPPADDING", (0, row), (-1, row), 9),
                ("LINEBELOW", (0, row), (-1, row), 0.5, GREEN),
                ("NOSPLIT", (0, row), (-1, row + 1)),
            ]
        rows.append(
            [
                rich(plain(_when(task), fonts.SERIF_ITALIC), style=DATES),
                rich(_step(tasks, fields), style=CELL),
                rich(_care(task), style=FINE),
            ]
        )
    if rows:
        head = [_("Window"), _("Step"), _("Conditions and cautions")]
        story.append(table(head, rows, [102, 116, 250], extra=heads))
    else:
        story.append(p(_("Nothing is left to schedule."), BODY))
    if plan.cautions:
        whole = (p(f"• {told(caution)}", CELL) for caution in plan.cautions)
        story += [*part(_("Take care, in full"), 120), *whole]
    return story
