"""The shed, the buy list over all agreed plans, the loading list and the crew sheet."""

from __future__ import annotations

import csv
from datetime import date
from decimal import Decimal
from functools import partial
from io import BytesIO, StringIO
from typing import Any

import pytest
from django.db import connection
from django_scopes import scope
from openpyxl import load_workbook
from pypdf import PdfReader

from consulting.append_only import Recorded
from consulting.models import Practice
from plans import needed, shed
from plans.models import Plan, Proposal, StockLot, StockMove, Visit
from plans.planning.splitting import cheapest_split
from plans.selectors import frozen_outcome
from plans.trips import trip_of
from tests.conftest import Cast
from tests.factories import DETAILS, make, make_client, make_farm, make_field, make_machine, make_seed_price
from tests.plan_factories import TODAY, make_agreed, make_conversion, make_mix, make_plan, make_ready_plan
from tests.web import queries

FALL = date(2027, 9, 20)
BY = "2028-12-31"


@pytest.fixture(autouse=True)
def on_that_day(monkeypatch: Any) -> None:
    for where in ("plans.views.shed", "plans.views.buy", "plans.forms.shed", "plans.views.work"):
        monkeypatch.setattr(f"{where}.today_for", lambda practice: FALL)


@pytest.fixture
def agreed(cast: Cast) -> Any:
    plan = make_agreed(make_ready_plan(cast.practice, name="Creek <b>bottom"), cast.owner)
    with scope(practice=cast.practice):
        yield plan


def lot_of(practice: Practice, on_hand: str = "10", **values: Any) -> StockLot:
    seed = {"kind": "seed", "unit": "lb", "purity_pct": 80.0, "germination_pct": 50.0, "dormant_pct": 25.0}
    defaults = {"name": "big bluestem", "lot": "SHED-1", "tested_on": date(2027, 3, 1)}
    given = defaults | (seed if values.get("kind", "seed") == "seed" else {}) | values
    return make(StockLot, given, practice=practice, on_hand=Decimal(on_hand))


def step(plan: Plan, key: str) -> Visit:
    return Visit.objects.get(plan=plan, step=key)


def taken(lot: StockLot, amount: str, visit: Visit, cast: Cast) -> StockMove:
    lot.refresh_from_db()
    return shed.stock_out(
        lot=lot, version=lot.version, user=cast.crew, amount=Decimal(amount), visit=visit, on=FALL
    )


def text(content: bytes) -> str:
    return " ".join(" ".join(page.extract_text().split()) for page in PdfReader(BytesIO(content)).pages)


# The shed


def test_a_lot_is_added_used_counted_and_traced_to_its_field_and_back(agreed: Plan, cast: Cast) -> None:
    browser, drill = cast.browser(cast.planner), step(agreed, "drill")
    typed = {"name": "indiangrass", "lot": "T-<i>7", "amount": "12.5", "on": f"{FALL}"}
    test = {"purity_pct": "80", "germination_pct": "75", "dormant_pct": "", "tested_on": "2027-03-01"}
    assert browser.post(cast.url("work/shed/new/seed/"), typed | test).status_code == 302
    lot = StockLot.objects.get()
    assert (lot.on_hand, lot.unit, lot.version) == (Decimal("12.5"), "lb", 2)
    crew, url = cast.browser(cast.crew), cast.url(f"work/shed/{lot.pk}/")
    Visit.objects.filter(pk=drill.pk).update(window_opens=FALL)
    use = {"amount": "4.25", "visit": f"{drill.pk}", "on": f"{FALL}", "note": ""}
    assert crew.post(url + "use/", use).status_code == 302
    assert crew.post(url + "count/", {"amount": "8", "on": f"{FALL}"}).status_code == 302
    back = {"amount": "1", "visit": f"{drill.pk}", "on": f"{FALL}"}
    assert crew.post(url + "arrive/", back).status_code == 302
    lot.refresh_from_db()
    assert lot.on_hand == 9
    assert [move.amount for move in lot.moves.order_by("pk")] == [
        Decimal("12.5"),
        Decimal("-4.25"),
        Decimal("-0.25"),
        Decimal(1),
    ]
    page = crew.get(url).content.decode()
    assert "3.25" in page and "T-&lt;i&gt;7" in page and "Creek &lt;b&gt;bottom" in page
    every = crew.get(cast.url("work/shed/")).content.decode()
    assert "Creek &lt;b&gt;bottom" in every and "$" not in every + page
    assert url in crew.get(cast.url(f"work/shed/?field={drill.field_id}")).content.decode()
    assert url in crew.get(cast.url(f"work/{drill.pk}/")).content.decode()


