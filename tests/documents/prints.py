"""Everything that is printed, of three plans: what all of it has to hold is tested on all of it."""

from __future__ import annotations

import json
from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from datetime import date
from functools import cache
from io import BytesIO
from typing import Any

from PIL import Image

from plans.documents.buy_sheet import buy_list_pdf
from plans.documents.change_order import Agreed, change_order_pdf
from plans.documents.changed import briefs, reasons, rows, year_rows
from plans.documents.changes_sheet import Sides, changes_pdf
from plans.documents.crew_sheet import CrewDay, crew_sheet_pdf
from plans.documents.farm_plan import DrawnFarm, DrawnGround, farm_plan_pdf
from plans.documents.manner import in_its_manner
from plans.documents.proposal import proposal_pdf
from plans.documents.records import PrintedLine, PrintedRecord, records_pdf
from plans.documents.season_facts import PhotoPoint, Shot
from plans.documents.season_report import season_report_pdf
from plans.documents.wall_about import WallAbout
from plans.documents.wall_plan import wall_plan_pdf
from plans.documents.wall_sheet import SHEETS, wall_sheet_pdf
from plans.planning.beside import Beside
from plans.planning.buying import buy_list, needs_of, offers_of
from plans.planning.changes import compare
from plans.planning.drawn import Beside as Neighbour
from plans.planning.drawn import Corner, DrawnField, Fall, KeptFree, Mark, Shape
from plans.planning.job import Conversion, Manner
from plans.planning.loading import loading_list
from plans.planning.options import Wanted
from plans.planning.options import compare as compare_options
from plans.planning.own_look import OwnLook
from plans.planning.own_words import places
from plans.planning.plan import Plan
from plans.planning.planner import plan_job
from plans.planning.price_moves import price_moves
from plans.planning.wire import plan_json, read_plan
from tests.documents import test_short_papers as short_papers
from tests.planning import make

TODAY = make.TODAY
SPRAYED = "boom_spraying"
OPTIONS = ("richer_mix", "no_herbicide", "year_later")

# Three plans


def _ring(wide: float, high: float, east: float = 0, north: float = 0) -> tuple[tuple[float, float], ...]:
    corners = ((-wide, -high), (wide, -high), (wide, high), (-wide, high), (-wide, -high))
    return tuple((east + x, north + y) for x, y in corners)


CREEK = Shape("line", ((((-900.0, -360.0), (-200.0, -300.0), (300.0, -380.0), (900.0, -330.0)),),))
GATE = Mark("Gate by the barn", "gate", Shape("point", ((((-600.0, 100.0),),),)))


def drawn(name: str) -> DrawnField:
    """A field with a hole in it, a creek beside it and a way in."""
    field = Shape("polygon", ((_ring(600, 400), _ring(60, 50, 200, 100)),))
    strip = Shape("polygon", ((_ring(600, 40, 0, -360),),))
    return DrawnField(
        name=name,
        works=("spray",),
        whole_acres=11.2,
        left_acres=9.9,
        within_ft=0.0,
        field=field,
        corner=Corner((-600.0, -400.0), -92.33, 38.95),
        kept_free=(KeptFree("Mill Creek", "water", 50.0, 1.3, CREEK, strip),),
        marks=(GATE,),
        beside=(Neighbour("Corn", 0.0), Neighbour("County road", 270.0)),
        fall=Fall("7 %", 160.0),
        access=GATE,
    )


def _drawn_of(*grounds: Conversion) -> tuple[Conversion, ...]:
    return tuple(replace(ground, drawn=(drawn(ground.field),)) for ground in grounds)


OWN = OwnLook(
    main="#1f4e8c",
    accent="#a03a1c",
    below="Native cover, planned and planted",
    foot="Kestrel Cover, by the mill",
    words=dict.fromkeys(places(), "Our own word on this, {client}: {fields}, {acres}."),
)


@cache
def plans() -> dict[str, Plan]:
    """Sod to grass and flowers; a food plot, trees and two clean summers in an own look; sod in Spanish."""
    mixed = _drawn_of(
        make.plot(field="Oat Patch"),
        make.planting(field="The Grove"),
        make.conversion(field="Sericea Hill", cover="sericea lespedeza", kill_program="sericea_two_summers"),
    )
    spanish = Manner(locale="es_US", paper="A4", measures="metric")
    return {
        "sod": make.plan(*_drawn_of(*make.example().job.conversions)),
        "mixed": make.plan(*mixed, manner=Manner(look=OWN)),
        "spanish": make.plan(*make.example().job.conversions, manner=spanish),
    }


# All that is printed of a plan


def _crew_sheet(plan: Plan) -> bytes:
    fields = [task.field for task in plan.tasks if task.operation == SPRAYED][:2]
    about = CrewDay(
        crew=plan.job.practice.name,
        meet=plan.job.farm.place,
        contacts=((plan.job.client.name, plan.job.practice.phone),),
        directions=dict.fromkeys(fields, plan.job.letter),
    )
    return crew_sheet_pdf(plan, loading_list(plan, SPRAYED, fields), about)


