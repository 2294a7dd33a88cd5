"""Practice standards and the outlook: computed from the plan, and silent where a plan cannot tell."""

from __future__ import annotations

from dataclasses import replace
from datetime import date

import pytest

from plans.planning import tables
from plans.planning.job import Mix, MixLine
from plans.planning.outlook import outlook
from plans.planning.plan import Plan
from plans.planning.planner import plan_job
from plans.planning.standards import CHECKS, CONCERNS, Standard, ask_rows, standard_rows, standards
from tests.planning import make

TODAY = date(2026, 11, 25)
FILE = make.example()


def planned(**changes: object) -> Plan:
    field = replace(FILE.job.conversions[0], **changes)
    return plan_job(replace(FILE.job, conversions=(field,)), FILE.prices, TODAY)


def held(plan: Plan, number: str) -> Standard | None:
    return next((one for one in standards(plan) if one.number == number), None)


def verdicts(plan: Plan, number: str) -> dict[str, str]:
    found = held(plan, number)
    assert found is not None
    return {one.asks: one.verdict for one in found.judged}


def test_every_ask_has_its_check_and_every_standard_its_fields() -> None:
    assert {row.ask for row in ask_rows()} == set(CHECKS)
    assert {row.number for row in ask_rows()} == set(standard_rows()) == set(CONCERNS)


def test_cover_is_judged_by_what_is_planned() -> None:
    found = verdicts(planned(), "327")
    assert found["site preparation that ends the weeds"] == "meets"
    assert found["rates and methods adequate for the purpose"] == "meets"
    assert found["inoculated legumes"] == "cannot be told"
    # two clippings of the first summer fall between April 15 and August 1
    assert found["no mowing or burning while ground birds nest"] == "does not meet"
    clipped = next(one for one in held(planned(), "327").judged if "nest" in one.asks)
    assert "Clip weeds over the seedlings" in clipped.because


def test_a_thin_mix_does_not_meet_its_rate() -> None:
    mix = replace(FILE.job.conversions[0].mix, seeds_per_sqft=8.0)
    assert verdicts(planned(mix=mix), "327")["rates and methods adequate for the purpose"] == "does not meet"


def bee_mix(*species: str) -> Mix:
    share = 100 / len(species)
    lines = tuple(MixLine(species=name, amount=share) for name in species)
    return Mix(name="Bees", basis="share of seed", seeds_per_sqft=45.0, lines=lines)


@pytest.mark.parametrize(
    ("species", "verdict"),
    [
        # Three kinds in each of three seasons: Indiana pollinator job sheet 2012.
        (
            "golden alexanders;foxglove beardtongue;lanceleaf coreopsis;wild bergamot;purple coneflower;"
            "black-eyed Susan;New England aster;showy goldenrod;stiff goldenrod",
            "meets",
        ),
        ("lanceleaf coreopsis;wild bergamot;purple coneflower;black-eyed Susan", "does not meet"),
    ],
)
def test_pollinators_need_three_kinds_in_bloom_in_each_season(species: str, verdict: str) -> None:
    plan = planned(purpose="pollinators", mix=bee_mix(*species.split(";")))
    found = verdicts(plan, "420")
    assert (
        found["for pollinators three or more kinds in bloom in each of three parts of the season"] == verdict
    )


def test_forage_is_no_conservation_cover_and_a_burn_needs_a_plan_of_its_own() -> None:
    forage = planned(purpose="forage")
    assert held(forage, "327") is None and held(forage, "512") is not None
    assert held(forage, "338") is None
    burned = verdicts(planned(options=("burn",)), "338")
    assert burned["firebreaks"] == "meets"
    assert "does not meet" in burned.values()


def test_only_annuals_and_short_lived_kinds_bloom_in_the_first_year() -> None:
    (found,) = outlook(planned())
    by_number = {stage.number: stage for stage in found.stages}
    first = {name for look in by_number[1].looks for name in look.blooms}
    later = {name for look in by_number[3].looks for name in look.blooms}
    assert first and all(tables.species()[name].life != "perennial" for name in first)
    assert first < later
    assert [stage.first for stage in found.stages] == sorted(stage.first for stage in found.stages)
    assert not by_number[0].looks[0].words, "work begins in July: nothing is to be told of that spring"


def test_what_is_sown_in_the_cold_comes_up_in_the_year_after() -> None:
    spring, cold = planned(), planned(seeding="dormant")

    def first_summer(plan: Plan) -> int:
        (found,) = outlook(plan)
        return next(stage.first for stage in found.stages if stage.number == 1)

    sown = next(task for task in cold.tasks if task.operation == "no_till_drilling")
    assert first_summer(cold) == sown.earliest.year + 1 == first_summer(spring) + 1


@pytest.mark.parametrize("purpose", tables.purposes())
def test_every_purpose_has_a_stand_to_look_forward_to(purpose: str) -> None:
    (found,) = outlook(planned(purpose=purpose))
    assert all(look.words for look in found.stages[-1].looks) and found.stages[-1].number == 3


def test_every_plant_says_what_it_gives() -> None:
    assert set(tables.gives()) == set(tables.species()) | set(tables.woody())


@pytest.mark.parametrize("seeding", tables.seedings())
def test_whatever_is_planned_can_be_looked_forward_to_and_held_against_standards(seeding: str) -> None:
    plan = make.plan(make.sown_by(seeding))
    assert all(one.judged for one in standards(plan)) and all(one.stages for one in outlook(plan))
