"""Food plots and plantings in a plan: their windows, what they take, and what that costs."""

from __future__ import annotations

import math
from dataclasses import replace
from datetime import date
from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from plans.planning import plots, tables, trees
from plans.planning.job import SoilTest
from plans.planning.plan import Plan, Task
from plans.planning.season import moment_days, on
from tests.planning import make
from tests.planning.make import mix, planting, plot

WHEAT = mix(("winter wheat", 105.0))
FED = SoilTest(ph=5.4, phosphorus="low", potassium="medium", lime_tons_per_acre=2, lime_ecce_pct=100)


def task(plan: Plan, step: str) -> Task:
    return next(task for task in plan.tasks if task.step == step)


def materials(plan: Plan, *kinds: str) -> dict[str, float]:
    return {one.name: float(one.amount.value) for one in plan.materials if one.name.startswith(kinds)}


def test_the_crops_of_a_plot_share_the_latest_opening_and_the_first_shutting() -> None:
    at = make.columbia()
    freeze = moment_days(at)["first_freeze"]
    found = task(make.plan(plot(mix=mix(("winter wheat", 50), ("white clover", 2)))), "plot_drill")
    assert found.earliest == on(found.earliest.year, freeze - 60), "wheat opens after white clover"
    assert found.latest <= on(found.earliest.year, freeze - 40), "white clover shuts before wheat"


def test_spring_and_fall_are_different_windows_of_one_crop() -> None:
    spring = task(make.plan(plot(seeding="plot_spring_drill", kill_program="sod_spring_only")), "plot_drill")
    fall = task(make.plan(plot()), "plot_drill")
    assert spring.earliest.month < 6 < fall.earliest.month


def test_crops_that_share_no_day_take_the_first_ones_window() -> None:
    apart = plot(mix=mix(("white clover", 2), ("cowpea", 40)), seeding="plot_spring_drill")
    window = plots.crop_window(apart, make.columbia())
    assert window and window.parted == ("white clover", "cowpea")
    assert window.opens == "soil_40_rising"


def test_an_annual_plot_is_sown_again_each_year_only_when_asked() -> None:
    once, again = make.plan(plot(mix=WHEAT)), make.plan(plot(mix=WHEAT, options=("resow",)))
    sown = [one for one in again.tasks if one.operation == "no_till_drilling"]
    assert [one.earliest.year for one in sown] == list(
        range(sown[0].earliest.year, sown[0].earliest.year + 5)
    )
    seed = [line for line in again.estimate.lines if line.category == "seed"]
    assert len(seed) == 5 and len({line.price.value for line in seed}) == 1
    assert [line.category for line in once.estimate.lines].count("seed") == 1
    assert again.seed_needs[0].pls_lb.value == pytest.approx(5 * float(once.seed_needs[0].pls_lb.value))


def test_clover_that_lives_on_is_mown_and_a_grain_is_not() -> None:
    assert task(make.plan(plot()), "plot_mow_2").season == 2
    assert not [one for one in make.plan(plot(mix=WHEAT)).tasks if one.step.startswith("plot_mow")]


def test_lime_and_fertilizer_are_spread_by_the_soil_test_and_priced() -> None:
    plan = make.plan(plot(soil_test=FED))
    (fed,) = plan.plots
    assert {name: figure.value for name, figure in fed.need.items() if name != "N"} == {"P2O5": 60, "K2O": 45}
    assert fed.lime and fed.lime.value == pytest.approx(2 / 0.9)
    spread = materials(plan, "lime", "fertilizer")
    for name, rate in fed.fertilizer.items():
        assert spread[f"fertilizer {name}"] == pytest.approx(float(rate.value) * 11.2)
    assert spread["lime, spread"] == pytest.approx(2 / 0.9 * 11.2)
    assert task(plan, "plot_lime").latest < task(plan, "plot_drill").earliest
    year = next(year for year in plan.estimate.years if year.materials.dollars)
    assert year.materials.dollars == sum(
        line.price.dollars for line in plan.estimate.lines if line.category == "materials"
    )


def test_the_laboratorys_own_pounds_go_before_the_tables() -> None:
    (fed,) = make.plan(plot(soil_test=SoilTest(phosphorus="low", p2o5_lb_per_acre=35.0))).plots
    assert fed.need["P2O5"].value == 35 and "laboratory" in fed.need["P2O5"].source
    assert "K2O" not in fed.need, "nothing is made up for what was not measured"


