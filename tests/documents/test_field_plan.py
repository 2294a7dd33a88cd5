"""The field plan: to scale, with nothing lost where the map is full, and fit for page and print."""

from __future__ import annotations

import math
import re
from dataclasses import replace
from itertools import combinations
from xml.etree import ElementTree

import pytest
import shapely
from reportlab.graphics import renderPDF
from reportlab.graphics.shapes import Drawing, Group, Polygon, String
from reportlab.graphics.transform import mmult, nullTransform, transformPoint
from reportlab.pdfbase.pdfmetrics import stringWidth

from plans.documents.field_plan import bearing, describe, field_plan, legend
from plans.documents.svg import inline_svg
from plans.field_plans import Ground
from plans.planning.drawn import Beside, DrawnField
from sites.drawn import geometry_json
from sites.ground.exclusions import Exclusion, left_for
from sites.ground.found import Feature
from sites.ground.outline import Outline
from sites.models import Field, Landmark
from tests.ground.make import feature, line, off, outline, point, square

Matrix = tuple[float, ...]
SPRAY = frozenset({"spray"})
CREEK = line(off(-2000, -900), off(-600, -640), off(0, -800), off(900, -560), off(2000, -800))
VINES = feature(outline([off(1150, -400), off(1900, -400), off(1900, 500), off(1200, 500)]))
IRREGULAR = outline(
    [off(-1000, -600), off(300, -700), off(950, -500), off(1050, 300), off(700, 720), off(-1050, 500)],
    square(200, off(200, 100)),
)
WALKED = outline(
    [
        off(
            (900 + 90 * math.sin(5 * turn)) * math.cos(turn), (420 + 60 * math.cos(9 * turn)) * math.sin(turn)
        )
        for turn in (at * math.pi / 150 for at in range(300))
    ]
)
STRIP = outline([off(-2600, -60), off(2600, -60), off(2600, 60), off(-2600, 60)])
TWO = outline(square(700, off(-900, 0)))
NEIGHBOURS = (Beside("Corn & beans <b>", 0), Beside("A road with a name that goes on and on " * 4, 270))


GATE = Landmark(pk=1, kind="gate", name="Gate", shape=geometry_json(shapely.Point(off(-1000, 0))))


def plan_of(field: Outline, *things: Feature, name: str = "North field") -> DrawnField:
    kinds = [
        Exclusion(f"Thing {number}", "a reason", 66, SPRAY, thing) for number, thing in enumerate(things, 1)
    ]
    ground = Ground(Field(name=name, slope_pct=14.2, faces="southeast"), field)
    made = ground.drawn(ground.near([GATE]), works=("spray",), left=left_for(field, "spray", kinds))
    return replace(made, beside=NEIGHBOURS)


PLANS = {
    "irregular": plan_of(IRREGULAR, CREEK, point(off(-900, 400)), VINES),
    "square": plan_of(outline(square(1320))),
    "walked": plan_of(WALKED, VINES, CREEK),
    "strip": plan_of(STRIP, CREEK, point(off(0, 0))),
    "all taken": plan_of(TWO, feature(outline(square(3000)))),
    "crowded": plan_of(IRREGULAR, *[point(off(20 * n - 150, 10 * n)) for n in range(12)]),
}


def strings(node: Drawing | Group, outer: Matrix = nullTransform()) -> list[tuple[str, shapely.Polygon]]:  # noqa: B008
    """Every run of words with its box on the drawing."""
    found = []
    for child in node.contents:
        if isinstance(child, Group):
            found += strings(child, mmult(outer, child.transform))
        elif isinstance(child, String):
            wide, high = stringWidth(child.text, child.fontName, child.fontSize), 0.7 * child.fontSize
            corners = [(child.x + x, child.y + y) for x, y in ((0, 0), (wide, 0), (wide, high), (0, high))]
            found.append((child.text, shapely.Polygon([transformPoint(outer, corner) for corner in corners])))
    return found


@pytest.mark.parametrize("plan", PLANS.values(), ids=PLANS)
def test_words_meet_no_words_and_stay_inside(plan: DrawnField) -> None:
    drawing = field_plan(plan)
    page = shapely.box(-0.01, -0.01, drawing.width + 0.01, drawing.height + 0.01)
    boxes = strings(drawing)
    for text, box in boxes:
        assert page.contains(box), text
    for (one, a), (other, b) in combinations(boxes, 2):
        assert a.intersection(b).area < 0.01, (one, other)


@pytest.mark.parametrize("plan", PLANS.values(), ids=PLANS)
def test_nothing_is_lost_where_the_map_is_full(plan: DrawnField) -> None:
    told = " ".join(line.said for line in legend(plan))
    for kept in plan.kept_free:
        assert kept.name in told
    assert f"Left to spray: {plan.left_acres:,.2f} of {plan.whole_acres:,.2f} acres" in told
    assert plan.corner.shown in told and "Way in: Gate" in told
    assert "Falls to the southeast; at its steepest 14.2 % (8.1°)" in told
    assert "To the north: Corn & beans <b>" in told
    assert describe(plan) == f"North field, {plan.whole_acres:,.2f} acres. {told}"


def test_the_outline_is_to_scale() -> None:
    drawing = field_plan(PLANS["square"])
    (group,) = drawing.contents
    sides = [
        shape.points for shape in group.contents if isinstance(shape, Polygon) and len(shape.points) == 8
    ]
    (points,) = [p for p in sides if max(p[::2]) - min(p[::2]) > 100]
    wide, high = max(points[::2]) - min(points[::2]), max(points[1::2]) - min(points[1::2])
    assert wide == pytest.approx(high, rel=1e-3)
    assert sum(text.endswith("1,320 ft") for text, _ in strings(drawing)) == 4


@pytest.mark.parametrize(
    ("end", "said"),
    [
        ((0, 1), "due north"), ((1, 0), "due east"), ((0, -1), "due south"), ((-1, 0.001), "due west"),
        ((1, 1), "N 45° E"), ((1, -2), "S 27° E"), ((-1, -2), "S 27° W"), ((-2, 1), "N 63° W"),
    ],
)  # fmt: skip
def test_bearings(end: tuple[float, float], said: str) -> None:
    assert bearing((0, 0), end) == said


@pytest.mark.parametrize("plan", PLANS.values(), ids=PLANS)
def test_it_passes_a_strict_policy_and_prints(plan: DrawnField) -> None:
    drawing = field_plan(plan)
    svg = inline_svg(drawing, name="field", title="A & B <field>", description=describe(plan))
    for element in ElementTree.fromstring(svg).iter():
        assert "style" not in element.attrib
        assert not any(attribute.startswith("on") for attribute in element.attrib)
    assert len(svg) < 60_000
    assert "nan" not in svg.lower()
    assert renderPDF.drawToString(drawing).startswith(b"%PDF")


def test_the_page_turns_words_along_their_edges_as_the_print_does() -> None:
    svg = inline_svg(field_plan(PLANS["irregular"]), name="field", title="t", description="d")
    turned = re.findall(r'<g[^>]*transform=" ?matrix\(([^)]*)\)"[^>]*>\s*<text', svg)
    assert turned


def test_names_are_text() -> None:
    named = plan_of(outline(square(1320)), name="</svg><script>x</script>")
    svg = inline_svg(field_plan(named), name="field", title=named.name, description="d")
    assert "<script" not in svg
    assert "</svg><script>x</script>" in "".join(ElementTree.fromstring(svg).itertext())
