"""What you will have: how the fields look in each season of each year, the ugly one too."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from reportlab.platypus import Flowable

from plans.documents.fonts import SANS_ITALIC
from plans.documents.look import (
    BODY,
    CELL,
    SMALL,
    TEXT_WIDTH,
    beside,
    gap,
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
from plans.planning.outlook import Outlook, Stage, outlook
from plans.planning.plan import Plan

WIDTHS = (78.0, 114.0, 156.0, 120.0)
"""Summer says most."""
MOST_BLOOMS = 4
STAGES = {
    0: "before the seed",
    1: "the first summer: roots",
    2: "the second: it spreads",
    3: "from the third on: it stands",
}
INCHES_TO_FOOT = 12
LOOK = CELL.clone("look", fontSize=8.6, leading=11)


@dataclass(slots=True)
class _Row:
    """A stage as one group of fields has it, or several of which the same is said."""

    stage: Stage
    height_in: float
    fields: list[str]
    blooms: tuple[dict[str, None], ...]
    """Plants in bloom in each season on any of the fields, in order."""


def _rows(found: Sequence[Outlook]) -> list[_Row]:
    """By year and then by fields; what is told the same stands once."""
    rows: dict[tuple[object, ...], _Row] = {}
    for one in found:
        for stage in one.stages:
            words = tuple(look.words for look in stage.looks)
            tall = one.height_in if any("{height}" in text for text in words) else 0.0
            key = (stage.number, stage.first, stage.last, words, tall)
            row = rows.setdefault(key, _Row(stage, one.height_in, [], ({}, {}, {})))
            row.fields.extend(one.fields)
            for plants, look in zip(row.blooms, stage.looks, strict=True):
                plants.update(dict.fromkeys(look.blooms))
    return sorted(rows.values(), key=lambda row: (row.stage.first, row.stage.number))


def _years(row: _Row, everywhere: int) -> str:
    said = strong(_span(row.stage)) + quiet(f"\n{told(STAGES[row.stage.number])}")
    return said if len(row.fields) == everywhere else said + quiet(f"\n{listed(row.fields)}", SANS_ITALIC)


def _words(words: str, height_in: float) -> str:
    height = quantity(round(height_in / INCHES_TO_FOOT), "ft", 1 if in_force().metric else 0)
    return told(words).format(height=height) if words else "–"


def _blooms(plants: Sequence[str]) -> str:
    """Which plants are in bloom; empty where none is."""
    if not plants:
        return ""
    more = len(plants) - MOST_BLOOMS
    first = [told(plant) for plant in plants[:MOST_BLOOMS]]
    if more > 0:
        return _("In bloom: {plants}, and {number} more.").format(plants=", ".join(first), number=more)
    return _("In bloom: {plants}.").format(plants=listed(first))


def _look(words: str, plants: Sequence[str], height_in: float) -> str:
    said = _words(words, height_in)
    if not words:
        return quiet(said)
    blooms = _blooms(plants)
    return plain(said) + (quiet(f"\n{blooms}") if blooms else "")


@dataclass(frozen=True, slots=True)
class Expected:
    """A stage of the fields, for a page."""

    years: str
    stage: str
    fields: tuple[str, ...]
    """Empty where it is the same on all."""
    seasons: tuple[tuple[str, str, str], ...]
    """Name of the season, how the field looks then, and what blooms."""


def expected(plan: Plan) -> list[Expected]:
    """What comes, stage by stage; empty where nothing is sown, set or released."""
    everywhere = len(plan.job.conversions)
    return [
        Expected(
            years=_span(row.stage),
            stage=told(STAGES[row.stage.number]),
            fields=() if len(row.fields) == everywhere else tuple(row.fields),
            seasons=tuple(
                (season, _words(look.words, row.height_in), _blooms(list(plants)))
                for season, look, plants in zip(_seasons(), row.stage.looks, row.blooms, strict=True)
                if look.words
            ),
        )
        for row in _rows(outlook(plan))
    ]


def about_what_comes() -> str:
    return _(
        "A field of natives is slow, and then it is there for decades. In its first summer it "
        "looks like a mistake: that is what success looks like in that year, and the time at which "
        "most people give up. This is what to expect in a normal year; rain, and what is already "
        "in the soil, make it faster or slower."
    )


def _seasons() -> list[str]:
    return [_("Spring"), _("Summer"), _("Fall and winter")]


def _span(stage: Stage) -> str:
    return str(stage.first) if stage.first == stage.last else f"{stage.first}–{stage.last}"


def what_comes(plan: Plan) -> list[Flowable]:
    """Empty where nothing is sown, set or released."""
    found = outlook(plan)
    if not found:
        return []
    story: list[Flowable] = [
        *section(_("What you will have"), 136),
        p(about_what_comes(), BODY),
    ]
    everywhere = len(plan.job.conversions)
    rows: list[list[object]] = [
        [
            rich(_years(row, everywhere), style=CELL),
            *(
                rich(_look(look.words, list(plants), row.height_in), style=LOOK)
                for look, plants in zip(row.stage.looks, row.blooms, strict=True)
            ),
        ]
        for row in _rows(found)
    ]
    head = [_("Year"), *_seasons()]
    return [*story, table(head, rows, WIDTHS, tight=True)]


MOST_APART = 2
"""With more fields than this those that do the same share a row."""
BLOCK_HIGH = 130.0
"""Of the years that stand together, so that they flow with the text [pt]."""
LANE = 9.0
"""Height of a row of bars [pt]."""


def the_years(plan: Plan) -> list[Flowable]:
    """The years ahead, upright among the text; empty where there is nothing to show."""
    alike = len(plan.job.conversions) > MOST_APART
    drawings = years_ahead(
        plan, wide=TEXT_WIDTH, most_high=BLOCK_HIGH, alike=alike, lanes=(LANE,), together=True
    )
    if not drawings:
        return []
    return [
        *section(_("The years ahead"), min(drawings[0].height, 2 * BLOCK_HIGH) + 64),
        *beside(
            p(_("A bar is a window in a normal year; a wet spring or a late fall moves it."), SMALL),
            phase_key({task.phase for task in plan.tasks}, 7.5),
            TEXT_WIDTH,
        ),
        gap(4),
        *drawings,
    ]