def test_without_a_soil_test_nothing_is_spread() -> None:
    plan = make.plan(plot())
    assert not plan.materials
    assert not [one for one in plan.tasks if one.operation == "spreading"]


def test_no_plot_without_herbicide_is_sprayed() -> None:
    for seeding in ("plot_fall_drill", "plot_fall_broadcast", "plot_spring_drill", "plot_spring_broadcast"):
        plan = make.plan(plot(seeding=seeding, kill_program="no_spray", options=("resow",)))
        assert not plan.tanks


def test_a_block_is_planted_tubed_looked_after_and_filled_again() -> None:
    plan = make.plan(planting())
    planted, tubed, again = (task(plan, step) for step in ("plant_trees", "set_tubes", "replant_2"))
    assert planted.plants == tubed.plants == round(11.2 * 43_560 / 100) == 4879
    assert again.plants == math.ceil(0.10 * 4879) and again.earliest.year == planted.earliest.year + 1
    assert planted.hours and planted.hours.value == pytest.approx(4879 / 60)
    assert materials(plan, "white oak, bare", "tubes") == {
        "white oak, bare-root seedling": 488.0,
        "tubes with stakes": 4879.0,
    }, "the later amount of a name stands last"
    work = next(line for line in plan.estimate.lines if line.label == planted.label)
    assert work.cost.dollars == Decimal(4879) * Decimal("0.95")
    assert not plan.seed[0].lines and not plan.seed_needs


def test_open_seedlings_take_no_tubes_and_no_replacing_where_none_is_asked_for() -> None:
    plan = make.plan(planting(trees=make.trees(replaced_pct=0.0, fence_ft=880.0)))
    steps = {one.step for one in plan.tasks}
    assert not {"set_tubes", "tend_tubes_3", "tend_tubes_5", "replant_2"} & steps
    assert materials(plan, "fence") == {"fence, built": 880.0}


def test_a_strip_is_counted_by_its_rows() -> None:
    """Trap: a strip is rows × (length / spacing + 1), not area over spacing."""
    strip = make.trees(layout="strip", rows=3, length_ft=400.0, plant_ft=8.0)
    (found,) = make.plan(planting(trees=strip)).trees
    assert found.plants.value == 3 * 51 and found.per_acre is None


@given(st.integers(0, 50_000), st.lists(st.floats(0.1, 100), min_size=1, max_size=12))
def test_shares_of_plants_add_up_to_the_plants(plants: int, shares: list[float]) -> None:
    counts = trees.shared(plants, shares)
    assert sum(counts) == plants
    for count, share in zip(counts, shares, strict=True):
        assert abs(count - plants * share / sum(shares)) < 1


def test_stock_decides_the_price_and_none_asked_for_is_the_cheapest() -> None:
    (bare,) = [plant for plant in make.prices().plants if plant.species == "white oak"]
    potted = replace(bare, stock="Container", price_usd_each=Decimal("9.50"))
    listed = make.prices(plants=(potted, bare))

    def cost(stock: str) -> Decimal:
        plan = make.plan(planting(trees=make.trees(stock=stock)), price_list=listed)
        (one,) = [one for one in plan.materials if one.task.endswith("plant_trees")]
        return one.cost.dollars if one.cost else Decimal(-1)

    assert (cost(""), cost("container")) == (4879 * bare.price_usd_each, 4879 * Decimal("9.50"))
    assert cost("live stake") == -1, "a stock nobody lists has no price"


def test_what_the_nursery_does_not_list_stops_the_plan() -> None:
    plan = make.plan(planting(trees=make.trees(("pecan", 100), row_ft=30.0, plant_ft=30.0)))
    (stop,) = [finding for finding in plan.findings if finding.rule == "no_price"]
    assert "pecan" in stop.message


def test_a_tree_that_is_in_no_table_is_named() -> None:
    with pytest.raises(ValueError, match="'Ridge Pasture', trees: 'tree of heaven' is not one of"):
        make.plan(planting(trees=make.trees(("tree of heaven", 100))))


@pytest.mark.parametrize(
    ("changes", "said"),
    [
        ({"trees": None, "mix": make.grass_mix()}, "trees is needed"),
        ({"mix": make.grass_mix()}, "and no mix"),
        ({"purpose": "food plot"}, "mix is needed"),
    ],
)
def test_a_planting_has_trees_and_anything_else_a_mix(changes: dict[str, object], said: str) -> None:
    with pytest.raises(ValueError, match=said):
        planting(**changes)


