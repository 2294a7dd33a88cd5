"""Records of work: written with the doing, corrected by adding, chained, found and printed."""

from __future__ import annotations

import csv
import re
from datetime import date
from io import BytesIO, StringIO
from typing import Any
from uuid import uuid4

import pytest
from django.core.exceptions import ValidationError
from django.core.management import call_command
from django.db import connection
from django_scopes import scope
from openpyxl import load_workbook

from consulting.append_only import Recorded
from consulting.models import Product
from plans import records, visits
from plans.documents.record_sheet import COLUMNS
from plans.models import Plan, RecordLabels, RecordLine, Visit, VisitState, WorkRecord
from plans.record_pages import PER_PAGE, arranged, keep_until
from plans.records import Kind
from sites.models import Field
from tests.conftest import Cast
from tests.plan_factories import SPRAYED, line, make_agreed, make_ready_plan
from tests.web import queries

ON = date(2027, 9, 20)


@pytest.fixture
def agreed(cast: Cast) -> Any:
    """An agreed plan of one field of sod, in the scope of its practice."""
    ready = make_ready_plan(cast.practice)
    cast.practice.applicator_licence = "INV-9"
    cast.practice.save()
    with scope(practice=cast.practice):
        Product.objects.update(registration_number="INV-0-1", restricted_use=True)
    plan = make_agreed(ready, cast.owner)
    with scope(practice=cast.practice):
        yield plan


@pytest.fixture
def kill(agreed: Plan, monkeypatch: Any) -> Visit:
    for module in ("work", "records", "counts"):
        monkeypatch.setattr(f"plans.views.{module}.today_for", lambda practice: ON)
    return step(agreed, "kill_fall")


def step(plan: Plan, key: str) -> Visit:
    return Visit.objects.get(plan=plan, step=key)


def form_of(page: str, action: str) -> dict[str, str]:
    """What a browser would send of the form with that action, untouched."""
    form = next(part for part in page.split("<form")[1:] if f'action="{action}"' in part.split(">")[0])
    form = form.split("</form>")[0]
    sent = {}
    for tag in re.findall(r"<input[^>]*>", form):
        named = dict(re.findall(r'(\w+)="([^"]*)"', tag))
        if "name" in named and named.get("type") not in ("radio", "checkbox"):
            sent[named["name"]] = named.get("value", "")
    for name, inner in re.findall(r'<select name="(\w+)".*?>(.*?)</select>', form, re.DOTALL):
        chosen = re.search(r'value="([^"]*)"[^>]*selected', inner)
        sent[name] = chosen[1] if chosen else ""
    for name, inner in re.findall(r'<textarea name="(\w+)".*?>(.*?)</textarea>', form, re.DOTALL):
        sent[name] = inner.strip()
    return sent


TYPED = {
    "start_time": "07:40",
    "applicator": "Ada Applicator",
    "certificate": "INV-1234",
    "target": "tall fescue",
    "customer_address": "1 Invented Road",
    "wind_mph": "6",
    "wind_from": "SW",
    "temp_f": "64",
    "humidity_pct": "55",
    "sky": "clear",
}


def filled(cast: Cast, visit: Visit, **more: str) -> dict[str, str]:
    page = cast.browser(cast.crew).get(cast.url(f"work/{visit.pk}/")).content.decode()
    return form_of(page, cast.url(f"work/{visit.pk}/do/")) | TYPED | more


def send(cast: Cast, visit: Visit, data: dict[str, str]) -> Any:
    return cast.browser(cast.crew).post(cast.url(f"work/{visit.pk}/do/"), data)


def write(visit: Visit, cast: Cast, *, lines: Any = None, **values: Any) -> WorkRecord:
    told = {**SPRAYED, "on": ON, "acres": 10.0} | values
    return records.record_write(
        visit=visit, user=cast.crew, uid=uuid4(), values=told, lines=[line()] if lines is None else lines
    )


# Written with the doing


