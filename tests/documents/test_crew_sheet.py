"""The crew sheet: everything for the day on a leaf a field, no price anywhere, what is typed stays text."""

from __future__ import annotations

import re
from dataclasses import replace
from datetime import date
from typing import Any

import pytest

from plans.documents.crew_sheet import CrewDay, crew_sheet_pdf
from plans.planning import tables
from plans.planning.job import KeptAway
from plans.planning.loading import LoadingList, loading_list
from plans.planning.loading_rig import CheckedRig, Drill, Rig
from plans.planning.plan import Plan
from plans.planning.planner import plan_job
from plans.planning.rig_facts import RigCheck, RigPoint, no, unknown, yes
from plans.planning.wire import read_job_file
from tests.documents.conftest import EXAMPLE, TODAY, pages

FIELDS = ("Ridge Pasture", "Creek Bottom")
BUSHINGS = yes("hitch", "Category 1 pins in category 2 ends.", "invented", bring="bushings, category 1 to 2")
RIG = Rig(
    machine="45 hp tractor and native drill",
    checks=(CheckedRig(machines="45 hp tractor", fields=("Ridge Pasture",), check=RigCheck((BUSHINGS,))),),
    drill=Drill(openers=5, spacing_in=7.5, carrier="rice hulls", carrier_lb_per_acre=(("chaffy", 10.0),)),
)
ABOUT = CrewDay(
    crew="Ines Okafor, Tom Bray",
    meet="7:00 at the north gate",
    contacts=(("Office", "555-0142"),),
    hospital="Harrow County Hospital",
    directions={"Ridge Pasture": "Green gate past the church"},
)


def whole(plan: Plan, operation: str, about: CrewDay | None = ABOUT, **changes: Any) -> list[str]:
    return pages(crew_sheet_pdf(plan, load(plan, operation, **changes), about))


def sheet(plan: Plan, operation: str, about: CrewDay | None = ABOUT, **changes: Any) -> list[str]:
    """The leaves of the fields."""
    found = whole(plan, operation, about, **changes)
    first = next(n for n, text in enumerate(found) if "Crew sheet of" in text)
    assert not first % 2
    return found[first:]


def load(plan: Plan, operation: str, **changes: Any) -> LoadingList:
    return loading_list(plan, operation, FIELDS, **({"rig": RIG} | changes))


def with_ground(plan: Plan, **changes: Any) -> Plan:
    grounds = tuple(replace(ground, **changes) for ground in plan.job.conversions)
    return replace(plan, job=replace(plan.job, conversions=grounds))


def flat(text: str) -> str:
    return " ".join(text.split())


def test_the_crew_reads_what_this_work_stays_away_from(plan: Plan) -> None:
    away = KeptAway(work="spray", left_acres=7.0, because=("50 ft from <b>Mill Creek</b>",))
    sprayed = flat(sheet(with_ground(plan, kept_away=(away,)), "boom_spraying")[0])
    for words in ("Keep free", "50 ft from <b>Mill", "7 acres"):
        assert words in sprayed
    assert "Keep free" not in sheet(with_ground(plan, kept_away=(away,)), "no_till_drilling")[0]


def test_each_field_has_a_leaf_with_its_work_its_tank_and_its_cautions(plan: Plan) -> None:
    found = sheet(plan, "boom_spraying", on=date(2027, 9, 20))
    assert len(found) == 4
    front, back = flat(found[0]), flat(found[1])
    for words in ("Ridge Pasture", "September 20, 2027", "Sep 14 – Nov 4, 2027", "Ines Okafor", "north gate"):
        assert words in front
    for words in ("11.2 acres", "7 %, 220 ft long", "Green gate past the church", "Sketch", "Graze hard"):
        assert words in front
    assert "716.8 fl oz" in front and "5 gal 76.8 fl oz" in front and "168" in front
    assert front.index("Fill a third") < front.index("Add the ammonium sulfate") < front.index("Top up")
    for key in tables.steps()["kill_fall"].cautions:
        assert flat(tables.cautions()[key].text) in back
    for words in (
        "911",
        "555-0142",
        "Harrow County Hospital",
        "Humidity",
        "Wind",
        "Sky",
        "5.6 gal",
        "Signed",
    ):
        assert words in back
    assert "Creek Bottom" in found[2] and "60 ft from the work" in found[2]
    assert "Ridge Pasture" not in found[2] + found[3]


def test_seed_stands_by_box_with_what_to_weigh_and_to_catch(plan: Plan) -> None:
    found = load(plan, "no_till_drilling")
    text = flat(" ".join(sheet(plan, "no_till_drilling")[:2]))
    assert text.index("Chaffy-seed box") < text.index("little bluestem") < text.index("Small-seed box")
    for one in found.weights:
        if one.field == "Ridge Pasture":
            assert one.bulk_lb is not None
            assert (
                f"{one.species} {one.lot} {float(one.pls_lb.value):,.2f} {float(one.bulk_lb.value):,.2f}"
                in text
            )
    assert "rice hulls, mixed in 112.00" in text
    for rate in found.boxes:
        if rate.field == "Ridge Pasture":
            assert rate.catch_g is not None and rate.catch_g.shown in text
    assert "45 hp tractor and native drill" in text


