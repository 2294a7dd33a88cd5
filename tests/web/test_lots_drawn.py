"""What a record of work takes out of the shed: proposed, asked where it is short, given back, never twice."""

from __future__ import annotations

import re
from datetime import date
from decimal import Decimal
from typing import Any
from uuid import uuid4

import pytest
from django_scopes import scope

from plans import lots_drawn, needed, shed, visits
from plans.lots_drawn import ELSEWHERE, FOUND, Draw
from plans.models import LotUse, Plan, RecordLine, StockLot, StockMove, Visit, WorkRecord
from plans.records import record_correct
from tests.conftest import Cast
from tests.factories import make, make_practice
from tests.plan_factories import make_agreed, make_ready_plan
from tests.web import queries
from tests.web.test_records import form_of

ON = date(2027, 9, 20)
SPECIES = "big bluestem"


@pytest.fixture
def agreed(cast: Cast, monkeypatch: Any) -> Any:
    for where in ("plans.views.work", "plans.views.records", "plans.forms.shed", "plans.views.shed"):
        monkeypatch.setattr(f"{where}.today_for", lambda practice: ON)
    plan = make_agreed(make_ready_plan(cast.practice), cast.owner)
    with scope(practice=cast.practice):
        yield plan


@pytest.fixture
def drill(agreed: Plan) -> Visit:
    return Visit.objects.get(plan=agreed, step="drill")


def lot_of(cast: Cast, on_hand: str, **values: Any) -> StockLot:
    first = {"kind": "seed", "unit": "lb", "name": SPECIES, "lot": "A", "tested_on": date(2027, 9, 1)}
    tag = {"purity_pct": 80.0, "germination_pct": 75.0} if values.get("kind", "seed") == "seed" else {}
    return make(StockLot, first | tag | values, practice=cast.practice, on_hand=Decimal(on_hand))


def held(lot: StockLot) -> Decimal:
    return StockLot.objects.get(pk=lot.pk).on_hand


def seed(amount: float, order: int = 0, **values: Any) -> dict[str, Any]:
    return {
        "order": order,
        "what": "seed",
        "name": SPECIES,
        "lot": "A",
        "amount": amount,
        "unit": "lb",
        "planned_amount": None,
        "reason": "",
    } | values


def do(visit: Visit, cast: Cast, lines: Any, draws: Any, acres: float = 10.0, **more: Any) -> Visit:
    now = Visit.objects.get(pk=visit.pk)
    asked: dict[str, Any] = {"version": now.version, "user": cast.crew, "on": ON, "today": ON} | more
    return visits.visit_do(visit=now, acres=acres, lines=lines, draws=draws, **asked)


def correct(visit: Visit, cast: Cast, lines: Any, draws: Any) -> WorkRecord:
    standing = visit.records.get(corrected_by=None)
    values = {"on": ON, "acres": standing.acres}
    return record_correct(
        record=standing,
        user=cast.crew,
        uid=uuid4(),
        because="weighed",
        values=values,
        lines=lines,
        draws=draws,
    )


def take(lot: StockLot, amount: str, visit: Visit, cast: Cast) -> None:
    now = StockLot.objects.get(pk=lot.pk)
    shed.stock_out(lot=now, version=now.version, user=cast.crew, amount=Decimal(amount), visit=visit, on=ON)


def filled(cast: Cast, visit: Visit, **more: str) -> dict[str, str]:
    page = cast.browser(cast.crew).get(cast.url(f"work/{visit.pk}/")).content.decode()
    return form_of(page, cast.url(f"work/{visit.pk}/do/")) | more


def line_of(data: dict[str, str], lot: StockLot) -> str:
    """The line for which the lot is proposed."""
    return next(name for name in data if name.endswith("_stock") and data[name] == f"{lot.pk}")[:5]


def send(cast: Cast, visit: Visit, data: dict[str, str]) -> Any:
    return cast.browser(cast.crew).post(cast.url(f"work/{visit.pk}/do/"), data, follow=True)


# In the form


def test_what_was_planned_is_proposed_by_lot_and_drawn_once(drill: Visit, cast: Cast) -> None:
    few, many = lot_of(cast, "4", lot="FEW"), lot_of(cast, "90", lot="MANY", tested_on=date(2027, 9, 2))
    data = filled(cast, drill)
    lots = {data[name]: name for name in data if name.endswith("_stock") and data[name]}
    assert set(lots) == {f"{few.pk}", f"{many.pk}"}
    amounts = {pk: Decimal(data[name.replace("stock", "amount")]) for pk, name in lots.items()}
    assert amounts[f"{few.pk}"] == 4
    page = send(cast, drill, data).content.decode()
    send(cast, drill, data)
    assert held(few) == 0 and held(many) == 90 - amounts[f"{many.pk}"]
    assert StockMove.objects.filter(visit=drill).count() == 2
    assert "went out of the shed" in page
    record = WorkRecord.objects.get()
    assert set(record.lines.filter(name=SPECIES).values_list("lot", flat=True)) == {"FEW", "MANY"}
    assert not record.lines.exclude(reason="").exists()
    (went,) = shed.went_to([few])[few.pk]
    assert (went.field_id, went.amount) == (drill.field_id, 4)
    lot_page = cast.browser(cast.crew).get(cast.url(f"work/shed/{few.pk}/")).content.decode()
    record_page = cast.browser(cast.crew).get(cast.url(f"work/records/{record.pk}/")).content.decode()
    assert f"work/records/{record.pk}/" in lot_page and f"work/shed/{few.pk}/" in record_page


