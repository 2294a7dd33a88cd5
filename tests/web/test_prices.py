"""The price list: what may be typed, what a pound of live seed costs, what is confirmed."""

from __future__ import annotations

from datetime import timedelta
from decimal import Decimal

import pytest
from django_scopes import scope
from pydantic import TypeAdapter, ValidationError

from consulting.clock import today_for
from consulting.models import Product, SeedPrice
from plans.planning.price_list import SeedPrice as SeedPriceFact
from tests.conftest import Cast
from tests.factories import make_product, make_seed_price, make_work_rate

SEED = {
    "species": "indiangrass",
    "price_usd_per_lb": "14",
    "basis": "bulk",
    "purity_pct": "80",
    "germination_pct": "70",
    "dormant_pct": "5",
}


def test_a_bulk_price_is_shown_per_pound_of_live_seed(cast: Cast) -> None:
    # 12.00 / (0.80 x 0.75) = 20.00
    make_seed_price(
        cast.practice,
        basis="bulk",
        price_usd_per_lb=Decimal("12"),
        purity_pct=80.0,
        germination_pct=70.0,
        dormant_pct=5.0,
    )
    page = cast.browser(cast.planner).get(cast.url("prices/")).content.decode()
    assert "$12.00 a lb bulk" in page
    assert "$20.00" in page


def test_the_live_price_follows_what_is_typed(cast: Cast) -> None:
    browser = cast.browser(cast.planner)
    url = cast.url("prices/seed/per-pls-lb/")
    assert "$23.33" in browser.post(url, SEED).content.decode()
    assert "$14.00" in browser.post(url, SEED | {"basis": "PLS"}).content.decode()
    for broken in (
        {"purity_pct": "0"},
        {"price_usd_per_lb": "NaN"},
        {"germination_pct": "a lot"},
        {"basis": ""},
    ):
        assert browser.post(url, SEED | broken).status_code == 200


def test_a_price_typed_is_a_price_checked(cast: Cast) -> None:
    lot = make_seed_price(cast.practice, unchecked=True)
    response = cast.browser(cast.planner).post(cast.url(f"prices/seed/{lot.pk}/"), SEED)
    assert response.status_code == 302
    lot.refresh_from_db()
    assert (lot.species, lot.price_usd_per_lb, lot.unchecked) == ("indiangrass", Decimal("14.00"), False)


def test_confirm_one_or_all_shown(cast: Cast) -> None:
    lot, product, rate = (
        make(cast.practice, unchecked=True) for make in (make_seed_price, make_product, make_work_rate)
    )
    browser = cast.browser(cast.planner)
    page = browser.get(cast.url("prices/")).content.decode()
    assert "unchecked" in page and f'value="products-{product.pk}"' in page
    browser.post(cast.url(f"prices/seed/{lot.pk}/confirm/"))
    later = make_seed_price(cast.practice, species="switchgrass", unchecked=True)
    odd = ["work-x", "work-²", f"work-{'9' * 30}", f"work-{'9' * 5000}"]
    browser.post(cast.url("prices/confirm/"), {"shown": [f"products-{product.pk}", f"work-{rate.pk}", *odd]})
    with scope(practice=cast.practice):
        assert list(SeedPrice.objects.filter(unchecked=True)) == [later]
        assert not Product.objects.filter(unchecked=True).exists()


def test_hauling_is_confirmed_by_saving(cast: Cast) -> None:
    response = cast.browser(cast.owner).post(cast.url("prices/hauling/"), {"hauling_usd_per_mile": "1.35"})
    assert response.status_code == 302
    cast.practice.refresh_from_db()
    assert (cast.practice.hauling_usd_per_mile, cast.practice.hauling_unchecked) == (Decimal("1.35"), False)


