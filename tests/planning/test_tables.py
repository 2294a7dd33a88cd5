"""The reference tables: sources on every row, keys that meet, errors that name file, row and column."""

from __future__ import annotations

import csv
from dataclasses import replace
from pathlib import Path
from typing import get_args

import pytest

from plans.planning import tables
from plans.planning.calendar import SOWING
from plans.planning.checks import WILD_COUNT_SPREAD
from plans.planning.fields import SPRAYING
from plans.planning.job import Cover, Purpose
from plans.planning.plots import SOWING_OPENS, SOWING_SHUTS
from plans.planning.programs import SHARED_SETS, among

FILES = sorted(tables.FOLDER.glob("*.csv"))
STEPS = list(tables.steps().values())


@pytest.mark.parametrize("path", FILES, ids=lambda path: path.stem)
def test_every_row_has_a_source(path: Path) -> None:
    with path.open(newline="", encoding="utf-8") as lines:
        found = list(csv.DictReader(lines))
    assert found
    assert not [row for row in found if len(row["source"].strip()) < 4]


@pytest.mark.parametrize("step", STEPS, ids=lambda step: step.step)
def test_a_step_names_only_what_the_tables_know(step: tables.Step) -> None:
    sets = {*tables.programs(), *tables.seedings(), *SHARED_SETS}
    assert step.set in sets
    assert {step.opens, step.closes} <= {*tables.moment_rules(), SOWING_OPENS, SOWING_SHUTS}
    assert step.operation in tables.operations()
    assert set(step.cautions) <= tables.cautions().keys()
    assert {name for name, _ in step.chemicals} <= tables.ingredients().keys()
    assert set(step.seedings) <= tables.seedings().keys()
    assert {option.removeprefix("!") for option in step.option} <= tables.options().keys()
    assert {program.removeprefix("!") for program in step.programs} <= tables.programs().keys()
    assert step.after in {"", *tables.steps()}


@pytest.mark.parametrize("step", STEPS, ids=lambda step: step.step)
def test_a_spray_says_what_when_and_with_what_care(step: tables.Step) -> None:
    sprays = step.operation in SPRAYING
    assert bool(step.chemicals) == sprays
    assert bool(step.timing) == sprays
    if sprays:
        assert {"label", "drift", "water", "hire"} <= set(step.cautions)
        for name, rate in step.chemicals:
            row = tables.ingredients()[name]
            assert row.rate_low_lb_per_acre <= rate <= row.rate_high_lb_per_acre


@pytest.mark.parametrize(
    ("operation", "caution"),
    [
        ("prescribed_burn", "fire"),
        ("discing", "tillage"),
        ("rotary_mowing", "pto"),
        ("brush_mulching", "chainsaw"),
    ],
)
def test_work_that_can_hurt_carries_its_caution(operation: str, caution: str) -> None:
    assert all(caution in step.cautions for step in STEPS if step.operation == operation)


@pytest.mark.parametrize("program", tables.programs())
@pytest.mark.parametrize("seeding", tables.seedings())
def test_every_program_and_seeding_ends_in_one_sowing_or_in_none(program: str, seeding: str) -> None:
    sown = [
        step
        for step in STEPS
        if step.set in (program, seeding) or (step.set == "plot" and seeding in step.seedings)
        if step.operation in SOWING
    ]
    assert len(sown) == (tables.seedings()[seeding].way != "none")


def test_programs_and_options_name_what_the_tables_know() -> None:
    for program in tables.programs().values():
        assert program.seedings and set(program.seedings) <= tables.seedings().keys()
    for option in tables.options().values():
        assert {key.removeprefix("!") for key in option.programs} <= tables.programs().keys()
        assert set(option.seedings) <= tables.seedings().keys()
        assert any(option.option in step.option for step in STEPS), "an option that adds nothing"


@pytest.mark.parametrize("step", STEPS, ids=lambda step: step.step)
def test_no_program_without_herbicide_sprays(step: tables.Step) -> None:
    of_it = any(
        step.set == program
        or (
            step.set in ("drill", "broadcast", "dormant", "tree_planting", *SHARED_SETS)
            and among(step.programs, program)
            and (not step.seedings or set(step.seedings) & set(tables.programs()[program].seedings))
        )
        for program in ("no_spray", "tree_scalp")
    )
    assert not (of_it and step.chemicals), step.step


