"""The proposal PDF beside bare ReportLab documents that hold its words, in its fonts, on as many pages."""

from __future__ import annotations

import io
from itertools import cycle
from typing import Any
from xml.sax.saxutils import escape

from pypdf import PdfReader
from reportlab.lib.styles import ParagraphStyle
from reportlab.pdfbase import pdfmetrics
from reportlab.pdfgen.canvas import Canvas
from reportlab.platypus import PageBreak, Paragraph, SimpleDocTemplate

from plans.documents.proposal import proposal_pdf
from plans.planning.planner import plan_job
from tests.bench.jobs import TODAY, example
from tests.bench.timing import floor, measured, median, said, verdict

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


def run() -> None:
    file = example()
    plan = plan_job(file.job, file.prices, TODAY)

    def print_it() -> bytes:
        return proposal_pdf(plan, number="1", revision=1, offered_on=TODAY)

    pdf = print_it()
    pages, fonts = pages_of(pdf), fonts_of(pdf)
    took = median(print_it, 15)
    bare = median(lambda: as_paragraphs(pages, fonts), 15)
    strings = median(lambda: as_strings(pages, fonts), 15)
    target = f"target: under twice the bare document: {verdict(took < 2 * bare)}"
    measured(f"Proposal PDF, two fields, {len(pages)} pages, {len(fonts)} fonts", took, target)
    floor("its words as plain paragraphs", bare, took)
    floor("its words as strings on a canvas, no layout", strings, took)
    for made in (as_paragraphs(pages, fonts), as_strings(pages, fonts)):
        if len(pages_of(made)) != len(pages) or fonts_of(made) != fonts:
            said(f"not the same shape: {len(pages_of(made))} pages, fonts {', '.join(fonts_of(made))}")
