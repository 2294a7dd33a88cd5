"""Clients, farms with their climate, and fields: the four short forms, the lists, the facts behind them."""

from __future__ import annotations

import typing
from datetime import date

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django_scopes import scope

from consulting.models import Client
from plans.planning import job
from sites import climate, forms
from sites.models import Farm, Field, in_words
from tests.conftest import Cast
from tests.factories import make_client, make_farm, make_field

pytestmark = pytest.mark.django_db


def farm_form(**changes: str) -> dict[str, str]:
    return {
        "name": "Turnstone Farm", "place": "Invented County", "round_trip_miles": "46.5",
        "latitude": "", "longitude": "", "station": "USW00003945", **changes,
    }  # fmt: skip


def field_form(**changes: str) -> dict[str, str]:
    return {
        "name": "Barn Hill", "acres": "11.2", "cover": "cool-season sod", "thatch": "light", "weeds": "",
        "woody_plants": "", "slope_pct": "9", "slope_length_ft": "1,200", "water_within_ft": "",
        "sensitive_neighbours": "", "notes": "", **changes,
    }  # fmt: skip


def test_from_a_client_to_a_field_in_three_forms(cast: Cast) -> None:
    browser = cast.browser(cast.planner)
    page = browser.post(cast.url("clients/new/"), {"name": "Ada <b>Quillén</b> 草"}, follow=True)
    html = page.content.decode()
    assert "Ada &lt;b&gt;Quillén&lt;/b&gt; 草" in html and "<b>Quill" not in html
    client = page.context["client"]
    page = browser.post(cast.url(f"clients/{client.pk}/farms/new/"), farm_form(), follow=True)
    farm = page.context["farm"]
    assert "Columbia Regional Airport, MO" in page.content.decode()
    page = browser.post(cast.url(f"farms/{farm.pk}/fields/new/"), field_form(power_lines="on"), follow=True)
    assert "Barn Hill" in page.content.decode() and "power lines" in page.content.decode()
    with scope(practice=cast.practice):
        field = Field.objects.get()
        assert (field.farm, field.acres, field.slope_length_ft, field.water_within_ft) == (
            farm,
            11.2,
            1200,
            None,
        )
        assert field.power_lines and field.practice == cast.practice


def test_save_and_add_another_comes_back_to_an_empty_form(cast: Cast) -> None:
    farm = make_farm(make_client(cast.practice))
    response = cast.browser(cast.owner).post(
        cast.url(f"farms/{farm.pk}/fields/new/"), field_form(another="yes")
    )
    assert response.headers["Location"] == cast.url(f"farms/{farm.pk}/fields/new/")


@pytest.mark.parametrize(
    ("changes", "said"),
    [
        ({"name": ""}, "Name of the field is missing. Fill it in."),
        ({"name": "North Eighty"}, "has a field of that name already"),
        ({"acres": "ten"}, "Acres must be a number, such as 12.5."),
        ({"acres": "0"}, "Acres must be 0.01 or more."),
        ({"acres": "-3"}, "Acres must be 0.01 or more."),
        ({"acres": "1e9"}, "Acres must be 100000 or less."),
        ({"acres": "nan"}, "Acres must be a number"),
        ({"acres": "1,5"}, "Acres must be a number"),
        ({"slope_pct": "201"}, "Steepest slope must be 200 or less."),
        ({"cover": ""}, "What grows there is missing. Choose one."),
        ({"cover": "parking lot"}, "Choose from what is offered."),
        ({"water_within_ft": "near"}, "Nearest water or well must be a number"),
        ({"weeds": "w" * 201}, "Weeds present is 201 characters long. Keep it to 200."),
    ],
)
def test_a_bad_field_is_named_and_what_was_typed_stays(
    cast: Cast, changes: dict[str, str], said: str
) -> None:
    farm = make_farm(make_client(cast.practice))
    make_field(farm, name="North Eighty")
    response = cast.browser(cast.owner).post(
        cast.url(f"farms/{farm.pk}/fields/new/"), field_form(notes="Wet in the corner", **changes)
    )
    html = response.content.decode()
    assert response.status_code == 422
    assert html.count(said) == 2, "once in the summary, once beside the field"
    assert "<title>Error: New field" in html
    assert "Wet in the corner" in html
    for value in changes.values():
        assert not value or value in html
    with scope(practice=cast.practice):
        assert Field.objects.count() == 1


