"""Change order, comparison and season report in print: length, language, paper, hostile and empty content."""

from __future__ import annotations

import shutil
import subprocess
from dataclasses import replace
from datetime import date, timedelta
from decimal import Decimal
from pathlib import Path
from typing import Any

import pypdfium2
import pytest

from plans.documents.change_order import Agreed, change_order_pdf
from plans.documents.changed import briefs, reasons, rows, year_rows
from plans.documents.changes_sheet import Sides, changes_pdf
from plans.documents.season_facts import (
    ComingStep,
    ComingYear,
    CountPoint,
    DoneWork,
    FieldCounts,
    LostDay,
    PlannedUsed,
    SeasonReport,
    SeenMoment,
    UsedLine,
    read_report,
    report_json,
)
from plans.documents.season_report import season_report_pdf
from plans.documents.stand_chart import describe, stand_chart
from plans.documents.svg import inline_svg
from plans.planning.changes import compare
from plans.planning.job import Client, Manner, Practice
from plans.planning.plan import Plan
from plans.planning.planner import plan_job
from plans.planning.wire import read_job_file
from tests.documents.conftest import EXAMPLE, TODAY, pages

HOSTILE = '<b>Ridge</b> & "Sons" 草地 =1+1 </para>'
LONG = "wet " * 4000
SPANISH_A4 = Manner(locale="es_US", paper="A4", measures="metric")


def text(pdf: bytes) -> str:
    return " ".join(" ".join(pages(pdf)).split())


def sound(pdf: bytes, tmp_path: Path) -> None:
    """`qpdf --check` finds nothing to complain of."""
    path = tmp_path / "printed.pdf"
    path.write_bytes(pdf)
    if shutil.which("qpdf"):
        run = subprocess.run(["qpdf", "--check", path], capture_output=True, text=True)
        assert run.returncode == 0, run.stdout + run.stderr


def counted(field: str = "Ridge", densities: tuple[float, ...] = (0.6, 1.2, 1.9)) -> FieldCounts:
    return FieldCounts(
        field=field,
        aim="cover",
        target=0.93,
        target_source="a published mark",
        points=tuple(
            CountPoint(
                on=date(2025 + at, 10, 2),
                season=at + 1,
                frames=12,
                density=density,
                low=density - 0.2,
                high=density + 0.2,
                verdict="Enough for cover",
                sure=at > 0,
            )
            for at, density in enumerate(densities)
        ),
        next_label="Keep it",
        next_words="Leave it to grow.",
        because="there are plants enough",
    )


def report(**values: Any) -> SeasonReport:
    empty: dict[str, Any] = dict.fromkeys(
        ("done", "left_out", "seen", "lost", "counts", "photos", "used", "coming", "years", "payments"), ()
    )
    usual: dict[str, Any] = {
        "title": "Two fields",
        "year": 2027,
        "reported_on": date(2027, 11, 20),
        "manner": Manner(),
        "practice": Practice(name="Kestrel Cover"),
        "client": Client(name="Ada Ash"),
        "farm": "Turnstone Farm",
        "fields": ("Ridge", "Draw"),
        "place": "an invented place",
        "words": "",
    }
    return SeasonReport(**empty | usual | values)


def full(**values: Any) -> SeasonReport:
    day = date(2027, 4, 17)
    some: dict[str, Any] = {
        "done": tuple(
            DoneWork(
                on=day + timedelta(days=at),
                work="Drill the mix",
                fields=("Ridge",),
                acres=10.0,
                records=(at,),
                used=(UsedLine(name="big bluestem", lot="BB-1", amount=12.5, unit="lb"),),
                weather=("wind 6 mph",),
                notes=("Wet end left",),
            )
            for at in range(6)
        ),
        "seen": (SeenMoment(label="last spring freeze", on=day, normal=date(2027, 4, 18)),),
        "lost": (LostDay(on=day, work="Drill the mix", field="Ridge", why="Rain"),),
        "counts": (counted(),),
        "used": (PlannedUsed(name="big bluestem", unit="lb", planned=10.0, used=12.5),),
        "coming": (
            ComingStep(
                label="Clip",
                why="Weeds",
                fields=("Ridge", "Draw"),
                opens=date(2028, 5, 1),
                shuts=date(2028, 6, 1),
                booked_on=None,
            ),
        ),
        "years": (
            ComingYear(year=2028, price=Decimal("1234.50")),
            ComingYear(year=2029, price=Decimal("0.50")),
        ),
    }
    return report(**some | values)


def test_a_report_has_two_to_six_pages_and_its_sums_agree(tmp_path: Path) -> None:
    pdf = season_report_pdf(full(), {})
    sound(pdf, tmp_path)
    assert 2 <= len(pages(pdf)) <= 6
    for said in ("1,234.50", "1,235.00", "12.5 lb (lot BB-1)", "+25 %", "1 day earlier", "both fields"):
        assert said in text(pdf)
    assert season_report_pdf(full(), {}) == pdf