@in_its_manner
def _buy_list(plan: Plan) -> bytes:
    bought = buy_list(needs_of(plan, plan.job.title), [], offers_of(make.prices()), date(2032, 12, 31))
    return buy_list_pdf(bought, practice=plan.job.practice.name, notes=(plan.job.letter,))


@in_its_manner
def _records(plan: Plan) -> bytes:
    job, task = plan.job, plan.tasks[0]
    line = PrintedLine(name=job.title, amount=9.75, unit="gal", rate_per_acre=0.975, reason=job.letter)
    record = PrintedRecord(
        number=1,
        kind="Application",
        work=task.label,
        on=task.earliest,
        acres=task.acres,
        field=task.field,
        farm=job.farm.name,
        place=job.farm.place,
        customer=job.client.name,
        address=job.client.address,
        facts=(("Wind", job.letter),),
        lines=(line,),
        notes=job.letter,
        keep_until=date(2034, 9, 20),
        entered=f"Entered by {job.client.name}.",
        sha256="ab" * 32,
    )
    return records_pdf(
        [record],
        practice=job.practice.name,
        address=job.practice.address,
        title=job.title,
        printed_on=TODAY,
    )


@in_its_manner
def _farm_plan(plan: Plan) -> bytes:
    job = plan.job
    grounds = tuple(DrawnGround(one.field, one.acres, drawn(one.field).field) for one in job.conversions[:1])
    undrawn = tuple(one.field for one in job.conversions[1:])
    farm = DrawnFarm(job.farm.name, grounds, (replace(GATE, name=job.title),), undrawn, (), 0.0)
    return farm_plan_pdf(farm, practice=job.practice.name, client=job.client.name, place=job.farm.place)


def beside(plan: Plan) -> Beside:
    """Three options, each with a line of the consultant's own, and what would move the price."""
    wanted = [Wanted(key=key, reason=plan.job.letter[:200]) for key in OPTIONS]
    return Beside(
        options=compare_options(plan, make.prices(), wanted), moves=price_moves(plan, make.prices())
    )


def _proposal(plan: Plan) -> bytes:
    return proposal_pdf(plan, number="2026-014", revision=2, offered_on=TODAY, beside=beside(plan))


def _changed(plan: Plan) -> Plan:
    """The same with a larger first field."""
    first, *others = plan.job.conversions
    larger = replace(first, acres=first.acres + 2)
    return plan_job(replace(plan.job, conversions=(larger, *others)), make.prices(), plan.today)


@in_its_manner
def _change_order(plan: Plan) -> bytes:
    years = {year.year: year.total.dollars for year in plan.estimate.years}
    return change_order_pdf(
        plan,
        _changed(plan),
        agreed=Agreed(reference=plan.job.title, on=TODAY, years=years),
        number="7",
        offered_on=TODAY,
        until=date(2026, 12, 25),
        why=plan.job.letter,
    )


@dataclass(frozen=True)
class _Revision:
    name: str
    label: str


@in_its_manner
def _changes(plan: Plan) -> bytes:
    job, after = plan.job, _changed(plan)
    changes = compare(plan, after)
    sides = Sides(
        title=job.title,
        practice=job.practice.name,
        client=job.client.name,
        farm=job.farm.name,
        before=_Revision("Revision 1", "Revision 1, Nov 25, 2026"),
        after=_Revision("Revision 2", "Revision 2, Dec 1, 2026"),
        difference=changes.difference,
        why=job.letter,
        reasons=reasons(changes),
        briefs=briefs(plan, after, changes),
        ground=rows(changes.ground),
        mix=rows(changes.mix),
        steps=rows(changes.steps),
        years=year_rows(changes),
        price_before=changes.before,
        price_after=changes.after,
    )
    return changes_pdf(sides, on=TODAY)


SHOT = Shot(photo=1, on=TODAY, width_px=160, height_px=120)


def _season_report(plan: Plan) -> bytes:
    job = plan.job
    first, fields = job.conversions[0].field, tuple(one.field for one in job.conversions)
    some = short_papers.full()
    report = replace(
        some,
        title=job.title,
        manner=job.manner,
        practice=job.practice,
        client=job.client,
        farm=job.farm.name,
        place=job.farm.place,
        fields=fields,
        words=job.letter,
        done=tuple(replace(work, fields=fields, notes=(job.letter,)) for work in some.done),
        counts=(short_papers.counted(first),),
        photos=(PhotoPoint(field=first, name=job.title, shots=(SHOT,)),),
    )
    picture = BytesIO()
    Image.new("RGB", (160, 120), "#7a8f6a").save(picture, "JPEG")
    return season_report_pdf(report, {"walk-1": picture.getvalue()})


