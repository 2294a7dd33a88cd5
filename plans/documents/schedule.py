"""Why these dates: the season on paper, and why each step lies where it lies."""

from __future__ import annotations

from reportlab.lib.styles import ParagraphStyle
from reportlab.platypus import Flowable

from plans.documents.look import (
    CELL,
    CELL_SMALL,
    FINE,
    gap,
    p,
    part,
    plain,
    rich,
    section,
    strong,
    table,
)
from plans.documents.manner import _
from plans.documents.reasons import Reason, reasons
from plans.documents.ribbon import growth_table, has_sod, numbered_moments, season_ribbon, summer_growers
from plans.documents.told import told
from plans.documents.words import (
    lower_first,
    month_day,
    months,
    short,
)
from plans.planning.plan import Plan

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
