"""A small map as inline SVG: outlines, lines and points to one scale, north up, with a scale bar.

Looks are left to classes of a style sheet, for a page's policy forbids style attributes.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from xml.etree.ElementTree import Element, SubElement, tostring

from shapely import maximum_inscribed_circle, total_bounds
from shapely.geometry.base import BaseGeometry

from sites.ground.errors import GroundError
from sites.ground.found import Feature, geometry_of
from sites.ground.local import LocalPlane
from sites.ground.outline import polygons_of
from sites.ground.send_out import NOT_XML
from sites.ground.units import FT_PER_MILE, M_PER_FT

WIDE, HIGH, EDGE, FOOT = 480.0, 360.0, 24.0, 34.0
FINEST = 0.3
"""Corners that stray less than this from a straight line [units of the drawing] are left out."""
LONGEST_LABEL = 28
LEAST_M = 60.0
"""A single point is drawn with this much ground about it."""
BARS_FT = (10, 20, 50, 100, 200, 500, 1000, 2640, 5280, 10560, 26400, 52800, 264000, 528000)


@dataclass(frozen=True, slots=True)
class Drawn:
    """A feature with the class it is drawn in, such as `field` or `water`, and its label."""

    feature: Feature
    look: str
    label: str = ""


def picture(drawn: Sequence[Drawn], *, name: str, title: str, description: str) -> str:
    """The features, later ones above; empty where there is none or one scale cannot hold them.

    `name` makes the ids of title and description unique on the page. Labels are text, never markup.
    """
    if not drawn:
        return ""
    shapes = [geometry_of(one.feature) for one in drawn]
    west, south, east, north = total_bounds(shapes)
    plane = LocalPlane(((west + east) / 2, (south + north) / 2))
    try:
        flat = [plane.to_plane(shape) for shape in shapes]
    except GroundError:
        return ""
    root = Element("svg", {"xmlns": "http://www.w3.org/2000/svg", "role": "img", "class": "ground-picture"})
    root.set("aria-labelledby", f"{name}-title {name}-description")
    _text(root, "title", title, id=f"{name}-title")
    _text(root, "desc", description, id=f"{name}-description")
    page = _Page(flat)
    root.set("viewBox", f"0 0 {WIDE:g} {page.high:.1f}")
    labels = []
    for one, exact in zip(drawn, flat, strict=True):
        shape = exact.simplify(FINEST / page.scale)
        _shape(root, page, shape, one.look)
        if one.label:
            labels.append((one.label, _label_at(page, shape)))
    for label, (x, y) in labels:
        short = label if len(label) <= LONGEST_LABEL else f"{label[: LONGEST_LABEL - 1]}…"
        _text(root, "text", short, x=f"{x:.1f}", y=f"{y:.1f}", **{"text-anchor": "middle"})
    _scale(root, page)
    return tostring(root, encoding="unicode")


class _Page:
    """From metres east and north to units of the drawing, y down."""

    def __init__(self, flat: Sequence[BaseGeometry]) -> None:
        west, south, east, north = total_bounds(list(flat))
        wide, high = max(east - west, LEAST_M), max(north - south, LEAST_M)
        self.scale = min((WIDE - 2 * EDGE) / wide, (HIGH - 2 * EDGE) / high)
        self.middle = (west + east) / 2, (south + north) / 2
        self.high = high * self.scale + 2 * EDGE + FOOT

    def at(self, east_m: float, north_m: float) -> tuple[float, float]:
        return (
            WIDE / 2 + (east_m - self.middle[0]) * self.scale,
            (self.high - FOOT) / 2 - (north_m - self.middle[1]) * self.scale,
        )


def _text(home: Element, tag: str, text: str, **attributes: str) -> None:
    SubElement(home, tag, attributes).text = NOT_XML.sub(" ", text)


def _path(page: _Page, corners: Sequence[tuple[float, ...]]) -> str:
    return "M" + "L".join(f"{x:.1f} {y:.1f}" for x, y in (page.at(*corner[:2]) for corner in corners))


def _label_at(page: _Page, shape: BaseGeometry) -> tuple[float, float]:
    """Where a label is read best: in the widest room of an area, above a line or a point."""
    largest = max(polygons_of(shape), key=lambda part: part.area, default=None)
    if largest is not None:
        x, y = page.at(*maximum_inscribed_circle(largest).coords[0])
        return x, y + 4
    x, y = (
        page.at(*shape.interpolate(0.5, normalized=True).coords[0])
        if shape.length
        else page.at(*shape.coords[0])
    )
    return x, y - 8


def _shape(root: Element, page: _Page, shape: BaseGeometry, look: str) -> None:
    if shape.geom_type == "Point":
        x, y = page.at(*shape.coords[0][:2])
        SubElement(root, "circle", {"class": look, "cx": f"{x:.1f}", "cy": f"{y:.1f}", "r": "5"})
        return
    if shape.geom_type == "LineString":
        SubElement(root, "path", {"class": f"line {look}", "d": _path(page, shape.coords)})
        return
    rings = [ring for part in polygons_of(shape) for ring in (part.exterior, *part.interiors)]
    drawn = " ".join(f"{_path(page, ring.coords)}Z" for ring in rings)
    SubElement(root, "path", {"class": look, "d": drawn, "fill-rule": "evenodd"})


def _scale(root: Element, page: _Page) -> None:
    units_per_ft = page.scale * M_PER_FT
    feet = max((bar for bar in BARS_FT if bar * units_per_ft <= WIDE / 3), default=BARS_FT[0])
    y = page.high - 12
    left, right = EDGE, EDGE + feet * units_per_ft
    d = f"M{left:.1f} {y - 5:.1f}V{y:.1f}H{right:.1f}V{y - 5:.1f}"
    SubElement(root, "path", {"class": "scale", "d": d})
    said = f"{feet:,} ft" if feet < FT_PER_MILE / 2 else f"{feet / FT_PER_MILE:g} mi"
    _text(root, "text", said, **{"class": "scale", "x": f"{right + 6:.1f}", "y": f"{y:.1f}"})
    _text(
        root,
        "text",
        "N ↑",
        **{"class": "scale", "x": f"{WIDE - EDGE:g}", "y": f"{y:.1f}", "text-anchor": "end"},
    )
