"""What the work does to a slope: drilled through residue beside tilled clean, where it is known."""

from __future__ import annotations

from reportlab.platypus import Flowable

from plans.documents.look import (
    BODY,
    CELL,
    CELL_BOLD,
    CELL_SMALL,
    FINE,
    TEXT_WIDTH,
    p,
    part,
    plain,
    rich,
    section,
    strong,
    table,
    text_height,
)
from plans.documents.manner import _
from plans.documents.words import converted, fixed, number, source, unique, unit
from plans.planning.figures import Figure
from plans.planning.plan import FieldSoil, Plan

FIGURE = 62.0
"""Width of a column of tons [pt]."""
FACTOR = 52.0


def _ways(field: FieldSoil) -> tuple[Figure, Figure, Figure, Figure]:
    """Loss as the field stands, then drilled, tilled, and in the new stand, which is the same for both."""
    before, during, after = field.stages
    return before.drilled, during.drilled, during.tilled, after.drilled


def _tons(figure: Figure) -> str:
    return fixed(converted(float(figure.value), "tons/acre"), 1)


def soil_loss(plan: Plan) -> list[Flowable]:
    if not plan.soil:
        return []
    rows: list[list[object]] = [
        [
            p(field.field, CELL_BOLD),
            *(_tons(figure) for figure in _ways(field)),
            _("{number} times").format(number=number(float(field.times.value), 0)),
            number(float(field.bare_days.value), 0),
        ]
        for field in plan.soil
    ]
    head = [
        _("Field"),
        _("As it stands"),
        _("Drilled"),
        _("Tilled"),
        _("New stand"),
        _("Tilled loses"),
        _("Bare days before seeding"),
    ]
    return [
        *section(_("What it does to the soil"), 190),
        p(
            _(
                "Drilled, the seed goes in through the old cover, which lies dead on the ground and holds "
                "it. Tilled, the field is disced clean and lies open to the rain until seedlings cover it. "
                "The table says what it would lose at each stage, in {unit} of soil a year, by RUSLE (USDA "
                "Agriculture Handbook 703). It compares ways of working one field and is no forecast."
            ).format(unit=unit("tons/acre")),
            BODY,
        ),
        table(head, rows, [TEXT_WIDTH - 6 * FIGURE, *[FIGURE] * 6], numbers=range(1, 7)),
    ]


def soil_workings(plan: Plan) -> list[Flowable]:
    """The factors of each field, a line a field."""
    if not plan.soil:
        return []
    rows: list[list[object]] = []
    for field in plan.soil:
        ways = [{term.name: term.value for term in figure.inputs} for figure in _ways(field)]
        factors = [*(ways[0][name] for name in ("R", "K", "LS")), *(way["C"] for way in ways)]
        rows.append([p(field.field, FINE), *(f"{float(factor):.3g}" for factor in factors), "1"])
    figures = [figure for field in plan.soil for figure in _ways(field)]
    sources = unique(piece for figure in figures for piece in source(figure.source).split("; "))
    head = [_("Field"), "R", "K", "LS", _("C now"), _("C drilled"), _("C tilled"), _("C new"), "P"]
    narrow = FACTOR - 18
    widths = [narrow, narrow, narrow, *[FACTOR] * 4, narrow]
    return [
        *part(_("Soil"), min(140 + 15 * len(rows), 0.8 * text_height())),
        rich(
            strong(_("Soil loss:") + " "),
            plain(
                _(
                    "R × K × LS × C × P, tons an acre a year; LS from slope and length. P 1 is straight up "
                    "and down the slope."
                )
            ),
            style=CELL,
        ),
        table(head, rows, [TEXT_WIDTH - sum(widths), *widths], numbers=range(1, 9), text=FINE, tight=True),
        p(_("Sources: {sources}.").format(sources="; ".join(sources)), CELL_SMALL),
    ]