@pytest.mark.parametrize(
    ("act", "changed", "says"),
    [
        ("use", {"amount": "10.0001"}, "10 lb bulk on hand"),
        ("use", {"amount": "some"}, "must be a number"),
        ("use", {"amount": "0"}, "must be"),
        ("use", {"visit": ""}, "is missing"),
        ("use", {"visit": "999999"}, "999999"),
        ("use", {"on": "2027-09-21"}, "still to come"),
        ("arrive", {"amount": "1"}, "0 lb bulk of this lot went there"),
        ("count", {"amount": "-1"}, "must be 0 or more"),
        ("count", {"amount": "1e30"}, "must be"),
        ("count", {"amount": "NaN"}, "must be a number"),
    ],
)
def test_what_cannot_be_is_said_and_kept(
    agreed: Plan, cast: Cast, act: str, changed: dict[str, str], says: str
) -> None:
    lot, drill = lot_of(cast.practice), step(agreed, "drill")
    Visit.objects.filter(pk=drill.pk).update(window_opens=FALL)
    typed = {"amount": "2", "visit": f"{drill.pk}", "on": f"{FALL}", "note": "for <i>"}
    response = cast.browser(cast.crew).post(cast.url(f"work/shed/{lot.pk}/{act}/"), typed | changed)
    page = response.content.decode()
    assert response.status_code == 422 and says in page and "There is something to mend" in page
    assert "for &lt;i&gt;" in page
    lot.refresh_from_db()
    assert lot.on_hand == 10 and not lot.moves.exists()


@pytest.mark.parametrize(
    ("changed", "says"),
    [
        ({"name": "kudzu"}, "kudzu"),
        ({"purity_pct": ""}, "Purity is missing"),
        ({"germination_pct": "90", "dormant_pct": "20"}, "at most 100 %"),
        ({"tested_on": "2027-10-01"}, "still to come"),
        ({"amount": "-2"}, "must be"),
    ],
)
def test_a_lot_with_a_wrong_tag_is_refused(cast: Cast, changed: dict[str, str], says: str) -> None:
    good = {"name": "indiangrass", "amount": "5", "on": f"{FALL}", "purity_pct": "80"}
    good |= {"germination_pct": "70", "lot": "keep me"}
    response = cast.browser(cast.planner).post(cast.url("work/shed/new/seed/"), good | changed)
    page = response.content.decode()
    assert response.status_code == 422 and says in page and 'value="keep me"' in page


def test_facts_are_put_right_without_touching_the_count(agreed: Plan, cast: Cast) -> None:
    lot, browser = lot_of(cast.practice), cast.browser(cast.planner)
    url = cast.url(f"work/shed/{lot.pk}/edit/")
    typed = {"name": "indiangrass", "purity_pct": "90", "germination_pct": "70", "lot": "x"}
    assert browser.post(url, typed).status_code == 302
    lot.refresh_from_db()
    assert (lot.name, lot.on_hand, lot.dormant_pct) == ("indiangrass", 10, None)


def test_a_product_is_named_and_measured_as_the_price_list_has_it(agreed: Plan, cast: Cast) -> None:
    browser, url = cast.browser(cast.planner), cast.url("work/shed/new/product/")
    assert "glyphosate, 3 lb/gal, in gal" in browser.get(url).content.decode()
    typed = {"name": "glyphosate, 3 lb/gal", "amount": "2.5", "on": f"{FALL}"}
    assert browser.post(url, typed).status_code == 302
    assert StockLot.objects.get().unit == "gal"


def test_moves_are_only_ever_added(agreed: Plan, cast: Cast) -> None:
    move = taken(lot_of(cast.practice), "1", step(agreed, "drill"), cast)
    for act in (move.save, move.delete, StockMove.objects.all().delete):
        with pytest.raises(Recorded):
            act()
    with pytest.raises(Recorded):
        StockMove.objects.update(amount=0)


