"""The field plan and the farm plan where people see them: pages, the frozen proposal, the crew sheet."""

from __future__ import annotations

import math
from dataclasses import replace
from datetime import date, timedelta
from io import BytesIO
from typing import Any

import pytest
from django_scopes import scope
from pypdf import PdfReader
from reportlab.graphics.shapes import Polygon

from plans.documents.farm_plan import farm_plan
from plans.documents.field_plan import field_plan
from plans.documents.proposal import AcceptedCaution, proposal_pdf
from plans.facts import left_of_works
from plans.field_plans import MOST_CORNERS, drawn_of, farm_drawn
from plans.models import Visit
from plans.planning.beside import read_beside
from plans.planning.wire import BadInput, job_file_json, read_job_file
from plans.selectors import frozen_outcome
from plans.trips import sheet_of, trip_of
from plans.visits import plan_agree
from sites.models import Exclusion, Field, Landmark
from tests.conftest import Cast
from tests.factories import make_client, make_farm, make_field
from tests.ground_factories import (
    ACRES,
    EAST,
    NORTH,
    OUTLINE,
    SOUTH,
    WEST,
    make_drawn_field,
    make_exclusion,
    make_landmark,
)
from tests.plan_factories import TODAY, make_offered, make_ready_plan
from tests.web.queries import count

pytestmark = pytest.mark.django_db

GATE = {"type": "Point", "coordinates": [EAST, NORTH + 0.0002]}


def text(pdf: bytes) -> str:
    return " ".join(" ".join(page.extract_text() for page in PdfReader(BytesIO(pdf)).pages).split())


def drawn_farm(cast: Cast, **values: Any) -> Field:
    """A field with a creek that is kept away from, a gate and a plot."""
    farm = make_farm(make_client(cast.practice))
    field = make_drawn_field(farm, **{"name": "Creek Bottom", "slope_pct": 6.0, "faces": "south", **values})
    make_exclusion(field)
    make_landmark(farm, kind="gate", name="Green gate", shape=GATE)
    make_landmark(farm, kind="plot", name="Plot <b>1</b>")
    return field


def drawn(field: Field) -> tuple[Any, ...]:
    with scope(practice=field.practice):
        return drawn_of(field, left_of_works(field), list(field.farm.landmarks.all()))


def test_the_field_page_draws_the_field_and_tells_it_in_words(cast: Cast) -> None:
    field = drawn_farm(cast)
    html = cast.browser(cast.crew).get(cast.url(f"fields/{field.pk}/")).content.decode()
    assert html.count("<svg") == 1 and "ground-picture" not in html
    for said in ("Field plan of Creek Bottom", "Left to spray and seed", "Way in: Green gate", "Corner at"):
        assert said in html
    assert "Mill Creek: 50 ft, the product label" in html and "8.68 of 9.51 acres" in html
    assert "Plot &lt;b&gt;1&lt;/b&gt;" in html and "<b>1" not in html and "style=" not in html


def test_work_that_keeps_away_from_other_ground_has_its_own_drawing(cast: Cast) -> None:
    field = drawn_farm(cast)
    make_exclusion(
        field, landmark=make_landmark(field.farm, name="Well", kind="well"), distance_ft=100, work=["burn"]
    )
    plans = drawn(field)
    assert [plan.works for plan in plans] == [("spray", "drill"), ("burn",), ()]
    assert [[kept.name for kept in plan.kept_free] for plan in plans] == [["Mill Creek"], ["Well"], []]
    assert "Well" in [mark.name for mark in plans[0].marks]
    html = cast.browser(cast.crew).get(cast.url(f"fields/{field.pk}/")).content.decode()
    assert html.count("<svg") == 2 and "keeps away from other ground: burn" in html


def test_a_field_without_an_outline_looks_as_before(cast: Cast) -> None:
    farm = make_farm(make_client(cast.practice))
    field = make_field(farm)
    browser = cast.browser(cast.owner)
    for path in (f"fields/{field.pk}/", f"farms/{farm.pk}/"):
        assert "field-plan" not in browser.get(cast.url(path)).content.decode()
    assert browser.get(cast.url(f"farms/{farm.pk}/plan.pdf")).status_code == 404


def test_the_farm_plan_holds_all_fields_and_landmarks(cast: Cast) -> None:
    field = drawn_farm(cast)
    make_field(field.farm, name="Back Forty")
    make_landmark(field.farm, name="Far pond", shape={"type": "Point", "coordinates": [WEST + 0.2, SOUTH]})
    browser = cast.browser(cast.crew)
    html = browser.get(cast.url(f"farms/{field.farm_id}/")).content.decode()
    pdf = browser.get(cast.url(f"farms/{field.farm_id}/plan.pdf"))
    assert pdf["Content-Type"] == "application/pdf" and len(PdfReader(BytesIO(pdf.content)).pages) == 1
    for told in (html, text(pdf.content)):
        for said in (
            "Creek Bottom",
            "9.51 acres",
            "Mill Creek, water",
            "Green gate",
            "Beyond this map: Far pond",
        ):
            assert said in told
        assert "Without an outline, so not drawn: Back Forty" in told
    with scope(practice=cast.practice):
        marks = list(field.farm.landmarks.all())
        (shown,) = (farm_drawn(field.farm, [field], marks),)
    assert shown and "$" not in text(pdf.content)
    assert any(isinstance(shape, Polygon) for shape in farm_plan(shown).contents[0].contents)