def test_what_was_planned_is_filled_in_and_kept_beside_what_was_used(kill: Visit, cast: Cast) -> None:
    data = filled(cast, kill)
    assert data["line0_registration_number"] == "INV-0-1" and data["place"] == "Invented County"
    assert data["line0_unit"] == "gal" and float(data["line0_amount"]) > 0
    assert send(cast, kill, data).status_code == 302
    record = WorkRecord.objects.get()
    assert record.visit == kill and record.number == 1 and record.kind == Kind.APPLICATION
    assert (record.customer_name, record.field_name) == (kill.field.farm.client.name, kill.field.name)
    product = record.lines.get(what="product")
    assert product.restricted_use and product.amount == pytest.approx(product.planned_amount, rel=1e-3)
    assert product.rate_per_acre == pytest.approx(product.amount / 10)
    assert Visit.objects.get(pk=kill.pk).state == VisitState.DONE


@pytest.mark.parametrize("name", [*records.REQUIRED[Kind.APPLICATION], "line0_registration_number"])
def test_an_element_that_the_rule_names_must_be_there(kill: Visit, cast: Cast, name: str) -> None:
    data = filled(cast, kill, **{name: ""})
    response = send(cast, kill, data)
    page = response.content.decode()
    assert response.status_code == 422 and "is missing" in page
    assert f'href="#do-{name}"' in page and f'id="do-{name}"' in page
    assert 'value="Ada Applicator"' in page or name == "applicator"
    assert not WorkRecord.objects.exists() and step(kill.plan, "kill_fall").is_open


def test_far_from_the_plan_asks_for_a_reason(kill: Visit, cast: Cast) -> None:
    data = filled(cast, kill, line0_amount="20")
    page = send(cast, kill, data).content.decode()
    assert "over what was planned" in page and 'name="line0_reason"' in page
    assert send(cast, kill, data | {"line0_reason": "second pass on the west side"}).status_code == 302
    kept = RecordLine.objects.get(what="product")
    assert kept.reason == "second pass on the west side"
    page = cast.browser(cast.crew).get(cast.url(f"work/records/{kept.record_id}/")).content.decode()
    assert "second pass" in page and "$" not in page and "+" in page


def test_an_amount_in_another_unit_is_held_to_the_plan(kill: Visit, cast: Cast) -> None:
    gallons = float(filled(cast, kill)["line0_amount"])
    data = filled(cast, kill, line0_amount=f"{gallons * 128:.0f}", line0_unit="fl oz")
    assert send(cast, kill, data).status_code == 302
    kept = RecordLine.objects.get(what="product")
    assert kept.unit == "fl oz" and kept.planned_amount == pytest.approx(gallons * 128, rel=1e-3)


def test_wind_outside_its_limits_is_said_and_written(kill: Visit, cast: Cast) -> None:
    browser = cast.browser(cast.crew)
    response = browser.post(cast.url(f"work/{kill.pk}/do/"), filled(cast, kill, wind_mph="14"), follow=True)
    page = response.content.decode()
    assert "Wind 14 mph is over 10" in page and "written down as it was" in page
    record = WorkRecord.objects.get()
    assert record.wind_mph == 14
    assert "over 10" in browser.get(cast.url(f"work/records/{record.pk}/")).content.decode()


def test_sent_twice_it_is_written_once(kill: Visit, cast: Cast) -> None:
    data = filled(cast, kill, acres="4", line0_reason="as measured", line1_reason="as measured")
    first, second = send(cast, kill, data), send(cast, kill, data)
    assert (first.status_code, second.status_code) == (302, 302)
    assert WorkRecord.objects.count() == 1 and step(kill.plan, "kill_fall").acres_done == 4