def test_what_comes_back_to_the_last_grain_is_nowhere_any_more(agreed: Plan, cast: Cast) -> None:
    lot, drill = lot_of(cast.practice), step(agreed, "drill")
    taken(lot, "0.1", drill, cast)
    taken(lot, "0.2", drill, cast)
    lot.refresh_from_db()
    back = {"amount": Decimal("0.3"), "visit": drill, "on": FALL}
    shed.stock_in(lot=lot, version=lot.version, user=cast.crew, **back)
    lot.refresh_from_db()
    assert lot.on_hand == 10 and shed.went_to([lot]) == {}


# The buy list


def line(found: needed.ToBuy, name: str) -> Any:
    return next(one for one in found.bought.lines if one.name == name)


def test_what_is_needed_less_the_shed_is_to_buy(agreed: Plan, cast: Cast) -> None:
    by = date.fromisoformat(BY)
    bare = line(needed.to_buy(cast.practice, by, FALL), "big bluestem")
    outcome = frozen_outcome(Proposal.objects.get())
    assert outcome is not None
    signed = {one.species: one.pls_lb.value for one in outcome.seed[0].lines}
    assert bare.needed.value == pytest.approx(signed["big bluestem"]) and len(bare.needs) == 1
    lot = lot_of(cast.practice, "2")
    # 2 lb × 0.80 × 0.75 = 1.2 lb PLS
    found = line(needed.to_buy(cast.practice, by, FALL), "big bluestem")
    assert float(found.from_shed.value) == pytest.approx(1.2)
    assert float(found.to_buy.value) == pytest.approx(float(bare.needed.value) - 1.2)
    taken(lot, "2", step(agreed, "drill"), cast)
    out = line(needed.to_buy(cast.practice, by, FALL), "big bluestem")
    assert float(out.needed.value) == pytest.approx(float(bare.needed.value) - 1.2)
    assert not out.from_shed.value and float(out.to_buy.value) == pytest.approx(float(found.to_buy.value))


def test_only_open_visits_and_acres_left_need_anything(agreed: Plan, cast: Cast) -> None:
    by = date.fromisoformat(BY)
    whole = float(line(needed.to_buy(cast.practice, by, FALL), "big bluestem").needed.value)
    Visit.objects.filter(step="drill").update(acres_done=4.0)
    left = float(line(needed.to_buy(cast.practice, by, FALL), "big bluestem").needed.value)
    assert left == pytest.approx(whole * 0.6)
    Visit.objects.filter(step="drill").update(state="skipped")
    assert not any(one.kind == "seed" for one in needed.to_buy(cast.practice, by, FALL).bought.lines)
    assert needed.to_buy(cast.practice, TODAY, TODAY).bought.lines == ()


def test_a_field_renamed_since_is_still_the_field(agreed: Plan, cast: Cast) -> None:
    drill = step(agreed, "drill")
    drill.field.name = "Another name"
    drill.field.power_lines = True
    drill.field.save()
    assert line(needed.to_buy(cast.practice, date.fromisoformat(BY), FALL), "big bluestem")
    trip = trip_of([step(agreed, "drill")])
    assert trip is not None and trip.outcome.job.conversions[0].power_lines


def unreadable(plan: Plan) -> None:
    with connection.cursor() as cursor:
        cursor.execute("UPDATE plans_proposal SET result = '{}' WHERE plan_id = %s", [plan.pk])


def test_an_old_proposal_is_named_and_breaks_nothing(agreed: Plan, cast: Cast) -> None:
    unreadable(agreed)
    browser, drill = cast.browser(cast.planner), step(agreed, "drill")
    page = browser.get(cast.url(f"work/buy/?by={BY}")).content.decode()
    assert "cannot be read" in page and agreed.title in page
    assert browser.get(cast.url(f"work/{drill.pk}/")).status_code == 200
    away = browser.get(cast.url(f"work/{drill.pk}/sheet.pdf"), follow=True)
    assert "No crew sheet can be made" in away.content.decode()


