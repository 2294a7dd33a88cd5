"""Trees, shrubs and plots, and the tables that they and the mixes are made from."""

from __future__ import annotations

import csv
import json
import re
from collections.abc import Iterable
from decimal import Decimal
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from plans.planning import planting, tables
from plans.planning.mixing import least_cost_mix
from plans.planning.planting import Grade, fertilizer, grade
from plans.planning.plants import Species
from plans.planning.reckoner import reckon
from plans.planning.targets import Goal, candidate, fits_in_a_mix, targets_for
from plans.planning.wire import BadInput

SAID = re.compile(r"\bseen\b|memory|derived|common practice")


def test_there_are_enough_plants_to_choose_from():
    groups = [plant.group for plant in tables.species().values()]
    assert len(groups) >= 60 and len(tables.woody()) >= 20 and len(tables.plot_crops()) >= 10
    assert min(groups.count(group) for group in ("grass", "legume", "forb")) >= 6
    seasons = {plant.season for plant in tables.species().values() if plant.group == "grass"}
    assert seasons == {"warm", "cool"}


@pytest.mark.parametrize(
    ("rows", "columns"),
    [
        (tables.species().values(), ("source", "traits_source")),
        (tables.purposes().values(), ("source", "targets_source")),
        (tables.bloom_seasons().values(), ("source",)),
        (tables.woody().values(), ("source",)),
        (tables.plot_crops().values(), ("source",)),
        (tables.soil_needs(), ("source",)),
    ],
)
def test_every_row_says_whether_it_was_seen_or_remembered(rows: Iterable[Any], columns: tuple[str, ...]):
    for row in rows:
        for column in columns:
            assert SAID.search(getattr(row, column)), (row, column)


def test_species_fit_together():
    for name, plant in tables.species().items():
        assert (plant.family == "Poaceae") == (not plant.bloom_months), name
        assert plant.depth_in_min < plant.depth_in_max, name
        assert (plant.group in ("nurse", "plot")) == plant.introduced, name
        assert plant.group != "legume" or plant.legume, name
        assert list(plant.bloom_months) == sorted(set(plant.bloom_months)), name


@pytest.mark.parametrize("moisture", ["dry", "mesic", "wet"])
@pytest.mark.parametrize("season", ["early", "mid", "late"])
def test_natives_bloom_in_every_season_on_every_ground(moisture: Any, season: str):
    months = set(tables.bloom_seasons()[season].months)  # type: ignore[index]
    blooming = [
        name
        for name, plant in tables.species().items()
        if not plant.introduced and moisture in plant.moisture and months & set(plant.bloom_months)
    ]
    assert len(blooming) >= 3


@pytest.mark.parametrize("way", ["drilled", "broadcast", "dormant"])
@pytest.mark.parametrize("purpose", tables.purposes())
def test_every_purpose_can_be_met_from_the_table(purpose: str, way: Any):
    plants = [plant for plant in tables.species().values() if fits_in_a_mix(plant)]
    natives = [candidate(plant.common_name, Decimal(20)) for plant in plants if not plant.introduced]
    answer = least_cost_mix(Goal(targets=targets_for(purpose, way), moisture="mesic", ph=6.5), natives)
    assert answer.mix is not None, answer.conflict


@pytest.mark.parametrize("purpose", tables.purposes().values(), ids=tables.purposes())
def test_broadcast_takes_more_seed_than_a_drill_and_at_most_twice(purpose: Any):
    for end in ("low", "high"):
        drilled = getattr(purpose, f"seeds_per_sqft_{end}")
        for way in ("broadcast", "dormant"):
            assert 1.25 <= getattr(purpose, f"{way}_seeds_per_sqft_{end}") / drilled <= 2.0


def test_plots_name_known_crops_and_moments():
    for name, crop in tables.plot_crops().items():
        assert tables.species()[name].group in ("nurse", "plot")
        windows = [row for (species, _), row in tables.plot_windows().items() if species == name]
        assert windows, name
        assert {end for row in windows for end in (row.opens, row.closes)} <= set(tables.moment_rules()), name
        assert crop.rate_lb_per_acre_low < crop.rate_lb_per_acre_high
        assert crop.depth_in_low < crop.depth_in_high


