"""Every rule fires where it should, and is silent on the same job with the cause gone."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field, replace
from datetime import date, timedelta
from typing import Any

import pytest

from plans.planning import season, tables
from plans.planning.calendar import moment_label
from plans.planning.job import Conversion, KeptAway, Observation, SlopeLimits, SoilTest
from plans.planning.plan import Plan
from plans.planning.price_list import PriceList
from tests.planning import make
from tests.planning.make import GRASSES, conversion, grass_mix, log, mix, plan, priced, prices

SPRING = date(2028, 4, 20)
"""Before the spring of 2028, after the fall kill of 2027."""


@dataclass(frozen=True)
class Case:
    rule: str
    bad: dict[str, Any]
    good: dict[str, Any] = field(default_factory=dict)
    bad_prices: Callable[[], PriceList] = prices
    good_prices: Callable[[], PriceList] = prices
    today: date = make.TODAY
    """The field's facts with the cause and without it, and the price list in each."""
    severity: str = ""
    """Where the case's own gravity differs from the rule's."""
    made: Callable[..., Conversion] = conversion
    """Native cover, a food plot or a planting of trees."""
    job: dict[str, Any] = field(default_factory=dict)
    good_job: dict[str, Any] = field(default_factory=dict)


def sown(*lines: tuple[str, float], **more: Any) -> dict[str, Any]:
    return {"mix": mix(*lines)} | more


def oats_listed(**changes: Any) -> PriceList:
    return priced("seed", "oats", species="cereal rye", **changes)


def kept(work: Any, left_acres: float | None, *because: str) -> KeptAway:
    return KeptAway(work=work, left_acres=left_acres, because=because or ("50 ft from the creek",))


def away(**left_acres: float | None) -> dict[str, Any]:
    """`away(spray=10.2)`: all stay 50 ft from the same creek."""
    return {"kept_away": tuple(kept(work, acres) for work, acres in left_acres.items())}


GRASS = {"mix": grass_mix(), "purpose": "erosion control"}
NO_LICENCE = {"practice": replace(make.example().job.practice, applicator_licence="")}
FROST = Observation(moment="first_freeze", on=date(2027, 10, 9))
GULF = replace(
    make.columbia(),
    place="on the Gulf",
    monthly_mean_f=(52.0, 55.0, 61.0, 67.0, 75.0, 80.0, 82.0, 82.0, 79.0, 70.0, 61.0, 54.0),
)
SPOTS = ("spot_release_2", "spot_release_3")
STEEP_OURS = {"practice": replace(make.example().job.practice, slopes=SlopeLimits(machines_pct=12.0))}
KILLED = log(kill_fall=date(2027, 10, 1), kill_spring=date(2028, 4, 20))
STRIP = make.trees(layout="strip", row_ft=10.0, rows=4, length_ft=1000.0)

