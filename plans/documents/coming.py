"""What you will have: how the fields look in each season of each year, the ugly one too."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from reportlab.platypus import Flowable, Table

from plans.documents.fonts import SANS, SANS_ITALIC
from plans.documents.look import (
    BODY,
    CELL,
    SMALL,
    TEXT_WIDTH,
    p,
    plain,
    quiet,
    rich,
    section,
    strong,
    table,
)
from plans.documents.manner import _, in_force
from plans.documents.marks import phase_key
from plans.documents.told import told
from plans.documents.words import listed, quantity
from plans.documents.years import years_ahead
from plans.planning.outlook import Look, Outlook, Stage, outlook
from plans.planning.plan import Plan

YEAR_WIDE = 84.0
MOST_BLOOMS = 5
STAGES = {
    0: "before the seed",
    1: "the first summer: roots",
    2: "the second: it spreads",
    3: "from the third on: it stands",
}
INCHES_TO_FOOT = 12
LOOK = CELL.clone("look", fontSize=8.6, leading=11.4)


@dataclass(frozen=True, slots=True)
class _Row:
    """A stage as one group of fields has it, or several that look the same."""

    stage: Stage
    height_in: float
    fields: list[str]


def _rows(found: Sequence[Outlook]) -> list[_Row]:
    """By year and then by fields; what is told the same stands once."""
    rows: dict[tuple[object, ...], _Row] = {}
    for one in found:
        for stage in one.stages:
            tall = one.height_in if any("{height}" in look.words for look in stage.looks) else 0.0
            row = rows.setdefault((stage, tall), _Row(stage, one.height_in, []))
            row.fields.extend(one.fields)
    return sorted(rows.values(), key=lambda row: (row.stage.first, row.stage.number))


def _years(row: _Row, everywhere: int) -> str:
    stage = row.stage
    years = str(stage.first) if stage.first == stage.last else f"{stage.first}–{stage.last}"
    said = strong(years) + quiet(f"\n{told(STAGES[stage.number])}")
    return said if len(row.fields) == everywhere else said + quiet(f"\n{listed(row.fields)}", SANS_ITALIC)


def _look(look: Look, height_in: float) -> str:
    if not look.words:
        return quiet("–")
    height = quantity(round(height_in / INCHES_TO_FOOT), "ft", 1 if in_force().metric else 0)
    said = plain(told(look.words).format(height=height))
    if look.blooms:
        more = len(look.blooms) - MOST_BLOOMS
        first = look.blooms[:MOST_BLOOMS]
        said += quiet(
            "\n"
            + (
                _("In bloom: {plants}, and {number} more.").format(plants=", ".join(first), number=more)
                if more > 0
                else _("In bloom: {plants}.").format(plants=listed(map(told, first)))
            )
        )
    return said


def what_comes(plan: Plan) -> list[Flowable]:
    """Empty where nothing is sown, set or released."""
    found = outlook(plan)
    if not found:
        return []
    story: list[Flowable] = [
        *section(_("What you will have"), 230),
        p(
            _(
                "A field of natives is slow, and then it is there for decades. In its first summer it "
                "looks like a mistake: that is what success looks like in that year, and the time at which "
                "most people give up. This is what to expect in a normal year; rain, and what is already "
                "in the soil, make it faster or slower."
            ),
            BODY,
        ),
    ]
    wide = (TEXT_WIDTH - YEAR_WIDE) / 3
    everywhere = len(plan.job.conversions)
    rows: list[list[object]] = [
        [
            rich(_years(row, everywhere), style=CELL),
            *(rich(_look(look, row.height_in), style=LOOK) for look in row.stage.looks),
        ]
        for row in _rows(found)
    ]
    head = [_("Year"), _("Spring"), _("Summer"), _("Fall and winter")]
    return [*story, table(head, rows, [YEAR_WIDE, wide, wide, wide], tight=True)]


MOST_APART = 2
"""With more fields than this those that do the same share a row."""
BLOCK_HIGH = 250.0
"""Of the years that stand together, so that they flow with the text [pt]."""


def the_years(plan: Plan) -> list[Flowable]:
    """The years ahead, upright among the text; empty where there is nothing to show."""
    alike = len(plan.job.conversions) > MOST_APART
    drawings = years_ahead(plan, wide=TEXT_WIDTH, most_high=BLOCK_HIGH, alike=alike)
    if not drawings:
        return []
    return [
        *section(_("The years ahead"), min(drawings[0].height, 2 * BLOCK_HIGH) + 70),
        _key(plan),
        *drawings,
    ]


def _key(plan: Plan) -> Flowable:
    """What the bars mean, beside a sentence about them."""
    said = _("A bar is a window in a normal year; a wet spring or a late fall moves it.")
    key = phase_key({task.phase for task in plan.tasks}, 7.5)
    room = TEXT_WIDTH - key.width
    bare = [
        ("FONT", (0, 0), (-1, -1), SANS),
        ("VALIGN", (0, 0), (-1, -1), "TOP"),
        *[(f"{side}PADDING", (0, 0), (-1, -1), 0) for side in ("LEFT", "RIGHT", "TOP", "BOTTOM")],
    ]
    return Table([[p(said, SMALL), key]], colWidths=[room, key.width], style=bare, hAlign="LEFT")
