"""Ten fields from first visit to stand, step by step against the calendar of a named bulletin.

A bulletin speaks of months in its own state and the plan of a normal year at one station, so a window agrees
when at least four fifths of its days lie in that span. Steps and waits come in the order of the bulletin.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, timedelta
from typing import Any

import pytest

from plans.planning.plan import Plan, Task
from plans.planning.price_list import Product
from tests.planning import make
from tests.planning.make import grass_mix, mix

AGREES = 0.8
FESCUE = "Oklahoma extension column, Converting tall fescue pastures for wildlife, 2020"
MISSISSIPPI = "Mississippi guide on exotic grasses: one to two months before"
KENTUCKY = (
    "Barnes 2004, Weed Technology 18:1364: burn in late winter, spray a month later, drill into dying sod"
)
PHEASANTS = "Pheasants Forever 2018: drill 10 to 14 days after the last spray"
MID_JUNE = "Keyser, University of Tennessee: mid-June; University of Wisconsin: June 15"
BROME = "trade bulletin on smooth brome (weak): mow at mid-boot, spray fall regrowth and again in spring"
BROME_SPRING = "volunteer field notes on smooth brome (weak): mid-April, before natives emerge"
TALL_TIMBERS = "Tall Timbers, invasive grass control: mow or burn in spring, spray June to August before seed"
JOHNSON = "common practice [from memory]: boot to early head in June and July, again on regrowth before frost"
SERICEA_LEAF = "Kansas State University e-update on sericea: triclopyr June to mid-July"
SERICEA_BUD = "Kansas State University on sericea: metsulfuron from flower bud to before mid seed fill"
MARESTAIL = "farm press on horseweed: fall rosettes, then before it bolts"
WAIT_24D = "30 days, the longer of the waits in handbooks"
UW_DORMANT = "University of Wisconsin, Lakeshore prairie mix: dormant seeding after October 15"
BLACKBERRY = "Pacific Northwest Weed Management Handbook: blackberry September to October"
SPROUTS = "Kansas State University: triclopyr on woody regrowth in full leaf; late summer [month from memory]"
FREEZE = "University of Nebraska column: late fall after a hard freeze, natives dormant, sod green"
RELEASE = "Barnes, release trials: imazapic in April"


@dataclass(frozen=True)
class Scenario:
    name: str
    station: str
    start_on: date
    facts: dict[str, Any]
    order: tuple[str, ...]
    """Every kill and planting step, in the bulletin's order."""
    spans: tuple[tuple[str, str, str, str], ...]
    """Step, first and last month-day of the bulletin's span, bulletin."""
    waits: tuple[tuple[str, str, int, int, str], ...] = ()
    """Step, later step, fewest and most days between their first days, bulletin."""


