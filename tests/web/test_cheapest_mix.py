"""The least-cost mix on the screen: asked by address, answered, compared, kept."""

from __future__ import annotations

import re
from decimal import Decimal
from html import unescape
from typing import Any
from urllib.parse import urlencode

import pytest
from django_scopes import scope

from plans.forms.cheapest import TARGETS
from plans.models import Mix
from plans.planning import tables
from plans.planning.targets import fits_in_a_mix
from tests.conftest import Cast
from tests.factories import make_seed_price
from tests.plan_factories import make_mix
from tests.web import queries

# Invented prices [$/PLS lb].
PRICES = {
    "big bluestem": "12",
    "little bluestem": "14",
    "sideoats grama": "13",
    "partridge pea": "9",
    "black-eyed Susan": "22",
    "purple coneflower": "35",
    "lanceleaf coreopsis": "20",
    "plains coreopsis": "18",
    "foxglove beardtongue": "80",
    "wild bergamot": "90",
    "New England aster": "300",
    "stiff goldenrod": "200",
    "purple prairie clover": "40",
}


def list_prices(cast: Cast, **own: str) -> None:
    for species, usd in (PRICES | own).items():
        make_seed_price(cast.practice, species=species, price_usd_per_lb=Decimal(usd))


def asked(cast: Cast, **given: object) -> str:
    """The address of a question."""
    question = {"purpose": "nesting and brood cover", "way": "drilled", "work": "yes"} | given
    return cast.url("mixes/cheapest/") + "?" + urlencode(question, doseq=True)


def page_of(cast: Cast, status: int = 200, **given: object) -> str:
    response = cast.browser(cast.planner).get(asked(cast, **given))
    page = unescape(response.content.decode())
    assert response.status_code == status, page
    return page


def cost_of(page: str) -> str:
    """The dollars in the answer's heading."""
    found = re.search(r'<h2><details.*?<summary class="fig">\$([\d,.]+)</summary>', page, re.S)
    assert found, "no answer"
    return found[1]


FIGURE_OR_TAG = re.compile(
    r'<details class="figure".*?<summary[^>]*>(.*?)</summary>.*?</details>|<[^>]+>', re.S
)


def text_of(page: str) -> str:
    """What the page says, its workings folded."""
    said = FIGURE_OR_TAG.sub(lambda found: f" {found[1] or ''} ", page)
    return re.sub(r"\s+", " ", said)


def test_a_question_in_an_address_is_answered_with_its_working_and_kept_at_the_same_cost(cast: Cast) -> None:
    list_prices(cast)
    browser = cast.browser(cast.planner)
    blank = browser.get(cast.url("mixes/cheapest/")).content.decode()
    assert "Keep it as a mix" not in blank and "Work it out" in blank
    given: dict[str, Any] = {"way": "broadcast", "wanted": ["foxglove beardtongue"], "late_species": 5}
    page = page_of(cast, **given)
    said = text_of(page)
    assert "Every target is met." in said
    assert "Having foxglove beardtongue in it costs you $" in said
    assert "Five late bloomers cost you $" in said and "solving again without the target" in said
    assert "Lb PLS per acre × price per PLS lb" in page
    kept = browser.post(asked(cast, **given), {"name": "Bees", "shown": cost_of(page)})
    with scope(practice=cast.practice):
        mix = Mix.objects.get(name="Bees")
        assert "foxglove beardtongue" in set(mix.lines.values_list("species", flat=True))
        assert (mix.rate_is_for, mix.basis) == ("broadcast", "share of seed")
    assert kept.status_code == 302 and kept["Location"] == cast.url(f"mixes/{mix.pk}/")
    builder = browser.get(kept["Location"]).content.decode()
    assert f"${cost_of(page)}</summary>" in builder.partition("<dt>Seed cost</dt>")[2][:200]


