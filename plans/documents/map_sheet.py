"""A map to scale, north up: what outlines, things and words on it share, so that no words meet.

Everything comes in feet east and north of one place; the drawing is in points.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Literal

import shapely
from reportlab.graphics.shapes import Circle, Drawing, Group, Polygon, PolyLine, Rect
from shapely import MultiLineString, MultiPolygon
from shapely.affinity import affine_transform, rotate
from shapely.geometry.base import BaseGeometry

from plans.documents.fonts import SANS_BOLD, SERIF_BOLD, fit, width
from plans.documents.look import GREEN, INK, RULE, STRAW, STRAW_DARK, STRAW_WASH, WHITE
from plans.documents.manner import _, in_force
from plans.documents.marks import rule, words
from plans.documents.measures import FOOT_M
from plans.documents.words import number, quantity
from plans.planning.drawn import Point, Shape

ABOVE, BELOW = 20.0, 42.0
MOST_SIDE, SIDE_SHARE = 80.0, 0.15
"""Room about the ground for what is written beside it [pt, of the width]."""
SIZE = 7.5
HATCH_APART = 5.0
SMOOTH = 0.35
"""Bends smaller than this cannot be seen in print [pt]."""
LONGEST_BAR, BAR_SHARE = 130.0, 0.28
SCALE_STEPS = (10, 20, 50, 100, 200, 250, 500, 1000, 2000, 2640, 5280, 10560, 26400)
NUMBER_PLACES = [
    (reach, math.radians(turn)) for reach in (0, 12, 20, 30, 42, 56, 72, 90) for turn in range(0, 360, 30)
]
"""How far [pt] and in which direction from its ground a number may stand, the nearest first."""
Sign = Literal["corner", "gate", "fall", ""]


@dataclass(frozen=True, slots=True)
class Line:
    """A line of the legend: the number or sign it stands for, words, and acres where it has any."""

    mark: int | Sign
    text: str
    acres: str = ""
    total: bool = False

    @property
    def said(self) -> str:
        return f"{self.text.removesuffix('.')}{f': {self.acres}' if self.acres else ''}."


def caution(within_ft: float) -> Line:
    """What a map is not, and how far its lines were made simpler."""
    said = [_("A sketch from measured corners, not a survey.")]
    if within_ft:
        said.append(
            _("Bends of less than {length} are left out.").format(length=quantity(within_ft, "ft", 1))
        )
    return Line("", " ".join(said))


def mark_drawing(mark: int | Sign) -> Drawing:
    """The number or sign alone, for a legend."""
    drawing, group = Drawing(14, 12.5), Group()
    drawing.add(group)
    _mark(group, 7, 6.2, mark)
    return drawing


def geometry(shape: Shape) -> BaseGeometry:
    """A sound geometry [ft], outer rings counter-clockwise. Rings that cross, as in a file, are mended."""
    if shape.kind == "polygon":
        drawn = MultiPolygon([(part[0], part[1:]) for part in shape.parts])
        return shapely.orient_polygons(drawn if drawn.is_valid else shapely.make_valid(drawn))
    if shape.kind == "line":
        return MultiLineString([part[0] for part in shape.parts])
    return shapely.MultiPoint([part[0][0] for part in shape.parts])


def _numbers(points: object) -> list[float]:
    """Flat x, y, x, y as ReportLab wants them, rounded to what can be seen."""
    return [round(float(number), 2) for number in shapely.get_coordinates(points).ravel()]


def _mark(group: Group, x: float, y: float, mark: int | str) -> None:
    """A number in a circle, or the sign of a corner, a way in or a fall."""
    if isinstance(mark, int):
        group.add(Circle(x, y, 6, fillColor=WHITE, strokeColor=INK, strokeWidth=0.7))
        words(group, x, y - 2.7, str(mark), font=SANS_BOLD, size=7.5, anchor="middle")
    elif mark == "corner":
        group.add(Rect(x - 3.4, y - 3.4, 6.8, 6.8, fillColor=WHITE, strokeColor=INK, strokeWidth=1.2))
    elif mark == "gate":
        sides = [x - 4.5, y - 4, x + 4.5, y - 4, x, y + 4.5]
        group.add(Polygon(sides, fillColor=GREEN, strokeColor=WHITE, strokeWidth=0.8))
    elif mark == "fall":
        arrow(group, (x - 6, y), (x + 6, y), head=5)


def arrow(group: Group, tail: Point, tip: Point, head: float) -> None:
    across, up = ((b - a) / math.dist(tail, tip) for a, b in zip(tail, tip, strict=True))
    root = (tip[0] - head * across, tip[1] - head * up)
    barbs = [(root[0] + side * 0.4 * head * up, root[1] - side * 0.4 * head * across) for side in (1, -1)]
    rule(group, *tail, *root, GREEN, 1.3)
    group.add(Polygon([*tip, *barbs[0], *barbs[1]], fillColor=GREEN, strokeColor=GREEN, strokeWidth=0.4))


def parts_of(whole: BaseGeometry, kind: str) -> Iterator[BaseGeometry]:
    for part in shapely.get_parts(whole):
        if hasattr(part, "geoms"):
            yield from parts_of(part, kind)
        elif part.geom_type == kind and not part.is_empty:
            yield part


class MapSheet:
    """A map `wide` by `high` [pt] that holds all of `ground`, and a list of what is taken on it."""

    def __init__(self, ground: BaseGeometry, things: Sequence[Shape], wide: float, high: float) -> None:
        self.drawing, self.group = Drawing(wide, high), Group()
        self.drawing.add(self.group)
        self.wide, self.high = wide, high
        self.frame = shapely.box(0, 0, wide, high)
        west, south, east, north = ground.bounds
        side, room = min(MOST_SIDE, wide * SIDE_SHARE), high - ABOVE - BELOW
        self.scale = min((wide - 2 * side) / max(east - west, 1), room / max(north - south, 1))
        self.origin = (
            wide / 2 - self.scale * (east + west) / 2,
            BELOW + room / 2 - self.scale * (south + north) / 2,
        )
        self.taken: list[BaseGeometry] = []
        inside = self.frame.buffer(-1)
        self.things = [self.placed(geometry(thing)).intersection(inside) for thing in things]
        self.group.add(Rect(0, 0, wide, high, fillColor=None, strokeColor=RULE, strokeWidth=0.8))
        for thing in self.things:
            self.thing(thing)

    def placed(self, ground: BaseGeometry) -> BaseGeometry:
        """Feet to points of the drawing."""
        return affine_transform(ground, [self.scale, 0, 0, self.scale, *self.origin])

    def at(self, point: Point) -> Point:
        return self.origin[0] + self.scale * point[0], self.origin[1] + self.scale * point[1]

    def claim(self, box: BaseGeometry) -> bool:
        """Takes a place for words; whether it was free and inside the frame."""
        free = bool(self.frame.contains(box) and not shapely.intersects(self.taken, box).any())
        if free:
            self.taken.append(box)
        return free

    def edge(self, field: BaseGeometry) -> None:
        """The edge of a field, with a dot at each corner where there are few."""
        for part in parts_of(field, "Polygon"):
            for ring in (part.exterior, *part.interiors):
                self.group.add(Polygon(_numbers(ring)[:-2], fillColor=None, strokeColor=INK, strokeWidth=1.5))
                for corner in shapely.get_coordinates(ring)[:-1] if len(ring.coords) < 40 else ():
                    self.group.add(Circle(*map(float, corner), 1.6, fillColor=INK, strokeColor=None))

    def thing(self, thing: BaseGeometry) -> None:
        for part in parts_of(thing, "Polygon"):
            self.group.add(
                Polygon(
                    _numbers(part.exterior)[:-2],
                    fillColor=STRAW_WASH,
                    strokeColor=STRAW,
                    strokeWidth=0.7,
                    strokeDashArray=[3, 2],
                )
            )
        for line in parts_of(thing, "LineString"):
            self.group.add(
                PolyLine(_numbers(line), strokeColor=GREEN, strokeWidth=1.6, strokeDashArray=[7, 2, 1.5, 2])
            )
        for x, y in shapely.get_coordinates(list(parts_of(thing, "Point"))):
            self.group.add(
                Circle(float(x), float(y), 3.4, fillColor=WHITE, strokeColor=GREEN, strokeWidth=1.4)
            )

    def hatch(self, ground: BaseGeometry, turn_deg: float) -> None:
        """Lines over an area, and its edge thin."""
        west, south, east, north = ground.bounds
        reach = math.hypot(east - west, north - south) / 2 + HATCH_APART
        middle = ((west + east) / 2, (south + north) / 2)
        steps = int(reach / HATCH_APART)
        heights = [middle[1] + HATCH_APART * step for step in range(-steps, steps + 1)]
        level = MultiLineString([((middle[0] - reach, y), (middle[0] + reach, y)) for y in heights])
        lines = rotate(level, turn_deg, origin=middle).intersection(ground)
        for line in parts_of(lines, "LineString"):
            self.group.add(PolyLine(_numbers(line), strokeColor=STRAW_DARK, strokeWidth=0.45))
        for line in parts_of(ground.boundary.simplify(SMOOTH), "LineString"):
            self.group.add(PolyLine(_numbers(line), strokeColor=STRAW_DARK, strokeWidth=0.6))

    def furniture(self) -> None:
        """North arrow and scale bar."""
        x, y = self.wide - 24, self.high - 52
        for side, fill in ((-6, INK), (6, WHITE)):
            half = [x, y + 30, x + side, y, x, y + 7]
            self.group.add(Polygon(half, fillColor=fill, strokeColor=INK, strokeWidth=0.6))
        words(self.group, x, y + 33, _("N E S W").split()[0], font=SERIF_BOLD, size=11, anchor="middle")
        self.taken.append(shapely.box(x - 10, y - 4, x + 10, y + 46))
        longest = min(LONGEST_BAR, self.wide * BAR_SHARE)
        name = "m" if in_force().metric else "ft"
        points = self.scale / (FOOT_M if in_force().metric else 1)
        steps = max((step for step in SCALE_STEPS if step * points <= longest), default=SCALE_STEPS[0])
        left, base, part = 14.0, 14.0, steps * points / 2
        clear = Rect(left - 6, base - 6, 2 * part + 36, 26, fillColor=WHITE, strokeColor=None)
        self.group.add(clear)
        self.group.add(Rect(left, base, part, 4, fillColor=INK, strokeColor=INK, strokeWidth=0.6))
        self.group.add(Rect(left + part, base, part, 4, fillColor=WHITE, strokeColor=INK, strokeWidth=0.6))
        words(self.group, left, base + 7, "0", size=SIZE)
        words(self.group, left + 2 * part, base + 7, f"{number(steps)} {name}", size=SIZE, anchor="middle")
        self.taken.append(shapely.box(left, base - 4, left + 2 * part + 24, base + 18))

    def number(self, number: int, ground: BaseGeometry) -> None:
        """On its ground [pt], or else as near as there is room; nothing where it lies off the map."""
        where = ground.intersection(self.frame.buffer(-9))
        if where.is_empty:
            return
        home = where.representative_point()
        for reach, turn in NUMBER_PLACES:
            spot = shapely.Point(home.x + reach * math.cos(turn), home.y + reach * math.sin(turn))
            if self.claim(spot.buffer(7)):
                if reach > 12:
                    rule(self.group, home.x, home.y, spot.x, spot.y, INK, 0.4)
                self.mark(spot.x, spot.y, number)
                return

    def mark(self, x: float, y: float, mark: int | Sign) -> None:
        _mark(self.group, x, y, mark)


def wrapped(text: str, font: str, size: float, room: float) -> list[str]:
    """Up to three lines; what is longer ends in an ellipsis."""
    lines = [""]
    for word in text.split():
        longer = f"{lines[-1]} {word}".strip()
        if lines[-1] and width(longer, font, size) > room and len(lines) < 3:
            lines.append(word)
        else:
            lines[-1] = longer
    return [fit(line, font, size, room) for line in lines]