def test_a_field_can_be_changed_but_not_to_its_neighbours_name(cast: Cast) -> None:
    farm = make_farm(make_client(cast.practice))
    make_field(farm, name="North Eighty")
    field = make_field(farm, name="Barn Hill")
    browser = cast.browser(cast.planner)
    assert browser.post(cast.url(f"fields/{field.pk}/edit/"), field_form(acres="12")).status_code == 302
    field.refresh_from_db()
    assert field.acres == 12
    refused = browser.post(cast.url(f"fields/{field.pk}/edit/"), field_form(name="North Eighty"))
    assert refused.status_code == 422
    assert "Change Barn Hill" in refused.content.decode()


def test_the_same_field_name_is_free_on_another_farm(cast: Cast) -> None:
    client = make_client(cast.practice)
    make_field(make_farm(client), name="Barn Hill")
    other = make_farm(client)
    assert (
        cast.browser(cast.owner).post(cast.url(f"farms/{other.pk}/fields/new/"), field_form()).status_code
        == 302
    )


def test_crew_see_the_ground_but_no_way_to_change_it(cast: Cast) -> None:
    field = make_field(make_farm(make_client(cast.practice)))
    html = cast.browser(cast.crew).get(cast.url(f"farms/{field.farm_id}/")).content.decode()
    assert field.name in html and "/edit/" not in html and "Prices" not in html


def test_choices_are_those_of_the_planning_service() -> None:
    assert {value for value, _ in Field.COVER} == set(typing.get_args(job.Cover))
    assert {value for value, _ in Field.THATCH} == set(typing.get_args(job.Thatch))


def test_stations_are_read_whole() -> None:
    found = climate.stations()
    assert len(found) >= 19
    for station in found.values():
        assert len(station.monthly_mean_f) == 12
        assert min(station.monthly_mean_f) == min(station.monthly_mean_f[0], station.monthly_mean_f[11])
        assert max(station.monthly_mean_f) == station.monthly_mean_f[6]
        assert station.last_spring_freeze < "06-15" < "09-01" < station.first_fall_freeze
        assert station.source and station.status


def test_a_station_fills_the_climate_and_says_where_from(cast: Cast) -> None:
    client = make_client(cast.practice)
    cast.browser(cast.owner).post(cast.url(f"clients/{client.pk}/farms/new/"), farm_form())
    with scope(practice=cast.practice):
        farm = Farm.objects.get()
    # Columbia Regional Airport, Missouri: NOAA NCEI normals, means 1991-2020 and freeze dates 1981-2010.
    assert farm.monthly_mean_f[0] == 31.0 and farm.monthly_mean_f[6] == 78.5
    assert (farm.last_spring_freeze, farm.first_fall_freeze) == ("04-09", "10-23")
    assert "NOAA" in farm.climate_source


def test_stations_are_listed_nearest_first_with_distance_and_height() -> None:
    here = climate.nearest(38.9, -92.3, elevation_ft=750, count=2)
    assert [near.station.name for near in here] == [
        "Columbia Regional Airport",
        "St Louis Lambert International Airport",
    ]
    assert here[0].miles == pytest.approx(7.2, abs=0.1) and here[0].miles < here[1].miles
    assert [near.higher_ft for near in here] == [893 - 750, 531 - 750]
    assert climate.nearest(38.9, -92.3)[0].higher_ft is None