def test_a_report_without_anything_says_so(tmp_path: Path) -> None:
    pdf = season_report_pdf(report(), {})
    sound(pdf, tmp_path)
    assert "no work was recorded" in text(pdf) and len(pages(pdf)) == 1


def test_what_a_report_says_is_text_however_long(tmp_path: Path) -> None:
    worked = replace(full().done[0], work=HOSTILE, notes=(LONG,), fields=(HOSTILE,))
    counts = replace(counted(), field=HOSTILE, because=LONG)
    pdf = season_report_pdf(
        full(words=f"{HOSTILE}\n{LONG}", title=HOSTILE, done=(worked,), counts=(counts,)), {}
    )
    sound(pdf, tmp_path)
    assert HOSTILE in text(pdf)


def test_a_report_follows_paper_language_and_measures() -> None:
    pdf = season_report_pdf(full(manner=SPANISH_A4), {})
    width, height = pypdfium2.PdfDocument(pdf)[0].get_size()
    assert (round(width), round(height)) == (595, 842)
    # 0.93 plants/ft² over 0.09290304 m²/ft² (NIST SP 811) is 10.0 plants/m²; 12.5 lb is 5.67 kg.
    assert "5.67 kg" in text(pdf) and "m²" in text(pdf)


def test_a_stored_report_reads_back_as_it_was() -> None:
    assert read_report(report_json(full())) == full()
    assert read_report('{"title": "of another version"}') is None


@pytest.mark.parametrize("densities", [(0.0,), (0.93,), (0.1, 40.0), (0.5,) * 9])
def test_the_chart_stays_on_its_sheet(densities: tuple[float, ...]) -> None:
    one = counted(densities=densities)
    drawing = stand_chart(one, wide=468)
    left, low, right, high = drawing.getBounds()
    assert left >= -1 and right <= 469 and low >= -1 and high <= drawing.height + 1
    svg = inline_svg(drawing, name="stand", title=HOSTILE, description=describe(replace(one, field=HOSTILE)))
    assert "<b>" not in svg and "&lt;b&gt;" in svg


# Change orders and comparisons


def larger(plan: Plan, **job: Any) -> Plan:
    file = read_job_file(EXAMPLE.read_bytes())
    first, *rest = file.job.conversions
    changed = replace(file.job, conversions=(replace(first, acres=first.acres + 1.2), *rest), **job)
    return plan_job(changed, file.prices, TODAY)


def agreed(plan: Plan) -> Agreed:
    years = {year.year: year.total.dollars for year in plan.estimate.years}
    return Agreed(reference="proposal 12, revision 2", on=None, years=years)


def order(before: Plan, after: Plan, **values: Any) -> bytes:
    usual: dict[str, Any] = {"number": "14", "offered_on": TODAY, "until": TODAY, "why": "Asked for."}
    return change_order_pdf(before, after, agreed=agreed(before), **usual | values)


def test_a_change_order_is_two_pages_and_adds_up(plan: Plan, tmp_path: Path) -> None:
    after = larger(plan)
    pdf = order(plan, after)
    sound(pdf, tmp_path)
    assert len(pages(pdf)) <= 2
    whole = [one.estimate.total.total.dollars for one in (plan, after)]
    for amount in (*whole, whole[1] - whole[0]):
        assert f"{amount:,.2f}" in text(pdf)
    assert "1.2 acres larger" in text(pdf) and "Signature" in text(pdf)


def test_a_draft_of_a_change_order_cannot_be_signed(plan: Plan) -> None:
    said = text(order(plan, larger(plan), number=""))
    assert "not an offer" in said and "Signature" not in said


def test_a_change_order_of_nothing_says_that_the_price_stays(plan: Plan) -> None:
    assert "The price stays the same." in text(order(plan, plan))


def test_a_reason_is_text_however_long(plan: Plan, tmp_path: Path) -> None:
    pdf = order(plan, larger(plan), why=f"{HOSTILE}\n{LONG}")
    sound(pdf, tmp_path)
    assert HOSTILE in text(pdf)


def test_two_revisions_print_with_every_line(plan: Plan, tmp_path: Path) -> None:
    class Named:
        def __init__(self, name: str) -> None:
            self.name = self.label = name

    after = larger(plan)
    found = compare(plan, after)
    sides = Sides(
        title=HOSTILE,
        practice="Kestrel Cover",
        client="Ada Ash",
        farm="Turnstone Farm",
        before=Named("Revision 1"),
        after=Named("Revision 2"),
        difference=found.difference,
        why=LONG,
        reasons=reasons(found),
        briefs=briefs(plan, after, found),
        ground=rows(found.ground),
        mix=rows(found.mix),
        steps=rows(found.steps),
        years=year_rows(found),
        price_before=found.before,
        price_after=found.after,
    )
    pdf = changes_pdf(sides, on=TODAY)
    sound(pdf, tmp_path)
    assert HOSTILE in text(pdf)
    for line in found.lines or ():
        assert f"{line.after:,.2f}" in text(pdf)
