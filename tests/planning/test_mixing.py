"""The least-cost mix against every other mix, on cases small enough to look at them all."""

from __future__ import annotations

import json
from collections.abc import Iterator
from dataclasses import fields, replace
from decimal import Decimal
from typing import Any

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from plans.planning import mix_reckoning, mixing, seed, tables
from plans.planning.mixing import MixAnswer, compare, least_cost_mix
from plans.planning.price_list import SeedPrice
from plans.planning.reckoner import reckon
from plans.planning.targets import Candidate, Goal, Targets, candidate, from_lot, targets_for
from plans.planning.wire import BadInput

PRICES = {
    "big bluestem": "12",
    "little bluestem": "14",
    "sideoats grama": "13",
    "switchgrass": "9",
    "partridge pea": "9",
    "black-eyed Susan": "22",
    "purple coneflower": "35",
    "lanceleaf coreopsis": "20",
    "plains coreopsis": "18",
    "Indian blanket": "20",
    "foxglove beardtongue": "80",
    "wild bergamot": "90",
    "New England aster": "300",
    "stiff goldenrod": "200",
    "butterfly milkweed": "250",
    "purple prairie clover": "40",
}


def priced(prices: dict[str, str] | None = None) -> list[Candidate]:
    return [candidate(name, Decimal(usd)) for name, usd in (prices or PRICES).items()]


def goal(low: float = 40, high: float = 60, **more: Any) -> Goal:
    aims = {field.name for field in fields(Targets)}
    own = {key: value for key, value in more.items() if key in aims}
    wishes = {key: value for key, value in more.items() if key not in aims}
    return Goal(targets=Targets(seeds_per_sqft_low=low, seeds_per_sqft_high=high, **own), **wishes)


def densities(answer: MixAnswer) -> dict[str, float]:
    assert answer.mix is not None, answer.conflict
    return {part.species: float(part.seeds_per_sqft.value) for part in answer.mix.parts}


def usd(answer: MixAnswer) -> Decimal:
    assert answer.mix is not None, answer.conflict
    return Decimal(answer.mix.usd_per_acre.value)


def price_of(answer: MixAnswer, key: str) -> Decimal:
    return Decimal(next(price for price in answer.prices if price.key == key).usd_per_acre.value)


def splits(whole: int, parts: int) -> Iterator[tuple[int, ...]]:
    if parts == 1:
        yield (whole,)
        return
    for first in range(whole + 1):
        for rest in splits(whole - first, parts - 1):
            yield first, *rest


@pytest.mark.parametrize(
    "more",
    [
        {},
        {"grass_share_pct_low": 30, "grass_share_pct_high": 50},
        {"late_species": 1, "one_species_share_pct_high": 60},
        {"tall_share_pct_low": 40, "flower_species": 2},
        {"worth": "pollinators", "worth_share_pct_low": 50, "early_species": 1, "mid_species": 1},
        {"grass_share_pct_low": 60, "flower_species": 3, "species_seeds_per_sqft_low": 0.02},
        {"grass_share_pct_low": 60, "flower_species": 3, "species_seeds_per_sqft_low": 0.05},
    ],
)
def test_no_mix_on_the_whole_grid_is_cheaper(more: dict[str, Any]):
    # A dollar dear enough that the cents decide: 12 hundredths of a seed, all ways of parting them.
    names = ("big bluestem", "sideoats grama", "New England aster", "lanceleaf coreopsis", "wild bergamot")
    items = [candidate(name, Decimal(PRICES[name]) * 1000) for name in names]
    asked = goal(0.12, 0.12, **{"species_seeds_per_sqft_low": 0.02, **more})
    least = round(asked.targets.species_seeds_per_sqft_low * 100)
    mixes = {
        str(split): {name: part / 100 for name, part in zip(names, split, strict=True) if part}
        for split in splits(12, len(names))
        if all(part == 0 or part >= least for part in split)
    }
    feasible = [look for look in compare(asked, items, mixes) if not look.missed]
    answer = least_cost_mix(asked, items)
    if answer.mix is None:
        assert not feasible
    else:
        assert usd(answer) == min(look.usd_per_acre.value for look in feasible)
        assert not answer.mix.missed


HAND = ("big bluestem", "little bluestem", "sideoats grama")
FLOWERS = ("black-eyed Susan", "New England aster", "partridge pea", "Maximilian sunflower")
MONEY = st.integers(100, 50_000).map(lambda cents: Decimal(cents) / 100)
SEEDS = st.integers(20, 900).map(lambda count: count / 100)