def test_the_nearest_station_is_taken_and_listed_first(cast: Cast) -> None:
    client = make_client(cast.practice)
    near_columbia = {"latitude": "38.9", "longitude": "-92.3"}
    browser = cast.browser(cast.owner)
    url = cast.url(f"clients/{client.pk}/farms/new/")
    assert browser.post(url, farm_form(station=forms.NEAREST, **near_columbia)).status_code == 302
    with scope(practice=cast.practice):
        assert Farm.objects.get().climate_place == "Columbia Regional Airport, MO"
    form = browser.post(url, farm_form(name="", **near_columbia)).context["form"]
    assert form.fields["station"].choices[1] == ("USW00003945", "Columbia Regional Airport, MO, 7 miles away")


@pytest.mark.parametrize(
    ("changes", "said"),
    [
        ({"station": forms.NEAREST}, "Choose a station, or give latitude and longitude above."),
        ({"station": ""}, "Climate from the station is missing. Choose one."),
        ({"station": "nowhere"}, "Choose from what is offered."),
        ({"latitude": "38.9"}, "Give the longitude too, or leave both empty."),
        ({"longitude": "-92"}, "Give the latitude too, or leave both empty."),
        ({"latitude": "91", "longitude": "0"}, "Latitude must be 90 or less."),
        ({"latitude": "38", "longitude": "-181"}, "Longitude must be -180 or more."),
        ({"latitude": "nan", "longitude": "inf"}, "Latitude must be a number"),
        ({"round_trip_miles": "-5"}, "Round trip from your yard must be 0 or more."),
    ],
)
def test_a_bad_farm_is_named(cast: Cast, changes: dict[str, str], said: str) -> None:
    client = make_client(cast.practice)
    response = cast.browser(cast.owner).post(
        cast.url(f"clients/{client.pk}/farms/new/"), farm_form(**changes)
    )
    assert response.status_code == 422
    assert said in response.content.decode()
    assert "Turnstone Farm" in response.content.decode()


def climate_form(**changes: str) -> dict[str, str]:
    means = {f"mean_{number}": str(20 + number) for number in range(1, 13)}
    return {
        "climate_place": "Home weather book", **means, "last_spring_freeze": "Apr 3",
        "first_fall_freeze": "10/28", "climate_source": "ten years of our own", **changes,
    }  # fmt: skip


def test_the_climate_can_be_typed(cast: Cast) -> None:
    farm = make_farm(make_client(cast.practice))
    browser = cast.browser(cast.planner)
    assert browser.post(cast.url(f"farms/{farm.pk}/climate/"), climate_form()).status_code == 302
    farm.refresh_from_db()
    assert farm.monthly_mean_f == [float(20 + number) for number in range(1, 13)]
    assert (farm.last_spring_freeze, farm.first_fall_freeze) == ("04-03", "10-28")
    assert "ten years of our own" in browser.get(cast.url(f"farms/{farm.pk}/")).content.decode()


@pytest.mark.parametrize(
    ("changes", "said"),
    [
        ({"mean_3": ""}, "Mar mean is missing"),
        ({"mean_3": "cold"}, "Mar mean must be a number"),
        ({"mean_3": "121"}, "Mar mean must be 120 or less."),
        ({"last_spring_freeze": "02-30"}, "is not a day of the year"),
        ({"last_spring_freeze": "soon"}, "is not a day of the year"),
        ({"first_fall_freeze": "03-01"}, "must come after the last spring freeze"),
    ],
)
def test_a_bad_climate_is_named_and_nothing_is_changed(
    cast: Cast, changes: dict[str, str], said: str
) -> None:
    farm = make_farm(make_client(cast.practice))
    response = cast.browser(cast.owner).post(cast.url(f"farms/{farm.pk}/climate/"), climate_form(**changes))
    assert response.status_code == 422
    assert said in response.content.decode()
    before = farm.monthly_mean_f
    farm.refresh_from_db()
    assert farm.monthly_mean_f == before


