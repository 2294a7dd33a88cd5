"""A food plot and a planting of trees on the screen: chosen, refused, priced, offered."""

from __future__ import annotations

from datetime import date
from decimal import Decimal
from typing import Any

import pytest
from django.db import IntegrityError, transaction
from django_scopes import scope

from consulting.models import PlantPrice, Practice, SupplyPrice
from plans.models import Conversion, Plan
from plans.models.plans import Purpose
from plans.selectors import plans_whole, prices_for, reckon
from sites.models import Field
from tests.conftest import Cast
from tests.factories import make, make_client, make_farm, make_field, make_seed_price, make_work_rate
from tests.plan_factories import TODAY, make_mix, make_offered, make_plan, make_prices

TREES = {
    "purpose": Purpose.TREES.value,
    "kill_program": "tree_strips",
    "seeding": "tree_planting",
    "start_on": "2027-07-01",
    "broadcast_factor": "1.5",
    "trees-layout": "strip",
    "trees-row_ft": "10",
    "trees-plant_ft": "8",
    "trees-rows": "3",
    "trees-length_ft": "400",
    "trees-tubes_pct": "50",
    "trees-fence_ft": "0",
    "trees-replaced_pct": "10",
    "tree-0": "white oak",
    "share-0": "40",
    "tree-1": "American plum",
    "share-1": "60",
}
PLOT = {
    "purpose": Purpose.PLOT.value,
    "kill_program": "sod_fall_spring",
    "seeding": "plot_fall_drill",
    "start_on": "2027-07-01",
    "broadcast_factor": "1.5",
    "soil-ph": "5.6",
    "soil-phosphorus": "low",
    "soil-potassium": "high",
    "soil-lime_tons_per_acre": "2",
    "soil-lime_ecce_pct": "100",
    "soil-tested_on": "2026-09-01",
}


def ground(practice: Practice) -> tuple[Plan, Field]:
    farm = make_farm(make_client(practice))
    return make_plan(farm), make_field(farm, name="Barn Hill", acres=2.0)


def list_everything(practice: Practice) -> None:
    make_prices(practice)
    for species in ("oats", "white clover"):
        make_seed_price(practice, species=species, tested_on=date(2026, 9, 1))
    for operation in ("tree_planting", "tree_tubing"):
        make_work_rate(practice, operation=operation, basis="plant", rate_usd=Decimal("1.00"))
    for operation in ("spreading", "tree_tending"):
        make_work_rate(practice, operation=operation)
    for species in ("white oak", "American plum"):
        make(PlantPrice, {}, practice=practice, species=species, price_usd_each=Decimal("1.50"))
    for values in (
        {"kind": "tube", "price_usd": Decimal("4.00")},
        {"kind": "lime", "ecce_pct": 80.0, "price_usd": Decimal("50.00")},
        {"kind": "fertilizer", "grade": "0-46-0", "container_lb": 50.0, "price_usd": Decimal("30.00")},
        {"kind": "fertilizer", "grade": "46-0-0", "container_lb": 50.0, "price_usd": Decimal("22.00")},
    ):
        make(SupplyPrice, values, practice=practice)


def only_conversion(cast: Cast) -> Conversion:
    with scope(practice=cast.practice):
        return Conversion.objects.get()


def test_a_planting_is_chosen_priced_and_offered(cast: Cast) -> None:
    list_everything(cast.practice)
    plan, field = ground(cast.practice)
    browser, url = cast.browser(cast.planner), cast.url(f"plans/{plan.pk}/fields/{field.pk}/")
    assert browser.post(url, TREES).status_code == 302
    made = only_conversion(cast)
    assert made.mix is None and made.trees["lines"][1] == {"species": "American plum", "share_pct": 60.0}
    page = browser.get(cast.url(f"plans/{plan.pk}/")).content.decode()
    assert "Plants and materials" in page and "3 rows 400 ft long" in page
    assert "Tubes with stakes" in page and "What goes in the ground" not in page
    assert "Mix" not in page.split('id="choices"')[1].split("From cost to price")[0]
    assert 'value="white oak" selected' in browser.get(url).content.decode()
    proposal = make_offered(plan, cast.owner)
    assert bytes(proposal.pdf).startswith(b"%PDF")


def test_a_plot_is_chosen_with_its_soil_test_and_priced(cast: Cast) -> None:
    list_everything(cast.practice)
    plan, field = ground(cast.practice)
    mix = make_mix(
        cast.practice,
        species={"oats": 52.0, "white clover": 2.0},
        basis="lb PLS per acre",
        seeds_per_sqft=None,
    )
    browser, url = cast.browser(cast.planner), cast.url(f"plans/{plan.pk}/fields/{field.pk}/")
    assert browser.post(url, PLOT | {"mix": str(mix.pk)}).status_code == 302
    assert only_conversion(cast).soil_test == {
        "tested_on": "2026-09-01", "ph": 5.6, "phosphorus": "low", "potassium": "high",
        "lime_tons_per_acre": 2.0, "lime_ecce_pct": 100.0,
    }  # fmt: skip
    page = browser.get(cast.url(f"plans/{plan.pk}/")).content.decode()
    for words in ("Spread lime", "Lime", "P2O5 asked for", "Drill the plot", "Materials"):
        assert words in page
    with scope(practice=cast.practice):
        outcome = reckon(plans_whole().get(), prices_for(cast.practice), TODAY).outcome
    assert outcome and outcome.plots[0].lime and outcome.plots[0].lime.value == pytest.approx(2 * 100 / 80)
    assert outcome.estimate.total.materials.dollars > 0