@given(
    usd_per_lb=st.tuples(*[MONEY] * 7),
    grasses=st.dictionaries(st.sampled_from(HAND), SEEDS, min_size=1),
    flowers=st.dictionaries(st.sampled_from(FLOWERS), SEEDS, min_size=2),
)
def test_a_mix_made_by_hand_is_never_cheaper(
    usd_per_lb: tuple[Decimal, ...], grasses: dict[str, float], flowers: dict[str, float]
):
    asked = goal(2, 100, grass_share_pct_low=20, grass_share_pct_high=80, late_species=1, flower_species=2)
    items = [candidate(name, price) for name, price in zip(HAND + FLOWERS, usd_per_lb, strict=True)]
    (look,) = compare(asked, items, {"by hand": grasses | flowers})
    assume(not look.missed)
    assert usd(least_cost_mix(asked, items)) <= Decimal(look.usd_per_acre.value) + Decimal("0.04")


def test_the_answer_meets_what_it_was_asked_and_does_not_hang_on_the_order_of_typing():
    asked = Goal(targets=targets_for("pollinators"), moisture="mesic", ph=6.5)
    answer = least_cost_mix(asked, priced())
    assert answer.mix is not None and not answer.mix.missed
    assert least_cost_mix(asked, priced()[::-1]) == answer == least_cost_mix(asked, priced())
    assert float(answer.mix.seeds_per_sqft.value) == pytest.approx(sum(densities(answer).values()))
    assert usd(answer) == sum(Decimal(part.usd_per_acre.value) for part in answer.mix.parts)
    for season, names in answer.mix.blooming.items():
        assert len(names) >= getattr(asked.targets, f"{season}_species")


def test_a_target_costs_what_the_mix_would_be_cheaper_without_it():
    # By hand: 10 seeds/ft² of partridge pea, of which 0.2 give way to the aster.
    prices = {"partridge pea": "6.50", "New England aster": "300"}
    pea, aster = (
        Decimal(prices[name]) * 43_560 / Decimal(tables.species()[name].seeds_per_lb) for name in prices
    )
    items = priced(prices)
    asked = goal(10, 20, late_species=2, species_seeds_per_sqft_low=0.2)
    answer = least_cost_mix(asked, items)
    assert densities(answer) == {"New England aster": 0.2, "partridge pea": 9.8}
    assert abs(price_of(answer, "bloom_late") - Decimal("0.2") * (aster - pea)) < Decimal("0.02")
    assert abs(price_of(answer, "density_low") - pea) < Decimal("0.02")
    assert price_of(answer, "density_high") == 0


DROPPED: dict[str, dict[str, Any]] = {
    "density_high": {"seeds_per_sqft_high": 500},
    "grass_low": {"grass_share_pct_low": 0},
    "grass_high": {"grass_share_pct_high": 100},
    "tall_low": {"tall_share_pct_low": 0},
    "tall_high": {"tall_share_pct_high": 100},
    "bloom_early": {"early_species": 0},
    "bloom_mid": {"mid_species": 0},
    "bloom_late": {"late_species": 0},
    "flower_species": {"flower_species": 0},
    "one_species": {"one_species_share_pct_high": 100},
    "legumes": {"introduced_legume_share_pct_together": 100},
    "legume_each": {"introduced_legume_share_pct_each": 100},
    "height": {"height_in_high": None},
    "pushy": {"flower_mix": False},
    "worth": {"worth_share_pct_low": 0},
}


def dropped(asked: Goal, items: list[Candidate], key: str) -> MixAnswer:
    kind, _, name = key.partition(":")
    if kind == "budget":
        asked = replace(asked, budget_usd_per_acre=None)
    elif kind == "soil":
        asked = replace(asked, moisture=None, ph=None)
    elif kind in ("wanted", "unwanted"):
        asked = replace(asked, **{kind: tuple(other for other in getattr(asked, kind) if other != name)})
    elif kind == "most":
        items = [replace(item, high_per_sqft=None) if item.species == name else item for item in items]
    elif kind == "density_low":
        # The least that is a mix at all.
        asked = replace(asked, targets=replace(asked.targets, seeds_per_sqft_low=0.01))
    else:
        asked = replace(asked, targets=replace(asked.targets, **DROPPED[kind]))
    return least_cost_mix(asked, items)