def test_a_shortage_is_a_question_with_two_answers_and_another_lot(drill: Visit, cast: Cast) -> None:
    lot, other = lot_of(cast, "12"), lot_of(cast, "50", lot="B")
    data = filled(cast, drill)
    line = line_of(data, lot)
    data |= {f"{line}_amount": "14", f"{line}_reason": "thick", f"{line}_lot": ""}
    rest = line_of(data, other)
    data |= {f"{rest}_amount": "0"}
    response = send(cast, drill, data)
    page = response.content.decode()
    assert response.status_code == 422 and "the shed says 12 lb bulk, you used 14" in page
    assert 'value="14"' in page and f'name="{line}_short"' in page and f'href="#do-{line}_short' in page
    assert held(lot) == 12 and not WorkRecord.objects.exists()
    assert send(cast, drill, data | {f"{line}_stock": f"{other.pk}"}).status_code == 200
    assert (held(lot), held(other)) == (12, 36)


@pytest.mark.parametrize(("answer", "moves"), [(FOUND, ["2.0000", "-14.0000"]), (ELSEWHERE, ["-12.0000"])])
def test_either_answer_records_the_work(drill: Visit, cast: Cast, answer: str, moves: list[str]) -> None:
    lot = lot_of(cast, "12")
    do(drill, cast, [seed(14.0)], [Draw(order=0, lot=lot.pk, short=answer)])
    assert [f"{move.amount:.4f}" for move in lot.moves.order_by("pk")] == moves
    assert held(lot) == 0 and RecordLine.objects.get().amount == 14


def test_a_product_is_drawn_in_the_unit_of_its_lot(agreed: Plan, cast: Cast) -> None:
    kill = Visit.objects.get(plan=agreed, step="kill_fall")
    jug = lot_of(cast, "9", kind="product", unit="gal", name="glyphosate, 3 lb/gal", lot="G-1")
    data = filled(cast, kill)
    line = line_of(data, jug)
    gallons = Decimal(data[f"{line}_amount"])
    said = {"start_time": "07:40", "applicator": "Ada", "certificate": "I-1", "target": "fescue"}
    said |= {"customer_address": "1 Invented Road", f"{line}_registration_number": "INV-0-1"}
    data |= said | {f"{line}_amount": f"{gallons * 128:f}", f"{line}_unit": "fl oz"}
    wrong = send(cast, kill, data | {f"{line}_unit": "lb", f"{line}_reason": "x"})
    assert wrong.status_code == 422 and "cannot be told in lb" in wrong.content.decode()
    assert send(cast, kill, data).status_code == 200
    assert held(jug) == 9 - gallons and RecordLine.objects.get(what="product").lot == "G-1"


def test_seed_that_was_not_planned_comes_from_a_lot_too(drill: Visit, cast: Cast) -> None:
    lot = lot_of(cast, "5", name="Canada wild rye", lot="W")
    data = filled(cast, drill)
    spare = max(name for name in data if re.fullmatch(r"line\d_name", name))[:5]
    data |= {f"{spare}_stock": f"{lot.pk}", f"{spare}_amount": "3"}
    assert send(cast, drill, data).status_code == 200
    assert held(lot) == 2 and RecordLine.objects.get(lot="W").name == "Canada wild rye"


def test_a_lot_of_another_practice_cannot_be_drawn(drill: Visit, cast: Cast) -> None:
    lot_of(cast, "5")
    elsewhere = make_practice("Elsewhere", slug="elsewhere")
    tag = {"name": SPECIES, "purity_pct": 80.0, "germination_pct": 75.0}
    alien = make(StockLot, tag, practice=elsewhere, kind="seed", unit="lb", on_hand=Decimal(50))
    data = filled(cast, drill)
    line = next(name for name in data if name.endswith("_stock"))
    assert send(cast, drill, data | {line: f"{alien.pk}"}).status_code == 422
    with pytest.raises(lots_drawn.ValidationError):
        do(drill, cast, [seed(1.0)], [Draw(order=0, lot=alien.pk)])
    assert not WorkRecord.objects.exists()


# What was taken by hand, in part, corrected, taken back


def test_what_was_taken_along_counts_first_and_the_rest_comes_back(drill: Visit, cast: Cast) -> None:
    lot = lot_of(cast, "20")
    take(lot, "8", drill, cast)
    do(drill, cast, [seed(5.0)], [Draw(order=0, lot=lot.pk)], acres=4.0)
    assert held(lot) == 12
    assert lots_drawn.taken_along(drill) == {lot.pk: 3}
    do(drill, cast, [seed(1.0)], [Draw(order=0, lot=lot.pk)], acres=6.0)
    assert held(lot) == 14 and lots_drawn.taken_along(drill) == {}


