"""The cover: fields laid where they lie, long and hostile titles, and ground that nobody has drawn."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest
from pyproj import Geod

from plans.documents.cover import drawn_farm
from plans.planning.drawn import Corner, DrawnField, Mark, Shape
from plans.planning.plan import Plan
from tests.documents.conftest import pages, printed

RING = ((-300.0, -200.0), (300.0, -200.0), (300.0, 200.0), (-300.0, 200.0), (-300.0, -200.0))


def drawn(name: str, longitude: float, latitude: float, creek_ft: float = 260.0) -> DrawnField:
    creek = Mark("Mill Creek", "water", Shape("line", ((((-900.0, creek_ft), (900.0, creek_ft)),),)))
    return DrawnField(
        name=name,
        works=(),
        whole_acres=5.5,
        left_acres=5.5,
        within_ft=0.0,
        field=Shape("polygon", ((RING,),)),
        corner=Corner(RING[0], longitude, latitude),
        marks=(creek,),
    )


@pytest.mark.parametrize(("longitude", "latitude"), [(-92.47, 38.91), (-81.5, 27.2), (-101.0, 48.6)])
def test_fields_lie_as_far_apart_as_on_the_earth(longitude: float, latitude: float) -> None:
    """Beside the geodesic of GeographicLib (Karney 2013), as pyproj has it."""
    one = drawn("One", longitude, latitude)
    other = drawn("Other", longitude + 0.012, latitude + 0.007, creek_ft=-1900.0)
    farm = drawn_farm("Farm", [one, other])
    (x1, y1), (x2, y2) = (field.shape.parts[0][0][0] for field in farm.fields)
    azimuth, _back, metres = Geod(ellps="WGS84").inv(longitude, latitude, longitude + 0.012, latitude + 0.007)
    assert math.dist((x1, y1), (x2, y2)) == pytest.approx(metres / 0.3048, rel=1e-3)
    assert math.degrees(math.atan2(x2 - x1, y2 - y1)) == pytest.approx(azimuth, abs=0.1)
    (creek,) = farm.marks
    assert len(creek.thing.parts) == 2, "what two fields share is one thing on the map"


def with_drawings(plan: Plan, count: int) -> Plan:
    fields = tuple(
        replace(field, drawn=(drawn(field.field, -92.4, 38.5 + at / 500),)) if at < count else field
        for at, field in enumerate(plan.job.conversions)
    )
    return replace(plan, job=replace(plan.job, conversions=fields))


def test_the_cover_shows_the_ground_once_it_is_drawn(plan: Plan) -> None:
    bare, one, both = (pages(printed(with_drawings(plan, count)))[0] for count in (0, 1, 2))
    assert "Ridge Pasture 11.2 acres" in " ".join(bare.split()) and "Mill Creek" not in bare
    assert "Mill Creek" in one and "1 Ridge Pasture · 2 Creek Bottom" in " ".join(both.split())
    for text in (bare, one, both):
        said = " ".join(text.split())
        assert plan.job.title in said and "Proposal 2026-014, revision 2" in said
        assert "December 25, 2026" in said and "18.6 acres" in said


@pytest.mark.parametrize(
    "title",
    ["W" * 200, "<b>Bold</b> & " * 14, "王小明的田 " * 30, "A " * 100],
    ids=["one word", "markup", "wide", "many words"],
)
def test_any_title_fits_one_page(plan: Plan, title: str) -> None:
    job = replace(plan.job, title=title[:200], client=replace(plan.job.client, name="Long " * 39))
    texts = pages(printed(with_drawings(replace(plan, job=job), 2)))
    assert "Dear Long" in texts[1] and "Page 1 of" in texts[0]