@pytest.mark.parametrize(
    ("asked", "items"),
    [
        (goal(early_species=3), priced({"big bluestem": "9", "foxglove beardtongue": "80"})),
        (goal(40, 60, budget_usd_per_acre=Decimal(20), late_species=2), priced()),
        (goal(40, 60, grass_share_pct_low=60, height_in_high=30), priced()),
        (goal(40, 60, grass_share_pct_low=60, tall_share_pct_high=20, unwanted=("sideoats grama",)),
         priced({"big bluestem": "9", "sideoats grama": "9", "partridge pea": "9"})),
        (goal(40, 60, moisture="wet", grass_share_pct_low=50),
         priced({"sideoats grama": "9", "blue vervain": "9"})),
        (goal(10, 20, wanted=("New England aster",), budget_usd_per_acre=Decimal(3)),
         priced({"switchgrass": "1", "New England aster": "300"})),
        (goal(40, 60, flower_mix=True, grass_share_pct_low=25),
         priced({"switchgrass": "9", "big bluestem": "9", "wild bergamot": "90"})),
        (goal(10, 20, introduced_legume_share_pct_together=20, grass_share_pct_high=50),
         priced({"white clover": "4", "big bluestem": "9"})),
        (goal(10, 20, one_species_share_pct_high=30), priced({"big bluestem": "9", "switchgrass": "9"})),
        (goal(10, 20, mid_species=2, late_species=2, budget_usd_per_acre=Decimal(1)), priced()),
    ],
)  # fmt: skip
def test_of_what_cannot_be_met_together_nothing_can_be_spared(asked: Goal, items: list[Candidate]):
    answer = least_cost_mix(asked, items)
    assert answer.mix is None and not answer.prices
    assert answer.conflict and len(answer.conflict) == len(answer.conflict_keys)
    alone = only(asked, answer.conflict_keys)
    assert least_cost_mix(alone, items).mix is None, "the set by itself can be met"
    for key in answer.conflict_keys:
        assert dropped(alone, items, key).mix is not None, f"{key} can be spared"


def test_of_several_conflicts_the_smallest_is_named():
    """Too tall a grass for its share takes two targets to clash; three early bloomers of one species, one."""
    asked = goal(40, 60, grass_share_pct_low=60, height_in_high=60, early_species=3)
    answer = least_cost_mix(asked, priced({"big bluestem": "9", "foxglove beardtongue": "80"}))
    assert [key.partition(":")[0] for key in answer.conflict_keys] == ["bloom_early"]


def only(asked: Goal, keys: tuple[str, ...]) -> Goal:
    """The goal with every target but the named ones taken off."""
    kinds = {key.partition(":")[0] for key in keys}
    free = {name: value for kind, own in DROPPED.items() if kind not in kinds for name, value in own.items()}
    if "density_low" not in kinds:
        free["seeds_per_sqft_low"] = 0.01
    return Goal(
        targets=replace(asked.targets, **free),
        moisture=asked.moisture if "soil" in kinds else None,
        ph=asked.ph if "soil" in kinds else None,
        budget_usd_per_acre=asked.budget_usd_per_acre if "budget" in kinds else None,
        wanted=tuple(name for name in asked.wanted if f"wanted:{name}" in keys),
        unwanted=tuple(name for name in asked.unwanted if f"unwanted:{name}" in keys),
    )


def test_a_budget_too_small_is_said_with_what_would_be_enough():
    asked = goal(40, 60, late_species=2)
    needed = usd(least_cost_mix(asked, priced()))
    assert usd(least_cost_mix(replace(asked, budget_usd_per_acre=needed), priced())) == needed
    short = least_cost_mix(replace(asked, budget_usd_per_acre=needed - Decimal("0.01")), priced())
    assert "budget" in short.conflict_keys
    assert short.usd_without_budget is not None and short.usd_without_budget.value == needed


def test_wishes_ground_and_ceilings_are_kept():
    asked = goal(20, 30, wanted=("butterfly milkweed",), unwanted=("partridge pea",), moisture="mesic")
    mix = densities(least_cost_mix(asked, priced()))
    assert mix["butterfly milkweed"] == 0.2 and "partridge pea" not in mix
    wet = densities(least_cost_mix(goal(20, 30, moisture="wet", ph=6.5), priced()))
    assert all("wet" in tables.species()[name].moisture for name in wet)
    low = densities(least_cost_mix(goal(20, 30, height_in_high=30), priced()))
    assert all(tables.species()[name].height_in <= 30 for name in low)
    capped = [replace(item, high_per_sqft=3.0) for item in priced()]
    assert max(densities(least_cost_mix(goal(20, 30), capped)).values()) <= 3


