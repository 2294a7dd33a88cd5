"""Lists from and to spreadsheets: shown first, taken whole or not at all, and the same there and back."""

from __future__ import annotations

import csv
from decimal import Decimal
from io import BytesIO, StringIO
from typing import Any

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.http import HttpResponse
from django_scopes import scope
from openpyxl import Workbook

from consulting.models import Client, SeedPrice
from consulting.starter import starter_rows
from plans.in_out import taking
from plans.in_out.kinds import KINDS
from plans.in_out.reading import Unreadable, number, read
from plans.models import ListUpload, Mix, MixLine, StockLot, Visit
from sites.models import Farm, Field
from tests.conftest import Cast
from tests.factories import make, make_client, make_farm, make_field, make_seed_price
from tests.plan_factories import make_agreed, make_own_species, make_ready_plan

MADE = ("mixes", "visits", "stock")
SEED = "Species,Price,Price is,Purity,Germination,Lot\n"


def bring(cast: Cast, kind: str, data: str | bytes, name: str = "list.csv") -> HttpResponse:
    content = data.encode() if isinstance(data, str) else data
    browser = cast.browser(cast.planner)
    file = SimpleUploadedFile(name, content)
    return browser.post(cast.url(f"lists/{kind}/in/"), {"file": file}, follow=True)


def take(cast: Cast, response: Any) -> Any:
    seen = response.context["looked"].stamp
    return cast.browser(cast.planner).post(
        f"{response.request['PATH_INFO']}take/", {"seen": seen}, follow=True
    )


def lots(cast: Cast) -> list[tuple[str, Decimal, str]]:
    with scope(practice=cast.practice):
        return list(SeedPrice.objects.order_by("lot").values_list("species", "price_usd_per_lb", "lot"))


def test_differences_are_shown_before_anything_is_written(cast: Cast) -> None:
    make_seed_price(cast.practice, species="big bluestem", lot="A1", price_usd_per_lb=Decimal("12.00"))
    page = bring(cast, "seed", SEED + "Big Bluestem,14.50,PLS,98,80,A1\nlittle bluestem,$20,PLS,95 %,75,B2\n")
    text = page.content.decode()
    assert "<strong>1 new</strong>" in text and "<strong>1 changed</strong>" in text
    assert "<del>12.00</del> to <ins>14.50</ins>" in text
    assert lots(cast) == [("big bluestem", Decimal("12.00"), "A1")]
    done = take(cast, page)
    assert "1 added, 1 changed" in done.content.decode()
    assert lots(cast) == [
        ("big bluestem", Decimal("14.50"), "A1"),
        ("little bluestem", Decimal("20.00"), "B2"),
    ]
    with scope(practice=cast.practice):
        assert not SeedPrice.objects.filter(unchecked=True).exists()
        assert not ListUpload.objects.exists()


def test_each_bad_row_is_named_and_nothing_is_taken(cast: Cast) -> None:
    page = bring(
        cast,
        "seed",
        SEED
        + "big bluestem,14,PLS,98,80,A1\n"
        + "big blustem,14,PLS,98,80,A2\n"
        + "little bluestem,cheap,PLS,98,80,A3\n"
        + "little bluestem,14,PLS,130,80,A4\n"
        + "big bluestem,15,PLS,98,80,A1\n"
        + "little bluestem,14,kilo,98,80,A5\n"
        + "little bluestem,cheap,PLS,130,80,A6\n",
    )
    problems = {
        row.number: (row.problems[0].column, row.problems[0].value, row.problems[0].reason)
        for row in page.context["looked"].rows
        if row.problems
    }
    assert problems[3][:2] == ("Species", "big blustem") and "Did you mean big bluestem?" in problems[3][2]
    assert problems[4] == ("Price, $ a lb", "cheap", "Price must be a number, such as 12.5.")
    assert problems[5][:2] == ("Purity, %", "130")
    assert "Row 2 is the same seed lot" in problems[6][2]
    assert problems[7][:2] == ("Price is", "kilo")
    both = page.context["looked"].rows[-1].problems
    assert {problem.column for problem in both} == {"Price, $ a lb", "Purity, %"}
    assert "Take it as shown" not in page.content.decode()
    page = take(cast, page)
    assert "mend the rows" in page.content.decode()
    assert lots(cast) == []


