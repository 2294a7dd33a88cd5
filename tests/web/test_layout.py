"""The farm's page: acres by kind, what a purpose asks, and the season's wind."""

from __future__ import annotations

from typing import Any

import pytest
from django_scopes import scope

from sites.layout import asks, scent
from sites.models import Farm, PrevailingWind
from tests.conftest import Cast
from tests.factories import make_client, make_farm, make_field, make_landmark, make_wind
from tests.web import queries

WEST, SOUTH = -92.48, 38.91


def box(west: float, south: float, size: float = 0.001) -> dict[str, Any]:
    east, north = west + size, south + size
    ring = [[west, south], [east, south], [east, north], [west, north], [west, south]]
    return {"type": "Polygon", "coordinates": [ring]}


@pytest.fixture
def farm(cast: Cast) -> Farm:
    made = make_farm(make_client(cast.practice))
    make_field(made, acres=60.0)
    make_landmark(made, "plot", box(WEST, SOUTH), name="Creek <plot>")
    make_landmark(made, "bedding", box(WEST + 0.003, SOUTH - 0.003), name="South cover")
    make_landmark(made, "stand", {"type": "Point", "coordinates": [WEST + 0.001, SOUTH - 0.001]}, name="Oak")
    make_landmark(made, "water", {"type": "LineString", "coordinates": [[WEST, SOUTH], [WEST, SOUTH + 0.01]]})
    return made


def look(cast: Cast, farm: Farm, query: str = "", user: Any = None) -> str:
    response = cast.browser(user or cast.planner).get(cast.url(f"farms/{farm.pk}/{query}"))
    assert response.status_code == 200
    return " ".join(response.content.decode().split())


def test_acres_by_kind_stand_against_what_a_purpose_asks(cast: Cast, farm: Farm) -> None:
    html = look(cast, farm, "?aim=White-tailed+deer")
    assert "Creek &lt;plot&gt;: 2.38 acres" in html and "Creek <plot>" not in html
    assert "Pond, creek or ditch" in html
    assert "within the range" in html and "acres short; a conversion could give" in html
    assert "Nesting and brood cover" not in html
    assert "Asks for" not in look(cast, farm, "?aim=unicorns")


def test_the_wind_says_what_a_stand_reaches(cast: Cast, farm: Farm) -> None:
    address = cast.url(f"farms/{farm.pk}/wind/")
    planner = cast.browser(cast.planner)
    assert "Nobody has said yet" in look(cast, farm)
    assert planner.post(address, {"season": "fall", "comes_from": "northwest"}).status_code == 302
    html = look(cast, farm)
    assert "Fall, wind from the northwest: scent reaches <strong>South cover</strong>" in html
    assert planner.post(address, {"season": "fall", "comes_from": "south"}).status_code == 302
    assert "scent reaches <strong>Creek &lt;plot&gt;</strong>" in look(cast, farm)
    with scope(practice=cast.practice):
        assert PrevailingWind.objects.count() == 1


def test_a_wrong_wind_is_named(cast: Cast, farm: Farm) -> None:
    response = cast.browser(cast.planner).post(
        cast.url(f"farms/{farm.pk}/wind/"), {"season": "fall", "comes_from": "up"}
    )
    assert response.status_code == 422 and "cannot be “up”" in response.content.decode()


def test_a_wind_is_taken_back(cast: Cast, farm: Farm) -> None:
    wind = make_wind(farm)
    assert cast.browser(cast.planner).post(cast.url(f"winds/{wind.pk}/remove/")).status_code == 302
    assert "Nobody has said yet" in look(cast, farm)


def test_the_crew_sees_the_layout_and_changes_nothing(cast: Cast, farm: Farm) -> None:
    make_wind(farm)
    html = look(cast, farm, user=cast.crew)
    assert "South cover" in html and "Keep it" not in html and "Take back" not in html


def test_a_farm_with_nothing_drawn_says_so(cast: Cast) -> None:
    bare = make_farm(make_client(cast.practice))
    assert "Nothing is drawn on this farm yet" in look(cast, bare)
    assert "How it is laid out" not in look(cast, bare, user=cast.crew)


def test_the_farms_page_asks_as_often_for_many_landmarks(cast: Cast, farm: Farm) -> None:
    def ask() -> Any:
        return cast.browser(cast.crew).get(cast.url(f"farms/{farm.pk}/"))

    make_wind(farm)
    once = queries.count(ask)
    for number in range(4):
        make_landmark(farm, "plot", box(WEST + number / 100, SOUTH))
        make_landmark(farm, "stand", {"type": "Point", "coordinates": [WEST + number / 100, SOUTH]})
    make_wind(farm, "winter", "north")
    assert queries.count(ask) == once


def test_the_tables_read_and_name_a_source_in_every_row() -> None:
    assert len({ask.purpose for ask in asks()}) == 3
    assert all(ask.asked.share_pct_low <= ask.asked.share_pct_high and ask.source for ask in asks())
    assert set(scent()) == {"half_angle", "reach"}
