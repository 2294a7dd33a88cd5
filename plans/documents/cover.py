"""The cover: whose proposal it is, for whom and for what, and the ground it is about."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import replace
from datetime import date

from reportlab.graphics.shapes import Drawing
from reportlab.lib.styles import ParagraphStyle
from reportlab.platypus import Flowable, HRFlowable, Table

from plans.documents import farm_plan, field_plan, fonts
from plans.documents.farm_plan import DrawnFarm, DrawnGround
from plans.documents.letter import logo_image
from plans.documents.look import (
    CELL,
    CELL_BOLD,
    GREEN,
    HEAD,
    INK,
    QUIET,
    RULE,
    SMALL,
    TEXT_WIDTH,
    gap,
    p,
    rich,
    strong,
)
from plans.documents.manner import _, several
from plans.documents.map_sheet import Line
from plans.documents.told import told
from plans.documents.words import day, measured
from plans.planning.drawn import DrawnField, Mark, Shape
from plans.planning.plan import Plan

PRACTICE = ParagraphStyle(
    "cover practice", fontName=fonts.SERIF_BOLD, fontSize=14, leading=18, textColor=GREEN
)
TITLE = ParagraphStyle(
    "cover title", fontName=fonts.SERIF_BOLD, fontSize=30, leading=36, textColor=INK, splitLongWords=1
)
LONG_TITLE = ParagraphStyle("cover long title", parent=TITLE, fontSize=20, leading=25)
LONG_FROM = 60
FOR = ParagraphStyle(
    "cover for", fontName=fonts.SERIF, fontSize=14, leading=20, textColor=QUIET, splitLongWords=1
)
MOST_HIGH, LEAST_HIGH = 350.0, 120.0
"""Of the map; where less is left it is not drawn [pt]."""
MOST_NAMED = 10
"""Fields listed by name on a cover without a map."""
AIR = 26.0


class Filled(Flowable):
    """A page filled from top and from bottom, with what fits between drawn in the middle of what is left."""

    def __init__(
        self,
        top: Sequence[Flowable],
        between: Callable[[float], Drawing] | None,
        under: Sequence[Flowable],
        bottom: Sequence[Flowable],
    ):
        super().__init__()
        self.top, self.between, self.under, self.bottom = top, between, under, bottom

    def wrap(self, wide: float, high: float) -> tuple[float, float]:
        self.width, self.height = wide, high
        return wide, high

    def _high(self, flowables: Sequence[Flowable]) -> float:
        return sum(one.wrapOn(self.canv, self.width, self.height)[1] for one in flowables)

    def _stack(self, flowables: Sequence[Flowable], y: float) -> None:
        for one in flowables:
            y -= one.wrapOn(self.canv, self.width, self.height)[1]
            one.drawOn(self.canv, 0, y)

    def draw(self) -> None:
        self._stack(self.top, self.height)
        low = self._high(self.bottom)
        self._stack(self.bottom, low)
        room = self.height - self._high(self.top) - low - 2 * AIR
        under = self._high(self.under)
        if under > room:
            return
        tall = min(MOST_HIGH, room - under)
        drawing = self.between(tall) if self.between and tall >= LEAST_HIGH else None
        whole = under + (drawing.height if drawing else 0)
        y = low + AIR + (room - whole) / 2 + whole
        if drawing:
            y -= drawing.height
            drawing.drawOn(self.canv, (self.width - drawing.width) / 2, y)
        self._stack(self.under, y)


def _feet_per_degree(latitude: float) -> tuple[float, float]:
    """Feet to a degree of longitude and of latitude. Source: the usual series on the WGS 84 ellipsoid."""
    turn = math.radians(latitude)
    north = 111132.954 - 559.822 * math.cos(2 * turn) + 1.175 * math.cos(4 * turn)
    east = 111412.84 * math.cos(turn) - 93.5 * math.cos(3 * turn) + 0.118 * math.cos(5 * turn)
    return east / 0.3048, north / 0.3048


def _moved(shape: Shape, east: float, north: float) -> Shape:
    parts = tuple(tuple(tuple((x + east, y + north) for x, y in row) for row in part) for part in shape.parts)
    return Shape(shape.kind, parts)


def drawn_farm(name: str, fields: Sequence[DrawnField]) -> DrawnFarm:
    """Fields that are each drawn about their own middle, laid on one map by a corner of known place."""
    first = fields[0].corner
    across, up = _feet_per_degree(first.latitude)
    grounds: list[DrawnGround] = []
    marks: dict[tuple[str, str, str], Mark] = {}
    for field in fields:
        corner = field.corner
        east = (corner.longitude - first.longitude) * across - corner.at[0] + first.at[0]
        north = (corner.latitude - first.latitude) * up - corner.at[1] + first.at[1]
        grounds.append(DrawnGround(field.name, field.whole_acres, _moved(field.field, east, north)))
        things = [Mark(kept.name, "", kept.thing) for kept in field.kept_free]
        for mark in (*things, *field.marks):
            shape = _moved(mark.thing, east, north)
            key = (mark.name, mark.kind, shape.kind)
            known = marks.get(key)
            merged = Shape(shape.kind, (*known.thing.parts, *shape.parts)) if known else shape
            marks[key] = replace(mark, thing=merged)
    return DrawnFarm(
        name=name,
        fields=tuple(grounds),
        marks=tuple(marks.values()),
        undrawn=(),
        beyond=(),
        within_ft=max(field.within_ft for field in fields),
    )


def _numbered(lines: Sequence[Line]) -> list[Flowable]:
    """The numbers on the map in a line or two; signs are told where the field is."""
    named = [f"{line.mark}\u00a0{line.text}" for line in lines if isinstance(line.mark, int)]
    return [gap(6), p(" · ".join(named), SMALL)] if named else []


def _map(plan: Plan) -> tuple[Callable[[float], Drawing] | None, list[Flowable]]:
    fields = [conversion.drawn[-1] for conversion in plan.job.conversions if conversion.drawn]
    if not fields:
        return None, _listed(plan)
    if len(fields) == 1:
        (alone,) = [conversion.drawn[0] for conversion in plan.job.conversions if conversion.drawn]
        return (
            lambda high: field_plan.field_plan(alone, high=high),
            _numbered(field_plan.legend(alone)),
        )
    farm = drawn_farm(plan.job.farm.name, fields)
    return lambda high: farm_plan.farm_plan(farm, high=high), _numbered(farm_plan.legend(farm))


def _listed(plan: Plan) -> list[Flowable]:
    """The fields by name where none of them is drawn."""
    conversions = plan.job.conversions
    rows = [
        [
            rich(strong(one.field, fonts.SERIF_BOLD), style=FOR),
            p(measured(one.acres, "acre"), CELL),
            p(told(one.purpose), CELL),
        ]
        for one in conversions[:MOST_NAMED]
    ]
    if len(conversions) > MOST_NAMED:
        more = _("and {number} more").format(number=len(conversions) - MOST_NAMED)
        rows.append([p(more, CELL), "", ""])
    return [
        Table(
            rows,
            colWidths=[TEXT_WIDTH - 260, 90, 170],
            style=[
                ("FONT", (0, 0), (-1, -1), fonts.SANS),
                ("VALIGN", (0, 0), (-1, -1), "MIDDLE"),
                ("LEFTPADDING", (0, 0), (0, -1), 0),
                ("LINEABOVE", (0, 0), (-1, -1), 0.5, RULE),
                ("LINEBELOW", (0, -1), (-1, -1), 0.5, RULE),
            ],
        )
    ]


def _title(text: str) -> Flowable:
    """The title in lines of about one length."""
    style = LONG_TITLE if len(text) > LONG_FROM else TITLE
    words = [fonts.width(word, style.fontName, style.fontSize) for word in fonts.clean(text).split()]
    space = fonts.width(" ", style.fontName, style.fontSize)

    def lines(room: float) -> int:
        count, at = 1, 0.0
        for word in words:
            if at and at + space + word > room:
                count, at = count + 1, 0.0
            at += word + (space if at else 0)
        return count

    narrowest = max(words, default=0.0)
    if narrowest > TEXT_WIDTH:
        return p(text, style)
    fewest, room = lines(TEXT_WIDTH), TEXT_WIDTH
    while room - 6 > narrowest and lines(room - 6) == fewest:
        room -= 6
    return p(text, ParagraphStyle("cover balanced title", parent=style, rightIndent=TEXT_WIDTH - room - 2))


def the_cover(
    plan: Plan, *, number: str, revision: int, offered_on: date, until: date, logo: bytes | None
) -> list[Flowable]:
    """One page. Raises ValueError for a logo that cannot be read."""
    job = plan.job
    place = ", ".join(text for text in (job.farm.name, job.farm.place) if text.strip())
    top: list[Flowable] = [logo_image(logo), gap(8)] if logo else []
    top += [
        p(job.practice.name, PRACTICE),
        gap(8),
        HRFlowable(width="100%", thickness=1.4, color=GREEN),
        gap(1.6),
        HRFlowable(width="100%", thickness=0.5, color=GREEN),
        gap(46),
        _title(job.title),
        gap(12),
        p(_("For {client}").format(client=job.client.name), FOR),
        p(place, FOR),
    ]
    fields = len(job.conversions)
    acres = measured(sum(conversion.acres for conversion in job.conversions), "acre")
    numbered = (
        _("Proposal {number}, revision {revision}").format(number=number, revision=revision)
        if number
        else _("Draft, not an offer")
    )
    facts = [
        (numbered, _("This paper")),
        (day(offered_on), _("Offered on") if number else _("Printed on")),
        (day(until), _("The price holds until")),
        (acres, several("{number} field", "{number} fields", fields).format(number=fields)),
    ]
    wide = TEXT_WIDTH / len(facts)
    bottom: list[Flowable] = [
        HRFlowable(width="100%", thickness=0.8, color=GREEN),
        Table(
            [[[p(said, HEAD), p(what, CELL_BOLD)] for what, said in facts]],
            colWidths=[wide] * len(facts),
            style=[
                ("FONT", (0, 0), (-1, -1), fonts.SANS),
                ("VALIGN", (0, 0), (-1, -1), "TOP"),
                ("LEFTPADDING", (0, 0), (-1, -1), 0),
                ("RIGHTPADDING", (0, 0), (-1, -1), 10),
                ("TOPPADDING", (0, 0), (-1, -1), 8),
                ("BOTTOMPADDING", (0, 0), (-1, -1), 4),
            ],
        ),
    ]
    between, under = _map(plan)
    return [Filled(top, between, under, bottom)]
