"""What a walk-over suggests, why, and what would change it."""

from __future__ import annotations

from datetime import date
from typing import Any

import pytest

from plans.planning import tables
from plans.planning.job import Climate
from plans.planning.suggestion import facts_of, rows, seasons, suggest
from plans.planning.walked import Cover, Walk, Weed, Woody, growing, kind_of, measures

CLIMATE = Climate(
    place="an invented place",
    monthly_mean_f=(28.0, 33.0, 43.0, 54.0, 64.0, 73.0, 77.0, 76.0, 68.0, 56.0, 44.0, 33.0),
    last_spring_freeze="04-15",
    first_fall_freeze="10-20",
)
JUNE, JANUARY, AUGUST = date(2026, 6, 2), date(2026, 1, 20), date(2026, 8, 1)
NESTING = "nesting and brood cover"


def walk(on: date = JUNE, weeds: dict[str, Any] | None = None, **values: Any) -> Walk:
    """`walk(tall_fescue=80)`: shares by name; what else a walk takes by its own name."""
    own = {name: values.pop(name) for name in ("woody", "thatch_in", "bare_pct") if name in values}
    covers = tuple(Cover(name.replace("_", " "), share) for name, share in values.items())
    return Walk(on, covers, tuple(Weed(*pair) for pair in (weeds or {}).items()), **own)


def program(found: Walk, slope_pct: float = 2, purpose: str = NESTING) -> str:
    choice = suggest(found, slope_pct, purpose, CLIMATE).program
    return choice.key if choice else ""


@pytest.mark.parametrize(
    ("found", "key"),
    [
        (walk(tall_fescue=80), "sod_fall_spring"),
        (walk(smooth_brome=60, tall_fescue=20), "brome_fall_spring"),
        (walk(tall_fescue=70, bermuda=6), "bermuda_summer"),
        (walk(tall_fescue=70, weeds={"bermudagrass": "patches"}), "bermuda_summer"),
        (walk(tall_fescue=70, weeds={"bermudagrass": "few"}), "sod_fall_spring"),
        (walk(tall_fescue=70, weeds={"Johnson grass": "throughout"}), "johnson_summer"),
        (walk(tall_fescue=70, sericea=5), "sericea_two_summers"),
        (walk(tall_fescue=50, big_bluestem=30), "release_native"),
        (walk(tall_fescue=80, big_bluestem=10), "sod_fall_spring"),
        (walk(soybean_stubble=70), "stubble_burndown"),
        (walk(foxtail=60), "fallow_two_pass"),
        (walk(foxtail=60, weeds={"marestail": "patches"}), "resistant_annuals"),
        (walk(tall_fescue=70, weeds={"marestail": "patches"}), "sod_fall_spring"),
        (walk(tall_fescue=70, woody=(Woody("cedar", "brush", 120),)), "brush_clear_kill"),
        (walk(tall_fescue=70, woody=(Woody("cedar", "sprout", 120),)), "sod_fall_spring"),
        (walk(tall_fescue=70, woody=(Woody("cedar", "sprout", 450),)), "brush_clear_kill"),
        (walk(pansies=100), ""),
    ],
)
def test_the_worst_trouble_decides(found: Walk, key: str) -> None:
    assert program(found) == key


def test_a_suggestion_says_why_with_a_source_and_what_would_change_it() -> None:
    found = suggest(walk(tall_fescue=70, bermuda=3, thatch_in=2.5), 3, NESTING, CLIMATE)
    assert found.program and found.runner_up and found.seeding
    assert found.program.reason.words.startswith("Cool-season grass covers 70 % of the ground.")
    assert "Washburn" in found.program.reason.source
    assert found.runner_up.key == "sod_spring_only"
    assert "Bermudagrass on 5 % of the ground would make it: Summer kill of bermudagrass." in found.changes
    assert [choice.key for choice in found.options] == ["hay_first"]
    assert "2.5 in deep" in found.options[0].reason.words
    assert found.choices == {
        "kill_program": "sod_fall_spring",
        "seeding": "drill",
        "options": ["hay_first"],
    }