FLOWERS = mix(
    ("little bluestem", 1.5), ("black-eyed Susan", 0.3), ("lanceleaf coreopsis", 1.0), ("partridge pea", 1.0)
)
SCENARIOS = [
    Scenario(
        "fescue to nesting cover, from July",
        "Fayetteville",
        date(2027, 7, 1),
        {"thatch": "heavy", "purpose": "nesting and brood cover", "slope_pct": 5},
        ("ready_sod", "kill_fall", "kill_spring", "drill"),
        (
            ("kill_fall", "09-01", "10-31", FESCUE),
            ("kill_spring", "04-01", "05-31", FESCUE),
            ("drill", "04-01", "06-15", MID_JUNE),
        ),
        (("ready_sod", "kill_fall", 28, 61, MISSISSIPPI), ("kill_spring", "drill", 10, 14, PHEASANTS)),
    ),
    Scenario(
        "fescue to forage in one spring, burned first",
        "Lexington",
        date(2028, 1, 1),
        {
            "thatch": "heavy",
            "kill_program": "sod_spring_only",
            "options": ("burn_first",),
            "purpose": "forage",
        },
        ("burn_sod_spring", "kill_spring_1", "kill_spring_2", "drill"),
        (
            ("burn_sod_spring", "02-01", "03-20", KENTUCKY),
            ("kill_spring_1", "04-01", "05-31", FESCUE),
            ("drill", "04-15", "06-15", MID_JUNE),
        ),
        (
            ("burn_sod_spring", "kill_spring_1", 28, 90, KENTUCKY),
            ("kill_spring_2", "drill", 10, 14, PHEASANTS),
        ),
    ),
    Scenario(
        "smooth brome to winter cover, mown in the boot",
        "Des Moines",
        date(2027, 4, 1),
        {
            "cover": "smooth brome",
            "kill_program": "brome_fall_spring",
            "options": ("boot_mow",),
            "purpose": "winter bedding and screening cover",
        },
        ("mow_brome_boot", "kill_fall_brome", "kill_spring_brome", "drill"),
        (
            ("mow_brome_boot", "05-10", "06-05", BROME),
            ("kill_fall_brome", "09-01", "10-31", BROME),
            ("kill_spring_brome", "04-10", "05-31", BROME_SPRING),
            ("drill", "04-15", "06-15", MID_JUNE),
        ),
        (("kill_spring_brome", "drill", 10, 14, PHEASANTS),),
    ),
    Scenario(
        "bermudagrass to nesting cover, burned in spring",
        "Little Rock",
        date(2027, 2, 1),
        {
            "cover": "bermudagrass",
            "kill_program": "bermuda_summer",
            "thatch": "heavy",
            "options": ("burn_first",),
            "purpose": "nesting and brood cover",
            "slope_pct": 3,
        },
        ("burn_bermuda", "kill_bermuda_1", "kill_bermuda_2", "kill_bermuda_3", "drill"),
        (
            ("burn_bermuda", "03-01", "04-30", TALL_TIMBERS),
            ("kill_bermuda_1", "06-01", "08-31", TALL_TIMBERS),
            ("drill", "04-15", "06-15", MID_JUNE),
        ),
        (
            ("burn_bermuda", "kill_bermuda_1", 28, 100, TALL_TIMBERS),
            ("kill_bermuda_1", "kill_bermuda_2", 42, 100, "common practice [from memory]"),
        ),
    ),
    Scenario(
        "johnsongrass to forage, from May",
        "Nashville",
        date(2027, 5, 1),
        {"cover": "johnsongrass", "kill_program": "johnson_summer", "purpose": "forage"},
        ("kill_johnson_1", "kill_johnson_2", "burndown_johnson", "drill"),
        (
            ("kill_johnson_1", "06-01", "07-31", JOHNSON),
            ("kill_johnson_2", "08-01", "10-31", JOHNSON),
            ("drill", "04-15", "06-15", MID_JUNE),
        ),
        (
            ("kill_johnson_1", "kill_johnson_2", 40, 100, JOHNSON),
            ("burndown_johnson", "drill", 10, 14, PHEASANTS),
        ),
    ),
    Scenario(
        "sericea to grass alone, two clean summers",
        "Topeka",
        date(2027, 4, 1),
        {"cover": "sericea lespedeza", "kill_program": "sericea_two_summers", "purpose": "erosion control"},
        (
            "sericea_leaf_1",
            "sericea_bud_1",
            "sericea_leaf_2",
            "kill_fall_sericea",
            "kill_spring_sericea",
            "drill",
        ),
        (
            ("sericea_leaf_1", "06-01", "07-15", SERICEA_LEAF),
            ("sericea_bud_1", "08-01", "09-15", SERICEA_BUD),
            ("sericea_leaf_2", "06-01", "07-15", SERICEA_LEAF),
            ("kill_fall_sericea", "09-01", "10-31", FESCUE),
            ("kill_spring_sericea", "04-01", "05-31", FESCUE),
        ),
        (("sericea_bud_1", "drill", 365, 730, "two clean summers: Missouri and Kansas State bulletins"),),
    ),
    Scenario(
        "horseweed fallow to forage",
        "Indianapolis",
        date(2027, 7, 1),
        {"cover": "annual weeds", "kill_program": "resistant_annuals", "purpose": "forage"},
        ("mow_resistant", "resistant_fall", "resistant_spring", "resistant_burndown", "drill"),
        (
            ("resistant_fall", "09-15", "11-15", MARESTAIL),
            ("resistant_spring", "03-01", "04-30", MARESTAIL),
            ("drill", "04-15", "06-15", MID_JUNE),
        ),
        (("resistant_spring", "drill", 30, 60, WAIT_24D),),
    ),
    Scenario(
        "crop stubble to flowers, sown in the cold",
        "Madison",
        date(2027, 8, 1),
        {
            "cover": "crop stubble",
            "kill_program": "stubble_burndown",
            "seeding": "dormant",
            "purpose": "pollinators",
            "mix": FLOWERS,
        },
        ("clean_up", "dormant_drill"),
        (("dormant_drill", "10-15", "04-01", UW_DORMANT),),
        (("clean_up", "dormant_drill", 14, 120, "common practice"),),
    ),
    Scenario(
        "brushy old field to nesting cover",
        "Springfield, MO",
        date(2027, 9, 1),
        {
            "cover": "brushy old field",
            "kill_program": "brush_clear_kill",
            "purpose": "nesting and brood cover",
            "woody_plants": "blackberry, black locust",
        },
        ("clear_brush", "spray_sprouts", "kill_fall_old_field", "kill_spring_old_field", "drill"),
        (
            ("clear_brush", "11-01", "03-01", "common practice: leaves down, ground dry or frozen"),
            ("spray_sprouts", "08-01", "09-30", SPROUTS),
            ("kill_fall_old_field", "09-01", "10-31", BLACKBERRY),
            ("kill_spring_old_field", "04-01", "05-31", FESCUE),
        ),
        (
            ("kill_spring_old_field", "drill", 10, 14, PHEASANTS),
            ("spray_sprouts", "drill", 30, 400, WAIT_24D),
        ),
    ),
    Scenario(
        "native stand set free of fescue, nothing sown",
        "Lexington",
        date(2027, 8, 1),
        {
            "cover": "failed native stand",
            "kill_program": "release_native",
            "seeding": "none",
            "thatch": "light",
            "options": ("dormant_glyphosate", "release_imazapic"),
            "purpose": "nesting and brood cover",
        },
        ("release_fall", "release_mow", "release_april"),
        (
            ("release_fall", "11-01", "12-31", FREEZE),
            ("release_april", "04-01", "04-30", RELEASE),
        ),
    ),
]
EXTRA = (
    Product(
        active_ingredient="metsulfuron",
        form="dry",
        active_pct=60,
        container_size=0.5,
        price_usd_per_container=make.example().prices.products[0].price_usd_per_container,
        label_rate_high_oz_per_acre=1,
        label_season_max_oz_per_acre=1,
    ),
)