@pytest.mark.parametrize("operation", ["boom_spraying", "no_till_drilling", "rotary_mowing"])
def test_no_price_is_ever_on_it(plan: Plan, operation: str) -> None:
    text = " ".join(sheet(plan, operation))
    assert "$" not in text and not re.search(r"\b(price|cost)", text, re.IGNORECASE)
    costs = {part.cost.dollars for tank in plan.tanks for part in tank.parts if part.cost}
    costs |= {line.cost.dollars for sown in plan.seed for line in sown.lines if line.cost}
    costs |= {line.price.dollars for line in plan.estimate.lines}
    assert costs
    printed = set(re.findall(r"\d[\d,]*\.\d\d\b", text))
    weights = {f"{float(figure.value):,.2f}" for one in load(plan, operation).weights
               for figure in (one.pls_lb, one.bulk_lb) if figure}  # fmt: skip
    assert not printed & {f"{cost:,.2f}" for cost in costs} - weights


def test_what_is_typed_stays_text(plan: Plan) -> None:
    bad = "<b>&amp; <img src=x/> =1+1 寒"
    made = with_ground(plan, notes=bad, sensitive_neighbours=bad)
    about = CrewDay(crew=bad, meet=bad, contacts=((bad, bad),), hospital=bad, directions={FIELDS[0]: bad})
    point = no("hitch", bad, "invented", bring=bad)
    rig = Rig(machine=bad, checks=(CheckedRig(machines=bad, fields=FIELDS, check=RigCheck((point,))),))
    text = flat(" ".join(whole(made, "boom_spraying", about, rig=rig)[:4]))
    assert text.count("<b>&amp;") >= 10


def against(verdict: RigPoint) -> Rig:
    checked = CheckedRig(machines="Tractor with drill", fields=("Ridge Pasture",), check=RigCheck((verdict,)))
    return Rig(machine="Tractor with drill", checks=(checked,))


def test_a_rig_that_does_not_go_together_is_loud_on_the_first_leaf_and_named_on_the_field(plan: Plan) -> None:
    found = [flat(page) for page in whole(plan, "no_till_drilling", rig=against(no("PTO", "1000 rpm", "x")))]
    assert "NO: these machines do not go together. Do not hitch them up. Tractor with drill" in found[0]
    assert "No: 1000 rpm" in found[0]
    ridge = next(text for text in found if "Crew sheet of" in text and "Ridge Pasture" in text)
    creek = next(text for text in found if "Crew sheet of" in text and "Creek Bottom" in text)
    assert "NO, see the first leaf" in ridge and "NO" not in creek
    asks = against(unknown("PTO", "?", "count the splines", "x"))
    look = flat(whole(plan, "no_till_drilling", rig=asks)[0])
    assert "Go and look before anything is hitched up" in look and "Look: Count the splines" in look


def test_the_first_leaf_is_loaded_from(plan: Plan) -> None:
    first = flat(" ".join(whole(plan, "boom_spraying")[:2]))
    for words in ("To load", "Bushings, category 1 to 2", "all fields", "Spill kit", "gloves", "Label and"):
        assert words in first, words
    assert "$" not in first


def test_what_is_not_known_is_left_to_fill_in_and_nothing_is_called_safe(plan: Plan) -> None:
    front, back, *_ = (flat(page) for page in sheet(plan, "rotary_mowing", None, rig=None))
    assert "Day" in front and "none entered: look first" in front and "Contact" in back
    assert not re.search(r"\bsafe\b", front + back)


def test_texts_of_any_length_flow(plan: Plan) -> None:
    long = "past the barn and over the ford " * 300
    made = with_ground(plan, notes=long)
    about = CrewDay(crew=long, meet=long, hospital=long, directions={FIELDS[0]: long},
                    contacts=tuple((f"Person {n}", "555-0100") for n in range(60)))  # fmt: skip
    found = sheet(made, "boom_spraying", about)
    starts = [n for n, text in enumerate(found) if "Crew sheet of" in text]
    assert len(starts) == 2 and not starts[1] % 2
    assert "Person 59" in " ".join(found)


def test_many_loads_share_a_row() -> None:
    file = read_job_file(EXAMPLE.read_bytes())
    small = plan_job(replace(file.job, terms=replace(file.job.terms, tank_gal=5.0)), file.prices, TODAY)
    front = flat(sheet(small, "boom_spraying")[0])
    assert "1–33, each 5 0.33 21.3 fl oz 0.8 lb" in front and "34 3 0.2 12.8 fl oz" in front


def test_no_heading_stands_alone_at_the_foot(plan: Plan) -> None:
    heads = {"The field", "The work", "Tank, load by load", "Seed by box", "Calibration", "What was done"}
    for operation in ("boom_spraying", "no_till_drilling", "rotary_mowing"):
        for text in sheet(plan, operation):
            assert text.splitlines()[-2] not in heads


def test_the_same_trip_gives_the_same_bytes(plan: Plan) -> None:
    found = load(plan, "no_till_drilling")
    assert crew_sheet_pdf(plan, found, ABOUT) == crew_sheet_pdf(plan, found, ABOUT)