def test_the_page_the_csv_and_the_pdf_say_the_same(agreed: Plan, cast: Cast) -> None:
    lot_of(cast.practice, "1", lot='=HYPERLINK("x")')
    browser = cast.browser(cast.planner)
    page = browser.get(cast.url(f"work/buy/?by={BY}")).content.decode()
    answer = browser.get(cast.url(f"work/buy/list.csv?by={BY}"))
    rows = list(csv.DictReader(StringIO(answer.content.decode("utf-8-sig"))))
    cells = [cell for row in rows for cell in row.values() if cell]
    assert '\'=HYPERLINK("x")' in cells and not [cell for cell in cells if cell.startswith("=")]
    total = next(row["Cost $"] for row in rows if row["Row"] == "total")
    assert sum(Decimal(row["Cost $"]) for row in rows if row["Row"] == "buy") == Decimal(total)
    printed = text(browser.get(cast.url(f"work/buy/list.pdf?by={BY}")).content)
    assert f"${Decimal(total):,}" in page and f"{Decimal(total):,}" in printed
    assert "Creek &lt;b&gt;bottom" in page and "Creek <b>bottom" in printed
    book = browser.get(cast.url(f"work/buy/list.xlsx?by={BY}")).content
    head, *found = list(load_workbook(BytesIO(book)).active.iter_rows(min_row=6, values_only=True))
    rows_of = [dict(zip(head, row, strict=True)) for row in found]
    costs = [Decimal(f"{row['Cost $']:.2f}") for row in rows_of if row["Row"] == "buy"]
    assert sum(costs) == Decimal(total) and len(rows_of) == len(rows)
    assert '=HYPERLINK("x")' in {row["Lot"] for row in rows_of}
    assert {row["Needed by"].year for row in rows_of if row["Needed by"]} <= {2027, 2028}


@pytest.mark.parametrize("by", ["", "soon", "2027-09-19", "2099-01-01"])
def test_a_day_that_cannot_be_is_refused(agreed: Plan, cast: Cast, by: str) -> None:
    browser = cast.browser(cast.planner)
    page = browser.get(cast.url(f"work/buy/?by={by}"))
    assert page.status_code == 422 and "There is something to mend" in page.content.decode()
    for name in ("csv", "xlsx", "pdf"):
        assert browser.get(cast.url(f"work/buy/list.{name}?by={by}")).status_code == 404


def test_the_crew_cannot_see_the_buy_list(agreed: Plan, cast: Cast) -> None:
    browser = cast.browser(cast.crew)
    for name in ("", "list.csv", "list.xlsx", "list.pdf"):
        assert browser.get(cast.url(f"work/buy/{name}")).status_code == 403
    assert "Buy list" not in browser.get(cast.url("work/")).content.decode()
    assert "Buy list" not in browser.get(cast.url("work/shed/")).content.decode()


def test_offers_that_admit_no_split_leave_the_rest_of_the_list(
    agreed: Plan, cast: Cast, monkeypatch: Any
) -> None:
    for number in range(8):
        make_seed_price(cast.practice, lot=f"N-{number}", price_usd_per_lb=Decimal(20 + number))
    compared: list[int] = []

    def too_hard(amount: Any, packs: Any) -> Any:
        compared.append(len(packs))
        if len(packs) > 1:
            raise ValueError("too alike")
        return cheapest_split(amount, packs)

    monkeypatch.setattr("plans.planning.buying.cheapest_split", too_hard)
    found = needed.to_buy(cast.practice, date.fromisoformat(BY), FALL)
    assert max(compared) == needed.MOST_OFFERS
    assert "Offers of big bluestem: too alike." in found.notes
    assert any("3 dearer ones" in note for note in found.notes)
    assert line(found, "big bluestem").short and line(found, "indiangrass").purchases


def test_many_lots_and_plans_cost_no_more_queries_than_few(agreed: Plan, cast: Cast) -> None:
    browser = cast.browser(cast.planner)
    pages = [cast.url(f"work/buy/?by={BY}"), cast.url("work/shed/"), cast.url("work/shed/?empty=yes")]
    taken(lot_of(cast.practice), "1", step(agreed, "drill"), cast)
    lot_of(cast.practice, "0")

    def asked() -> list[int]:
        return [queries.count(partial(browser.get, page)) for page in pages]

    few = asked()
    farm = make_farm(make_client(cast.practice))
    plan = make_plan(farm, title="Second")
    make_conversion(plan, make_field(farm), make_mix(cast.practice, "Second mix"))
    make_agreed(plan, cast.owner)
    for number in range(20):
        taken(lot_of(cast.practice, lot=f"L{number}"), "1", step(plan, "drill"), cast)
        lot_of(cast.practice, "0", lot=f"E{number}")
    assert asked() == few