def test_every_kill_comes_before_every_planting() -> None:
    assert max(step.order for step in STEPS if step.phase == "kill") < min(
        step.order for step in STEPS if step.phase == "plant"
    )


def test_every_cover_has_a_program() -> None:
    covered = {cover for program in tables.programs().values() for cover in program.covers}
    assert covered == set(get_args(Cover))
    assert {*tables.purposes(), "food plot", "tree and shrub planting"} == set(get_args(Purpose))
    served = {purpose for seeding in tables.seedings().values() for purpose in seeding.purposes}
    assert served == set(get_args(Purpose))


@pytest.mark.parametrize("name", tables.species())
def test_a_species_has_a_seed_count_within_its_range(name: str) -> None:
    row = tables.species()[name]
    assert 100 < row.seeds_per_lb_low <= row.seeds_per_lb <= row.seeds_per_lb_high < 20_000_000
    assert 0 <= row.depth_in_min <= row.depth_in_max <= 3
    assert 0 < row.full_stand_lb_pls_per_acre_low <= row.full_stand_lb_pls_per_acre_high
    if row.group == "grass":
        assert row.season


@pytest.mark.parametrize("name", tables.species())
def test_a_seed_count_in_dispute_leans_to_more_pounds(name: str) -> None:
    row = tables.species()[name]
    if row.seeds_per_lb_high / row.seeds_per_lb_low > WILD_COUNT_SPREAD:
        assert row.seeds_per_lb <= (row.seeds_per_lb_low * row.seeds_per_lb_high) ** 0.5
        assert "does not under-seed" in row.source


@pytest.mark.parametrize("name", tables.species())
def test_a_full_stand_reckoned_from_the_count_says_that_it_is_no_advice(name: str) -> None:
    row = tables.species()[name]
    rates = (row.full_stand_lb_pls_per_acre_low, row.full_stand_lb_pls_per_acre_high)
    reckoned = [rate * row.seeds_per_lb / 43_560 for rate in rates] == pytest.approx([20, 40], rel=0.01)
    if "[derived" in row.source or (reckoned and row.group in ("forb", "legume")):
        assert reckoned and "[derived, not advice]" in row.source


def test_tolerance_names_only_known_plants_and_ingredients() -> None:
    classes = {
        *("all grasses", "all warm grasses", "all cool grasses", "all legumes", "all forbs", "all nurse"),
        *("all plot grasses", "all plot legumes", "all plot broadleaves", "all woody"),
    }
    found = tables.read_table(tables.FOLDER / "tolerance.csv", tables.ToleranceRow)
    assert {row.plant for row in found} <= classes | tables.species().keys() | tables.woody().keys()
    assert {row.active_ingredient for row in found} <= tables.ingredients().keys()
    assert len({(row.plant, row.active_ingredient, row.timing) for row in found}) == len(found)


@pytest.mark.parametrize(
    ("plant", "ingredient", "timing", "stands"),
    [
        ("oats", "clethodim", "established", "sensitive"),
        ("cereal rye", "sethoxydim", "seedling", "sensitive"),
        ("oats", "2,4-D amine", "established", "moderate"),
        ("winter wheat", "2,4-D amine", "established", "tolerant"),
        ("cereal rye", "glyphosate", "established", "sensitive"),
        ("grain sorghum", "clethodim", "established", "sensitive"),
        ("grain sorghum", "imazapic", "established", "sensitive"),
        ("grain sorghum", "sethoxydim", "dormant", "sensitive"),
        ("grain sorghum", "atrazine", "at planting", "tolerant"),
        ("white clover", "clethodim", "established", "tolerant"),
        ("soybean", "2,4-D ester", "established", "sensitive"),
        ("alfalfa", "aminopyralid", "at planting", "sensitive"),
        ("cowpea", "triclopyr ester", "seedling", "sensitive"),
        ("rape / forage brassica", "sethoxydim", "established", "tolerant"),
        ("chicory", "metsulfuron", "established", "sensitive"),
        ("buckwheat", "imazapic", "at planting", "sensitive"),
        ("white clover", "imazapic", "established", "moderate"),
        ("wild bergamot", "sulfosulfuron", "seedling", "unknown"),
    ],
)
def test_nurse_and_plot_crops_stand_what_their_kind_stands(
    plant: str, ingredient: str, timing: str, stands: str
) -> None:
    assert tables.tolerance(plant, ingredient, timing).tolerance == stands