CASES = [
    Case(
        "tolerance_sensitive",
        sown(*GRASSES, ("switchgrass", 1), options=("pre_emergent",)),
        {"mix": grass_mix(), "options": ("pre_emergent",)},
    ),
    Case(
        "tolerance_unsure",
        sown(*GRASSES, ("purple coneflower", 1), options=("pre_emergent",)),
        sown(*GRASSES, ("purple coneflower", 1)),
    ),
    Case(
        "broadleaf_over_flowers",
        sown(*GRASSES, ("wild bergamot", 0.1), options=("broadleaf_spray",)),
        {"mix": grass_mix(), "options": ("broadleaf_spray",)},
    ),
    Case(
        "label_rate_high",
        {},
        bad_prices=lambda: priced("products", "glyphosate", label_rate_high_oz_per_acre=63.9),
        good_prices=lambda: priced("products", "glyphosate", label_rate_high_oz_per_acre=64.0),
    ),
    Case(
        "label_rate_low",
        {},
        bad_prices=lambda: priced("products", "glyphosate", label_rate_low_oz_per_acre=64.1),
        good_prices=lambda: priced("products", "glyphosate", label_rate_low_oz_per_acre=42.6),
    ),
    Case(
        "season_max",
        {"kill_program": "sod_spring_only"},
        bad_prices=lambda: priced("products", "glyphosate", label_season_max_oz_per_acre=127),
        good_prices=lambda: priced("products", "glyphosate", label_season_max_oz_per_acre=128),
    ),
    Case(
        "reference_rate",
        {"rates_lb_per_acre": {"kill_fall": 3.01}},
        {"rates_lb_per_acre": {"kill_fall": 3.0}},
    ),
    Case("no_effect", {"options": ("boot_mow",)}, {}),
    Case(
        "no_effect",
        {"options": ("kill_again",), "kill_program": "fallow_two_pass"},
        {"kill_program": "fallow_two_pass"},
        made=make.planting,
    ),
    Case("count_leaves", {"mix": grass_mix(), "options": ("broadleaf_spray",)}, {"mix": grass_mix()}),
    Case(
        "same_group_twice",
        {"left_out": SPOTS},
        {"left_out": SPOTS, "kill_program": "fallow_two_pass"},
    ),
    Case(
        "restricted_no_licence",
        {},
        bad_prices=lambda: priced("products", "glyphosate", restricted_use=True),
        job=NO_LICENCE,
    ),
    Case("no_price", {}, bad_prices=lambda: prices(work=make.prices().work[1:])),
    Case("unchecked_price", {}, bad_prices=lambda: priced("work", "boom_spraying", unchecked=True)),
    Case(
        "old_test",
        {},
        bad_prices=lambda: priced("seed", "indiangrass", tested_on=date(2025, 11, 24)),
        good_prices=lambda: priced("seed", "indiangrass", tested_on=date(2025, 11, 25)),
    ),
    Case(
        "future_test",
        {},
        bad_prices=lambda: priced("seed", "indiangrass", tested_on=date(2026, 11, 26)),
        good_prices=lambda: priced("seed", "indiangrass", tested_on=date(2026, 11, 25)),
    ),
    Case("no_test_date", {}, bad_prices=lambda: priced("seed", "indiangrass", tested_on=None)),
    Case("tillage_steep", {"seeding": "broadcast", "slope_pct": 15.1}, {"slope_pct": 15.1}),
    Case(
        "tillage_steep",
        {"seeding": "broadcast", "slope_pct": 8.1},
        {"seeding": "broadcast", "slope_pct": 8.0},
        severity="caution",
    ),
    Case("machine_steep", {"slope_pct": 15.1}, {"slope_pct": 15.0}),
    Case("machine_steep", {"slope_pct": 12.1}, {"slope_pct": 12.0}, job=STEEP_OURS),
    Case("nothing_left", away(spray=0.0), away(spray=0.1, drill=0.1)),
    Case("nothing_left", away(mow=0.0), away(mow=0.1), severity="caution"),
    Case("left_unknown", away(spray=None), away(burn=None)),
    Case("sown_unsprayed", away(spray=10.2), away(spray=10.2, drill=10.2)),
    Case("sown_unsprayed", away(drill=10.2), away(mow=10.2)),
    Case(
        "sown_unsprayed",
        {"kept_away": (kept("spray", 10.2), kept("drill", 10.2, "the lane"))},
        away(spray=10.2, drill=10.2),
    ),
    Case("near_water", {"water_within_ft": 32.0}, {"water_within_ft": 33.0}),
    Case("near_water", {"water_within_ft": 0.0}, {"water_within_ft": None}, severity="stop"),
    Case(
        "near_water",
        {"water_within_ft": 10.0},
        {"water_within_ft": 10.0},
        good_prices=lambda: priced("products", "glyphosate", aquatic_label=True),
    ),
    Case("neighbours", {"sensitive_neighbours": "hives at the east fence"}, {"sensitive_neighbours": " "}),
    Case("burn_power_lines", {"power_lines": True, "options": ("burn",)}, {"power_lines": True}),
    Case(
        "observed_moves",
        {},
        job={"climate": replace(make.columbia(), observed=(FROST,))},
        good_job={"climate": replace(make.columbia(), observed=(replace(FROST, on=date(2019, 10, 9)),))},
        today=FROST.on,
    ),
    Case("window_past", {"start_on": date(2027, 11, 20)}, {"start_on": date(2027, 10, 20)}),
    Case(
        "work_too_old",
        {"log": log(kill_fall=date(2026, 10, 1)), "start_on": date(2027, 7, 20)},
        {"log": log(kill_fall=date(2027, 10, 1)), "start_on": date(2027, 10, 20)},
        today=date(2027, 10, 1),
    ),
    Case(
        "step_dropped",
        {"log": KILLED, "start_on": date(2028, 6, 12)},
        {"log": KILLED, "start_on": date(2028, 5, 12)},
        today=SPRING,
    ),
    Case(
        "step_dropped",
        {"log": log(kill_spring=date(2028, 4, 20)), "start_on": date(2028, 5, 1)},
        {"log": KILLED, "start_on": date(2028, 5, 1)},
        today=SPRING,
    ),
    Case(
        "never_crossed",
        {"seeding": "dormant"},
        job={"climate": GULF},
        good_job={"climate": make.columbia()},
    ),
    Case("density_low", sown(("big bluestem", 3)), {"mix": grass_mix()}),
    Case("density_high", sown(("little bluestem", 12)), {"mix": grass_mix()}),
    Case("grass_share", {"mix": grass_mix(), "purpose": "pollinators"}, GRASS),
    Case(
        "pushy_nurse",
        sown(*GRASSES, ("cereal rye", 10)),
        sown(*GRASSES, ("oats", 10)),
        bad_prices=oats_listed,
    ),
    Case("spring_only", {"kill_program": "sod_spring_only"}),
    Case(
        "program_note",
        {"kill_program": "stubble_burndown", "cover": "crop stubble"},
    ),
    Case("cover_mismatch", {"cover": "brushy old field"}, {"cover": "cool-season sod"}),
    Case("seed_count_range", sown(*GRASSES, ("sideoats grama", 1)), {"mix": grass_mix()}),
    Case(
        "wait_short",
        {
            "kill_program": "fallow_two_pass",
            "log": log(kill_fall_weeds=date(2028, 4, 5), drill=date(2028, 5, 4)),
        },
        {
            "kill_program": "fallow_two_pass",
            "log": log(kill_fall_weeds=date(2028, 4, 5), drill=date(2028, 5, 5)),
        },
        today=date(2028, 5, 10),
    ),
    Case(
        "seeding_mismatch",
        {"seeding": "none"},
        {"seeding": "none", "kill_program": "release_native", "cover": "failed native stand"},
    ),
    Case(
        "seeding_mismatch",
        {"seeding": "broadcast", "kill_program": "release_native", "cover": "failed native stand"},
        {"seeding": "drill", "kill_program": "release_native", "cover": "failed native stand"},
    ),
    Case("residue_steep", {"thatch": "heavy", "slope_pct": 8.1}, {"thatch": "heavy", "slope_pct": 8.0}),
    Case(
        "residue_steep",
        {"thatch": "heavy", "slope_pct": 12, "kill_program": "sod_spring_only", "options": ("burn_first",)},
        {"thatch": "light", "slope_pct": 12, "kill_program": "sod_spring_only", "options": ("burn_first",)},
        severity="caution",
    ),
    Case(
        "sericea_flowers",
        sown(*GRASSES, ("wild bergamot", 0.1), kill_program="sericea_two_summers"),
        {"mix": grass_mix(), "kill_program": "sericea_two_summers"},
    ),
    Case(
        "sericea_flowers",
        sown(*GRASSES, ("wild bergamot", 0.1), weeds="some Sericea by the gate"),
        sown(*GRASSES, ("wild bergamot", 0.1), weeds="some thistle by the gate"),
    ),
    Case(
        "carry_over",
        {
            "cover": "crop stubble",
            "kill_program": "stubble_burndown",
            "notes": "Corn in 2026, Picloram on the edge",
        },
        {
            "cover": "crop stubble",
            "kill_program": "stubble_burndown",
            "notes": "Corn in 2026, glyphosate twice",
        },
    ),
    Case(
        "carry_over",
        sown(*GRASSES, ("wild bergamot", 0.1), notes="atrazine on the corn"),
        sown(("big bluestem", 5), notes="atrazine on the corn"),
    ),
    Case(
        "weed_program",
        {"weeds": "bermudagrass under the fescue"},
        {"weeds": "bermudagrass under the fescue", "kill_program": "bermuda_summer"},
    ),
    Case(
        "tolerance_sensitive",
        sown(*GRASSES, ("Virginia wildrye", 1), kill_program="release_native", seeding="none"),
        {"mix": grass_mix(), "kill_program": "release_native", "seeding": "none"},
    ),
    Case("tillage_steep", {"kill_program": "no_spray", "slope_pct": 15.1}, {"slope_pct": 15.1}),
    Case("tillage_steep", {"options": ("disc_thirds",), "slope_pct": 15.1}, {"slope_pct": 15.1}),
    Case("purpose_seeding", {"seeding": "drill"}, made=make.plot),
    Case("purpose_seeding", {"seeding": "plot_fall_drill"}, {"seeding": "drill"}),
    Case("plot_season", sown(("cowpea", 60)), sown(("oats", 100)), made=make.plot),
    Case(
        "plot_season",
        sown(("white clover", 1), ("cowpea", 40), seeding="plot_spring_drill"),
        sown(("white clover", 4), seeding="plot_spring_drill"),
        made=make.plot,
    ),
    Case("plot_rate", sown(("oats", 50)), sown(("oats", 104)), made=make.plot),
    Case(
        "plot_rate",
        sown(("oats", 104), ("white clover", 3)),
        sown(("oats", 52), ("white clover", 2)),
        made=make.plot,
    ),
    Case("plot_crops", sown(("white clover", 4)), sown(("winter wheat", 105)), made=make.plot),
    Case(
        "plot_rotation",
        sown(("field mustard / turnip", 5), options=("resow",)),
        sown(("winter wheat", 105), options=("resow",)),
        made=make.plot,
    ),
    Case(
        "plot_once",
        sown(("winter wheat", 105)),
        sown(("winter wheat", 105), options=("resow",)),
        made=make.plot,
    ),
    Case("plot_once", sown(("winter wheat", 105)), sown(("white clover", 4)), made=make.plot),
    Case("plot_soil_test", {}, {"soil_test": SoilTest(ph=6.5)}, made=make.plot),
    Case(
        "plot_lime",
        {"soil_test": SoilTest(ph=5.2)},
        {"soil_test": SoilTest(ph=5.2, lime_tons_per_acre=2)},
        made=make.plot,
    ),
    Case("plot_lime", {"soil_test": SoilTest(ph=5.2)}, {"soil_test": SoilTest(ph=6.2)}, made=make.plot),
    Case(
        "plot_short",
        {"soil_test": SoilTest(phosphorus="low")},
        bad_prices=lambda: prices(supplies=()),
        made=make.plot,
    ),
    Case(
        "feed_near_water",
        {"soil_test": SoilTest(phosphorus="low"), "water_within_ft": 20.0},
        {"soil_test": SoilTest(phosphorus="low"), "water_within_ft": 40.0},
        made=make.plot,
    ),
    Case(
        "tree_spacing",
        {"trees": make.trees(plant_ft=6.0)},
        {"trees": make.trees()},
        made=make.planting,
    ),
    Case(
        "tree_browse",
        {"trees": make.trees()},
        {"trees": make.trees(("American plum", 100), plant_ft=6.0, row_ft=6.0)},
        made=make.planting,
    ),
    Case("tree_browse", {"trees": make.trees()}, {"trees": make.trees(fence_ft=900.0)}, made=make.planting),
    Case(
        "tree_strip_acres",
        {"trees": STRIP, "acres": 0.5},
        {"trees": STRIP, "acres": 0.9},
        made=make.planting,
    ),
    Case("tree_power_lines", {"power_lines": True}, made=make.planting),
    Case(
        "tree_habits",
        {"trees": make.trees(("black cherry", 100))},
        {"trees": make.trees(("bur oak", 100))},
        made=make.planting,
    ),
    Case("tree_soil", {"soil_test": SoilTest(ph=8.3)}, {"soil_test": SoilTest(ph=6.5)}, made=make.planting),
]