def test_what_is_beyond_the_cap_is_said(agreed: Plan, cast: Cast, monkeypatch: Any) -> None:
    monkeypatch.setattr(needed, "MOST_PLANS", 0)
    monkeypatch.setattr(needed, "MOST_LOTS", 0)
    lot_of(cast.practice)
    notes = " ".join(needed.to_buy(cast.practice, date.fromisoformat(BY), FALL).notes)
    assert "1 are left out" in notes and "first 0 lots" in notes


# On the tailgate


def test_the_crew_sheet_has_lots_contacts_and_no_price(agreed: Plan, cast: Cast) -> None:
    drill, farm = step(agreed, "drill"), agreed.farm
    farm.nearest_hospital, farm.directions = "Invented General, 12 miles east", "Second gate <past> the barn"
    farm.save()
    cast.practice.emergency_contacts = "Office: 555-0100\nno colon 555-0101"
    cast.practice.save()
    make_machine(cast.practice, kind="implement", name="Drill <7 ft>", operations=["no_till_drilling"])
    taken(lot_of(cast.practice, "3", lot="TAKEN"), "2", drill, cast)
    answer = cast.browser(cast.crew).get(cast.url(f"work/{drill.pk}/sheet.pdf"))
    printed = text(answer.content)
    assert answer.headers["Content-Type"] == "application/pdf" and "$" not in printed
    for said in (
        "TAKEN",
        "555-0100",
        "no colon 555-0101",
        "Invented General",
        "<past> the barn",
        "Creek <b>",
        "Drill <7 ft>",
    ):
        assert said in printed, said


def test_a_days_sheets_are_listed_one_a_plan_and_operation(agreed: Plan, cast: Cast) -> None:
    kills = Visit.objects.filter(plan=agreed, operation="boom_spraying")
    assert kills.update(booked_on=FALL) >= 2
    browser = cast.browser(cast.crew)
    page = browser.get(cast.url(f"work/day/{FALL}/")).content.decode()
    whole = cast.url(f"work/day/{FALL}/{agreed.pk}/boom_spraying/sheet.pdf")
    assert whole in page and page.count("Crew sheet (PDF)") == len(kills)
    assert "glyphosate, 3 lb/gal" in text(browser.get(whole).content)
    for wrong in (whole.replace("boom", "loom"), whole.replace(f"{FALL}", "2027-02-30")):
        assert browser.get(wrong).status_code == 404


def test_the_visit_page_says_what_to_load_for_its_own_step(agreed: Plan, cast: Cast) -> None:
    browser, drill = cast.browser(cast.crew), step(agreed, "drill")
    lot_of(cast.practice, "100", lot="ON-SHELF")
    page = browser.get(cast.url(f"work/{drill.pk}/")).content.decode()
    assert "Loading list" in page and "lot ON-SHELF" in page and "sheet.pdf" in page and "$" not in page
    trip = trip_of([step(agreed, "kill_spring")])
    assert trip is not None and [task.step for task in trip.load.tasks] == ["kill_spring"]
    Visit.objects.filter(pk=drill.pk).update(state="skipped")
    assert "Loading list" not in browser.get(cast.url(f"work/{drill.pk}/")).content.decode()


def test_emergency_facts_are_entered_where_they_belong(agreed: Plan, cast: Cast) -> None:
    browser = cast.browser(cast.owner)
    assert "Emergency contacts" in browser.get(cast.url("practice/")).content.decode()
    assert "Nearest hospital" in browser.get(cast.url(f"farms/{agreed.farm_id}/edit/")).content.decode()
    too_many = "\n".join(f"Who {number}: 5" for number in range(9))
    typed = {**DETAILS, "emergency_contacts": too_many}
    refused = browser.post(cast.url("practice/"), typed)
    assert refused.status_code == 422 and "to 8 lines" in refused.content.decode()


def test_the_proposal_stays_as_it_was(agreed: Plan, cast: Cast) -> None:
    before = Proposal.objects.get().sha256
    cast.browser(cast.crew).get(cast.url(f"work/{step(agreed, 'drill').pk}/sheet.pdf"))
    assert Proposal.objects.get().sha256 == before