def _wall(plan: Plan) -> WallAbout:
    return WallAbout(
        printed_on=TODAY,
        standing="offered",
        reference="Proposal 7, revision 2",
        contacts=((plan.job.client.name, plan.job.practice.phone),),
        hospital=plan.job.farm.place,
    )


PRINTS: dict[str, Callable[[Plan], bytes]] = {
    "proposal": _proposal,
    "draft": lambda plan: proposal_pdf(plan, number="", revision=1, offered_on=TODAY),
    "change order": _change_order,
    "changes": _changes,
    "season report": _season_report,
    "wall plan": lambda plan: wall_plan_pdf(plan, _wall(plan)),
    "large print": lambda plan: wall_plan_pdf(plan, _wall(plan), large=True),
    "wall sheet": lambda plan: wall_sheet_pdf(plan, SHEETS["11x17"], _wall(plan)),
    "crew sheet": _crew_sheet,
    "buy list": _buy_list,
    "records": _records,
    "farm plan": _farm_plan,
}

PICTURED = tuple(name for name in PRINTS if name != "draft")
"""A draft looks as the proposal does."""


@cache
def printed(name: str, scenario: str, content: str = "usual") -> bytes:
    """A print of one of the three plans, once however many tests look at it."""
    plan = plans()[scenario]
    return PRINTS[name](plan if content == "usual" else retold(plan, CONTENTS[content]))


# What people may have typed

HOSTILE = (
    "<b>bold</b> & </para> <br",
    "&lt;i&gt; ]]> <!-- ",
    '=HYPERLINK("http://example.org","x")',
    "{client.__class__} %s {0} {",
    "王小明 김민준 Zoë Ünal 😀 \u202egnp.exe\u202c \u200b\ufeff",
    "(unbalanced \\( endstream endobj %%EOF",
    "\x00\x07\x1b[31m tab\tand\u2028line",
    '"/><script>alert(1)</script>',
    "W" * 150,
)


def _hostile() -> Iterator[str]:
    while True:
        yield from HOSTILE


def _long(limit: int) -> str:
    words = " ".join(f"word{number}" for number in range(1000))
    return f"{'unbroken' * 12} {words}"[:limit]


CONTENTS: dict[str, Callable[[Iterator[str], int, bool], str]] = {
    "hostile": lambda hostile, limit, needed: next(hostile)[:limit],
    "long": lambda hostile, limit, needed: _long(limit),
    "empty": lambda hostile, limit, needed: "x" if needed else "",
}
"""What stands in the place of each text: from those in turn, no longer than its limit [characters]."""

NAME, TEXT, LONG = (200, True), (200, False), (6000, False)
"""Longest and whether something must stand there."""


def typed_texts(plan: Plan) -> Iterator[tuple[str, tuple[int, bool]]]:
    """Each text of a job that somebody typed."""
    job = plan.job
    yield from (
        (job.title, NAME),
        (job.letter, LONG),
        (job.practice.name, NAME),
        (job.practice.address, (600, False)),
        (job.practice.phone, TEXT),
        (job.practice.email, TEXT),
        (job.practice.applicator_licence, TEXT),
        (job.client.name, NAME),
        (job.client.address, (600, False)),
        (job.farm.name, NAME),
        (job.farm.place, TEXT),
        (job.terms.text, LONG),
        (GATE.name, NAME),
        ("Mill Creek", NAME),
        ("Corn", NAME),
        (OWN.below, (300, False)),
        (OWN.foot, (120, False)),
        (OWN.words["price"], (4000, False)),
    )
    for stage in job.terms.stages:
        yield from ((stage.label, NAME), (stage.due, TEXT))
    if job.terms.cost_share:
        yield job.terms.cost_share.label, NAME
    for ground in job.conversions:
        yield from ((ground.field, NAME), (ground.notes, LONG), (ground.weeds, TEXT))
        yield from ((ground.woody_plants, TEXT), (ground.sensitive_neighbours, TEXT))
        if ground.mix:
            yield ground.mix.name, NAME


def retold(plan: Plan, content: Callable[[Iterator[str], int, bool], str]) -> Plan:
    """The plan with each typed text replaced wherever it stands."""
    hostile = _hostile()
    new: dict[str, str] = {}
    for number, (old, (limit, needed)) in enumerate(typed_texts(plan)):
        if old:
            text = content(hostile, limit, needed)
            # Names of fields stay apart from each other.
            new[old] = f"{text[: limit - 3]} {number}" if needed else text

    def told(value: Any) -> Any:
        if isinstance(value, dict):
            return {new.get(key, key): told(one) for key, one in value.items()}
        if isinstance(value, list):
            return [told(one) for one in value]
        return new.get(value, value) if isinstance(value, str) else value

    return read_plan(json.dumps(told(json.loads(plan_json(plan)))))
