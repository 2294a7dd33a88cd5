"""The field plan: the outline to scale as a surveyor would sketch it, with what to keep away from."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence

import shapely
from reportlab.graphics.shapes import Drawing, Group
from shapely import LineString
from shapely.affinity import rotate

from plans.documents.data_table import DataTable
from plans.documents.fonts import SANS, SERIF_ITALIC, width
from plans.documents.look import QUIET, TEXT_WIDTH
from plans.documents.manner import _
from plans.documents.map_sheet import (
    SIZE,
    SMOOTH,
    Line,
    MapSheet,
    Sign,
    arrow,
    caution,
    geometry,
    parts_of,
    wrapped,
)
from plans.documents.marks import words
from plans.documents.told import told
from plans.documents.words import converted, fixed, quantity, unit, upper_first
from plans.planning.away import VERBS
from plans.planning.drawn import DrawnField, KeptFree, Mark, Point
from plans.planning.findings import listing

HIGH = 340.0
NONE_ACRES = 0.005
"""What takes less would print as 0.00."""
FALL_LONG = 44.0
HATCH_TURNS = (45.0, 135.0, 90.0, 0.0, 22.5, 112.5)
EDGES_MEASURED = 12
SIDES_LISTED = 40


def field_plan(plan: DrawnField, *, wide: float = TEXT_WIDTH, high: float = HIGH) -> Drawing:
    """The map, `wide` by `high` pt. Its numbers and signs are told by `legend`."""
    sheet = _FieldSheet(plan, wide, high)
    sheet.ground()
    sheet.furniture()
    sheet.notes()
    return sheet.drawing


def describe(plan: DrawnField) -> str:
    """The drawing in words."""
    whole = _("{field}, {area}.").format(field=plan.name, area=area(plan.whole_acres))
    return " ".join([whole, *(line.said for line in legend(plan))])


def area(acres: float) -> str:
    """Two decimals always, so that a column of them adds up to its total."""
    return f"{fixed(converted(acres, 'acres'), 2)} {unit('acres')}"


def legend(plan: DrawnField) -> list[Line]:
    """All that the map shows, so that nothing is lost where the map has no room for its words."""
    lines = [
        Line(
            number,
            _why_free(kept),
            area(kept.acres) if kept.acres >= NONE_ACRES else _("none"),
        )
        for number, kept in enumerate(plan.kept_free, start=1)
    ]
    if plan.works:
        left = fixed(converted(plan.left_acres, "acres"), 2)
        left = _("{left} of {whole}").format(left=left, whole=area(plan.whole_acres))
        lines.append(Line("", _("Left to {work}").format(work=told(left_to(plan))), left, total=True))
    lines += [
        Line(number, named(mark)) for number, mark in enumerate(plan.marks, start=len(plan.kept_free) + 1)
    ]
    if plan.fall:
        side = _wind(plan.fall.azimuth_deg)
        steepest = told(plan.fall.steepest)
        falls = _("Falls to the {side}; at its steepest {slope}").format(side=side, slope=steepest)
        lines.append(Line("fall", falls))
    if plan.access:
        lines.append(Line("gate", _("Way in: {name}").format(name=plan.access.name)))
    lines.append(Line("corner", _("Corner at {place}").format(place=plan.corner.shown)))
    for beside in plan.beside:
        side = _wind(beside.azimuth_deg)
        lines.append(Line("", _("To the {side}: {name}").format(side=side, name=told(beside.name))))
    return [*lines, caution(plan.within_ft)]


def _why_free(kept: KeptFree) -> str:
    if not kept.distance_ft:
        return _("{name}: {reason}").format(name=kept.name, reason=told(kept.reason))
    distance = quantity(kept.distance_ft, "ft")
    text = _("{name}: {distance}, {reason}")
    return text.format(name=kept.name, distance=distance, reason=told(kept.reason))


def data_table(plan: DrawnField) -> DataTable:
    """Each side of the field, the outer ones first, as it runs on the ground; of very many the longest."""
    parts = list(parts_of(geometry(plan.field), "Polygon"))
    rings = [part.exterior for part in parts] + [hole for part in parts for hole in part.interiors]
    sides = [
        (a, b)
        for ring in rings
        for corners in [shapely.get_coordinates(ring).tolist()]
        for a, b in zip(corners, corners[1:], strict=False)
    ]
    listed = sorted(range(len(sides)), key=lambda at: -math.dist(*sides[at]))[:SIDES_LISTED]
    rows = []
    for at in sorted(listed):
        start, end = sides[at]
        length = quantity(math.dist(start, end), "ft", 0)
        rows.append((_("Side {number}").format(number=at + 1), bearing(start, end), length))
    caption = _("Sides of {field}").format(field=plan.name)
    if len(sides) > len(rows):
        caption = _("The {count} longest sides of {field}").format(count=len(rows), field=plan.name)
    return DataTable(caption, (_("Side"), _("Bearing"), _("Length")), tuple(rows))


def left_to(plan: DrawnField) -> str:
    """`spray and seed`."""
    return listing(VERBS[work] for work in plan.works)


def named(mark: Mark) -> str:
    """Its name, and what it is where the name does not say."""
    kind = mark.kind.lower()
    if kind in mark.name.lower():
        return upper_first(mark.name)
    return f"{upper_first(mark.name)}, {told(mark.kind).lower()}"


def _wind(azimuth_deg: float) -> str:
    winds = _("north northeast east southeast south southwest west northwest").split()
    return winds[round(azimuth_deg / 45) % 8]


def bearing(start: Point, end: Point) -> str:
    """As a surveyor writes it: from north or south so many degrees to east or west, or due east."""
    azimuth = math.degrees(math.atan2(end[0] - start[0], end[1] - start[1])) % 360
    away = round(min(azimuth % 180, 180 - azimuth % 180))
    if away in (0, 90):
        return _("due {side}").format(side=_wind(azimuth))
    north, east, south, west = _("N E S W").split()
    pole = north if azimuth < 90 or azimuth >= 270 else south
    return f"{pole} {away}° {east if azimuth < 180 else west}"


class _FieldSheet(MapSheet):
    def __init__(self, plan: DrawnField, wide: float, high: float) -> None:
        field = geometry(plan.field)
        things = [kept.thing for kept in plan.kept_free] + [mark.thing for mark in plan.marks]
        super().__init__(field, things, wide, high)
        self.plan = plan
        self.field = self.placed(field).simplify(SMOOTH)
        self.drawn = shapely.union_all([self.field.boundary, *(thing.buffer(4) for thing in self.things)])
        """Lines that words must not cross."""

    def ground(self) -> None:
        """The hatching of what is kept free, and the edge of the field over it."""
        for at, kept in enumerate(self.plan.kept_free):
            if kept.ground is not None:
                self.hatch(self.placed(geometry(kept.ground)), HATCH_TURNS[at % len(HATCH_TURNS)])
        self.edge(self.field)

    def notes(self) -> None:
        """What is written on the map, the most needed first: later words give way to earlier ones."""
        self.taken += [point.buffer(4) for thing in self.things for point in parts_of(thing, "Point")]
        self.signs()
        self.numbers()
        self.fall()
        self.beside()
        self.edges()

    def signs(self) -> None:
        """Where a corner of known place lies, and the way in where the map reaches as far."""
        found: list[tuple[Sign, Point]] = [("corner", self.plan.corner.at)]
        if self.plan.access:
            found.append(("gate", self.plan.access.thing.parts[0][0][0]))
        for mark, feet in found:
            x, y = self.at(feet)
            if self.frame.buffer(-6).contains(shapely.Point(x, y)):
                self.mark(x, y, mark)
                self.taken.append(shapely.box(x - 6, y - 6, x + 6, y + 6))

    def numbers(self) -> None:
        """Each on the ground it takes; where it takes none, by the thing itself."""
        grounds = [
            kept.ground if kept.ground and kept.acres >= NONE_ACRES else kept.thing
            for kept in self.plan.kept_free
        ]
        for at, ground in enumerate([*grounds, *(mark.thing for mark in self.plan.marks)], start=1):
            self.number(at, self.placed(geometry(ground)))

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
                arrow(self.group, tail, tip, head=8)
                return

    def spots(self) -> Iterator[shapely.Point]:
        """Points inside the field: its middle first, then others over it."""
        largest = max(parts_of(self.field, "Polygon"), key=lambda part: part.area)
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
            lines = wrapped(beside.name, SERIF_ITALIC, 9, 72)
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
        rings = [part.exterior.simplify(1.2) for part in parts_of(self.field, "Polygon")]
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
        text = f"{bearing(start, end)}   {quantity(length / self.scale, 'ft', 0)}"
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