def test_two_troubles_make_the_second_the_runner_up() -> None:
    found = suggest(walk(tall_fescue=70, bermuda=6), 3, NESTING, CLIMATE)
    assert found.runner_up and found.runner_up.key == "sod_fall_spring"
    assert (
        "Without bermudagrass on 5 % of the ground it would be: Fall and spring kill of cool-season sod."
        in (found.changes)
    )


@pytest.mark.parametrize(
    ("purpose", "slope_pct", "bare_pct", "key"),
    [
        (NESTING, 2, 0, "drill"),
        ("pollinators", 2, 0, "dormant"),
        ("pollinators", 7, 0, "drill"),
        (NESTING, 2, 70, "broadcast"),
        (NESTING, 6, 70, "drill"),
        ("food plot", 2, 0, "plot_spring_drill"),
        ("tree and shrub planting", 2, 0, "tree_planting"),
    ],
)
def test_how_the_seed_goes_in_follows_purpose_slope_and_bare_ground(
    purpose: str, slope_pct: float, bare_pct: float, key: str
) -> None:
    found = suggest(walk(tall_fescue=30, bare_pct=bare_pct), slope_pct, purpose, CLIMATE)
    assert found.seeding and found.seeding.key == key
    assert found.program and key in tables.programs()[found.program.key].seedings


def test_a_season_in_which_something_is_hidden_says_look_again() -> None:
    summer, winter, rest = (
        suggest(walk(on, tall_fescue=80), 2, NESTING, CLIMATE) for on in (JUNE, JANUARY, AUGUST)
    )
    assert summer.look_again == ()
    assert any("Bermudagrass" in again.words and "April" in again.words for again in winter.look_again)
    assert any("Cool-season grass rests" in again.words for again in rest.look_again)
    assert any("Bermudagrass in patches" in words or "in patches would" in words for words in winter.changes)
    assert not any("ermudagrass" in words for words in summer.changes)


def test_what_no_table_knows_is_named_and_decides_nothing() -> None:
    found = suggest(walk(pansies=60, foxtail=40), 2, NESTING, CLIMATE)
    assert found.unknown == ("pansies",)
    assert found.program and found.program.key == "fallow_two_pass"


def test_the_facts_of_a_field_follow_from_a_walk_over() -> None:
    found = walk(
        smooth_brome=80,
        weeds={"musk thistle": "patches"},
        woody=(Woody("eastern redcedar", "brush", 40),),
        thatch_in=0.7,
    )
    facts = facts_of(found, 2, CLIMATE)
    assert (facts.cover, facts.thatch) == ("smooth brome", "light")
    assert facts.weeds == "musk thistle in patches"
    assert facts.woody_plants == "eastern redcedar, 40 stems an acre"
    assert facts_of(walk(pansies=100), 2, CLIMATE).cover is None


@pytest.mark.parametrize(
    ("text", "kind"),
    [
        ("Tall Fescue", "cool-season sod"),
        ("old fescues, mown", "cool-season sod"),
        ("downy brome", "annual weed"),
        ("brome", "smooth brome"),
        ("cedars", "woody"),
        ("<b>bermuda</b>", "bermudagrass"),
        ("elmer’s glue", None),
        ("", None),
    ],
)
def test_free_text_is_sorted_by_whole_words(text: str, kind: str | None) -> None:
    assert kind_of(text) == kind


def test_the_tables_meet_the_others() -> None:
    everything = measures(Walk(JUNE, thatch_in=0), 0)
    keys = {
        "program": tables.programs(),
        "runner-up": tables.programs(),
        "seeding": tables.seedings(),
        "option": tables.options(),
        "thatch": {"heavy", "light", "none"},
    }
    for row in rows():
        assert row.key in keys[row.chooses], row.key
        row.words.format(**everything)
        for condition in row.when:
            name = condition.replace("<", "=").replace(">", "=").partition("=")[0]
            assert name in {*everything, "purpose", "program", "seeding"}, condition
    for season in seasons().values():
        assert {season.opens, season.closes, season.look} <= set(tables.moment_rules())
        assert set(season.measures) <= set(everything)
    assert all(set(row.lists) <= {"cover", "weed", "stem"} for row in growing().values())
