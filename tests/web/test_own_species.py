"""Species that a practice adds: into mixes, prices, plans and prints, and from a list."""

from __future__ import annotations

from io import BytesIO
from typing import Any

import pytest
from django_scopes import scope
from pypdf import PdfReader

from plans.models import Mix, OwnSpecies, Plan, Proposal
from plans.planning import tables, wire
from plans.selectors import plans_whole, prices_for, reckon
from tests.conftest import Cast
from tests.factories import make_seed_price
from tests.plan_factories import (
    SPECIES,
    TODAY,
    make_mix,
    make_offered,
    make_own_species,
    make_ready_plan,
)
from tests.web.test_in_out import bring, take

pytestmark = pytest.mark.django_db
GRASS = "plains lovegrass"


def form(**changes: Any) -> dict[str, Any]:
    row = {name: getattr(OwnSpecies(), name) for name in OFFERED}
    given = {
        "common_name": GRASS, "scientific_name": "Eragrostis intermedia", "group": "grass",
        "family": "Poaceae", "season": "warm", "native_range": "southern plains", "seeds_per_lb": "1,000,000",
        "seeds_per_lb_low": 900_000, "seeds_per_lb_high": 1_200_000, "box": "small",
        "full_stand_lb_pls_per_acre_low": 1, "full_stand_lb_pls_per_acre_high": 2, "height_in": 36,
        "gives": "nesting cover in dry ground", "source": "invented for this test",
    }  # fmt: skip
    return {name: "" if value is None else value for name, value in (row | given | changes).items()}


OFFERED = (
    "life depth_in_min depth_in_max bloom_months bloom_colour moisture ph_low ph_high shade "
    "stratification_days value_bedding_cover value_nesting_brood value_pollinators value_erosion "
    "value_forage flower_mix_max_per_sqft status"
).split()


def with_the_grass(cast: Cast) -> Plan:
    """A plan whose mix has the practice's own grass beside three of the table."""
    make_own_species(cast.practice)
    plan = make_ready_plan(cast.practice)
    make_seed_price(cast.practice, species=GRASS, tested_on=TODAY.replace(month=9), lot="INV-pla")
    with scope(practice=cast.practice):
        ours = make_mix(cast.practice, "Dry meadow", SPECIES | {GRASS: 20.0, "indiangrass": 10.0})
        plan.conversions.update(mix=ours)
    return plan


def test_one_is_added_and_goes_into_a_mix_and_a_price(cast: Cast) -> None:
    browser = cast.browser(cast.planner)
    assert browser.post(cast.url("prices/species/new/"), form()).status_code == 302
    assert "Eragrostis intermedia" in browser.get(cast.url("prices/species/")).content.decode()
    assert GRASS in browser.get(cast.url("prices/seed/new/")).content.decode()
    mix = {
        "name": "Dry", "basis": "share of seed", "seeds_per_sqft": 40, "rate_is_for": "broadcast", "save": "",
        "lines-TOTAL_FORMS": 1, "lines-INITIAL_FORMS": 0, "lines-0-species": GRASS, "lines-0-amount": 100,
    }  # fmt: skip
    answer = browser.post(cast.url("mixes/new/"), mix)
    assert answer.status_code == 302, answer.content.decode()
    with scope(practice=cast.practice):
        assert [line.species for line in Mix.objects.get().lines.all()] == [GRASS]


def test_a_plan_reckons_with_its_figures_and_the_proposal_prints_them(cast: Cast) -> None:
    plan = with_the_grass(cast)
    with scope(practice=cast.practice):
        outcome = reckon(plans_whole().get(pk=plan.pk), prices_for(cast.practice), TODAY).outcome
    (line,) = [line for line in outcome.seed[0].lines if line.species == GRASS]
    # a fifth of 40 seeds on each of an acre's 43,560 ft², a million to the pound
    assert line.seeds_per_sqft.value == pytest.approx(8)
    assert line.pls_lb_per_acre.value == pytest.approx(8 * 43_560 / 1_000_000)
    proposal = make_offered(plan, cast.owner)
    with scope(practice=cast.practice):
        frozen = Proposal.objects.get(pk=proposal.pk)
        pdf = bytes(frozen.pdf)
    assert wire.read_plan(frozen.result) == outcome
    text = " ".join(page.extract_text() for page in PdfReader(BytesIO(pdf)).pages)
    assert "Plains lovegrass" in text and "Nesting cover in dry ground" in text


def test_it_is_known_to_its_own_practice_alone(cast: Cast) -> None:
    make_own_species(cast.practice)
    assert GRASS not in cast.browser(cast.stranger).get("/upland/prices/seed/new/").content.decode()
    assert GRASS not in tables.species()


@pytest.mark.parametrize(
    ("changes", "said"),
    [
        ({"common_name": "Big  Bluestem"}, "The table has Big Bluestem already"),
        ({"seeds_per_lb_low": 2_000_000}, "must lie between its low and high"),
        ({"ph_low": 8, "ph_high": 7}, "ph_low must lie under ph_high"),
        ({"bloom_months": "6;13", "bloom_colour": "white"}, "less than or equal to 12"),
        ({"moisture": "damp"}, "dry"),
        ({"source": "me"}, "2 characters long. It needs 4"),
        ({"seeds_per_lb": "NaN"}, "must be a number"),
    ],
)
def test_what_cannot_be_is_named(cast: Cast, changes: dict[str, Any], said: str) -> None:
    response = cast.browser(cast.owner).post(cast.url("prices/species/new/"), form(**changes))
    assert response.status_code == 422 and said in response.content.decode()
    with scope(practice=cast.practice):
        assert not OwnSpecies.objects.exists()


def test_one_in_use_stays_and_keeps_its_name(cast: Cast) -> None:
    with_the_grass(cast)
    with scope(practice=cast.practice):
        own = OwnSpecies.objects.get()
    browser = cast.browser(cast.owner)
    page = browser.post(cast.url(f"prices/species/{own.pk}/remove/"), follow=True).content.decode()
    assert "is in the mix Dry meadow. Take it out of there first." in page
    renamed = browser.post(cast.url(f"prices/species/{own.pk}/"), form(common_name="another grass"))
    assert renamed.status_code == 422
    with scope(practice=cast.practice):
        assert OwnSpecies.objects.get().common_name == GRASS


def test_a_list_of_them_comes_in(cast: Cast) -> None:
    good = form() | {"seeds_per_lb": 1_000_000}
    wrong = good | {"common_name": "sand lovegrass", "seeds_per_lb_low": 5_000_000}
    head, *rows = [";".join(map(str, row)) for row in (good, good.values(), wrong.values())]
    refused = bring(cast, "species", "\n".join([head, *rows])).content.decode()
    assert "must lie between its low and high" in refused and "sand lovegrass" in refused
    take(cast, bring(cast, "species", "\n".join([head, rows[0]])))
    with scope(practice=cast.practice):
        assert [row.seeds_per_lb for row in OwnSpecies.objects.all()] == [1_000_000]