def test_tall_grasses_that_crowd_flowers_are_held_back_in_a_flower_mix_only():
    prices = PRICES | {"switchgrass": "0.10"}
    asked = goal(30, 60, grass_share_pct_low=40, flower_mix=True)
    assert densities(least_cost_mix(asked, priced(prices)))["switchgrass"] == 1.0
    free = replace(asked, targets=replace(asked.targets, flower_mix=False))
    assert densities(least_cost_mix(free, priced(prices)))["switchgrass"] == 30.0


def test_introduced_legumes_are_held_to_their_shares():
    prices = {"white clover": "0.10", "red clover": "0.10", "alfalfa": "0.10", "wild bergamot": "90"}
    asked = goal(20, 30, introduced_legume_share_pct_each=10, introduced_legume_share_pct_together=20)
    mix = densities(least_cost_mix(asked, priced(prices)))
    assert mix["wild bergamot"] == 16.0
    assert max(dense for name, dense in mix.items() if name != "wild bergamot") <= 2.0


def test_nurse_and_plot_crops_are_sown_beside_the_mix():
    answer = least_cost_mix(goal(20, 30), priced({"oats": "0.01", "buckwheat": "0.01", "switchgrass": "9"}))
    assert set(densities(answer)) == {"switchgrass"}
    assert set(answer.left_out) == {"oats", "buckwheat"}
    with pytest.raises(ValueError, match="wanted: oats"):
        least_cost_mix(goal(20, 30, wanted=("oats",)), priced({"oats": "0.01", "switchgrass": "9"}))


def test_a_bulk_price_is_turned_to_a_live_one_once():
    lot = SeedPrice(
        species="big bluestem",
        price_usd_per_lb=Decimal(6),
        basis="bulk",
        purity_pct=80,
        germination_pct=50,
        dormant_pct=25,
    )
    assert from_lot(lot).usd_per_pls_lb == 10
    assert from_lot(replace(lot, basis="PLS")).usd_per_pls_lb == 6
    assert from_lot(replace(lot, seeds_per_lb=150_000.0)).seeds_per_lb == 150_000


def test_three_mixes_stand_side_by_side():
    asked = Goal(targets=targets_for("pollinators"), moisture="mesic", ph=6.5)
    answer = least_cost_mix(asked, priced())
    items = [*priced(), candidate("oats", Decimal("0.4"))]
    mixes = {
        "least-cost mix": densities(answer),
        "chosen": {"big bluestem": 10.0, "partridge pea": 30.0},
        "by hand": {"switchgrass": 20.0, "oats": 10.0, "New England aster": 0.1},
    }
    least, chosen, hand = compare(asked, items, mixes)
    assert least.usd_per_acre.value == usd(answer) and not least.missed
    assert (
        float(chosen.grass_share_pct.value) == 25 and "at most 2 seeds/ft² of big bluestem" in chosen.missed
    )
    assert chosen.blooming == {"early": (), "mid": ("partridge pea",), "late": ("partridge pea",)}
    assert hand.blooming["late"] == (), "too thin to count"
    assert float(hand.grass_share_pct.value) == pytest.approx(100 * 20 / 30.1)


def test_the_answer_becomes_a_mix_of_the_plan():
    answer = least_cost_mix(Goal(targets=targets_for("nesting and brood cover")), priced())
    rates = seed.mix_rates(answer.as_mix("Cheapest", "broadcast"), {})
    assert {rate.species: rate.seeds_per_sqft for rate in rates} == pytest.approx(densities(answer))
    nothing = least_cost_mix(goal(early_species=9), priced())
    with pytest.raises(ValueError, match="no mix"):
        nothing.as_mix("None")


@pytest.mark.parametrize(
    ("asked", "prices", "says"),
    [
        (goal(wanted=("kudzu",)), {"switchgrass": "9"}, "wanted: 'kudzu'"),
        (goal(unwanted=("swichgrass",)), {"switchgrass": "9"}, "unwanted: 'swichgrass'"),
        (goal(wanted=("switchgrass",), unwanted=("switchgrass",)), {"switchgrass": "9"}, "as well"),
    ],
)
def test_a_wish_that_cannot_be_read_is_named(asked: Goal, prices: dict[str, str], says: str):
    with pytest.raises(ValueError, match=says):
        least_cost_mix(asked, priced(prices))


