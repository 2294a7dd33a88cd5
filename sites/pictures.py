"""Small maps of a farm, of a field, of pieces and of changes, as SVG for a page."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

from django.utils.translation import gettext

from sites.drawn import geometry_json, landmark_shape, outline_of
from sites.ground.found import Feature
from sites.ground.measuring import distances_m, measure
from sites.ground.outline import Outline
from sites.ground.picture import Drawn, picture
from sites.ground.units import M_PER_FT
from sites.models import Farm, Field, Landmark


def look_of(landmark: Landmark) -> str:
    """The class that a landmark is drawn in, on the map and in pictures."""
    return {"water": "water", "well": "water", "power line": "power"}.get(
        landmark.kind, "laid-out" if landmark.kind in Landmark.LAID_OUT else "landmark"
    )


def drawn_field(field: Field, outline: Outline) -> Drawn:
    return Drawn(Feature(field.name, "polygon", outline), "field", field.name)


def drawn_landmark(landmark: Landmark) -> Drawn:
    return Drawn(landmark_shape(landmark), look_of(landmark), str(landmark))


def farm_picture(farm: Farm, fields: Iterable[Field], landmarks: Iterable[Landmark]) -> str:
    """A small map of a farm as SVG; empty without any outline."""
    shown = [drawn_field(row, outline) for row in fields if (outline := outline_of(row))]
    if not shown:
        return ""
    each = gettext("{field}: {acres} acres.")
    said = " ".join(each.format(field=row.name, acres=f"{row.acres:g}") for row in fields if row.outline)
    marks = [drawn_landmark(row) for row in landmarks]
    return picture(
        [*shown, *marks], name="farm", title=gettext("Map of {farm}").format(farm=farm.name), description=said
    )


def field_picture(field: Field, other: Outline | None = None) -> str:
    """The field's outline as SVG, and `other` over it; empty without an outline."""
    outline = outline_of(field)
    shown = [drawn_field(field, outline)] if outline else []
    if other:
        shown.append(Drawn(Feature("", "polygon", other), "other"))
    said = gettext("{acres} acres.").format(acres=f"{field.acres:g}")
    if other:
        yours = gettext("Yours: {acres} acres.")
        said = f"{said} {yours.format(acres=f'{measure(other).acres:,.2f}')}"
    return picture(
        shown, name="field", title=gettext("Outline of {field}").format(field=field.name), description=said
    )


def pieces_picture(field: Field, pieces: Iterable[Outline], name: str = "pieces") -> str:
    """The pieces of a field that is to be divided, each with its number, as SVG."""
    shown = [
        Drawn(Feature("", "polygon", piece), "field", f"{number}: {measure(piece).acres:,.2f} acres")
        for number, piece in enumerate(pieces, start=1)
    ]
    said = ". ".join(f"Piece {one.label}" for one in shown) + "."
    return picture(shown, name=name, title=f"{field.name} divided", description=said)


def landmark_picture(landmark: Landmark, other: Any) -> str:
    """A landmark as it is kept and another geometry that someone wants in its place, as SVG."""
    shown = [
        drawn_landmark(landmark),
        Drawn(landmark_shape(Landmark(shape=geometry_json(other))), "other"),
    ]
    return picture(shown, name="landmark", title=str(landmark), description="As it is kept, and yours.")


def sizes_of_landmarks(landmarks: Iterable[Landmark]) -> list[tuple[Landmark, str]]:
    """Each landmark with its length or acres in words; nothing for a point."""
    return [(row, size_in_words(landmark_shape(row))) for row in landmarks]


def size_in_words(feature: Feature) -> str:
    """Acres of an area, feet of a line, nothing for a point."""
    if feature.outline:
        return gettext("{acres} acres").format(acres=f"{measure(feature.outline).acres:,.2f}")
    if feature.kind == "line":
        return gettext("{feet} ft").format(feet=f"{distances_m(feature.points)[-1] / M_PER_FT:,.0f}")
    return ""