@pytest.mark.parametrize(
    ("kind", "wrong", "says"),
    [
        ("seed", {"germination_pct": "90", "dormant_pct": "20"}, "at most 100 %"),
        ("seed", {"purity_pct": "0"}, "Purity must be"),
        ("seed", {"price_usd_per_lb": "ten"}, "Price must be a number"),
        ("seed", {"price_usd_per_lb": "-1"}, "Price must be 0 or more"),
        ("seed", {"species": "kudzu"}, "kudzu"),
        ("seed", {"tested_on": "last week"}, "must be a day"),
        ("products", {"form": "liquid", "lb_active_per_gal": ""}, "A liquid needs its pounds"),
        ("products", {"form": "dry"}, "A dry product needs"),
        ("products", {"label_rate_low_oz_per_acre": "900"}, "above the highest"),
        ("adjuvants", {"container_size": "0"}, "must be"),
        ("work", {"operation": ""}, "is missing"),
    ],
)
def test_what_is_wrong_is_said_and_kept(cast: Cast, kind: str, wrong: dict[str, str], says: str) -> None:
    good = {
        "seed": SEED,
        "products": {
            "active_ingredient": "glyphosate",
            "form": "liquid",
            "lb_active_per_gal": "3",
            "container_size": "2.5",
            "price_usd_per_container": "60",
            "label_rate_low_oz_per_acre": "32",
            "label_rate_high_oz_per_acre": "128",
            "label_season_max_oz_per_acre": "256",
        },
        "adjuvants": {"kind": "ammonium sulfate", "container_size": "50", "price_usd_per_container": "30"},
        "work": {"operation": "discing", "basis": "acre", "rate_usd": "20", "minimum_usd": "0"},
    }[kind]
    browser, url = cast.browser(cast.planner), cast.url(f"prices/{kind}/new/")
    response = browser.post(url, good | wrong)
    page = response.content.decode()
    assert response.status_code == 422
    assert says in page and "There is something to mend" in page and "<title>Error:" in page
    for value in wrong.values():
        assert not value or value == "kudzu" or f'value="{value}"' in page
    assert browser.post(url, good).status_code == 302


def test_work_that_is_listed_already_is_refused_at_its_field(cast: Cast) -> None:
    browser, url = cast.browser(cast.planner), cast.url("prices/work/new/")
    rate = {"operation": "discing", "basis": "acre", "rate_usd": "20", "minimum_usd": "0"}
    assert browser.post(url, rate).status_code == 302
    again = browser.post(url, rate | {"rate_usd": "31"})
    page = again.content.decode()
    assert again.status_code == 422 and "on the list already" in page and 'value="31"' in page


def test_seed_is_not_tested_on_a_day_to_come(cast: Cast) -> None:
    browser, today = cast.browser(cast.planner), today_for(cast.practice)
    typed = f"{today + timedelta(days=1)}"
    refused = browser.post(cast.url("prices/seed/new/"), SEED | {"tested_on": typed})
    assert refused.status_code == 422
    assert "still to come" in refused.content.decode() and f'value="{typed}"' in refused.content.decode()
    assert browser.post(cast.url("prices/seed/new/"), SEED | {"tested_on": f"{today}"}).status_code == 302


def test_a_price_goes_off_the_list_after_asking(cast: Cast) -> None:
    lot = make_seed_price(cast.practice)
    browser, url = cast.browser(cast.planner), cast.url(f"prices/seed/{lot.pk}/remove/")
    assert b"Offered proposals keep the price" in browser.get(url).content
    with scope(practice=cast.practice):
        assert SeedPrice.objects.exists()
        browser.post(url)
        assert not SeedPrice.objects.exists()


def test_text_is_never_markup(cast: Cast) -> None:
    make_seed_price(cast.practice, lot="<b>&", supplier="<script>alert(1)</script>")
    page = cast.browser(cast.planner).get(cast.url("prices/")).content.decode()
    assert "lot &lt;b&gt;&amp;" in page and "<script>alert" not in page


ROWS = {
    "species": "indiangrass",
    "price_usd_per_lb": Decimal("1"),
    "basis": "PLS",
    "purity_pct": 90.0,
    "germination_pct": 80.0,
    "dormant_pct": 0.0,
}


@pytest.mark.parametrize(
    ("field", "value"),
    [
        ("purity_pct", 0.0),
        ("purity_pct", 100.5),
        ("germination_pct", -1.0),
        ("germination_pct", 101.0),
        ("dormant_pct", 31.0),
        ("price_usd_per_lb", Decimal("-0.01")),
        ("price_usd_per_lb", Decimal("10000001")),
        ("seeds_per_lb", 0.0),
    ],
)
def test_form_and_planning_service_refuse_the_same(cast: Cast, field: str, value: object) -> None:
    with pytest.raises(ValidationError):
        TypeAdapter(SeedPriceFact).validate_python(ROWS | {field: value})
    response = cast.browser(cast.planner).post(cast.url("prices/seed/new/"), SEED | {field: str(value)})
    assert response.status_code == 422


@pytest.mark.parametrize("price", ["1e400", "1e-400", "nan", "1e9"])
def test_a_price_beyond_all_reason_has_no_price_per_live_pound(cast: Cast, price: str) -> None:
    typed = {"price_usd_per_lb": price, "basis": "bulk", "purity_pct": "1e-300", "germination_pct": "1"}
    page = cast.browser(cast.owner).post(cast.url("prices/seed/per-pls-lb/"), typed)
    assert page.status_code == 200