def test_other_bad_inputs_are_named():
    with pytest.raises(ValueError, match="species: switchgrass stands twice"):
        least_cost_mix(goal(), priced({"switchgrass": "9"}) * 2)
    with pytest.raises(ValueError, match="seeds_per_sqft_low: 60 is over"):
        goal(60, 40)
    with pytest.raises(ValueError, match="purpose: 'lawn'"):
        targets_for("lawn")
    with pytest.raises(ValueError, match="species: 'kudzu'"):
        candidate("kudzu", Decimal(1))
    with pytest.raises(ValueError, match="out of reach"):
        least_cost_mix(goal(), [candidate("switchgrass", Decimal(10) ** 7, 1e-6)])
    for none in ([], priced({"oats": "1"})):
        with pytest.raises(ValueError, match="species: give at least one"):
            least_cost_mix(goal(), none)
    for mixes, says in (
        ({"mine": {"kudzu": 3.0}}, "mixes.mine: 'kudzu'"),
        ({"mine": {}}, "mixes.mine"),
        ({"mine": {"switchgrass": 0.0}}, "mixes.mine"),
    ):
        with pytest.raises(ValueError, match=says):
            compare(goal(), priced(), mixes)


def asked_on_the_command_line(**more: Any) -> dict[str, Any]:
    species = [{"species": name, "usd_per_pls_lb": float(usd)} for name, usd in PRICES.items()]
    given: dict[str, Any] = {"purpose": "pollinators", "acres": 12.5, "species": species} | more
    return reckon("least_cost_mix", json.dumps(given))


def test_the_reckoning_gives_pounds_dollars_and_target_prices():
    found = asked_on_the_command_line(moisture="mesic", ph=6.5)
    answer = least_cost_mix(Goal(targets=targets_for("pollinators"), moisture="mesic", ph=6.5), priced())
    assert found["usd_per_acre"]["value"] == float(usd(answer))
    for name, dense in densities(answer).items():
        line = found["species"][name]
        assert line["seeds_per_sqft"]["value"] == pytest.approx(dense)
        assert line["pls_lb"]["value"] == pytest.approx(12.5 * line["pls_lb_per_acre"]["value"])
        assert line["usd"]["value"] == pytest.approx(line["pls_lb"]["value"] * float(PRICES[name]), abs=0.006)
    assert found["usd"]["value"] == pytest.approx(sum(x["usd"]["value"] for x in found["species"].values()))
    assert found["target_prices"]["at least 30 seeds/ft²"]["value"] > 0


def test_the_reckoning_says_what_cannot_be_met():
    assert asked_on_the_command_line(targets={"early_species": 6})["conflict"] == {
        "1": "at least 6 species in bloom early (March to May; 4 can serve)"
    }
    assert asked_on_the_command_line(budget_usd_per_acre=5)["usd_without_budget"]["value"] > 5


@pytest.mark.parametrize(
    ("more", "says"),
    [
        ({"purpose": "food plot"}, "purpose: "),
        ({"acres": 0}, "acres: "),
        ({"species": []}, "species: "),
        ({"species": [{"species": "kudzu", "usd_per_pls_lb": 3}]}, "species: 'kudzu'"),
        ({"species": [{"species": "switchgrass", "usd_per_pls_lb": -1}]}, "usd_per_pls_lb"),
        ({"targets": {"grass": 3}}, "targets.grass: "),
        ({"targets": {"seeds_per_sqft_low": 90}}, "targets.seeds_per_sqft_low: 90"),
        ({"ph": 99}, "ph: "),
        ({"wanted": ["oak"]}, "wanted: 'oak'"),
    ],
)
def test_the_reckoning_names_a_bad_input(more: dict[str, Any], says: str):
    with pytest.raises(BadInput, match=says):
        asked_on_the_command_line(**more)


def test_own_targets_are_those_of_the_solver():
    assert set(mix_reckoning.OwnTargets.model_fields) == {field.name for field in fields(Targets)}


@pytest.mark.parametrize("limit", [1e-9, 0.002])
def test_work_is_limited_by_a_count_over_all_solutions_and_not_by_the_clock(limit: float):
    with pytest.raises(mixing.TooHard, match="species: "):
        least_cost_mix(Goal(targets=targets_for("pollinators")), priced(), work_limit=limit)


def test_a_nurse_crop_in_a_hand_made_mix_is_no_wildflower():
    items = priced({"big bluestem": "12", "partridge pea": "9", "oats": "0.6"})
    (look,) = compare(
        goal(5, 60, flower_species=2), items, {"sown": {"big bluestem": 9, "partridge pea": 9, "oats": 9}}
    )
    assert look.missed == ("at least 2 kinds of wildflower (1 can serve)",)
