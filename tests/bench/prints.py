"""The proposal PDF beside bare ReportLab documents of its words, fonts, pages and drawings."""

from __future__ import annotations

import io
import statistics
import time
from collections.abc import Callable
from dataclasses import replace
from itertools import cycle
from typing import Any
from xml.sax.saxutils import escape

from pypdf import PdfReader
from reportlab.lib.styles import ParagraphStyle
from reportlab.pdfbase import pdfmetrics
from reportlab.pdfgen.canvas import Canvas
from reportlab.platypus import PageBreak, Paragraph, SimpleDocTemplate

from plans.documents.coming import BLOCK_HIGH
from plans.documents.cover import drawn_farm
from plans.documents.farm_plan import farm_plan
from plans.documents.field_plan import field_plan
from plans.documents.look import TEXT_WIDTH
from plans.documents.proposal import proposal_pdf
from plans.documents.ribbon import season_ribbon
from plans.documents.years import years_ahead
from plans.planning.beside import Beside
from plans.planning.drawn import Corner, DrawnField, Fall, KeptFree, Mark, Shape
from plans.planning.options import Wanted, compare
from plans.planning.plan import Plan
from plans.planning.planner import plan_job
from plans.planning.price_moves import price_moves
from plans.planning.wire import JobFile
from tests.bench.jobs import TODAY, example
from tests.bench.timing import floor, measured, median, said, shown, verdict

LETTER = (612.0, 792.0)
MARGIN, SIZE = 30.0, 5.0


def pages_of(pdf: bytes) -> list[list[str]]:
    """The lines of text of each page."""
    return [
        [line for line in page.extract_text().splitlines() if line.strip()]
        for page in PdfReader(io.BytesIO(pdf)).pages
    ]


def fonts_of(pdf: bytes) -> list[str]:
    """The registered names of the fonts that the document embeds."""
    embedded: set[str] = set()
    for page in PdfReader(io.BytesIO(pdf)).pages:
        resources: Any = page["/Resources"]
        for font in resources.get("/Font", {}).values():
            embedded.add(str(font["/BaseFont"]).partition("+")[2])
    names = [name for name in pdfmetrics.getRegisteredFontNames() if pdfmetrics.getFont(name)]
    by_face = {getattr(pdfmetrics.getFont(name).face, "name", b""): name for name in names}
    by_text = {face.decode() if isinstance(face, bytes) else face: name for face, name in by_face.items()}
    return sorted(by_text[face] for face in embedded if face in by_text)


def leading(pages: list[list[str]]) -> float:
    """Points from line to line at which the fullest page still fits."""
    return (LETTER[1] - 2 * MARGIN - 14) / max(map(len, pages))


def as_paragraphs(pages: list[list[str]], fonts: list[str]) -> bytes:
    """The words as plain paragraphs, a line each, through ReportLab's page layout."""
    styles = [ParagraphStyle(name, fontName=name, fontSize=SIZE, leading=leading(pages)) for name in fonts]
    turn = cycle(styles)
    story: list[Any] = []
    for page in pages:
        story += [Paragraph(escape(line), next(turn)) for line in page]
        story.append(PageBreak())
    out = io.BytesIO()
    margins = dict.fromkeys(("leftMargin", "rightMargin", "topMargin", "bottomMargin"), MARGIN)
    SimpleDocTemplate(out, pagesize=LETTER, **margins).build(story)
    return out.getvalue()


def as_strings(pages: list[list[str]], fonts: list[str]) -> bytes:
    """The words drawn on a canvas, a string a line, without any layout."""
    out = io.BytesIO()
    canvas = Canvas(out, pagesize=LETTER)
    turn = cycle(fonts)
    for page in pages:
        for number, line in enumerate(page):
            canvas.setFont(next(turn), SIZE)
            canvas.drawString(MARGIN, LETTER[1] - MARGIN - number * leading(pages), line)
        canvas.showPage()
    canvas.save()
    return out.getvalue()


MAP_FT = 900.0
MOST_SECONDS = 0.400
"""Of processor time for fourteen pages with drawings."""


def drawn(name: str, north_deg: float) -> DrawnField:
    """A six-cornered field with a creek along it that sprays stay away from, and a pond beside it."""
    ring = ((-400.0, -280.0), (390.0, -300.0), (440.0, 40.0), (180.0, 310.0), (-250.0, 290.0), (-430.0, 60.0))
    creek = Shape("line", ((((-MAP_FT, -330.0), (0.0, -345.0), (MAP_FT, -310.0)),),))
    strip = ((-400.0, -280.0), (390.0, -300.0), (392.0, -250.0), (-402.0, -230.0))
    pond = Shape(
        "polygon", ((((500.0, 100.0), (560.0, 100.0), (560.0, 170.0), (500.0, 170.0), (500.0, 100.0)),),)
    )
    return DrawnField(
        name=name,
        works=("spray",),
        whole_acres=11.2,
        left_acres=10.3,
        within_ft=0.0,
        field=Shape("polygon", (((*ring, ring[0]),),)),
        corner=Corner(ring[0], -92.4, 38.5 + north_deg),
        kept_free=(
            KeptFree("Mill Creek", "water", 50.0, 0.9, creek, Shape("polygon", (((*strip, strip[0]),),))),
        ),
        marks=(Mark("Dew pond", "water", pond),),
        fall=Fall("8 % (4.6°)", 180.0),
    )