CROPS = [name for name, row in tables.species().items() if row.group in ("nurse", "plot")]


@pytest.mark.parametrize("name", CROPS)
def test_every_crop_has_a_word_on_every_ingredient(name: str) -> None:
    for ingredient in tables.ingredients():
        for timing in ("at planting", "seedling", "established"):
            row = tables.tolerance(name, ingredient, timing)
            assert row.note != "no row in the table", (ingredient, timing)


@pytest.mark.parametrize("name", tables.woody())
def test_a_tree_stands_grass_killers_and_no_brush_killer(name: str) -> None:
    for timing in ("seedling", "established", "dormant"):
        for ingredient in ("clethodim", "sethoxydim"):
            assert tables.tolerance(name, ingredient, timing).tolerance == "tolerant"
        for ingredient in ("imazapyr", "picloram", "dicamba", "triclopyr ester", "metsulfuron"):
            assert tables.tolerance(name, ingredient, timing).tolerance == "sensitive"
    for ingredient in ("glyphosate", "2,4-D amine"):
        assert tables.tolerance(name, ingredient, "established").tolerance == "sensitive"
    assert tables.tolerance(name, "glyphosate", "at planting").tolerance == "tolerant"
    assert tables.tolerance(name, "quinclorac", "established").tolerance == "unknown"


def test_a_tree_with_no_span_of_acidity_is_refused() -> None:
    with pytest.raises(ValueError, match="ph_low must lie under ph_high"):
        replace(tables.woody()["white oak"], ph_low=7.0)


@pytest.mark.parametrize("column", ["cool_pct", "warm_pct"])
def test_a_years_growth_is_a_hundred_percent(column: str) -> None:
    assert [row.month for row in tables.growth()] == list(range(1, 13))
    assert sum(getattr(row, column) for row in tables.growth()) == 100


def test_a_caution_grants_no_permission() -> None:
    for row in tables.cautions().values():
        assert "safe" not in row.text.lower().replace(",", " ").split()


GROWTH = "month,cool_pct,warm_pct,source\n1,0,0,trade\n"
BROKEN = [
    ("month,cool_pct,warm_pct,source\n1,0,0,trade\n13,0,0,trade\n", "row 3, column month", "13"),
    ("month,cool_pct,warm_pct,source\n1,much,0,trade\n", "row 2, column cool_pct", "much"),
    ("month,cool_pct,warm_pct,source\n1,0,0,\n", "row 2, column source", "''"),
    ("month,cool_pct,warm_pct,source\n1,0,0\n", "row 2", "cells"),
    ("month,cool_pct,warm_pct,source\n1,0,0,trade,more\n", "row 2", "cells"),
    ("month,cool_pct,source\n1,0,trade\n", "row 2, column warm_pct", "required"),
    ("month,cool_pct,warm_pct,source\n", "no rows", ""),
]


@pytest.mark.parametrize(("text", "where", "what"), BROKEN, ids=[where for _, where, _ in BROKEN])
def test_a_broken_table_names_file_row_and_column(tmp_path: Path, text: str, where: str, what: str) -> None:
    path = tmp_path / "growth.csv"
    path.write_text(text)
    with pytest.raises(tables.TableError) as caught:
        tables.read_table(path, tables.GrowthShare)
    assert str(caught.value).startswith("growth.csv")
    assert where in str(caught.value)
    assert what in str(caught.value)


def test_a_sound_table_is_read(tmp_path: Path) -> None:
    path = tmp_path / "growth.csv"
    path.write_text(GROWTH)
    assert tables.read_table(path, tables.GrowthShare) == (tables.GrowthShare(1, 0, 0, "trade"),)


def test_a_key_that_stands_twice_names_its_row(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    text = (tables.FOLDER / "cautions.csv").read_text()
    (tmp_path / "cautions.csv").write_text(text + text.splitlines()[-1] + "\n")
    monkeypatch.setattr(tables, "FOLDER", tmp_path)
    tables.cautions.cache_clear()
    try:
        with pytest.raises(tables.TableError, match=r"cautions\.csv, row \d+, column key: '.+' stands twice"):
            tables.cautions()
    finally:
        tables.cautions.cache_clear()


def test_what_is_said_of_a_program_ends_as_a_sentence() -> None:
    said = [words for row in tables.programs().values() for words in (row.summary, row.caution, row.way_out)]
    assert not [words for words in said if words and not words.endswith(".")]