def test_pages_ask_as_often_for_many_landmarks_as_for_one(cast: Cast) -> None:
    field = drawn_farm(cast)
    browser = cast.browser(cast.owner)
    paths = [cast.url(f"fields/{field.pk}/"), cast.url(f"farms/{field.farm_id}/")]
    before = [count(lambda path=path: browser.get(path)) for path in paths]
    for number in range(12):
        make_exclusion(field, landmark=make_landmark(field.farm, name=f"Pond {number}"))
        make_drawn_field(field.farm, name=f"Field {number}")
    assert [count(lambda path=path: browser.get(path)) for path in paths] == before


def test_an_outline_of_many_corners_is_kept_small_and_says_how(cast: Cast) -> None:
    turns = [at * 2 * math.pi / 20_000 for at in range(20_000)]
    far = [1 + 0.04 * math.sin(301 * turn) for turn in turns]
    ring = [
        [WEST + 0.003 * out * math.cos(turn), SOUTH + 0.002 * out * math.sin(turn)]
        for out, turn in zip(far, turns, strict=True)
    ]
    outline = {"type": "MultiPolygon", "coordinates": [[[*ring, ring[0]]]]}
    field = drawn_farm(cast, outline=outline)
    for plan in drawn(field):
        assert sum(len(row) for part in plan.field.parts for row in part) <= MOST_CORNERS
        assert plan.within_ft > 0
    html = cast.browser(cast.crew).get(cast.url(f"fields/{field.pk}/")).content.decode()
    assert f"Bends of less than {plan.within_ft:g} ft are left out." in html and len(html) < 150_000


def test_a_proposal_prints_the_ground_as_it_was_offered(cast: Cast) -> None:
    plan = make_ready_plan(cast.practice)
    with scope(practice=cast.practice):
        field = plan.farm.fields.get()
        field.outline, field.acres = OUTLINE, ACRES
        field.save()
    make_exclusion(field, work=["spray", "drill"])
    proposal = make_offered(plan, cast.owner)
    with scope(practice=cast.practice):
        Exclusion.objects.all().delete()
        Landmark.objects.all().delete()
        field.outline = None
        field.save()
        outcome = frozen_outcome(proposal)
    assert outcome and outcome.job.conversions[0].drawn[0].kept_free[0].name == "Mill Creek"
    again = proposal_pdf(
        outcome,
        number=str(proposal.number),
        revision=proposal.revision,
        offered_on=proposal.offered_on,
        accepted_cautions=[
            AcceptedCaution(**(one | {"on": date.fromisoformat(one["on"])}))
            for one in proposal.accepted_cautions
        ],
        beside=read_beside(proposal.beside),
    )
    assert again == bytes(proposal.pdf)
    assert f"{field.name} as it lies" in text(again) and "Mill Creek: 50 ft" in text(again)
    file = read_job_file(proposal.inputs)
    assert file.job.conversions[0].drawn == outcome.job.conversions[0].drawn
    assert len(proposal.result) < 400_000
    with pytest.raises(BadInput, match="fewer points"):
        read_job_file(job_file_json(file.job, file.prices).replace('"kind": "line"', '"kind": "polygon"'))


def test_the_crew_sheet_shows_the_field_in_place_of_the_box(cast: Cast) -> None:
    plan = make_ready_plan(cast.practice)
    with scope(practice=cast.practice):
        field = plan.farm.fields.get()
        field.outline, field.acres = OUTLINE, ACRES
        field.save()
    make_exclusion(field, work=["spray"])
    make_landmark(field.farm, kind="gate", name="Green gate", shape=GATE)
    make_offered(plan, cast.owner)
    with scope(practice=cast.practice):
        plan.refresh_from_db()
        plan_agree(plan=plan, user=cast.owner, today=TODAY + timedelta(days=1))
        told = {}
        for operation in ("boom_spraying", "no_till_drilling"):
            visit = Visit.objects.filter(operation=operation).first()
            trip = visit and trip_of([visit])
            assert trip
            told[operation] = text(sheet_of(trip, cast.practice))
    sprayed, drilled = told.values()
    for sheet in told.values():
        assert "Sketch" not in sheet and "Way in: Green gate" in sheet and "$" not in sheet
    assert "Mill Creek: 50 ft" in sprayed
    assert "Mill Creek, water" in drilled


def test_rings_that_cross_are_drawn_all_the_same(cast: Cast) -> None:
    plan = drawn(drawn_farm(cast))[0]
    bow = replace(
        plan.field, parts=((((0.0, 0.0), (500.0, 500.0), (500.0, 0.0), (0.0, 500.0), (0.0, 0.0)),),)
    )
    assert field_plan(replace(plan, field=bow)).contents
