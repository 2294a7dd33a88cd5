"""Why these dates: the season ribbon on paper, and its curves in numbers."""

from __future__ import annotations

from reportlab.platypus import CondPageBreak, Flowable

from plans.documents.look import CELL, FINE, FINEST, high, p, quiet, rich, section, strong, table
from plans.documents.manner import _
from plans.documents.ribbon import growth_table, has_sod, numbered_moments, season_ribbon, summer_growers
from plans.documents.told import told
from plans.documents.words import lower_first, month_day, months, short
from plans.planning.plan import Plan

WHOLE = [("NOSPLIT", (0, 0), (-1, -1))]
HEADING = 38.0
"""Of a section, with its space [pt]."""


def why_these_dates(plan: Plan) -> list[Flowable]:
    """The ribbon with its words; the reason of each step stands beside the step."""
    drawing = season_ribbon(plan)
    said = _(
        "The straw ground with the thin line is the growth of {old} in a normal year at {place}; the heavy "
        "line is that of the new native grass. A kill spray works while the old growth is green and growing "
        "and the new is asleep; seed goes in when its own season opens. Bars are the windows of this plan: "
        "hatched for killing, solid for planting, open for the care of the young stand, ruled across for "
        "later care."
    ).format(old=_old_in_words(plan), place=plan.season.place)
    if warm := summer_growers(plan):
        said += " " + _("Killed in summer, since it grows with the new grass: {covers}.").format(covers=warm)
    numbers = _moments_in_words(plan)
    whole: list[Flowable] = [p(said, CELL), drawing]
    if numbers:
        whole.append(p(_("Numbers on the base line: {numbers}.").format(numbers=numbers), FINEST))
    return [*section(_("Why these dates"), HEADING + high(whole)), *whole]


def _old_in_words(plan: Plan) -> str:
    """What the straw ground stands for, within a sentence."""
    return _("the old sod") if has_sod(plan) else _("cool-season weeds")


def _moments_in_words(plan: Plan) -> str:
    return "; ".join(
        f"{at} {lower_first(told(moment.label))}, {short(month_day(moment.day, 2001), year=False)}"
        for at, moment in numbered_moments(plan)
    )


def growth_in_numbers(plan: Plan) -> list[Flowable]:
    """The two curves of the ribbon, a month a column."""
    found = growth_table(plan)
    if not found.rows:
        return []
    rows = [
        [p(found.head[column], FINEST), *(p(row[column].removesuffix(" %"), FINEST) for row in found.rows)]
        for column in (2, 3)
    ]
    return [
        CondPageBreak(64),
        rich(strong(_("The season") + ". "), quiet(f"{found.caption}."), style=FINE),
        table(["", *months("abbreviated")], rows, [108, *[30] * 12], tight=True, text=FINEST, extra=WHOLE),
    ]