def test_a_product_that_was_not_planned_is_whole_or_empty(kill: Visit, cast: Cast) -> None:
    spare = max(name for name in filled(cast, kill) if re.fullmatch(r"line\d_name", name))[:5]
    data = filled(cast, kill, **{f"{spare}_name": "imazapic, 2 lb/gal"})
    assert "neither" in send(cast, kill, data).content.decode()
    data |= {f"{spare}_amount": "0.5", f"{spare}_unit": "gal"}
    assert "registration number of imazapic" in send(cast, kill, data).content.decode()
    assert send(cast, kill, data | {f"{spare}_registration_number": "INV-0-2"}).status_code == 302
    added = RecordLine.objects.get(name__startswith="imazapic")
    assert added.planned_amount is None and not added.reason


def test_a_seeding_keeps_lots_and_bulk_pounds(agreed: Plan, cast: Cast, monkeypatch: Any) -> None:
    drill = step(agreed, "drill")
    monkeypatch.setattr("plans.views.work.today_for", lambda practice: drill.window_opens)
    assert send(cast, drill, filled(cast, drill)).status_code == 302
    lines = RecordLine.objects.filter(record__visit=drill, what="seed")
    assert {row.lot for row in lines} == {"INV-big", "INV-ind", "INV-bla"}
    assert all(row.unit == "lb" and row.planned_amount for row in lines)


def test_mowing_asks_no_more_than_acres_and_notes(agreed: Plan, cast: Cast, monkeypatch: Any) -> None:
    clip = step(agreed, "clip_1")
    monkeypatch.setattr("plans.views.work.today_for", lambda practice: clip.window_opens)
    assert send(cast, clip, {"on": f"{clip.window_opens}", "acres": "10"}).status_code == 302
    record = WorkRecord.objects.get()
    assert record.kind == Kind.MOWING and record.customer_name and not record.lines.exists()


def test_what_the_state_asks_besides_is_asked_and_kept(kill: Visit, cast: Cast) -> None:
    url = cast.url("work/records/asked/")
    twice = cast.browser(cast.owner).post(url, {"labels": "Nozzle\nnozzle", "keep_years": "2"})
    assert twice.status_code == 422 and "the same" in twice.content.decode()
    cast.browser(cast.owner).post(url, {"labels": "Nozzle\nWho was warned", "keep_years": "2"})
    assert RecordLabels.objects.get().labels == ["Nozzle", "Who was warned"]
    assert send(cast, kill, filled(cast, kill, extra0="flat fan, 110°")).status_code == 302
    assert WorkRecord.objects.get().extra == [["Nozzle", "flat fan, 110°"]]


def test_hours_far_from_the_plan_ask_for_a_reason_and_stand_beside_it(kill: Visit, cast: Cast) -> None:
    # 10 acres at 20 ft × 4 mph × 60 % / 8.25 = 5.82 acres an hour are 1.72 h.
    page = cast.browser(cast.crew).get(cast.url(f"work/{kill.pk}/")).content.decode()
    assert "Planned: 1.72 h." in page and "planned hours" not in page
    data = filled(cast, kill, hours="2.5", person_hours="5")
    refused = send(cast, kill, data)
    assert refused.status_code == 422 and "45 % over the 1.72 h planned" in refused.content.decode()
    assert 'name="hours_reason"' in refused.content.decode() and not WorkRecord.objects.exists()
    assert send(cast, kill, data | {"hours_reason": "the gate was <locked>"}).status_code == 302
    record = WorkRecord.objects.get()
    assert (record.hours, record.person_hours) == (2.5, 5) and record.planned_hours == pytest.approx(1.71875)
    page = cast.browser(cast.crew).get(cast.url(f"work/records/{record.pk}/")).content.decode()
    assert "2.5 h in the field, 5 person-hours; planned 1.72 h (+45 %)" in page
    assert "the gate was &lt;locked&gt;" in page


