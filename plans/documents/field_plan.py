"""The field plan: the outline to scale as a surveyor would sketch it, with what to keep away from.

Everything comes in feet east and north of the middle of the field; north is up.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Literal

import shapely
from reportlab.graphics.shapes import Circle, Drawing, Group, Polygon, PolyLine, Rect
from shapely import LineString, MultiLineString, MultiPolygon
from shapely.affinity import affine_transform, rotate
from shapely.geometry.base import BaseGeometry

from plans.documents.fonts import SANS, SANS_BOLD, SERIF_BOLD, SERIF_ITALIC, fit, width
from plans.documents.look import GREEN, INK, QUIET, RULE, STRAW, STRAW_DARK, STRAW_WASH, TEXT_WIDTH, WHITE
from plans.documents.marks import rule, words

MAP_HIGH = 340.0
SIDE, ABOVE, BELOW = 80.0, 46.0, 50.0
"""Room about the field for what is written beside it [pt]."""
HEAD, ROW = 30.0, 15.0
NONE_ACRES = 0.005
"""What takes less would print as 0.00."""
SIZE = 7.5
FALL_LONG = 44.0
HATCH_APART = 5.0
HATCH_TURNS = (45.0, 135.0, 90.0, 0.0, 22.5, 112.5)
SMOOTH = 0.35
"""Bends smaller than this cannot be seen in print [pt]."""
EDGES_MEASURED = 12
SCALE_STEPS_FT = (10, 20, 50, 100, 200, 250, 500, 1000, 2000, 2640, 5280, 10560, 26400)
NUMBER_PLACES = [
    (reach, math.radians(turn)) for reach in (0, 12, 20, 30, 42, 56, 72, 90) for turn in range(0, 360, 30)
]
"""How far [pt] and in which direction from its ground a number may stand, the nearest first."""
CAUTION = "A sketch from measured corners, not a survey."
Point = tuple[float, float]


@dataclass(frozen=True, slots=True)
class Shape:
    """What lies on the ground. A part is an outer ring and its holes, or one row of points."""

    kind: Literal["polygon", "line", "point"]
    parts: tuple[tuple[tuple[Point, ...], ...], ...]


@dataclass(frozen=True, slots=True)
class KeptFree:
    """A thing, how far to keep away [ft] and why, and the ground of the field that goes with it [acres]."""

    name: str
    reason: str
    distance_ft: float
    acres: float
    thing: Shape
    ground: Shape | None


@dataclass(frozen=True, slots=True)
class Beside:
    """Who or what lies beside the field, and on which side [degrees from north]."""

    name: str
    azimuth_deg: float


@dataclass(frozen=True, slots=True)
class Fall:
    """How steep the steepest part is, in words, and which way the field falls [degrees from north]."""

    steepest: str
    azimuth_deg: float


@dataclass(frozen=True, slots=True)
class Corner:
    """A corner of the outline and its place on the earth [degrees]."""

    at: Point
    longitude: float
    latitude: float

    @property
    def shown(self) -> str:
        north, east = "N" if self.latitude >= 0 else "S", "E" if self.longitude >= 0 else "W"
        return f"{abs(self.latitude):.5f}° {north}, {abs(self.longitude):.5f}° {east}"


@dataclass(frozen=True, slots=True)
class FieldPlan:
    """A field as it is drawn: its ground, and what is left of it for one kind of work."""

    name: str
    work: str
    whole_acres: float
    left_acres: float
    field: Shape
    corner: Corner
    kept_free: tuple[KeptFree, ...] = ()
    beside: tuple[Beside, ...] = ()
    fall: Fall | None = None
    access: Point | None = None


def field_plan(plan: FieldPlan, *, wide: float = TEXT_WIDTH) -> Drawing:
    """The drawing, `wide` pt across and as high as its legend needs."""
    legend = _legend(plan)
    low = 8 + ROW * len(legend)
    drawing, group = Drawing(wide, HEAD + MAP_HIGH + low), Group()
    drawing.add(group)
    sheet = _Sheet(plan, group, wide, low)
    sheet.title()
    sheet.ground()
    sheet.furniture()
    sheet.notes()
    for row, line in enumerate(legend):
        y = low - 13 - ROW * row
        _mark(group, 8, y + 2.6, line.mark)
        font = SANS_BOLD if line.total else SANS
        room = wide - 22 - width(line.acres, font, 8) - 12
        words(group, 22, y, line.text, font=font, size=8, room=room)
        words(group, wide, y, line.acres, font=font, size=8, anchor="end")
    return drawing


def describe(plan: FieldPlan) -> str:
    """The drawing in words."""
    lines = [f"{line.text}: {line.acres}." if line.acres else f"{line.text}." for line in _legend(plan)]
    return " ".join([f"{plan.name}, {plan.whole_acres:,.2f} acres.", *lines])


@dataclass(frozen=True, slots=True)
class _Line:
    """A line under the map: the number or sign it stands for, words, and acres where it has any."""

    mark: int | Literal["corner", "gate", "fall", ""]
    text: str
    acres: str = ""
    total: bool = False


def _legend(plan: FieldPlan) -> list[_Line]:
    """All that the map shows, so that nothing is lost where the map has no room for its words."""
    lines = [
        _Line(
            number,
            f"{kept.name}: {f'{kept.distance_ft:g} ft, ' if kept.distance_ft else ''}{kept.reason}",
            f"{kept.acres:,.2f} acres" if kept.acres >= NONE_ACRES else "none",
        )
        for number, kept in enumerate(plan.kept_free, start=1)
    ]
    left = f"{plan.left_acres:,.2f} of {plan.whole_acres:,.2f} acres"
    lines.append(_Line("", f"Left to {plan.work}", left, total=True))
    if plan.fall:
        side = _wind(plan.fall.azimuth_deg)
        lines.append(_Line("fall", f"Falls to the {side}; at its steepest {plan.fall.steepest}"))
    if plan.access:
        lines.append(_Line("gate", "Way in"))
    lines.append(_Line("corner", f"Corner at {plan.corner.shown}"))
    lines += [_Line("", f"To the {_wind(beside.azimuth_deg)}: {beside.name}") for beside in plan.beside]
    return lines


def _wind(azimuth_deg: float) -> str:
    winds = ("north", "northeast", "east", "southeast", "south", "southwest", "west", "northwest")
    return winds[round(azimuth_deg / 45) % 8]


def bearing(start: Point, end: Point) -> str:
    """As a surveyor writes it: from north or south so many degrees to east or west, or due east."""
    azimuth = math.degrees(math.atan2(end[0] - start[0], end[1] - start[1])) % 360
    away = round(min(azimuth % 180, 180 - azimuth % 180))
    if away in (0, 90):
        return f"due {_wind(azimuth)}"
    north = "N" if azimuth < 90 or azimuth >= 270 else "S"
    return f"{north} {away}° {'E' if azimuth < 180 else 'W'}"


def _geometry(shape: Shape) -> BaseGeometry:
    if shape.kind == "polygon":
        return MultiPolygon([(part[0], part[1:]) for part in shape.parts])
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
        _arrow(group, (x - 6, y), (x + 6, y), head=5)


def _arrow(group: Group, tail: Point, tip: Point, head: float) -> None:
    across, up = ((b - a) / math.dist(tail, tip) for a, b in zip(tail, tip, strict=True))
    root = (tip[0] - head * across, tip[1] - head * up)
    barbs = [(root[0] + side * 0.4 * head * up, root[1] - side * 0.4 * head * across) for side in (1, -1)]
    rule(group, *tail, *root, GREEN, 1.3)
    group.add(Polygon([*tip, *barbs[0], *barbs[1]], fillColor=GREEN, strokeColor=GREEN, strokeWidth=0.4))


def _parts(geometry: BaseGeometry, kind: str) -> Iterator[BaseGeometry]:
    for part in shapely.get_parts(geometry):
        if hasattr(part, "geoms"):
            yield from _parts(part, kind)
        elif part.geom_type == kind and not part.is_empty:
            yield part


class _Sheet:
    """The map: feet to points, and a list of what is taken so that words do not meet."""

    def __init__(self, plan: FieldPlan, group: Group, wide: float, low: float) -> None:
        self.plan, self.group, self.wide, self.low = plan, group, wide, low
        self.frame = shapely.box(0, low, wide, low + MAP_HIGH)
        field = _geometry(plan.field)
        west, south, east, north = field.bounds
        self.scale = min(
            (wide - 2 * SIDE) / max(east - west, 1), (MAP_HIGH - ABOVE - BELOW) / max(north - south, 1)
        )
        self.origin = (
            wide / 2 - self.scale * (east + west) / 2,
            low + BELOW + (MAP_HIGH - ABOVE - BELOW) / 2 - self.scale * (south + north) / 2,
        )
        self.field = self.placed(field).simplify(SMOOTH)
        self.taken: list[BaseGeometry] = []
        things = [self.placed(_geometry(kept.thing)) for kept in plan.kept_free]
        self.things = [thing.intersection(self.frame.buffer(-1)) for thing in things]
        self.drawn = shapely.union_all([self.field.boundary, *(thing.buffer(4) for thing in self.things)])
        """Lines that words must not cross."""

    def placed(self, geometry: BaseGeometry) -> BaseGeometry:
        """Feet to points of the drawing."""
        return affine_transform(geometry, [self.scale, 0, 0, self.scale, *self.origin])

    def at(self, point: Point) -> Point:
        return self.origin[0] + self.scale * point[0], self.origin[1] + self.scale * point[1]

    def claim(self, box: BaseGeometry) -> bool:
        """Takes a place for words; whether it was free and inside the frame."""
        free = self.frame.contains(box) and not any(box.intersects(other) for other in self.taken)
        if free:
            self.taken.append(box)
        return free

    def title(self) -> None:
        top = self.low + MAP_HIGH
        acres = f"{self.plan.whole_acres:,.2f} acres"
        words(self.group, self.wide, top + 10, acres, font=SERIF_BOLD, size=13, anchor="end")
        room = self.wide - width(acres, SERIF_BOLD, 13) - 16
        words(self.group, 0, top + 10, self.plan.name, font=SERIF_BOLD, size=13, colour=GREEN, room=room)
        self.group.add(
            Rect(0, self.low, self.wide, MAP_HIGH, fillColor=None, strokeColor=RULE, strokeWidth=0.8)
        )

    def ground(self) -> None:
        """Neighbouring things under the field, then the field, its hatching and its edge."""
        for thing in self.things:
            self.thing(thing)
        for kept, turn in zip(self.plan.kept_free, self.turns(), strict=True):
            if kept.ground is not None:
                self.hatch(self.placed(_geometry(kept.ground)), turn)
        for part in _parts(self.field, "Polygon"):
            for ring in (part.exterior, *part.interiors):
                self.group.add(Polygon(_numbers(ring)[:-2], fillColor=None, strokeColor=INK, strokeWidth=1.5))
                for corner in shapely.get_coordinates(ring)[:-1] if len(ring.coords) < 40 else ():
                    self.group.add(Circle(*map(float, corner), 1.6, fillColor=INK, strokeColor=None))

    def turns(self) -> list[float]:
        return [HATCH_TURNS[at % len(HATCH_TURNS)] for at in range(len(self.plan.kept_free))]

    def thing(self, geometry: BaseGeometry) -> None:
        for part in _parts(geometry, "Polygon"):
            self.group.add(
                Polygon(
                    _numbers(part.exterior)[:-2],
                    fillColor=STRAW_WASH,
                    strokeColor=STRAW,
                    strokeWidth=0.7,
                    strokeDashArray=[3, 2],
                )
            )
        for line in _parts(geometry, "LineString"):
            self.group.add(
                PolyLine(_numbers(line), strokeColor=GREEN, strokeWidth=1.6, strokeDashArray=[7, 2, 1.5, 2])
            )
        for x, y in shapely.get_coordinates(list(_parts(geometry, "Point"))):
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
        for line in _parts(lines, "LineString"):
            self.group.add(PolyLine(_numbers(line), strokeColor=STRAW_DARK, strokeWidth=0.45))
        for line in _parts(ground.boundary.simplify(SMOOTH), "LineString"):
            self.group.add(PolyLine(_numbers(line), strokeColor=STRAW_DARK, strokeWidth=0.6))

    def furniture(self) -> None:
        """North arrow, scale bar, and what the plan is not."""
        x, y = self.wide - 24, self.low + MAP_HIGH - 52
        for side, fill in ((-6, INK), (6, WHITE)):
            half = [x, y + 30, x + side, y, x, y + 7]
            self.group.add(Polygon(half, fillColor=fill, strokeColor=INK, strokeWidth=0.6))
        words(self.group, x, y + 33, "N", font=SERIF_BOLD, size=11, anchor="middle")
        self.taken.append(shapely.box(x - 10, y - 4, x + 10, y + 46))
        feet = max((step for step in SCALE_STEPS_FT if step * self.scale <= 130), default=SCALE_STEPS_FT[0])
        left, base, half = 14.0, self.low + 14, feet * self.scale / 2
        self.group.add(Rect(left, base, half, 4, fillColor=INK, strokeColor=INK, strokeWidth=0.6))
        self.group.add(Rect(left + half, base, half, 4, fillColor=WHITE, strokeColor=INK, strokeWidth=0.6))
        words(self.group, left, base + 7, "0", size=SIZE)
        words(self.group, left + 2 * half, base + 7, f"{feet:,} ft", size=SIZE, anchor="middle")
        self.taken.append(shapely.box(left, base - 4, left + 2 * half + 24, base + 18))
        start, end = words(self.group, self.wide - 8, base, CAUTION, font=SERIF_ITALIC, size=8, anchor="end")
        self.taken.append(shapely.box(start, base - 4, end, base + 8))

    def notes(self) -> None:
        """What is written on the map, the most needed first: later words give way to earlier ones."""
        self.taken += [point.buffer(4) for thing in self.things for point in _parts(thing, "Point")]
        self.signs()
        self.numbers()
        self.fall()
        self.beside()
        self.edges()

    def signs(self) -> None:
        """Where a corner of known place lies, and the way in."""
        found: list[tuple[str, Point | None]] = [("corner", self.plan.corner.at), ("gate", self.plan.access)]
        for mark, feet in found:
            if feet is not None:
                x, y = self.at(feet)
                _mark(self.group, x, y, mark)
                self.taken.append(shapely.box(x - 6, y - 6, x + 6, y + 6))

    def numbers(self) -> None:
        """Each on its ground, or else as near as there is room; where it takes none, by the thing itself."""
        for number, kept in enumerate(self.plan.kept_free, start=1):
            taken = kept.ground if kept.ground and kept.acres >= NONE_ACRES else kept.thing
            where = self.placed(_geometry(taken)).intersection(self.frame.buffer(-9))
            if where.is_empty:
                continue
            home = where.representative_point()
            for reach, turn in NUMBER_PLACES:
                spot = shapely.Point(home.x + reach * math.cos(turn), home.y + reach * math.sin(turn))
                if self.claim(spot.buffer(7)):
                    if reach > 12:
                        rule(self.group, home.x, home.y, spot.x, spot.y, INK, 0.4)
                    _mark(self.group, spot.x, spot.y, number)
                    break

    def fall(self) -> None:
        """An arrow downhill, where the field has room for it."""
        if self.plan.fall is None:
            return
        turn = math.radians(self.plan.fall.azimuth_deg)
        across, up = FALL_LONG / 2 * math.sin(turn), FALL_LONG / 2 * math.cos(turn)
        for spot in self.spots():
            tail, tip = (spot.x - across, spot.y - up), (spot.x + across, spot.y + up)
            box = LineString([tail, tip]).buffer(6)
            if self.field.contains(box) and self.claim(box):
                _arrow(self.group, tail, tip, head=8)
                return

    def spots(self) -> Iterator[shapely.Point]:
        """Points inside the field: its middle first, then others over it."""
        largest = max(_parts(self.field, "Polygon"), key=lambda part: part.area)
        yield largest.representative_point()
        west, south, east, north = largest.bounds
        for down in (0.5, 0.35, 0.65, 0.2, 0.8):
            for over in (0.5, 0.35, 0.65, 0.2, 0.8):
                spot = shapely.Point(west + over * (east - west), south + down * (north - south))
                if largest.contains(spot):
                    yield spot

    def beside(self) -> None:
        """Names of neighbours between the field and the frame, on their sides."""
        middle = self.field.centroid
        for beside in self.plan.beside:
            turn = math.radians(beside.azimuth_deg)
            lines = _wrapped(beside.name, SERIF_ITALIC, 9, 72)
            wide = max(width(line, SERIF_ITALIC, 9) for line in lines)
            for reach in range(20, 400, 2):
                x, y = middle.x + reach * math.sin(turn), middle.y + reach * math.cos(turn)
                half = 5.5 * len(lines)
                box = shapely.box(x - wide / 2 - 3, y - half, x + wide / 2 + 3, y + half)
                if box.distance(self.field) < 10 or box.intersects(self.drawn) or not self.claim(box):
                    continue
                for row, line in enumerate(lines):
                    base = y + half - 9 - 11 * row
                    words(self.group, x, base, line, font=SERIF_ITALIC, size=9, anchor="middle", colour=QUIET)
                break

    def edges(self) -> None:
        """Bearing and length along the longest edges, outside the field."""
        rings = [part.exterior.simplify(1.2) for part in _parts(self.field, "Polygon")]
        sides = [
            (tuple(a), tuple(b))
            for ring in rings
            for corners in [shapely.get_coordinates(ring).tolist()]
            for a, b in zip(corners, corners[1:], strict=False)
        ]
        longest: Sequence[tuple[Point, Point]] = sorted(sides, key=lambda side: -math.dist(*side))
        for start, end in longest[:EDGES_MEASURED]:
            self.measured_edge(start, end)

    def measured_edge(self, start: Point, end: Point) -> None:
        """At the middle of the edge or, where that is taken, further along it."""
        length = math.dist(start, end)
        text = f"{bearing(start, end)}   {length / self.scale:,.0f} ft"
        wide = width(text, SANS, SIZE)
        turn = math.degrees(math.atan2(end[1] - start[1], end[0] - start[0]))
        upright = (turn + 90) % 180 - 90  # never upside down
        # Outer rings run counter-clockwise, so the outside lies to the right.
        right = math.radians(turn - 90)
        away = 4.0 + (SIZE * 0.7 if abs(upright - turn) < 1 else 0)
        for share in (0.5, 0.35, 0.65, 0.2, 0.8):
            if wide / 2 + 6 > length * min(share, 1 - share):
                continue
            x = start[0] + share * (end[0] - start[0]) + away * math.cos(right)
            y = start[1] + share * (end[1] - start[1]) + away * math.sin(right)
            flat = shapely.box(x - wide / 2, y - 1, x + wide / 2, y + SIZE * 0.75)
            box = rotate(flat, upright, origin=(x, y))
            if box.intersects(self.drawn) or not self.claim(box):
                continue
            turned = Group()
            words(turned, 0, 0, text, size=SIZE, anchor="middle")
            turned.translate(x, y)
            turned.rotate(upright)
            self.group.add(turned)
            return


def _wrapped(text: str, font: str, size: float, room: float) -> list[str]:
    """Up to three lines; what is longer ends in an ellipsis."""
    lines = [""]
    for word in text.split():
        longer = f"{lines[-1]} {word}".strip()
        if lines[-1] and width(longer, font, size) > room and len(lines) < 3:
            lines.append(word)
        else:
            lines[-1] = longer
    return [fit(line, font, size, room) for line in lines]
