"""The plan's dates against extension calendars, at Columbia, Missouri, and other stations."""

from __future__ import annotations

from datetime import date, timedelta
from functools import cache
from typing import Any

import pytest

from plans.planning import calendar, tables
from plans.planning.calendar import Slot
from plans.planning.job import Climate
from plans.planning.season import daily_normal, day_of, soil_normal
from tests.planning import make

COLUMBIA = "Columbia"
MIDDLE_LATITUDES = [
    COLUMBIA,
    "Kansas City",
    "Springfield, MO",
    "Topeka",
    "Evansville",
    "Lexington",
    "Paducah",
]
EVERYWHERE = sorted(make.climates())


def at(town: str) -> Climate:
    return next(climate for place, climate in make.climates().items() if place.startswith(town))


@cache
def slots(place: str, seeding: str = "drill", **changes: Any) -> dict[str, Slot]:
    """Windows of a fall and spring kill that may begin on July 1, 2027."""
    conversion = make.conversion(seeding=seeding, start_on=date(2027, 7, 1), **changes)
    return {slot.step.step: slot for slot in calendar.schedule(conversion, at(place), 5, date(2027, 7, 1))}


def share_inside(slot: Slot, first: date, last: date) -> float:
    days = [slot.earliest + timedelta(days=day) for day in range((slot.latest - slot.earliest).days + 1)]
    return sum(first <= day <= last for day in days) / len(days)


@pytest.mark.parametrize("town", MIDDLE_LATITUDES)
def test_first_spray_in_september_or_october(town: str) -> None:
    """Source: Oklahoma extension column, Converting tall fescue pastures for wildlife, 2020."""
    slot = slots(town)["kill_fall"]
    assert slot.earliest.month == 9
    assert slot.latest <= date(2027, 11, 15)
    assert share_inside(slot, date(2027, 9, 1), date(2027, 10, 31)) >= 0.75


@pytest.mark.parametrize("town", MIDDLE_LATITUDES)
def test_second_spray_in_april_or_may(town: str) -> None:
    """Source: Oklahoma extension column 2020: April or May, on about 6 in of fresh growth."""
    assert share_inside(slots(town)["kill_spring"], date(2028, 4, 1), date(2028, 5, 31)) >= 0.85


@pytest.mark.parametrize("place", EVERYWHERE)
def test_drilling_waits_ten_days_and_ends_in_the_middle_of_june(place: str) -> None:
    """10 to 14 days after the last spray: Pheasants Forever 2018. Mid-June: Keyser, University of
    Tennessee; June 15: UW."""
    found = slots(place)
    for end in ("earliest", "latest"):
        assert getattr(found["drill"], end) - getattr(found["kill_spring"], end) >= timedelta(days=10)
    assert found["drill"].latest <= date(2028, 6, 15)


@pytest.mark.parametrize("place", EVERYWHERE)
def test_seed_goes_into_soil_warm_enough_to_sprout(place: str) -> None:
    """Switchgrass germinates from 10 °C, 50 F. Source: Bioenergy crop plants chapter."""
    opens = slots(place)["drill"].earliest
    soil = soil_normal(daily_normal(at(place).monthly_mean_f))
    assert soil[day_of(f"{opens:%m-%d}")] >= 50


@pytest.mark.parametrize("place", EVERYWHERE)
def test_no_clipping_after_the_first_of_august(place: str) -> None:
    """Source: Native Prairie Planting Guide, Iowa: mow in June and July, typically none after August 1."""
    for step in ("clip_1", "clip_2"):
        slot = slots(place)[step]
        assert date(2028, 5, 1) <= slot.earliest and slot.latest <= date(2028, 8, 1)


MISSOURI = [
    # north November 16 to March 15; south December 1 to the end of February: Missouri dormant windows,
    # trade page
    (COLUMBIA, date(2028, 11, 16), date(2029, 3, 15)),
    ("Kansas City", date(2028, 11, 16), date(2029, 3, 15)),
    ("St Louis", date(2028, 11, 16), date(2029, 3, 15)),
    ("Springfield, MO", date(2028, 12, 1), date(2029, 2, 28)),
]


@pytest.mark.parametrize(("town", "opens", "shuts"), MISSOURI)
def test_missouri_dormant_seeding(town: str, opens: date, shuts: date) -> None:
    slot = slots(town, "dormant")["dormant_drill"]
    assert opens <= slot.earliest and slot.latest <= shuts


@pytest.mark.parametrize("town", ["Topeka", "Wichita"])
def test_kansas_winter_seeding(town: str) -> None:
    """December and January for forbs. Source: Kansas State University agronomy e-update."""
    slot = slots(town, "dormant")["dormant_drill"]
    assert slot.earliest <= date(2028, 12, 15) and slot.latest >= date(2029, 1, 31)


def test_wisconsin_dormant_seeding() -> None:
    """After October 15. Source: University of Wisconsin, Lakeshore Nature Preserve prairie seed mix."""
    assert slots("Madison", "dormant")["dormant_drill"].earliest > date(2028, 10, 15)


def test_old_growth_comes_off_weeks_before_the_spray() -> None:
    """Several weeks before: Oklahoma 2020; one to two months: Mississippi guide on exotic grasses."""
    conversion = make.conversion(thatch="heavy", start_on=date(2027, 7, 1))
    found = {
        slot.step.step: slot for slot in calendar.schedule(conversion, at(COLUMBIA), 5, date(2027, 7, 1))
    }
    assert (
        timedelta(days=28) <= found["kill_fall"].earliest - found["ready_sod"].earliest <= timedelta(days=61)
    )


def test_spring_only_kill_sprays_again_in_two_to_four_weeks() -> None:
    """Second spring pass on regrowth two to four weeks later. Source: extension practice [from memory]."""
    conversion = make.conversion(kill_program="sod_spring_only", start_on=date(2028, 1, 1))
    found = {
        slot.step.step: slot for slot in calendar.schedule(conversion, at(COLUMBIA), 5, date(2028, 1, 1))
    }
    wait = found["kill_spring_2"].earliest - found["kill_spring_1"].earliest
    assert timedelta(days=14) <= wait <= timedelta(days=28)


@pytest.mark.parametrize("place", EVERYWHERE)
def test_a_stand_is_not_judged_before_its_first_season_ends(place: str) -> None:
    """It opens in the last weeks before the first freeze. Source: NRCS Montana technical note MT-5, 2009."""
    slot, freeze = slots(place)["count_1"], date(2028, *map(int, at(place).first_fall_freeze.split("-")))
    assert freeze - timedelta(days=42) <= slot.earliest <= freeze <= slot.latest


def test_no_burn_before_the_third_season_nor_in_the_nesting_season() -> None:
    """Not before the third season and not from April 15 to July 15.

    Source: burn councils, common practice [from memory].
    """
    conversion = make.conversion(options=("burn",), start_on=date(2027, 7, 1))
    burns = [
        slot
        for slot in calendar.schedule(conversion, at(COLUMBIA), 5, date(2027, 7, 1))
        if slot.step.operation == "prescribed_burn"
    ]
    assert [slot.earliest.year for slot in burns] == [2030, 2031, 2032]
    assert all(slot.latest < date(slot.latest.year, 4, 15) for slot in burns)


def test_one_third_a_year() -> None:
    """One third each year, so that two thirds stay as cover.

    Source: Missouri Department of Conservation; NRCS practice 647.
    """
    for step in ("burn_3", "burn_4", "burn_5", "mow_third_3", "mow_third_4", "mow_third_5"):
        assert tables.steps()[step].share_pct == pytest.approx(100 / 3, abs=0.1)