def test_a_suppliers_columns_are_matched_once(cast: Cast) -> None:
    theirs = "Kind of plant;Our ask;Sold as;P;G;Batch\nbig bluestem;12,50;PLS;98;80;A1\n"
    page = bring(cast, "seed", theirs)
    assert page.redirect_chain[-1][0].endswith("columns/")
    answers = {
        "species": 0,
        "price_usd_per_lb": 1,
        "basis": 2,
        "purity_pct": 3,
        "germination_pct": 4,
        "lot": 5,
    }
    browser = cast.browser(cast.planner)
    address = page.request["PATH_INFO"]
    twice = browser.post(address, answers | {"lot": 4, "mark": ""})
    assert twice.status_code == 422 and "chosen twice" in twice.content.decode()
    page = browser.post(address, answers | {"mark": ""}, follow=True)
    take(cast, page)
    assert lots(cast) == [("big bluestem", Decimal("12.50"), "A1")]
    page = bring(cast, "seed", theirs.replace("12,50", "13,25"))
    assert "<ins>13.25</ins>" in page.content.decode()


def test_a_list_changed_meanwhile_is_looked_at_again(cast: Cast) -> None:
    lot = make_seed_price(cast.practice, species="big bluestem", lot="A1", price_usd_per_lb=Decimal("12.00"))
    page = bring(cast, "seed", SEED + "big bluestem,14,PLS,98,80,A1\n")
    lot.price_usd_per_lb = Decimal("13.00")
    with scope(practice=cast.practice):
        lot.save()
    again = take(cast, page)
    assert "changed on the site meanwhile" in again.content.decode()
    assert lots(cast)[0][1] == Decimal("13.00")
    take(cast, again)
    assert lots(cast)[0][1] == Decimal("14.00")
    gone = cast.browser(cast.planner).post(f"{page.request['PATH_INFO']}take/", {"seen": "x"})
    assert gone.status_code == 404


def test_columns_that_a_file_lacks_stay(cast: Cast) -> None:
    client = make_client(cast.practice, name="Ada Ash", phone="555 0100", notes="gate code")
    take(cast, bring(cast, "clients", "Client,Phone\nada  ash,555 0199\n"))
    client.refresh_from_db()
    assert (client.name, client.phone, client.notes) == ("ada  ash", "555 0199", "gate code")


def test_farms_and_fields_belong_where_they_say(cast: Cast) -> None:
    make_client(cast.practice, name="Ada Ash")
    farms = "Client,Farm,Round trip from your yard,Latitude,Longitude\nAda Ash,Hill Farm,30,38.9,-92.3\n"
    take(cast, bring(cast, "farms", farms))
    page = bring(
        cast,
        "fields",
        "Client,Farm,Field,Acres,What grows there\n"
        "Ada Ash,Hill Farm,North,12.5,Cool-season sod\nAda Ash,Dale Farm,South,3,crop stubble\n",
    )
    wrong = page.context["looked"].rows[1].problems[0]
    assert (wrong.column, wrong.value) == ("Farm", "Dale Farm") and "No farm of this name" in wrong.reason
    take(
        cast,
        bring(
            cast, "fields", "Client,Farm,Field,Acres,Cover\nAda Ash,Hill Farm,North,12.5,cool-season sod\n"
        ),
    )
    with scope(practice=cast.practice):
        farm, field = Farm.objects.get(), Field.objects.select_related("farm").get()
    assert farm.climate_place and len(farm.monthly_mean_f) == 12
    assert (field.farm, field.acres, field.cover) == (farm, 12.5, "cool-season sod")