def test_the_soil_test_table_answers_every_question_once():
    asked = [(row.feeds_as, row.nutrient, row.soil_test) for row in tables.soil_needs()]
    kinds = {crop.feeds_as for crop in tables.plot_crops().values()}
    wanted = {(kind, "N", "any") for kind in kinds} | {
        (kind, nutrient, level)
        for kind in kinds
        for nutrient in ("P2O5", "K2O")
        for level in ("low", "medium", "high")
    }
    assert set(asked) == wanted and len(asked) == len(wanted)
    for kind in kinds:
        for nutrient in ("P2O5", "K2O"):
            falling = [
                row.lb_per_acre
                for level in ("low", "medium", "high")
                for row in tables.soil_needs()
                if (row.feeds_as, row.nutrient, row.soil_test) == (kind, nutrient, level)
            ]
            assert falling == sorted(falling, reverse=True)


@pytest.mark.parametrize(
    ("column", "cell", "says"),
    [
        ("ph_low", "8.5", "ph_low must lie under ph_high"),
        ("bloom_months", "13", "bloom_months"),
        ("bloom_colour", "", "go together"),
        ("moisture", "damp", "moisture"),
        ("shade", "dim", "shade"),
        ("value_forage", "4", "value_forage"),
        ("traits_source", "", "traits_source"),
    ],
)
def test_a_bad_cell_is_named(tmp_path: Path, column: str, cell: str, says: str):
    lines = (tables.FOLDER / "species.csv").read_text(encoding="utf-8").splitlines()
    head, row = next(csv.reader([lines[0]])), next(csv.reader([lines[22]]))
    row[head.index(column)] = cell
    path = tmp_path / "species.csv"
    with path.open("w", newline="", encoding="utf-8") as out:
        csv.writer(out).writerows([head, row])
    with pytest.raises(tables.TableError, match=r"species\.csv, row 2") as error:
        tables.read_table(path, Species)
    assert says in str(error.value)


def test_a_strip_has_a_plant_at_both_ends():
    assert planting.plants_in_strip(1, 100, 10).value == 11
    assert planting.plants_in_strip(3, 200, 6).value == 3 * 34
    assert planting.plants_in_strip(2, 0, 6).value == 2
    assert planting.plants_in_strip(1, 0.3, 0.1).value == 4


def test_plants_are_ordered_whole_and_tubes_counted():
    square = planting.work.plants_per_acre(10, 10)
    assert planting.plants_on(2.5, square).value == 1089
    assert planting.to_order(1089, 10).value == 1198
    assert planting.to_order(100, 10).value == 110 and planting.to_order(7, 0).value == 7
    assert planting.tubes(1089, 50).value == 545
    assert planting.fence_ft(50, 30).value == 160


def test_the_cost_of_a_planting_is_the_sum_of_rounded_lines():
    cost = planting.planting_cost({"plants": (1198, Decimal("1.155")), "fence": (160.5, Decimal("3.33"))})
    assert cost["plants"].value == Decimal("1383.69") and cost["fence"].value == Decimal("534.47")
    assert cost["total"].value == Decimal("1918.16")
    with pytest.raises(ValueError, match="items: 'total'"):
        planting.planting_cost({"total": (1, Decimal(1))})


COMMON = [grade(text) for text in ("46-0-0", "18-46-0", "0-46-0", "0-0-60")]
POUNDS = st.floats(0, 300).map(lambda pounds: round(pounds, 1))
BAGS = st.lists(
    st.tuples(*[st.integers(0, 33)] * 3).filter(any).map(lambda parts: Grade(*map(float, parts))),
    min_size=1,
    max_size=5,
)


@given(st.tuples(POUNDS, POUNDS, POUNDS), BAGS)
def test_no_nutrient_is_overshot_and_all_are_accounted_for(
    need: tuple[float, float, float], bags: list[Grade]
):
    asked = dict(zip(planting.NUTRIENTS, need, strict=True))
    feed = fertilizer(asked, bags)
    for nutrient, wanted in asked.items():
        given_ = sum(
            float(feed.products[str(bag)].value) * bag.pct(nutrient) / 100
            for bag in set(bags)
            if str(bag) in feed.products
        )
        assert given_ <= wanted + 1e-6
        assert given_ == pytest.approx(float(feed.supplied[nutrient].value), abs=1e-6)
        assert given_ + float(feed.short[nutrient].value) == pytest.approx(wanted, abs=1e-6)