def planned(
    facts: dict[str, Any], case: Case, price_list: PriceList, job: dict[str, Any] | None = None
) -> Plan:
    usual = {"mix": grass_mix()} if case.made is conversion else {}
    field = case.made(**(usual | facts))
    return plan(field, today=case.today, price_list=price_list, **(case.job if job is None else job))


def found(of: Plan, rule: str) -> list[str]:
    return [finding.severity for finding in of.findings if finding.rule == rule]


@pytest.mark.parametrize("case", CASES, ids=lambda case: case.rule)
def test_fires_on_its_cause_and_on_nothing_else(case: Case) -> None:
    severities = found(planned(case.bad, case, case.bad_prices()), case.rule)
    assert severities, "silent on its cause"
    assert set(severities) == {case.severity or tables.rules()[case.rule].severity}
    assert not found(planned(case.good, case, case.good_prices(), case.job | case.good_job), case.rule), (
        "fires without its cause"
    )


def test_every_rule_is_tried() -> None:
    assert {case.rule for case in CASES} == set(tables.rules())


@pytest.mark.parametrize("case", CASES, ids=lambda case: case.rule)
def test_a_finding_says_what_why_the_way_out_and_its_source(case: Case) -> None:
    findings = planned(case.bad, case, case.bad_prices()).findings
    for finding in findings:
        for words in (finding.message, finding.reason, finding.way_out, finding.source):
            assert words and "None" not in words
        assert "safe" not in f"{finding.message} {finding.reason} {finding.way_out}".lower().split()
    assert len({finding.key for finding in findings}) == len(findings), "a key names one finding"