def planned(scenario: Scenario) -> Plan:
    climate = next(at for place, at in make.climates().items() if place.startswith(scenario.station))
    facts = {"mix": grass_mix(), "weeds": "", "woody_plants": "", "water_within_ft": None}
    made = make.conversion(**(facts | scenario.facts), start_on=scenario.start_on)
    listed = make.prices(products=(*make.prices().products, *EXTRA))
    return make.plan(made, climate=climate, price_list=listed)


def by_step(plan: Plan) -> dict[str, Task]:
    return {task.step: task for task in plan.tasks}


def share_inside(task: Task, first: str, last: str) -> float:
    """Days of the window between two month-days; the span may run over New Year."""
    days = [task.earliest + timedelta(days=day) for day in range((task.latest - task.earliest).days + 1)]
    inside = [
        first <= f"{day:%m-%d}" <= last if first <= last else not last < f"{day:%m-%d}" < first
        for day in days
    ]
    return sum(inside) / len(inside)


every = pytest.mark.parametrize("scenario", SCENARIOS, ids=lambda scenario: scenario.name)


@every
def test_the_steps_are_the_bulletins_in_its_order(scenario: Scenario) -> None:
    plan = planned(scenario)
    worked = [task.step for task in plan.tasks if task.phase in ("kill", "plant")]
    assert tuple(worked) == scenario.order
    assert not [finding.message for finding in plan.findings if finding.severity == "stop"]
    assert not [finding for finding in plan.findings if finding.rule in ("cover_mismatch", "wait_short")]


@every
def test_the_windows_lie_in_the_bulletins_months(scenario: Scenario) -> None:
    found = by_step(planned(scenario))
    for step, first, last, bulletin in scenario.spans:
        assert share_inside(found[step], first, last) >= AGREES, (step, found[step].earliest, bulletin)


@every
def test_the_waits_are_the_bulletins(scenario: Scenario) -> None:
    found = by_step(planned(scenario))
    for step, later, fewest, most, bulletin in scenario.waits:
        gap = (found[later].earliest - found[step].earliest).days
        assert fewest <= gap <= most, (step, later, bulletin)
        assert (found[later].latest - found[step].latest).days >= fewest, (step, later, bulletin)


@every
def test_a_sown_stand_is_clipped_in_time_and_a_released_one_not_at_all(scenario: Scenario) -> None:
    """Source: Native Prairie Planting Guide, Iowa: June and July, typically none after August 1."""
    clips = [task for task in planned(scenario).tasks if task.step in ("clip_1", "clip_2")]
    assert len(clips) == (0 if scenario.facts.get("seeding") == "none" else 2)
    for task in clips:
        assert f"{task.latest:%m-%d}" <= "08-01"