def test_work_by_hand_is_held_to_its_person_hours(agreed: Plan, cast: Cast, monkeypatch: Any) -> None:
    count = Visit.objects.filter(plan=agreed, operation="stand_count").first()
    assert count
    monkeypatch.setattr("plans.views.work.today_for", lambda practice: count.window_opens)
    # 1.72 person-hours are planned; that two people needed half the hours does not matter.
    data = filled(cast, count, hours="0.8", person_hours="1.6")
    assert send(cast, count, data).status_code == 302
    assert (
        "planned 1.72 person-hours (−7 %)" in arranged(WorkRecord.objects.get(), cast.practice, 2).facts[1][1]
    )


def test_how_long_records_are_kept_is_set_and_said(kill: Visit, cast: Cast) -> None:
    browser, url = cast.browser(cast.owner), cast.url("work/records/asked/")
    short = browser.post(url, {"labels": "Nozzle", "keep_years": "1"})
    assert short.status_code == 422 and "2 or more" in short.content.decode()
    assert browser.post(url, {"labels": "Nozzle", "keep_years": "7"}).status_code == 302
    record = write(kill, cast, extra=[["Nozzle", "+flat fan"]])
    assert "September 20, 2034" in browser.get(cast.url(f"work/records/{record.pk}/")).content.decode()
    body = browser.get(cast.url("work/records/records.csv")).content.decode("utf-8-sig")
    (row,) = csv.DictReader(StringIO(body))
    assert row["Keep until"] == "2034-09-20" and row["Asked besides: Nozzle"] == "'+flat fan"
    assert list(row) == [*(column.title for column in COLUMNS), "Asked besides: Nozzle"]
    assert row["Certified applicator"] == record.applicator != ""


def test_a_leap_day_is_kept_a_day_longer() -> None:
    assert keep_until(date(2028, 2, 29), 7) == date(2035, 3, 1)


# Corrected by adding


def correct(record: WorkRecord, cast: Cast, **more: Any) -> WorkRecord:
    told = {name: getattr(record, name) for name in (*SPRAYED, "on", "acres")} | more
    return records.record_correct(
        record=record, user=cast.planner, uid=uuid4(), because="misread", values=told, lines=[line()]
    )


def test_a_record_is_corrected_by_another_and_the_latest_stands(kill: Visit, cast: Cast) -> None:
    first = write(kill, cast)
    url = cast.url(f"work/records/{first.pk}/correct/")
    browser = cast.browser(cast.crew)
    data = form_of(browser.get(url).content.decode(), url)
    assert data["wind_mph"] == "6" and data["start_time"] == "07:40" and data["line0_amount"] == "7.5"
    unsaid = browser.post(url, data | {"wind_mph": "9"})
    assert unsaid.status_code == 422 and 'value="9"' in unsaid.content.decode()
    done = browser.post(url, data | {"wind_mph": "9", "because": "read the wrong meter"})
    assert done.status_code == 302
    second = WorkRecord.objects.get(corrects=first)
    assert (second.wind_mph, second.visit, list(records.standing())) == (9, kill, [second])
    assert WorkRecord.objects.get(pk=first.pk).wind_mph == 6
    late = browser.post(url, data | {"uid": str(uuid4()), "because": "again"}, follow=True)
    assert "corrected already" in late.content.decode() and WorkRecord.objects.count() == 2
    assert "read the wrong meter" in browser.get(cast.url(f"work/records/{first.pk}/")).content.decode()


def test_a_visit_opened_again_takes_its_records_back(kill: Visit, cast: Cast) -> None:
    done = visits.visit_do(
        visit=kill, version=1, user=cast.crew, on=ON, acres=10, today=ON, record=SPRAYED, lines=[line()]
    )
    visits.visit_reopen(visit=done, version=done.version, user=cast.owner, reason="wrong field")
    taken = WorkRecord.objects.get(taken_back=True)
    assert taken.corrects and taken.because == "wrong field" and taken.lines.count() == 1
    assert not records.standing().exists() and records.chain().broken_at is None
    page = cast.browser(cast.crew).get(cast.url(f"work/records/{taken.corrects_id}/")).content.decode()
    assert "taken back" in page and "Correct it" not in page