@pytest.mark.parametrize(
    ("wrong", "says"),
    [
        ({"share-1": "50"}, "The shares sum to 90 %; they must sum to 100."),
        ({"share-1": ""}, "Which share of the plants is American plum?"),
        ({"tree-1": ""}, "Which species is this?"),
        ({"tree-1": "white oak"}, "White oak stands in the planting twice"),
        ({"tree-0": "", "share-0": "", "tree-1": "", "share-1": ""}, "Choose at least one tree or shrub."),
        ({"trees-length_ft": ""}, "A strip needs the length of its rows"),
        ({"trees-plant_ft": "0"}, "must be 1 or more"),
        ({"tree-0": "tree of heaven"}, "Choose from what is offered."),
        ({"soil-ph": "14"}, "Soil pH must be 10 or less"),
        ({"soil-tested_on": "2099-01-01"}, "still to come"),
    ],
)
def test_what_is_wrong_with_a_planting_is_said_and_kept(cast: Cast, wrong: dict[str, str], says: str) -> None:
    plan, field = ground(cast.practice)
    url = cast.url(f"plans/{plan.pk}/fields/{field.pk}/")
    response = cast.browser(cast.planner).post(url, TREES | wrong)
    page = response.content.decode()
    assert response.status_code == 422 and says in page
    assert 'value="60' in page or "share-1" in wrong
    with scope(practice=cast.practice):
        assert not Conversion.objects.exists()


def test_the_form_follows_the_purpose_chosen(cast: Cast) -> None:
    plan, field = ground(cast.practice)
    mix = make_mix(cast.practice)
    browser, url = cast.browser(cast.planner), cast.url(f"plans/{plan.pk}/fields/{field.pk}/steps/")
    native = {"purpose": "nesting and brood cover", "kill_program": "sod_fall_spring", "seeding": "drill",
              "start_on": "2027-07-01", "mix": str(mix.pk), "broadcast_factor": "1.5"}  # fmt: skip

    def shown(**changes: str) -> str:
        return browser.post(url, native | changes).content.decode()

    assert "tree-0" not in shown() and "soil-ph" not in shown() and 'name="mix"' in shown()
    trees = shown(purpose=Purpose.TREES.value)
    assert 'name="trees-row_ft" value="10"' in trees, "a new part of the form begins with the usual"
    assert "tree-0" in trees and 'name="mix"' not in trees and "Trees and shrubs, set while dormant" in trees
    plot = shown(purpose=Purpose.PLOT.value)
    assert "soil-phosphorus" in plot and 'name="mix"' in plot
    assert "No-till drill in spring" not in plot and "Kill strips or spots" not in plot


def test_choices_of_a_planting_move_without_a_mix(cast: Cast) -> None:
    list_everything(cast.practice)
    plan, field = ground(cast.practice)
    browser = cast.browser(cast.planner)
    browser.post(cast.url(f"plans/{plan.pk}/fields/{field.pk}/"), TREES)
    pk = only_conversion(cast).pk
    choices = {
        f"{pk}-kill_program": "tree_scalp",
        f"{pk}-seeding": "tree_planting",
        f"{pk}-start_on": "2027-07-01",
        "pricing": "margin on price",
        "pricing_pct": "20",
    }
    assert browser.post(cast.url(f"plans/{plan.pk}/choices/"), choices).status_code == 302
    assert only_conversion(cast).kill_program == "tree_scalp"


@pytest.mark.parametrize(("mix", "trees"), [(False, None), (True, {"lines": []})])
def test_the_database_keeps_a_mix_or_trees_and_never_both_or_none(
    cast: Cast, mix: bool, trees: dict[str, Any] | None
) -> None:
    plan, field = ground(cast.practice)
    with scope(practice=cast.practice), pytest.raises(IntegrityError), transaction.atomic():
        Conversion.objects.create(
            practice=cast.practice,
            plan=plan,
            field=field,
            mix=make_mix(cast.practice) if mix else None,
            trees=trees,
            kill_program="tree_strips",
            seeding="tree_planting",
            start_on=TODAY,
        )


@pytest.mark.parametrize(
    ("kind", "good", "wrong", "says"),
    [
        ("plants", {"species": "white oak", "stock": "1-0 seedling", "price_usd_each": "1.10"},
         {"species": ""}, "is missing"),
        ("supplies", {"kind": "fertilizer", "grade": "18-46-0", "container_lb": "50", "price_usd": "31"},
         {"grade": "rich"}, "needs its grade as on the bag"),
        ("supplies", {"kind": "fertilizer", "grade": "18-46-0", "container_lb": "50", "price_usd": "31"},
         {"container_lb": ""}, "needs the pounds that its price is for"),
        ("supplies", {"kind": "lime", "ecce_pct": "90", "price_usd": "55"},
         {"ecce_pct": ""}, "A lime needs its effectiveness"),
        ("supplies", {"kind": "tube", "price_usd": "4"}, {"price_usd": "-4"}, "must be 0 or more"),
    ],
)  # fmt: skip
def test_plants_and_supplies_have_prices(
    cast: Cast, kind: str, good: dict[str, str], wrong: dict[str, str], says: str
) -> None:
    browser, url = cast.browser(cast.planner), cast.url(f"prices/{kind}/new/")
    refused = browser.post(url, good | wrong)
    assert refused.status_code == 422 and says in refused.content.decode()
    assert browser.post(url, good).status_code == 302
    page = browser.get(cast.url("prices/")).content.decode()
    assert f'id="{kind}"' in page and next(iter(good.values())).split("-")[0] in page.lower()