def test_another_practices_rows_are_neither_seen_nor_changed(cast: Cast) -> None:
    make_client(cast.other_practice, name="Ada Ash", phone="1")
    page = bring(cast, "clients", "Client,Phone\nAda Ash,2\n")
    assert page.context["looked"].counts == {"new": 1, "changed": 0, "same": 0, "wrong": 0}
    take(cast, page)
    with scope(practice=cast.other_practice):
        assert Client.objects.get().phone == "1"


@pytest.mark.parametrize("kind", KINDS)
@pytest.mark.parametrize("form", ["csv", "xlsx"])
def test_what_goes_out_comes_in_as_it_stands(cast: Cast, kind: str, form: str) -> None:
    client = make_client(cast.practice, name="=Ada “Ash”, \u00d1ame", address="Line 1\nLine 2", notes="-1")
    with scope(practice=cast.practice):
        for row in [] if kind in MADE else starter_rows(cast.practice):
            row.save()
    make_field(make_farm(client, latitude=38.5, longitude=-92.25), notes="@gate")
    make_own_species(cast.practice, bloom_months="6;7", bloom_colour="=white")
    if kind in MADE:
        make_agreed(make_ready_plan(cast.practice), cast.owner)
        seed = {"kind": "seed", "unit": "lb", "name": "big bluestem", "on_hand": Decimal("2.5")}
        make(StockLot, seed, practice=cast.practice, purity_pct=98.0, germination_pct=80.0)
    out = cast.browser(cast.planner).get(cast.url(f"lists/{kind}/out.{form}"))
    page = bring(cast, kind, out.content, f"{kind}.{form}")
    looked = page.context["looked"]
    assert looked.counts["same"] == looked.total > 0, [row for row in looked.rows if row.what != "same"][:3]


def test_what_goes_out_is_no_formula(cast: Cast) -> None:
    make_client(cast.practice, name="=HYPERLINK(1)")
    out = cast.browser(cast.planner).get(cast.url("lists/clients/out.csv"))
    rows = list(csv.reader(StringIO(out.content.decode("utf-8-sig"))))
    assert rows[1][0] == "'=HYPERLINK(1)"