@pytest.mark.parametrize(
    ("lines", "changes", "said"),
    [
        ((("white oak", 60),), {}, "sum to 60 %"),
        ((("white oak", 50), ("white oak", 50)), {}, "white oak stands in the planting twice"),
        ((("white oak", 100),), {"layout": "strip"}, "length_ft 0 is under"),
    ],
)
def test_a_planting_that_does_not_add_up_says_how(
    lines: tuple[tuple[str, float], ...], changes: dict[str, object], said: str
) -> None:
    with pytest.raises(ValueError, match=said):
        make.trees(*lines, **changes)


def test_a_planting_already_set_is_not_bought_again() -> None:
    done = make.log(strips_fall=date(2027, 10, 1), plant_trees=date(2028, 3, 20))
    plan = make.plan(planting(log=done), today=date(2028, 4, 1))
    assert "white oak, bare-root seedling" in materials(plan, "white oak")
    assert materials(plan, "white oak")["white oak, bare-root seedling"] == 488


def test_every_window_of_a_crop_opens_before_it_shuts() -> None:
    for at in make.climates().values():
        days = moment_days(at)
        for row in tables.plot_windows().values():
            assert days[row.opens] + row.opens_days < days[row.closes] + row.closes_days, row


@pytest.mark.parametrize(
    ("before", "after", "days", "asked"),
    [
        ("kill_spring", "plot_disc", 10, {"seeding": "plot_spring_broadcast"}),
        ("kill_spring", "plot_burndown", 14, {"seeding": "plot_spring_drill"}),
        ("till_spring", "plot_till", 10, {"seeding": "plot_spring_drill", "kill_program": "no_spray"}),
    ],
)
def test_a_plot_is_not_worked_again_before_the_last_kill_has_worked(
    before: str, after: str, days: int, asked: dict[str, str]
) -> None:
    plan = make.plan(plot(**asked))
    kill, work = task(plan, before), task(plan, after)
    assert (work.earliest - kill.earliest).days >= days
    assert (work.latest - kill.latest).days >= days


@pytest.mark.parametrize(
    ("program", "kill"), [("stubble_burndown", "burndown_trees"), ("fallow_two_pass", "kill_fall_weeds")]
)
def test_weeds_are_sprayed_before_trees_and_not_only_mown(program: str, kill: str) -> None:
    plan = make.plan(planting(kill_program=program))
    assert task(plan, kill).latest < task(plan, "plant_trees").latest
    assert task(plan, kill).earliest < task(plan, "plant_trees").earliest
    assert task(plan, kill).operation == "boom_spraying"


def test_the_ring_is_sprayed_before_buds_break() -> None:
    climate = make.columbia()
    for season in (1, 2, 3):
        ring = task(make.plan(planting()), f"ring_spray_{season}")
        assert ring.latest <= on(ring.latest.year, moment_days(climate)["natives_green_up"])


SOYBEANS = {
    "mix": mix(("soybean", 60.0)),
    "seeding": "plot_spring_broadcast",
    "soil_test": FED,
}


def test_lime_lies_before_the_seed_and_holds_no_kill_back() -> None:
    limed, plain = make.plan(plot(**SOYBEANS)), make.plan(plot(**(SOYBEANS | {"soil_test": None})))
    assert task(limed, "plot_broadcast").earliest == task(plain, "plot_broadcast").earliest
    assert task(limed, "plot_lime").latest < task(limed, "plot_disc").earliest
    assert task(limed, "plot_lime").latest > task(limed, "kill_fall").latest


def test_lime_that_is_logged_drops_no_kill_and_is_not_spread_after_the_seed() -> None:
    spread = plot(**SOYBEANS, log=make.log(plot_lime=date(2027, 8, 1)))
    kept = make.plan(spread, today=date(2027, 8, 10))
    assert task(kept, "plot_lime").latest == date(2027, 8, 1)
    assert task(kept, "kill_fall").earliest > date(2027, 8, 1)
    sown = plot(soil_test=FED, log=make.log(plot_drill=date(2028, 8, 20)))
    assert not [one for one in make.plan(sown, today=date(2028, 9, 1)).tasks if one.step == "plot_lime"]


def test_lime_begun_too_late_for_its_months_still_comes_before_the_seed() -> None:
    late = plot(soil_test=FED, log=make.log(kill_spring=date(2028, 4, 20)), start_on=date(2028, 8, 1))
    plan = make.plan(late, today=date(2028, 8, 1))
    assert task(plan, "plot_lime").earliest == date(2028, 8, 1)
    assert task(plan, "plot_lime").latest < task(plan, "plot_drill").earliest