def test_targets_that_cannot_be_met_together_are_named_with_what_to_loosen(cast: Cast) -> None:
    list_prices(cast)
    page = page_of(cast, budget_usd_per_acre="5")
    said = text_of(page)
    assert "No mix can meet these together" in said and "Keep it as a mix" not in said
    assert "No more than $5.00 an acre for seed." in said
    cheapest = cost_of(page_of(cast))
    assert f"Allow ${cheapest} an acre." in said
    assert "#id_budget_usd_per_acre" in page
    assert "Every target is met." in text_of(page_of(cast, budget_usd_per_acre=cheapest))
    said = text_of(page_of(cast, late_species=9))
    assert "Ask for fewer late bloomers" in said and "9 species in bloom late" in said


def test_any_target_however_much_or_little_it_asks_is_answered(cast: Cast) -> None:
    make_seed_price(cast.practice)
    make_seed_price(cast.practice, species="partridge pea")
    browser = cast.browser(cast.planner)
    for key in TARGETS:
        for figure in ("0.2", "0", "100"):
            answer = browser.get(asked(cast, purpose="pollinators", ph="5", **{key: figure}))
            assert answer.status_code in (200, 422), f"{key} {figure}"


def test_own_targets_stand_for_those_of_the_purpose_and_an_empty_one_does_not(cast: Cast) -> None:
    list_prices(cast)
    page = page_of(cast, seeds_per_sqft_low="33", grass_share_pct_low="")
    assert "33.00</td>" in page and 'value="33"' in page
    assert re.search(r'data-label="Purpose:">30 %</td>', page)
    # Broadcast asks 1.5 times the seed: reference/purposes.csv.
    assert re.search(r'data-label="Purpose:">30 seeds/ft²</td>', page_of(cast, way="broadcast"))


def test_wishes_are_kept(cast: Cast) -> None:
    list_prices(cast)
    body = page_of(cast).partition("<tbody>")[2]
    dear = page_of(cast, wanted="New England aster", unwanted="partridge pea")
    table = dear.partition("The least-cost mix on an acre")[2].partition("</table>")[0]
    assert "New England aster" in table and "Partridge pea" not in table
    assert "Partridge pea" in body and Decimal(cost_of(dear)) > Decimal(cost_of(page_of(cast)))


@pytest.mark.parametrize(
    ("given", "says"),
    [
        ({"purpose": "food plot"}, "Choose from what is offered."),
        ({"ph": "99"}, "Soil pH must be 10 or less."),
        ({"ph": "sour"}, "Soil pH must be a number"),
        ({"budget_usd_per_acre": "-1"}, "Budget for seed must be 0 or more."),
        ({"late_species": "2.5"}, "must be a whole number"),
        ({"seeds_per_sqft_low": "90"}, "Live seeds, at least 90 is over live seeds, at most 50."),
        ({"grass_share_pct_high": "20"}, "Grass, at least 30 is over grass, at most 20."),
        ({"wanted": "kudzu"}, "kudzu has no price in your list"),
        ({"wanted": "big bluestem", "unwanted": "big bluestem"}, "Big bluestem is wanted and not wanted."),
        ({"beside": "999999"}, "There is no such mix now."),
        ({"seeds_per_sqft_low": "nan"}, "must be a number"),
    ],
)
def test_what_is_wrong_is_said_and_kept(cast: Cast, given: dict[str, str], says: str) -> None:
    list_prices(cast)
    page = page_of(cast, 422, **given)
    assert says in page and "There is something to mend" in page and "Keep it as a mix" not in page
    for name, value in given.items():
        assert name in ("purpose", "wanted", "unwanted", "beside") or f'value="{value}"' in page


def test_a_price_out_of_reach_and_too_hard_a_question_are_no_failure(
    cast: Cast, monkeypatch: pytest.MonkeyPatch
) -> None:
    list_prices(cast)
    monkeypatch.setattr("plans.cheapest.WORK_LIMIT", 1e-9)
    assert "Too many, or too alike in price" in page_of(cast, 422)
    make_seed_price(
        cast.practice, species="switchgrass", price_usd_per_lb=Decimal("99999"), seeds_per_lb=0.01
    )
    assert "Switchgrass has a price or seed count out of reach" in page_of(cast, 422)