def test_more_than_was_taken_along_is_drawn_besides(drill: Visit, cast: Cast) -> None:
    lot = lot_of(cast, "20")
    take(lot, "8", drill, cast)
    do(drill, cast, [seed(11.0)], [Draw(order=0, lot=lot.pk)])
    assert held(lot) == 9 and shed.went_to([lot])[lot.pk][0].amount == 11


def test_a_lot_taken_along_that_no_record_names_is_shown(drill: Visit, cast: Cast) -> None:
    lot = lot_of(cast, "20")
    take(lot, "8", drill, cast)
    do(drill, cast, [seed(11.0)], [])
    page = cast.browser(cast.crew).get(cast.url(f"work/{drill.pk}/")).content.decode()
    assert held(lot) == 12 and "in no record of this visit" in page


def test_a_correction_moves_the_shed_by_the_difference(drill: Visit, cast: Cast) -> None:
    lot, other = lot_of(cast, "20"), lot_of(cast, "20", lot="B")
    done = do(drill, cast, [seed(14.0)], [Draw(order=0, lot=lot.pk)])
    correct(done, cast, [seed(9.0)], [Draw(order=0, lot=lot.pk)])
    assert held(lot) == 11
    correct(done, cast, [seed(9.0, lot="B")], [Draw(order=0, lot=other.pk)])
    assert (held(lot), held(other)) == (20, 11)
    assert [move.amount for move in lot.moves.order_by("pk")] == [-14, 5, 9]
    assert set(shed.went_to([lot, other])) == {other.pk}


def test_a_correction_of_something_else_leaves_the_shed(drill: Visit, cast: Cast) -> None:
    lot = lot_of(cast, "20")
    done = do(drill, cast, [seed(14.0)], [Draw(order=0, lot=lot.pk)])
    now = StockLot.objects.get(pk=lot.pk)
    shed.stock_in(lot=now, version=now.version, user=cast.crew, amount=Decimal(2), on=ON, visit=drill)
    correct(done, cast, [seed(14.0, reason="thick")], [Draw(order=0, lot=lot.pk)])
    assert held(lot) == 8


def test_the_form_of_a_correction_begins_with_the_lot(drill: Visit, cast: Cast) -> None:
    lot = lot_of(cast, "14")
    done = do(drill, cast, [seed(14.0)], [Draw(order=0, lot=lot.pk)])
    record = done.records.get()
    browser, url = cast.browser(cast.crew), cast.url(f"work/records/{record.pk}/correct/")
    data = form_of(browser.get(url).content.decode(), url)
    assert data["line0_stock"] == f"{lot.pk}"
    assert browser.post(url, data | {"line0_amount": "10", "because": "weighed"}).status_code == 302
    assert held(lot) == 4 and RecordLine.objects.latest("pk").lot == "A"


def test_a_visit_opened_again_gives_back_what_its_records_drew(drill: Visit, cast: Cast) -> None:
    lot = lot_of(cast, "20")
    take(lot, "8", drill, cast)
    done = do(drill, cast, [seed(14.0)], [Draw(order=0, lot=lot.pk)])
    visits.visit_reopen(visit=done, version=done.version, user=cast.owner, reason="wrong field")
    assert held(lot) == 12 and lots_drawn.taken_along(drill) == {lot.pk: 8}
    do(drill, cast, [seed(8.0)], [Draw(order=0, lot=lot.pk)])
    assert held(lot) == 12 and LotUse.objects.count() == 2


def test_a_record_sent_twice_draws_once(drill: Visit, cast: Cast) -> None:
    lot, uid = lot_of(cast, "20"), uuid4()
    for _ in range(2):
        do(drill, cast, [seed(3.0)], [Draw(order=0, lot=lot.pk)], acres=2.0, uid=uid)
    assert held(lot) == 17


def test_the_buy_list_needs_no_more_of_what_was_drawn(drill: Visit, cast: Cast) -> None:
    lot, by = lot_of(cast, "90"), date(2028, 12, 31)

    def short_of() -> float:
        lines = needed.to_buy(cast.practice, by, ON).bought.lines
        return float(next(line.needed.value for line in lines if line.name == SPECIES))

    whole = short_of()
    data = filled(cast, drill)
    line = line_of(data, lot)
    half = {name: f"{float(data[name]) / 2}" for name in data if name.endswith("_amount") and data[name]}
    assert send(cast, drill, data | half | {"acres": "5"}).status_code == 200
    assert float(90 - held(lot)) == pytest.approx(float(data[f"{line}_amount"]) / 2)
    assert short_of() == pytest.approx(whole / 2, rel=1e-3)


def test_many_lots_cost_the_visit_no_more_queries_than_one(drill: Visit, cast: Cast) -> None:
    browser, url = cast.browser(cast.crew), cast.url(f"work/{drill.pk}/")
    take(lot_of(cast, "20"), "1", drill, cast)
    few = queries.count(lambda: browser.get(url))
    for number in range(12):
        take(lot_of(cast, "2", lot=f"L{number}"), "1", drill, cast)
    assert queries.count(lambda: browser.get(url)) == few
