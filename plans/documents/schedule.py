"""The drawings on paper, and the schedule: each step with its window, conditions and cautions."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date

from reportlab.graphics.shapes import Drawing
from reportlab.platypus import Flowable

from plans.documents import fonts
from plans.documents.look import (
    BODY,
    CELL,
    DATES,
    FINE,
    GREEN,
    H2,
    SMALL,
    STRAW_DARK,
    YEAR,
    p,
    part,
    plain,
    quiet,
    rich,
    section,
    strong,
    table,
)
from plans.documents.marks import same_windows
from plans.documents.page import wide_room
from plans.documents.ribbon import numbered_moments, old_growth, season_ribbon, summer_growers
from plans.documents.words import count, listed, lower_first, measured, month_day, sentence, short, when
from plans.documents.years import years_ahead
from plans.planning.plan import Plan, Task

MOST_NAMED = 8
"""Of more fields than this only the number is printed beside a step."""
WIDE_TITLE = 62.0
"""Height that the title of the wide page takes [pt]."""


def why_these_dates(plan: Plan) -> list[Flowable]:
    drawing = season_ribbon(plan)
    sod = old_growth(plan).replace("old sod", "the old sod")
    warm = summer_growers(plan)
    in_summer = f" Killed in summer, since it grows with the new grass: {warm}." if warm else ""
    return [
        *section("Why these dates", 112 + drawing.height),
        p(
            f"The straw curve is the growth of {sod} in a normal year at {plan.season.place}; the green "
            "line is that of the new native grass. A kill spray works while the old growth is green and "
            "growing and the new is asleep; seed goes in when its own season opens. Bars are the windows "
            f"of this plan: straw for killing, green for planting, open for care afterwards.{in_summer}"
        ),
        drawing,
        *([p(f"Numbers on the base line: {numbers}.", FINE)] if (numbers := moments_in_words(plan)) else []),
    ]


def moments_in_words(plan: Plan) -> str:
    return "; ".join(
        f"{at} {lower_first(moment.label)}, {short(month_day(moment.day, 2001), year=False)}"
        for at, moment in numbered_moments(plan)
    )


def the_years_ahead(plan: Plan) -> list[Flowable]:
    """For pages turned on their side; empty when there is nothing to show."""
    wide, high = wide_room()
    drawings: list[Drawing] = years_ahead(plan, wide=wide, most_high=high - WIDE_TITLE)
    if not drawings:
        return []
    story: list[Flowable] = [
        p(f"The years ahead at {plan.job.farm.name}", H2),
        p(
            "For the wall. Bars are the windows in a normal year; a wet spring or a late fall moves them.",
            SMALL,
        ),
    ]
    return [*story, *drawings]


def season_name(on: date) -> str:
    """Fall 2027; winter runs from December to February."""
    if on.month == 12:
        return f"Winter {on.year}–{(on.year + 1) % 100:02}"
    if on.month <= 2:
        return f"Winter {on.year - 1}–{on.year % 100:02}"
    return f"{('Spring', 'Summer', 'Fall')[(on.month - 3) // 3]} {on.year}"


def _step(tasks: list[Task], in_order: Sequence[str]) -> str:
    acres = measured(sum(task.acres for task in tasks), "acre", most=1)
    here = {task.field for task in tasks}
    fields = [name for name in in_order if name in here]
    where = listed(fields) if len(fields) <= MOST_NAMED else count(len(fields), "field")
    return strong(sentence(tasks[0].label)) + quiet(f"\n{where}, {acres}")


def _when(task: Task) -> str:
    """The window; one that runs into another year on two lines."""
    crosses = task.done_on is None and task.earliest.year != task.latest.year
    return when(task).replace(" – ", " –\n") if crosses else when(task)


def _care(task: Task) -> str:
    said = [plain(sentence(task.conditions))] if task.conditions.strip() else []
    if task.cautions:
        care = f'<font name="{fonts.SANS_BOLD}" color="#{STRAW_DARK.hexval()[2:]}">Take care:</font> '
        said.append(care + plain(" ".join(sentence(caution) for caution in task.cautions)))
    return "<br/>".join(said)


def the_schedule(plan: Plan) -> list[Flowable]:
    story = [
        *section("Schedule", 180),
        p(
            "Each window is the span of days on which the step is sound in a normal year at this place. "
            "We choose the day within it by the weather and the ground. The product label and local "
            "codes come before anything printed here."
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
        story.append(table(["Window", "Step", "Conditions and cautions"], rows, [102, 116, 250], extra=heads))
    else:
        story.append(p("Nothing is left to schedule.", BODY))
    if plan.cautions:
        story += [*part("Take care, in full", 120), *(p(f"• {caution}", CELL) for caution in plan.cautions)]
    return story
