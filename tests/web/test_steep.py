"""The steep part of a field split off once a grid of heights was read: acres, slopes, plans, others."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from django_scopes import scope
from rasterio.io import MemoryFile
from rasterio.transform import from_origin

from sites.models import Field
from tests.conftest import Cast
from tests.ground_factories import ACRES, EAST, NORTH, WEST, make_exclusion
from tests.plan_factories import make_conversion, make_mix, make_plan
from tests.web.test_slope import M_PER_DEGREE_NORTH, drawn_field, send

pytestmark = pytest.mark.django_db


def half_steep() -> bytes:
    """Ground that is level in the north half of the drawn field and falls by 20 % in the south half."""
    cell = 5e-5
    top = NORTH + 0.002
    south_of_middle = np.maximum(np.arange(120) * cell - 0.003, 0)[:, None]
    heights = np.broadcast_to(300 - south_of_middle * M_PER_DEGREE_NORTH * 0.2, (120, 120))
    with MemoryFile() as file:
        with file.open(
            driver="GTiff", width=120, height=120, count=1, dtype="float32", crs="EPSG:4326",
            transform=from_origin(WEST - 0.001, top, cell, cell),
        ) as grid:  # fmt: skip
            grid.write(heights.astype("float32"), 1)
        return bytes(file.read())


def found(cast: Cast, field: Field) -> dict[str, Any]:
    """What the page that shows the grid sends along."""
    form = send(cast, field, "grid", ("heights.tif", half_steep())).context["steep"]
    return {"sealed": form["sealed"].value(), "limit": "15", "name": "Barn Hill, steep"}


def split(cast: Cast, field: Field, given: dict[str, Any]) -> Any:
    return cast.browser(cast.planner).post(cast.url(f"fields/{field.pk}/slope/steep/"), given, follow=True)


def test_the_steep_part_becomes_a_field_and_both_know_how_steep_they_are(cast: Cast) -> None:
    field = drawn_field(cast)
    make_exclusion(field)
    page = split(cast, field, found(cast, field))
    assert "Barn Hill, steep is split off with" in page.content.decode()
    with scope(practice=cast.practice):
        rest, steep = Field.objects.order_by("pk")
        assert (rest.name, steep.name, steep.cover) == ("Barn Hill", "Barn Hill, steep", rest.cover)
        assert rest.acres + steep.acres == pytest.approx(ACRES, abs=0.02)
        assert steep.acres == pytest.approx(ACRES / 2, rel=0.06)
        assert steep.slope_pct == pytest.approx(20, abs=0.2)
        assert rest.slope_pct <= 15
        assert "heights.tif" in steep.slope_from and steep.slope_on == rest.slope_on is not None
        assert steep.exclusions.count() == rest.exclusions.count() == 1
        assert max(x for x, _ in steep.outline["coordinates"][0][0]) == pytest.approx(EAST)


def test_signed_work_keeps_the_field_whole_and_the_page_says_so_first(cast: Cast) -> None:
    field = drawn_field(cast)
    make_conversion(make_plan(field.farm, title="Signed", state="agreed"), field, make_mix(cast.practice))
    page = send(cast, field, "grid", ("heights.tif", half_steep()))
    assert "it stands on the whole field" in page.content.decode()
    refused = split(cast, field, found(cast, field))
    assert refused.status_code == 422 and "Withdraw or close it first." in refused.content.decode()
    assert "Barn Hill, steep" in refused.content.decode()
    with scope(practice=cast.practice):
        assert Field.objects.get().slope_pct == 0


def test_a_field_that_was_redrawn_meanwhile_is_left_alone(cast: Cast) -> None:
    field = drawn_field(cast)
    late = found(cast, field)
    ring = [[WEST, 38.95], [EAST, 38.95], [EAST, 38.9515], [WEST, 38.9515], [WEST, 38.95]]
    with scope(practice=cast.practice):
        Field.objects.update(outline={"type": "MultiPolygon", "coordinates": [[ring]]})
    assert "Someone changed Barn Hill meanwhile" in split(cast, field, late).content.decode()
    with scope(practice=cast.practice):
        assert Field.objects.count() == 1


@pytest.mark.parametrize(
    ("given", "said"),
    [
        ({"name": ""}, "Name of the new field is missing."),
        ({"name": "Barn Hill"}, "has a field of that name already"),
        ({"limit": "3"}, "Choose from what is offered."),
        ({"limit": ""}, "Split off is missing."),
        ({"sealed": "made up"}, "Read the grid of heights again."),
        ({"sealed": ""}, "Read the grid of heights again."),
    ],
)
def test_what_cannot_be_split_off_is_refused_in_a_sentence(
    cast: Cast, given: dict[str, str], said: str
) -> None:
    field = drawn_field(cast)
    refused = split(cast, field, found(cast, field) | given)
    assert refused.status_code == 422 and said in refused.content.decode()
    with scope(practice=cast.practice):
        assert Field.objects.count() == 1


def test_what_was_found_on_one_field_splits_no_other(cast: Cast) -> None:
    field = drawn_field(cast)
    with scope(practice=cast.practice):
        other = Field.objects.get(pk=field.pk)
        other.pk, other.name = None, "Other"
        other.save()
    assert "Read the grid of heights again." in split(cast, other, found(cast, field)).content.decode()