def with_drawings(file: JobFile) -> tuple[Plan, Beside]:
    """The example with both its fields drawn, three options and all that stands beside it."""
    first, other = file.job.conversions
    fields = tuple(
        replace(field, drawn=(drawn(field.field, north),)) for field, north in ((first, 0.003), (other, 0.0))
    )
    plan = plan_job(replace(file.job, conversions=fields), file.prices, TODAY)
    shown = [Wanted(key=key) for key in ("richer_mix", "no_herbicide", "extra_kill")]
    return plan, Beside(options=compare(plan, file.prices, shown), moves=price_moves(plan, file.prices))


def bare_with_drawings(pages: list[list[str]], fonts: list[str], plan: Plan) -> bytes:
    """The words as plain paragraphs, and every drawing on a page of its own turn."""
    styles = [ParagraphStyle(name, fontName=name, fontSize=SIZE, leading=leading(pages)) for name in fonts]
    turn = cycle(styles)
    story: list[Any] = []
    for page in pages:
        story += [Paragraph(escape(line), next(turn)) for line in page]
        story.append(PageBreak())
    fields = [conversion.drawn[0] for conversion in plan.job.conversions]
    story.append(farm_plan(drawn_farm(plan.job.farm.name, fields), high=320.0))
    story += [field_plan(field, wide=226.0, high=160.0) for field in fields]
    story.append(season_ribbon(plan))
    story += years_ahead(plan, wide=TEXT_WIDTH, most_high=BLOCK_HIGH)
    out = io.BytesIO()
    margins = dict.fromkeys(("leftMargin", "rightMargin", "topMargin", "bottomMargin"), MARGIN)
    SimpleDocTemplate(out, pagesize=LETTER, **margins).build(story)
    return out.getvalue()


def processor_seconds(work: Callable[[], object], times: int) -> float:
    """Median processor time of `times` calls, after one that is not counted."""
    work()
    took = []
    for _ in range(times):
        began = time.process_time()
        work()
        took.append(time.process_time() - began)
    return statistics.median(took)


def run() -> None:
    file = example()
    plan = plan_job(file.job, file.prices, TODAY)
    _beside_a_bare_one(plan, Beside(), "Proposal PDF, two fields, not drawn")
    drawn_plan, beside = with_drawings(file)
    pdf = _beside_a_bare_one(drawn_plan, beside, "Proposal PDF, two fields drawn, three options")
    took = processor_seconds(lambda: printed(drawn_plan, beside), 15)
    within = MOST_SECONDS * len(pages_of(pdf)) / 14
    target = f"target: {shown(within)} ({shown(MOST_SECONDS)} for 14 pages): {verdict(took < within)}"
    measured("  the same in processor time", took, target)


def printed(plan: Plan, beside: Beside) -> bytes:
    return proposal_pdf(plan, number="1", revision=1, offered_on=TODAY, beside=beside)


def _beside_a_bare_one(plan: Plan, beside: Beside, what: str) -> bytes:
    pdf = printed(plan, beside)
    pages, fonts = pages_of(pdf), fonts_of(pdf)
    took = median(lambda: printed(plan, beside), 15)
    if any(conversion.drawn for conversion in plan.job.conversions):
        bare = median(lambda: bare_with_drawings(pages, fonts, plan), 15)
        floor_of = "its words as plain paragraphs, and its drawings"
    else:
        bare = median(lambda: as_paragraphs(pages, fonts), 15)
        floor_of = "its words as plain paragraphs"
    strings = median(lambda: as_strings(pages, fonts), 15)
    target = f"target: under twice the bare document: {verdict(took < 2 * bare)}"
    measured(f"{what}, {len(pages)} pages, {len(fonts)} fonts", took, target)
    floor(floor_of, bare, took)
    floor("its words as strings on a canvas, no layout", strings, took)
    for made in (as_paragraphs(pages, fonts), as_strings(pages, fonts)):
        if len(pages_of(made)) != len(pages) or fonts_of(made) != fonts:
            said(f"not the same shape: {len(pages_of(made))} pages, fonts {', '.join(fonts_of(made))}")
    return pdf
