"""What the map's script asks while someone draws; the same code that reckons what is kept."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from sites.drawing import as_answer
from sites.drawn import outline_of
from sites.ground.errors import GroundError
from sites.ground.measuring import distances_m, measure
from sites.ground.outline import Outline
from sites.ground.shaping import cut_hole, draw_to, split, union
from sites.ground.typed import outline_of_rings, read_corners, written
from sites.ground.units import M_PER_FT
from sites.models import Farm

FARTHEST_FT = 660.0
"""A corner is drawn to a neighbour's edge from an eighth of a mile at most."""


def reckon_shape(farm: Farm, asked: Mapping[str, str]) -> dict[str, Any]:
    """Answers `act` for `corners` with what it needs beside: read, measure, cut, add, draw_to, divide.

    Corners come latitude first unless `order` says otherwise, and go back so. Raises GroundError in words
    for the person who draws.
    """
    act = asked.get("act", "measure")
    rings = read_corners(asked.get("corners", ""), latitude_first=asked.get("order") != "longitude")
    if act == "read":
        length_ft = sum(distances_m(ring)[-1] for ring in rings) / M_PER_FT
        return {"corners": written(rings, latitude_first=True), "length_ft": round(length_ft)}
    if act == "divide":
        outline = _outline_of(farm, asked.get("field", ""))
        return {"pieces": [round(measure(piece).acres, 2) for piece in split(outline, rings[0])]}
    outline, mended = outline_of_rings(rings)
    if act == "measure":
        return as_answer(outline, mended)
    if act == "cut":
        return as_answer(cut_hole(outline, _other(asked)), mended)
    if act == "add":
        return as_answer(union([outline, _other(asked)]), mended)
    if act == "draw_to":
        return _drawn_to(farm, outline, asked)
    raise GroundError(_("The page asks what is not known here. Load it again."))


def _other(asked: Mapping[str, str]) -> Outline:
    return outline_of_rings(read_corners(asked.get("other", ""), latitude_first=True))[0]


def _outline_of(farm: Farm, pk: str) -> Outline:
    found = next((outline_of(row) for row in farm.fields.all() if str(row.pk) == pk), None)
    if found is None:
        raise GroundError(_("That field has no outline any more. Load the page again."))
    return found


def _drawn_to(farm: Farm, outline: Outline, asked: Mapping[str, str]) -> dict[str, Any]:
    try:
        within_ft = float(asked.get("within_ft", ""))
    except ValueError:
        raise GroundError(_("Give the distance as a number of feet, such as 30.")) from None
    if not 0 < within_ft <= FARTHEST_FT:
        raise GroundError(
            _("The distance must be over 0 and up to {farthest_ft} ft.").format(
                farthest_ft=f"{FARTHEST_FT:g}"
            )
        )
    snapped = draw_to(outline, _outline_of(farm, asked.get("field", "")), within_ft)
    if not snapped.corners:
        raise GroundError(
            _("No corner lies within {within_ft} ft of it. Give a larger distance.").format(
                within_ft=f"{within_ft:g}"
            )
        )
    said = ngettext(
        "{count} corner moved, {farthest} ft at most; {acres} acres.",
        "{count} corners moved, {farthest} ft at most; {acres} acres.",
        snapped.corners,
    ).format(
        count=snapped.corners, farthest=f"{snapped.farthest_ft:.1f}", acres=f"{snapped.gained_acres:+.2f}"
    )
    return as_answer(snapped.outline, [said])