def test_a_record_is_only_ever_added(kill: Visit, cast: Cast) -> None:
    record = write(kill, cast)
    row = record.lines.get()
    for attempt in (record.save, record.delete, row.save, row.delete, WorkRecord.objects.all().delete):
        with pytest.raises(Recorded):
            attempt()
    with pytest.raises(Recorded):
        record.lines.update(amount=1)


def test_what_was_true_then_stays(kill: Visit, cast: Cast) -> None:
    record = write(kill, cast)
    Field.objects.filter(pk=kill.field_id).update(name="Another name")
    kept = WorkRecord.objects.get(pk=record.pk)
    assert kept.field_name == kill.field.name and kept.customer_name == "Lena Landowner"


# The chain


CHANGES = {
    "wind_mph": "UPDATE plans_workrecord SET wind_mph = 5 WHERE number = 2",
    "certificate": "UPDATE plans_workrecord SET certificate = 'x' WHERE number = 2",
    "hours": "UPDATE plans_workrecord SET planned_hours = NULL WHERE number = 2",
    "an amount": (
        "UPDATE plans_recordline SET amount = 1 WHERE record_id = "
        "(SELECT id FROM plans_workrecord WHERE number = 2)"
    ),
    "a line gone": (
        "DELETE FROM plans_recordline WHERE record_id = (SELECT id FROM plans_workrecord WHERE number = 2)"
    ),
    "moved": "UPDATE plans_workrecord SET number = 9 WHERE number = 2",
}


@pytest.mark.parametrize("change", CHANGES)
def test_the_chain_shows_what_was_changed_behind_its_back(kill: Visit, cast: Cast, change: str) -> None:
    for amount in (7.5, 7.6, 7.7):
        write(kill, cast, lines=[line(amount=amount)], notes=f"{amount} – “measured”")
    found = records.chain()
    assert (found.length, found.broken_at) == (3, None)
    with connection.cursor() as cursor:
        cursor.execute(CHANGES[change])
    assert records.chain().broken_at == 2
    page = cast.browser(cast.crew).get(cast.url("work/records/check/")).content.decode()
    assert "Record 2 does not fit" in page


def test_the_chain_is_proved_from_the_command_line(kill: Visit, cast: Cast, capsys: Any) -> None:
    record = write(kill, cast)
    call_command("prove_records", "--practice", cast.practice.slug)
    assert f"1 records; the last has the seal {record.sha256}" in capsys.readouterr().out
    with connection.cursor() as cursor:
        cursor.execute("UPDATE plans_workrecord SET wind_mph = 5")
    with pytest.raises(SystemExit) as left:
        call_command("prove_records")
    said = capsys.readouterr()
    assert left.value.code == 1 and "record 1 does not fit" in said.out and "1 of 2 practices" in said.err
    with pytest.raises(SystemExit) as left:
        call_command("prove_records", "--practice", "nobody")
    assert left.value.code == 2 and "nobody" in capsys.readouterr().err


def test_every_column_that_says_something_is_under_the_seal() -> None:
    unsealed = {"id", "practice", "entered_by", "sha256", "at"}
    columns = {column.attname for column in WorkRecord._meta.concrete_fields if column.name not in unsealed}
    assert columns == set(records.OF_RECORD)
    of_line = {column.name for column in RecordLine._meta.concrete_fields} - {"id", "practice", "record"}
    assert of_line == set(records.OF_LINE)


def test_a_seal_from_before_hours_were_asked_still_fits(kill: Visit, cast: Cast) -> None:
    record = write(kill, cast)
    assert record.planned_hours
    record.planned_hours = None
    said = records.content(record, record.lines.all())
    assert not any(name in said for name in records.ASKED_LATER)
    record.hours = 2.0
    assert '"hours":2.0' in records.content(record, record.lines.all())


