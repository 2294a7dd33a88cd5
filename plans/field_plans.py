"""A field or a farm as it is drawn, from its outline, what stays away and what lies near: degrees to feet.

Drawings are kept with a proposal, so each line has few corners. Source of the flat map: `sites.ground.local`.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

from shapely import Point as Spot
from shapely import (
    box,
    get_num_coordinates,
    get_parts,
    set_precision,
    total_bounds,
    transform,
)
from shapely.geometry.base import BaseGeometry
from shapely.ops import nearest_points

from plans.documents.farm_plan import DrawnFarm, DrawnGround
from plans.planning.drawn import Beside, Corner, DrawnField, Fall, KeptFree, Mark, Point, Shape, Work
from sites.drawn import landmark_shape, outline_of
from sites.ground.errors import GroundError
from sites.ground.exclusions import Left
from sites.ground.found import Feature, geometry_of
from sites.ground.local import LocalPlane
from sites.ground.outline import Outline, areal, polygons_of, to_geometry
from sites.ground.slope import WINDS, Slope
from sites.ground.units import M_PER_FT
from sites.models import Exclusion, Farm, Field, Landmark

MOST_CORNERS = 200
FINEST_FT = 0.5
"""A line of more corners is drawn with bends of less than this left out; then of twice that, and so on."""
STEP_FT = 0.1
"""What a drawing is rounded to."""
NEAR_FT, BESIDE_FT = 330.0, 1320.0
"""So near a landmark is drawn with the field; so near the way in, and what can be harmed, is named."""
MOST_MARKS = 20
KIND_WORDS = {
    "water": "water",
    "well": "well",
    "lane": "lane",
    "power line": "power line",
    "crop": "neighbor",
    "building": "building",
    "gate": "gate",
    "plot": "food plot",
    "trees": "trees",
    "orchard": "orchard",
    "bedding": "bedding cover",
    "travel": "travel lane",
    "stand": "hunting stand",
    "route": "way to a stand",
}
"""What a landmark is beside its name; one without a name is told by its kind alone."""
HARMED = ("crop", "building", "water", "well")


def drawn_of(field: Field, left: Mapping[str, Left], landmarks: Iterable[Landmark]) -> tuple[DrawnField, ...]:
    """The field once for each set of kinds of work that keep away from the same, most kept free first.

    Last it stands for work that goes over all of it. Empty without an outline. `left` is by kind of work;
    nothing is asked where `exclusions` were prefetched.
    """
    outline = outline_of(field)
    if outline is None:
        return ()
    together: dict[tuple[Exclusion, ...], list[Work]] = {}
    rows = list(field.exclusions.all())
    for work in left:
        if kept := tuple(row for row in rows if work in row.work):
            together.setdefault(kept, []).append(work)  # type: ignore[arg-type]
    groups = sorted(together.items(), key=lambda group: -len(group[0]))
    try:
        ground = Ground(field, outline)
        near = ground.near(landmarks)
        return (
            *(ground.drawn(near, kept, tuple(works), left[works[0]]) for kept, works in groups),
            ground.drawn(near),
        )
    except GroundError:
        return ()


def mark_of(landmark: Landmark, shape: Shape) -> Mark:
    return Mark(str(landmark), KIND_WORDS.get(landmark.kind, "") if landmark.name else "", shape)


class Feet:
    """Feet east and north of a place, with few corners; `within_ft` is how far lines then stray."""

    def __init__(self, plane: LocalPlane) -> None:
        self.plane = plane
        self.within_ft = 0.0

    def flat(self, feature: Feature) -> BaseGeometry:
        """Raises GroundError far from the place."""
        return self.of(geometry_of(feature))

    def of(self, ground: BaseGeometry) -> BaseGeometry:
        """Longitude and latitude to feet. Raises GroundError far from the place."""
        return transform(self.plane.to_plane(ground), lambda at: at / M_PER_FT)

    def shape(self, flat: BaseGeometry, *, measured: bool = True) -> Shape | None:
        """None where nothing is left at the scale of a drawing. Ground that was reckoned, not `measured`,
        says nothing of how far lines stray."""
        simple, strays_ft = fewer(flat)
        if measured:
            self.within_ft = max(self.within_ft, strays_ft)
        if polygons := list(polygons_of(set_precision(simple, STEP_FT))):
            parts = (tuple(_row(ring) for ring in (part.exterior, *part.interiors)) for part in polygons)
            return Shape("polygon", tuple(parts))
        lines = [part for part in get_parts(simple) if part.geom_type == "LineString" and not part.is_empty]
        if lines:
            return Shape("line", tuple((_row(line),) for line in lines))
        spots = [part for part in get_parts(simple) if part.geom_type == "Point" and not part.is_empty]
        return Shape("point", tuple((_row(spot),) for spot in spots)) if spots else None


def fewer(ground: BaseGeometry) -> tuple[BaseGeometry, float]:
    """The ground with no more than `MOST_CORNERS`, and how far it strays from itself [ft].

    Where it has too many parts for that, the largest are kept.
    """
    simple, strays_ft, finest = ground, 0.0, FINEST_FT
    west, south, east, north = ground.bounds
    while get_num_coordinates(simple) > MOST_CORNERS and finest < max(east - west, north - south) / 20:
        simple, strays_ft, finest = ground.simplify(finest), finest, 2 * finest
    if get_num_coordinates(simple) > MOST_CORNERS and simple.geom_type == "MultiPolygon":
        largest = sorted(get_parts(simple), key=lambda part: -part.area)[: MOST_CORNERS // 10]
        simple = areal(type(simple)([type(part)(part.exterior) for part in largest]))
    return simple, strays_ft


def _row(line: BaseGeometry) -> tuple[Point, ...]:
    # Adding nought makes a plain nought of a negative one.
    return tuple((round(x, 1) + 0.0, round(y, 1) + 0.0) for x, y in line.coords)


@dataclass(frozen=True, slots=True)
class _Near:
    landmark: Landmark
    flat: BaseGeometry
    distance_ft: float
    spot: Spot
    """Its nearest point."""

    @property
    def name(self) -> str:
        return str(self.landmark)


class Ground:
    """One field on its flat map."""

    def __init__(self, field: Field, outline: Outline) -> None:
        self.row = field
        self.feet = Feet(LocalPlane.of(outline))
        self.flat = self.feet.of(to_geometry(outline))
        west, south, east, north = self.flat.bounds
        about_ft = max(NEAR_FT, east - west, north - south)
        self.around = box(west - about_ft, south - about_ft, east + about_ft, north + about_ft)
        shape = self.feet.shape(self.flat)
        if shape is None or shape.kind != "polygon":
            raise GroundError("The field is too small to be drawn.")
        self.shape = shape
        self.corners = list(zip(outline.parts[0].shell, _row(self.flat.geoms[0].exterior), strict=True))

    def near(self, landmarks: Iterable[Landmark]) -> list[_Near]:
        """What lies within reach, the nearest first."""
        found = []
        for landmark in landmarks:
            try:
                flat = self.feet.flat(landmark_shape(landmark))
            except GroundError:
                continue
            spot, home = nearest_points(flat, self.flat)
            if (distance_ft := spot.distance(home)) <= BESIDE_FT:
                found.append(_Near(landmark, flat, distance_ft, spot))
        return sorted(found, key=lambda one: (one.distance_ft, one.landmark.pk))

    def drawn(
        self,
        near: Sequence[_Near],
        kept: Sequence[Exclusion] = (),
        works: tuple[Work, ...] = (),
        left: Left | None = None,
    ) -> DrawnField:
        away = {row.landmark_id for row in kept}
        others = [one for one in near if one.landmark.pk not in away]
        gate = next((one for one in others if one.landmark.kind == "gate"), None)
        others = [one for one in others if one is not gate]
        access = mark_of(gate.landmark, Shape("point", ((_row(gate.spot),),))) if gate else None
        free = self.kept_free(left)
        close = [one for one in others if one.distance_ft <= NEAR_FT][:MOST_MARKS]
        marks = [(one, self.shape_about(one.flat)) for one in close]
        whole_acres = left.whole_acres if left else float(self.row.acres)
        return DrawnField(
            name=self.row.name,
            works=works,
            whole_acres=whole_acres,
            left_acres=left.left_acres if left else whole_acres,
            within_ft=self.feet.within_ft,
            field=self.shape,
            corner=self.corner(access),
            kept_free=free,
            marks=tuple(mark_of(one.landmark, shape) for one, shape in marks if shape),
            beside=tuple(
                self.beside(one)
                for one in others
                if one.distance_ft > NEAR_FT and one.landmark.kind in HARMED
            ),
            fall=self.fall(),
            access=access,
        )

    def shape_about(self, flat: BaseGeometry) -> Shape | None:
        """As far as a drawing of the field can show it; all of it where that is nothing."""
        shown = flat.intersection(self.around)
        return self.feet.shape(flat if shown.is_empty else shown)

    def kept_free(self, left: Left | None) -> tuple[KeptFree, ...]:
        found = []
        for taken in left.taken if left else ():
            about, ground = taken.exclusion, None
            if taken.outline is not None:
                ground = self.feet.shape(self.feet.of(to_geometry(taken.outline)), measured=False)
            if thing := self.shape_about(self.feet.flat(about.shape)):
                found.append(
                    KeptFree(about.name, about.reason, about.distance_ft, taken.acres, thing, ground)
                )
        return tuple(found)

    def beside(self, one: _Near) -> Beside:
        azimuth_deg = round(math.degrees(math.atan2(one.spot.x, one.spot.y)) % 360, 1)
        return Beside(f"{one.name}, {max(10, round(one.distance_ft, -1)):,.0f} ft", azimuth_deg)

    def corner(self, access: Mark | None) -> Corner:
        """Northwest, unless the way in is known: then far from it, so that neither hides the other."""
        gate = access.thing.parts[0][0][0] if access else None
        place, at = max(
            self.corners, key=lambda one: math.dist(one[1], gate) if gate else one[1][1] - one[1][0]
        )
        return Corner(at, (place[0] + 180) % 360 - 180, place[1])

    def fall(self) -> Fall | None:
        if not self.row.slope_pct or self.row.faces not in WINDS:
            return None
        return Fall(str(Slope(self.row.slope_pct)), 45.0 * WINDS.index(self.row.faces))


def farm_drawn(farm: Farm, fields: Sequence[Field], landmarks: Iterable[Landmark]) -> DrawnFarm | None:
    """All fields with an outline and all landmarks of a farm; None where no field has one or they lie
    too far apart for one map."""
    outlines = [(field, outline) for field in fields if (outline := outline_of(field))]
    if not outlines:
        return None
    west, south, east, north = total_bounds([to_geometry(outline) for _, outline in outlines])
    feet = Feet(LocalPlane(((west + east) / 2, (south + north) / 2)))
    try:
        flats = [(field, feet.of(to_geometry(outline))) for field, outline in outlines]
    except GroundError:
        return None
    drawn = [(field, shape) for field, flat in flats if (shape := feet.shape(flat))]
    west, south, east, north = total_bounds([flat for _, flat in flats])
    reach_ft = max(NEAR_FT, (east - west) / 2, (north - south) / 2)
    about = box(west - reach_ft, south - reach_ft, east + reach_ft, north + reach_ft)
    marks = [(landmark, _shown(feet, landmark, about)) for landmark in landmarks]
    return DrawnFarm(
        name=farm.name,
        fields=tuple(DrawnGround(field.name, float(field.acres), shape) for field, shape in drawn),
        marks=tuple(mark_of(row, shape) for row, shape in marks if shape),
        undrawn=tuple(field.name for field in fields if not field.outline),
        beyond=tuple(str(row) for row, shape in marks if not shape),
        within_ft=feet.within_ft,
    )


def _shown(feet: Feet, landmark: Landmark, about: BaseGeometry) -> Shape | None:
    """What a map of `about` can show of it."""
    try:
        return feet.shape(feet.flat(landmark_shape(landmark)).intersection(about))
    except GroundError:
        return None