def hanging(**changes: Any) -> dict[str, str]:
    done = log(kill_fall=date(2027, 10, 1), kill_spring=date(2028, 4, 20), clean_up=date(2028, 11, 20))
    field = conversion(seeding="dormant", mix=grass_mix(), log=done)
    made = plan(field, climate=replace(GULF, **changes), terms=make.terms(years=1), today=date(2029, 1, 12))
    return {of.subject: of.reason for of in made.findings if of.rule == "never_crossed"}


def test_a_window_no_longer_hangs_on_a_moment_that_was_seen_in_its_season() -> None:
    opens, shuts = "soil_40_falling/dormant_drill", "soil_40_rising/dormant_drill"
    assert {opens, shuts} <= hanging().keys()
    assert "never under 40 °F here" in hanging()[opens]
    seen = Observation(moment="soil_40_falling", on=date(2029, 1, 10))
    assert opens not in hanging(observed=(seen,)) and shuts in hanging(observed=(seen,))
    early = replace(seen, on=date(2027, 1, 10))
    assert opens in hanging(observed=(early,))


def test_steps_of_one_label_are_named_once() -> None:
    made = plan(conversion(mix=grass_mix()), climate=GULF)
    spots = next(of for of in made.findings if "spot_release_2,spot_release_3" in of.subject)
    assert spots.message.count("Spot-spray old sod still green") == 1