def test_a_long_list_tells_how_far_it_is(cast: Cast, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(taking, "AT_ONCE", 2)
    page = bring(cast, "clients", "Client\n" + "\n".join(f"Client {n}" for n in range(5)))
    parts = [part.decode() for part in page.streaming_content]
    assert [part for part in parts if part.startswith("<li>")] == [
        "<li>2 of 5 rows</li>",
        "<li>4 of 5 rows</li>",
        "<li>5 of 5 rows</li>",
    ]
    whole = "".join(parts)
    assert whole.count("</html>") == 1 and "<strong>5 new</strong>" in whole


def book(rows: list[list[Any]]) -> bytes:
    made, out = Workbook(), BytesIO()
    for row in rows:
        made.active.append(row)
    made.save(out)
    return out.getvalue()


@pytest.mark.parametrize(
    ("data", "cell"),
    [
        ("a,b\né,2".encode("cp1252"), "é"),
        ("a,b\né,2".encode("utf-16"), "é"),
        ("\ufeffa;b\né;2".encode(), "é"),
        (b"a\tb\n1\t2", "1"),
        (b'title\n\na,b\n"x,\ny",2', "x,\ny"),
        (book([["a", "b"], [True, 2.5]]), "yes"),
    ],
)
def test_files_are_read_however_they_were_written(data: bytes, cell: str) -> None:
    sheet = read("list", data)
    assert sheet.heads == ("a", "b") and sheet.rows[0].cells[0] == cell


@pytest.mark.parametrize(
    ("data", "said"),
    [
        (b"", "is empty"),
        (b"a,b\n", "no row beneath"),
        (b"a,a\n1,2", "names two columns"),
        (b"a,b\n1,2,3", "row 2: has more cells"),
        (b"a,b\n1,\x002", "no list of text"),
        (b"PK\x03\x04 nothing", "no workbook"),
        (b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1 old", "old kind"),
        (b"\xff\xfea", "begins as UTF-16"),
        (b"a,b\n" + b"1,2\n" * 20_100, "more than 20,000 rows"),
        (b"," * 150 + b"x\n1,2", "more than 100 columns"),
    ],
)
def test_what_is_no_list_is_refused_in_a_sentence(data: bytes, said: str) -> None:
    with pytest.raises(Unreadable, match=said):
        read("list.csv", data)


@pytest.mark.parametrize(
    ("typed", "comma", "means"),
    [
        ("1,234.50", False, "1234.50"),
        ("$ 1,234", False, "1234"),
        ("1.234,50", True, "1234.50"),
        ("12,5 %", True, "12.5"),
        ("1\u202f234,5", True, "1234.5"),
        ("12,5", False, "12,5"),
    ],
)
def test_numbers_of_either_mark(typed: str, comma: bool, means: str) -> None:
    assert number(typed, comma) == means


MIX = "Mix,Amounts are,Live seeds per square foot,Species,Amount\n"


def test_a_mix_is_its_lines(cast: Cast) -> None:
    whole = MIX + "Upland,share of seed,40,big bluestem,60\nUpland,share of seed,40,little bluestem,40\n"
    take(cast, bring(cast, "mixes", whole))
    with scope(practice=cast.practice):
        assert sorted(MixLine.objects.values_list("mix__name", "species", "amount")) == [
            ("Upland", "big bluestem", 60.0),
            ("Upland", "little bluestem", 40.0),
        ]
    short = bring(cast, "mixes", MIX + "Upland,share of seed,40,big bluestem,60\n")
    assert "shares sum to 60" in short.content.decode()
    other = bring(cast, "mixes", MIX + "upland,share of seed,40,big bluestem,100\n")
    text = other.content.decode()
    assert "little bluestem: <del>40</del> to <ins>leaves the mix</ins>" in text
    take(cast, other)
    with scope(practice=cast.practice):
        assert [line.species for line in Mix.objects.get().lines.all()] == ["big bluestem"]


def test_stock_comes_in_and_is_counted_on_the_record(cast: Cast) -> None:
    heads = "Kind,What it is,Lot or batch number,On hand,Purity,Germination\n"
    take(cast, bring(cast, "stock", heads + "seed,Big Bluestem,A1,100,98,80\n"))
    wrong = bring(cast, "stock", heads + "seed,big blustem,A2,5,98,80\nproduct,glyphosate,,5,,\n")
    reasons = [row.problems[0].reason for row in wrong.context["looked"].rows]
    assert "Did you mean big bluestem?" in reasons[0] and "price list" in reasons[1]
    take(cast, bring(cast, "stock", heads + "seed,big bluestem,A1,80.5,98,85\n"))
    with scope(practice=cast.practice):
        lot = StockLot.objects.get()
        moves = list(lot.moves.order_by("pk").values_list("what", "amount"))
    assert (lot.name, lot.on_hand, lot.germination_pct) == ("big bluestem", Decimal("80.5"), 85.0)
    assert moves == [("in", Decimal("100")), ("counted", Decimal("-19.5"))]


def test_days_of_visits_come_in(cast: Cast) -> None:
    plan = make_agreed(make_ready_plan(cast.practice), cast.owner)
    with scope(practice=cast.practice):
        first, second = Visit.objects.filter(plan=plan).order_by("pk")[:2]
    listed = cast.browser(cast.planner).get(cast.url("lists/visits/out.csv")).content.decode("utf-8-sig")
    assert str(first.pk) in listed and first.label in listed
    page = bring(
        cast, "visits", f"Visit,Booked for\n{first.pk},2027-09-20\n{second.pk},soon\n999999,2027-09-20\n"
    )
    whats = [row.what for row in page.context["looked"].rows]
    assert whats == ["changed", "wrong", "wrong"]
    first.refresh_from_db()
    assert first.booked_on is None
    take(cast, bring(cast, "visits", f"Visit,Booked for\n{first.pk},2027-09-20\n"))
    first.refresh_from_db()
    assert f"{first.booked_on}" == "2027-09-20"
    with scope(practice=cast.practice):
        assert first.changes.filter(what="booked", reason="From a list").count() == 1