def test_another_stations_climate_can_be_taken(cast: Cast) -> None:
    farm = make_farm(make_client(cast.practice), latitude=39.0, longitude=-94.5)
    browser = cast.browser(cast.owner)
    page = browser.get(cast.url(f"farms/{farm.pk}/climate/"))
    nearest = page.context["station_form"].fields["station"].choices[0]
    assert nearest[1].startswith("Kansas City International Airport, MO")
    browser.post(cast.url(f"farms/{farm.pk}/climate/station/"), {"station": nearest[0]})
    farm.refresh_from_db()
    assert farm.climate_place == "Kansas City International Airport, MO"
    assert browser.post(cast.url(f"farms/{farm.pk}/climate/station/"), {"station": "x"}).status_code == 422


@pytest.mark.parametrize(
    ("typed", "stored"),
    [("4-7", "04-07"), ("04/17", "04-17"), ("april 17", "04-17"), ("Sept 9", "09-09"), ("02-29", "02-29")],
)
def test_days_of_the_year_as_people_type_them(typed: str, stored: str) -> None:
    assert forms.MonthDayField().clean(typed) == stored


def test_days_are_said_in_words() -> None:
    assert in_words("04-07") == f"{date(2024, 4, 7):%B} 7"


def test_search_finds_clients_farms_and_places(cast: Cast) -> None:
    ada, bert = make_client(cast.practice, name="Ada Quillen"), make_client(cast.practice, name="Bert % Wolf")
    make_farm(ada, name="Turnstone", place="Marrow County")
    make_farm(bert, name="Owl Hollow", place="Tansy County")
    make_client(cast.other_practice, name="Ada Elsewhere")
    browser = cast.browser(cast.crew)

    def found(q: str) -> list[str]:
        return [client.name for client in browser.get(cast.url("clients/"), {"q": q}).context["page"]]

    assert found("") == ["Ada Quillen", "Bert % Wolf"]
    assert found("quill") == found("turnstone") == found("marrow") == ["Ada Quillen"]
    assert found("%") == ["Bert % Wolf"]
    assert found("'; drop table") == found("\x00zz") == []
    assert "Nobody and nothing is called" in browser.get(cast.url("clients/"), {"q": "zz"}).content.decode()


def test_a_long_list_has_pages(cast: Cast) -> None:
    with scope(practice=cast.practice):
        Client.objects.bulk_create(Client(practice=cast.practice, name=f"Client {n:03}") for n in range(60))
    browser = cast.browser(cast.owner)
    assert len(browser.get(cast.url("clients/")).context["page"]) == 50
    assert len(browser.get(cast.url("clients/?page=2")).context["page"]) == 10
    assert browser.get(cast.url("clients/?page=nonsense")).status_code == 200


@pytest.mark.parametrize("page", ["clients", "client", "farm"])
def test_a_page_asks_the_database_as_often_for_fifty_rows_as_for_one(cast: Cast, page: str) -> None:
    client = make_client(cast.practice)
    farm = make_farm(client)
    make_field(farm)
    url = {"clients": "clients/", "client": f"clients/{client.pk}/", "farm": f"farms/{farm.pk}/"}[page]
    browser = cast.browser(cast.owner)

    def queries() -> int:
        with CaptureQueriesContext(
            connection,
        ) as seen:
            assert browser.get(cast.url(url)).status_code == 200
        return len(seen)

    one = queries()
    for _ in range(49):
        make_field(
            {"clients": make_farm(make_client(cast.practice)), "client": make_farm(client)}.get(page, farm)
        )
    assert queries() == one
    assert one <= 10


def test_a_record_is_removed_once_nothing_hangs_on_it(cast: Cast) -> None:
    client = make_client(cast.practice, name="Gone Tomorrow")
    farm = make_farm(client)
    field = make_field(farm)
    browser = cast.browser(cast.owner)
    refused = browser.post(cast.url(f"clients/{client.pk}/remove/"), follow=True).content.decode()
    assert "still has farms" in refused
    for kind, row in (("fields", field), ("farms", farm), ("clients", client)):
        assert "Remove" in browser.get(cast.url(f"{kind}/{row.pk}/remove/")).content.decode()
        assert browser.post(cast.url(f"{kind}/{row.pk}/remove/"), follow=True).status_code == 200
    assert "Gone Tomorrow" not in browser.get(cast.url("clients/")).content.decode()