def test_own_mixes_stand_beside_it(cast: Cast) -> None:
    list_prices(cast, oats="0.50")
    meadow = make_mix(cast.practice, "Meadow", {"big bluestem": 80, "black-eyed Susan": 10, "oats": 10})
    dear = make_mix(cast.practice, "Dear", {"big bluestem": 50, "New England aster": 50})
    unpriced = make_mix(cast.practice, "Unpriced", {"switchgrass": 100})
    page = page_of(cast, beside=meadow.pk, beside_too=dear.pk)
    table = text_of(page.partition("Side by side")[2])
    least, own = (re.findall(r"(\d+) of (\d+)", table)[at] for at in (0, 1))
    assert least[0] == least[1] == own[1] and int(own[0]) < int(own[1])
    assert "Meadow misses " in table and "At least 5 kinds of wildflower" in table
    assert table.index("Meadow") < table.index("Dear")
    assert "oats: nurse or plot crops" in text_of(page)
    # 40 seeds/ft²: the same dollars as on the list of mixes.
    listed = text_of(cast.browser(cast.planner).get(cast.url("mixes/")).content.decode())
    for name in ("Meadow", "Dear"):
        (usd,) = re.findall(rf"{name} \d+ 40.0 [^$]*(\$[\d,.]+)", listed)
        assert usd in table
    missing = page_of(cast, 422, beside=unpriced.pk)
    assert "Unpriced cannot stand beside it" in missing and "Keep it as a mix" in missing
    # No least-cost mix: own mixes stand alone.
    alone = text_of(page_of(cast, beside=meadow.pk, budget_usd_per_acre="1").partition("Side by side")[2])
    assert "Meadow" in alone and "Least-cost mix" not in alone


def test_species_without_a_price_are_said_not_to_be_considered(cast: Cast) -> None:
    assert (
        "no seed for a mix yet"
        in cast.browser(cast.planner).get(cast.url("mixes/cheapest/")).content.decode()
    )
    list_prices(cast)
    page = text_of(page_of(cast))
    number = sum(fits_in_a_mix(plant) for plant in tables.species().values()) - len(PRICES)
    assert f"{number} species have no price in your list and are not considered" in page
    assert "switchgrass" in page


def test_a_name_that_is_taken_or_a_cost_that_has_changed_keeps_nothing(cast: Cast) -> None:
    list_prices(cast)
    make_mix(cast.practice, "Taken")
    usd = cost_of(page_of(cast))
    browser = cast.browser(cast.planner)
    for posted, says in (
        ({"name": "Taken", "shown": usd}, "already a mix of this name"),
        ({"name": "", "shown": usd}, "Name of the mix is missing"),
        ({"name": "New", "shown": "1.00"}, f"the mix is ${usd} an acre now"),
        ({}, "Name of the mix is missing"),
    ):
        response = browser.post(asked(cast), posted)
        assert response.status_code == 422 and says in unescape(response.content.decode())
    with scope(practice=cast.practice):
        assert list(Mix.objects.values_list("name", flat=True)) == ["Taken"]
    assert browser.post(asked(cast, ph="99"), {"name": "New", "shown": usd}).status_code == 422


def test_another_practice_is_out_of_sight(cast: Cast) -> None:
    list_prices(cast)
    assert cast.browser(cast.crew).get(asked(cast)).status_code == 403
    assert cast.browser(cast.stranger).get(asked(cast)).status_code == 404


def test_the_page_asks_the_same_of_the_database_for_few_prices_and_for_many(cast: Cast) -> None:
    list_prices(cast)
    browser = cast.browser(cast.planner)
    first = make_mix(cast.practice, "First")
    few = queries.count(lambda: browser.get(asked(cast, beside=first.pk)))
    make_seed_price(cast.practice, species="indiangrass")
    for species in sorted(set(tables.species()) - set(PRICES) - {"indiangrass"}):
        make_seed_price(cast.practice, species=species, price_usd_per_lb=Decimal(60))
    for number in range(10):
        make_mix(cast.practice, f"Mix {number}")
    assert queries.count(lambda: browser.get(asked(cast, beside=first.pk))) == few