def test_what_changes_nothing_is_counted_in_its_words() -> None:
    for options, said in ((("boot_mow",), "boot_mow changes"), (("boot_mow", "resow"), "resow change ")):
        (told,) = (of for of in plan(conversion(options=options)).findings if of.rule == "no_effect")
        assert said in told.message and ("they belong" in told.way_out) is (len(options) > 1)


def test_a_reason_begins_with_a_capital() -> None:
    near = plan(conversion(water_within_ft=5.0))
    assert all(not of.reason[0].islower() for of in near.findings if of.rule == "near_water")


def test_one_day_is_not_said_as_days() -> None:
    normal = season.on(2028, season.moment_days(make.columbia())["last_freeze"])
    seen = Observation(moment="last_freeze", on=normal + timedelta(days=1))
    made = plan(conversion(), climate=replace(make.columbia(), observed=(seen,)), today=seen.on)
    (moved,) = (of for of in made.findings if of.rule == "observed_moves")
    assert "1 day later than the normal" in moved.message
    assert moment_label("soil_50", 1).startswith("1 day after: ")


def test_stops_come_first_then_cautions_then_notes() -> None:
    bad = conversion(slope_pct=20, seeding="broadcast", sensitive_neighbours="hives", cover="crop stubble")
    order = ["stop", "caution", "note"]
    places = [order.index(finding.severity) for finding in plan(bad).findings]
    assert places == sorted(places) and set(places) == {0, 1, 2}


def test_a_clean_job_has_nothing_but_the_note_on_groups() -> None:
    clean = plan(conversion(mix=grass_mix(), purpose="forage"))
    assert {finding.rule for finding in clean.findings} == {"same_group_twice"}


def test_a_spot_spray_is_not_held_against_the_mix() -> None:
    facts = conversion(mix=mix(*GRASSES, ("wild bergamot", 0.1)))
    assert any(task.operation == "spot_spraying" for task in plan(facts).tasks)
    assert not [finding for finding in plan(facts).findings if finding.rule.startswith("tolerance")]


def test_season_maximum_counts_passes_of_one_year_only() -> None:
    """1.5 lb in fall and 1.5 in spring are two years' and keep a cap of 2 lb; both in spring do not."""
    capped = priced("products", "glyphosate", label_season_max_oz_per_acre=2 / 3 * 128)
    assert not found(plan(conversion(mix=grass_mix()), price_list=capped), "season_max")
    spring = conversion(mix=grass_mix(), kill_program="sod_spring_only")
    assert found(plan(spring, price_list=capped), "season_max") == ["stop"]
