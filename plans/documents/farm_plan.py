"""The farm plan: all fields and what lies about them on one map to scale, for the page and as one sheet."""

from __future__ import annotations

from dataclasses import dataclass

import shapely
from reportlab.graphics.shapes import Drawing
from reportlab.platypus import Flowable

from plans.documents.field_plan import area, named
from plans.documents.fonts import SANS_BOLD, fit, width
from plans.documents.legend import legend_table
from plans.documents.look import H2, SMALL, TEXT_WIDTH, foot, gap, p
from plans.documents.manner import _
from plans.documents.map_sheet import SIZE, SMOOTH, Line, MapSheet, caution, geometry, parts_of
from plans.documents.marks import words
from plans.documents.page import Running, build
from plans.documents.words import count
from plans.planning.drawn import Mark, Shape

HIGH = 420.0
SHEET_HIGH = 380.0
"""Of the map where a long legend has to stand on the same sheet."""


@dataclass(frozen=True, slots=True)
class DrawnGround:
    """A field by its name, acres and outline."""

    name: str
    acres: float
    shape: Shape


@dataclass(frozen=True, slots=True)
class DrawnFarm:
    """A farm in feet about its middle."""

    name: str
    fields: tuple[DrawnGround, ...]
    marks: tuple[Mark, ...]
    undrawn: tuple[str, ...]
    """Names of fields without an outline."""
    beyond: tuple[str, ...]
    """Names of what lies too far off for this map."""
    within_ft: float
    """How far the drawn lines may stray from those that were measured."""


def farm_plan(farm: DrawnFarm, *, wide: float = TEXT_WIDTH, high: float = HIGH) -> Drawing:
    """The map, `wide` by `high` pt. Its numbers are told by `legend`."""
    fields = [geometry(field.shape) for field in farm.fields]
    shapes = [mark.thing for mark in farm.marks]
    # Lines run on past the frame: a creek a mile long would make the fields small.
    inside = [*fields, *(geometry(shape) for shape in shapes if shape.kind != "line")]
    ground = shapely.union_all([shapely.box(*one.bounds) for one in inside])
    sheet = MapSheet(ground, shapes, wide, high)
    sheet.furniture()
    placed = [sheet.placed(field).simplify(SMOOTH) for field in fields]
    for field in placed:
        sheet.edge(field)
    for number, field in enumerate(placed, start=1):
        sheet.number(number, field)
    for number, shape in enumerate(shapes, start=len(fields) + 1):
        sheet.number(number, sheet.placed(geometry(shape)))
    for row, field in zip(farm.fields, placed, strict=True):
        _name(sheet, row, field)
    return sheet.drawing


def _name(sheet: MapSheet, row: DrawnGround, field: shapely.Geometry) -> None:
    """Under the number, where the field has room for it."""
    home = max(parts_of(field, "Polygon"), key=lambda part: part.area).representative_point()
    text = fit(row.name, SANS_BOLD, SIZE, 110)
    half = width(text, SANS_BOLD, SIZE) / 2
    for down in (17, -11, 27, -21):
        y = home.y - down
        box = shapely.box(home.x - half - 1, y - 2, home.x + half + 1, y + SIZE)
        if field.contains(box) and sheet.claim(box):
            words(sheet.group, home.x, y, text, font=SANS_BOLD, size=SIZE, anchor="middle")
            return


def legend(farm: DrawnFarm) -> list[Line]:
    """All that the map shows."""
    acres = sum(field.acres for field in farm.fields)
    lines = [Line(number, field.name, area(field.acres)) for number, field in enumerate(farm.fields, start=1)]
    if len(lines) > 1:
        lines.append(Line("", count(len(lines), "field").capitalize(), area(acres), total=True))
    lines += [Line(number, named(mark)) for number, mark in enumerate(farm.marks, start=len(farm.fields) + 1)]
    if farm.undrawn:
        undrawn = _("Without an outline, so not drawn: {fields}.")
        lines.append(Line("", undrawn.format(fields=", ".join(farm.undrawn))))
    if farm.beyond:
        lines.append(Line("", _("Beyond this map: {names}.").format(names=", ".join(farm.beyond))))
    return [*lines, caution(farm.within_ft)]


def describe(farm: DrawnFarm) -> str:
    """The drawing in words."""
    return " ".join([f"{farm.name}.", *(line.said for line in legend(farm))])


def farm_plan_pdf(farm: DrawnFarm, *, practice: str, client: str, place: str) -> bytes:
    """PDF of the farm plan in the manner in force; the same arguments give the same bytes."""
    lines = legend(farm)
    beneath = ", ".join(part for part in (client, place) if part.strip())
    story: list[Flowable] = [
        p(farm.name, H2),
        p(_("Farm plan for {client}").format(client=beneath), SMALL),
        gap(4),
        farm_plan(farm, high=SHEET_HIGH),
        gap(8),
        legend_table(lines, TEXT_WIDTH),
    ]
    running = Running(
        title=_("Farm plan: {farm}").format(farm=farm.name),
        author=practice,
        head_left=client,
        head_right=farm.name,
        foot=foot(practice),
        subject=_("Farm plan"),
    )
    return build(story, running)