@given(st.tuples(POUNDS, POUNDS, POUNDS))
def test_straight_bags_meet_any_need(need: tuple[float, float, float]):
    feed = fertilizer(dict(zip(planting.NUTRIENTS, need, strict=True)), COMMON)
    assert all(float(short.value) == pytest.approx(0, abs=1e-6) for short in feed.short.values())


def test_a_clover_plot_gets_its_phosphate_without_nitrogen():
    need = {
        name: float(figure.value)
        for name, figure in planting.plot_need("white clover", "low", "high").items()
    }
    assert need["N"] == 0 and need["P2O5"] > 0 and need["K2O"] == 0
    assert set(fertilizer(need, COMMON).products) == {"0-46-0"}  # type: ignore[arg-type]
    only_dap = fertilizer(need, [grade("18-46-0")])  # type: ignore[arg-type]
    assert not only_dap.products and only_dap.short["P2O5"].value == need["P2O5"]


def test_lime_is_asked_for_under_the_crops_limit():
    assert planting.lime_wanted("alfalfa", 6.2) and not planting.lime_wanted("alfalfa", 6.5)
    assert not planting.lime_wanted("buckwheat", 5.5)


@pytest.mark.parametrize("text", ["", "46", "a-b-c", "46-0", "60-60-0", "-5-10-10", "0-0-0"])
def test_a_grade_that_is_none_is_named(text: str):
    with pytest.raises(ValueError, match="grade: "):
        grade(text)


def test_other_bad_inputs_are_named():
    with pytest.raises(ValueError, match="species: 'oak'"):
        planting.plot_need("oak", "low", "low")
    with pytest.raises(ValueError, match="N: -1"):
        fertilizer({"N": -1}, COMMON)
    with pytest.raises(ValueError, match="pass_20_pct"):
        planting.lime_ecce_pct(50, 60, 10, 90)
    with pytest.raises(BadInput, match="grade: '18'"):
        reckon("fertilizer", json.dumps({"n": 1, "p2o5": 1, "k2o": 1, "grades": ["18"]}))
    with pytest.raises(BadInput, match="rows"):
        reckon("plants_in_strip", json.dumps({"rows": 0, "length_ft": 100, "plant_ft": 6}))


def test_a_tree_block_is_ordered_tubed_and_priced() -> None:
    inputs = {"species": "white oak", "acres": 1.5, "row_ft": 10, "plant_ft": 10}
    prices = {"price_per_plant": 1.25, "price_per_tube": 4, "price_per_fence_ft": 2, "fence_ft": 100}
    block = reckon("tree_block", json.dumps(inputs | prices))
    assert (block["plants"]["value"], block["to_order"]["value"]) == (653, 719)  # 435.6 an acre; a tenth more
    parts = ("cost_of_plants", "cost_of_tubes", "cost_of_fence")
    assert block["cost"]["value"] == sum(block[part]["value"] for part in parts) == 719 * 1.25 + 653 * 4 + 200
    with pytest.raises(BadInput, match="white oak"):
        reckon("tree_block", json.dumps(inputs | {"species": "oak"}))


def test_a_food_plot_brings_rate_depth_need_and_lime_together() -> None:
    """3 to 5 lb of white clover an acre, 0 to 1/4 in: University of Florida IFAS (low rate, depth seen)."""
    inputs = {"crop": "white clover", "acres": 2, "phosphorus": "low", "potassium": "high", "soil_ph": 5.5}
    sour = reckon("food_plot", json.dumps(inputs))
    assert (sour["seed_low"]["value"], sour["seed_high"]["value"]) == (6, 10)
    assert sour["depth"] == "0 to 0.25 in" and sour["N"]["value"] == 0
    assert sour["P2O5"]["value"] > 0 == sour["K2O"]["value"]
    assert "ask the laboratory" in sour["lime"]
    assert "not for this crop" in reckon("food_plot", json.dumps(inputs | {"soil_ph": 6.5}))["lime"]