def test_corrected_acres_move_the_hours_planned_for_them(kill: Visit, cast: Cast) -> None:
    first = write(kill, cast, hours=1.7)
    second = correct(first, cast, acres=5.0, hours=0.9)
    assert first.planned_hours and second.planned_hours == pytest.approx(first.planned_hours / 2)
    with pytest.raises(ValidationError, match="over the"):
        correct(second, cast, acres=5.0, hours=3.0)


# Found and taken away


def test_records_are_found_by_what_the_address_asks(kill: Visit, cast: Cast) -> None:
    write(kill, cast)
    browser = cast.browser(cast.crew)
    url = cast.url("work/records/")

    def rows(query: str) -> int:
        return browser.get(f"{url}?{query}").content.decode().count('data-label="Where"')

    farm = kill.field.farm
    for there in (f"field={kill.field_id}", f"farm={farm.pk}&client={farm.client_id}", "season=2027", ""):
        assert rows(there) == 1
    for nowhere in ("field=999999", "season=2026", "kind=mowing"):
        assert rows(nowhere) == 0
    assert rows("field=x&season=²&kind=nonsense&page=-1") == 1


def test_a_spreadsheet_takes_no_text_for_a_formula(kill: Visit, cast: Cast) -> None:
    write(kill, cast, customer_name='=cmd|"/c calc"!A1', notes="+1", lines=[line(name="@sum")])
    body = cast.browser(cast.crew).get(cast.url("work/records/records.csv")).content.decode("utf-8-sig")
    (row,) = csv.DictReader(StringIO(body))
    assert row["Customer"].startswith("'=") and row["Notes"] == "'+1" and row["Used"] == "'@sum"
    assert row["EPA Reg. No."] == "INV-0-1" and row["Certificate number"] == "INV-1234"
    assert "$" not in body
    book = cast.browser(cast.crew).get(cast.url("work/records/records.xlsx")).content
    used = {cell.value for rows in load_workbook(BytesIO(book)).active.iter_rows() for cell in rows}
    assert {'=cmd|"/c calc"!A1', "+1", "@sum", 7.5} <= used


def test_a_spreadsheet_has_a_row_for_each_thing_used(kill: Visit, cast: Cast) -> None:
    sprayed = write(kill, cast, lines=[line(amount=9.75, reason="second pass"), line(name="salt", order=1)])
    mown = write(step(kill.plan, "clip_1"), cast, lines=[])
    body = cast.browser(cast.crew).get(cast.url("work/records/records.csv")).content.decode("utf-8-sig")
    rows = [
        (row["Record"], row["Used"], row["Apart %"], row["Why"]) for row in csv.DictReader(StringIO(body))
    ]
    assert rows == [
        (f"{mown.number}", "", "", ""),
        (f"{sprayed.number}", line()["name"], "30", "second pass"),
        (f"{sprayed.number}", "salt", "0", ""),
    ]


def test_typed_text_is_text_on_the_page(kill: Visit, cast: Cast) -> None:
    record = write(kill, cast, target="<b>fescue</b>", notes="<script>x</script>")
    page = cast.browser(cast.crew).get(cast.url(f"work/records/{record.pk}/")).content.decode()
    assert "&lt;b&gt;fescue" in page and "<script>x" not in page


def test_other_practices_records_are_not_found(kill: Visit, cast: Cast) -> None:
    write(kill, cast)
    page = cast.browser(cast.stranger).get(f"/{cast.other_practice.slug}/work/records/").content.decode()
    assert kill.label not in page


def test_many_records_cost_no_more_queries_than_few(kill: Visit, cast: Cast) -> None:
    write(kill, cast)
    browser = cast.browser(cast.crew)
    few = queries.count(lambda: browser.get(cast.url("work/records/")))
    for _ in range(PER_PAGE + 5):
        write(kill, cast)
    page = browser.get(cast.url("work/records/")).content.decode()
    assert queries.count(lambda: browser.get(cast.url("work/records/"))) == few
    assert page.count('data-label="Where"') == PER_PAGE and "?page=2" in page
