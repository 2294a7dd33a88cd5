"""What every print holds: its look, money to the cent, fonts, soundness, least type, whatever was typed."""

from __future__ import annotations

import ctypes
import math
import re
import shutil
import subprocess
from collections import Counter
from collections.abc import Iterator
from decimal import ROUND_HALF_UP, Decimal
from pathlib import Path
from typing import NamedTuple

import pypdfium2
import pytest
from PIL import Image
from pypdfium2 import raw

from plans.documents.page_images import page_texts
from plans.planning.beside import Beside, beside_json
from plans.planning.by_field import by_field
from plans.planning.plan import Plan
from plans.planning.wire import plan_json
from tests.documents.prints import CONTENTS, HOSTILE, PICTURED, PRINTS, beside, plans, printed
from tests.tools.page_pictures import MOST_LOUD, RESULTS, contact_sheet, differing, reference

SCENARIOS = ("sod", "mixed", "spanish")
EVERY = [
    *((name, scenario, "usual") for name in PICTURED for scenario in SCENARIOS),
    *((name, "mixed", content) for name in PICTURED for content in CONTENTS),
    ("draft", "sod", "usual"),
]
every_print = pytest.mark.parametrize(("name", "scenario", "content"), EVERY)
LEAST_TYPE = dict.fromkeys(PRINTS, 7.5) | {
    # Numbers of the moments in the season ribbon.
    **dict.fromkeys(("proposal", "draft"), 6.0),
    "wall plan": 9.0,
    # American Printing House for the Blind, Guidelines for Print Document Design: 18 points.
    "large print": 18.0,
    # U.S. NRC NUREG-0700, section 1.3.1-4: capitals of 16 minutes of arc, here at 24 inches; 12.04 points of
    # a type whose capitals are 668 thousandths high.
    "wall sheet": 72 * 6.283 * 24 * 16 / 21_600 / 0.668,
}
"""Smallest type [pt]."""
NOT_NUMBERED = {"wall sheet"}
SAYS_LETTER = ("proposal", "change order", "changes", "season report", "crew sheet", "buy list", "records")


class Set(NamedTuple):
    """A run of text as it was set: its size [pt], and its box on a page of that size."""

    page: int
    size_pt: float
    box: tuple[float, float, float, float]
    paper: tuple[float, float]


def set_in(pdf: bytes) -> Iterator[Set]:
    with pypdfium2.PdfDocument(pdf) as document:
        for number, page in enumerate(document, start=1):
            for text in page.get_objects(filter=[raw.FPDF_PAGEOBJ_TEXT]):
                size = ctypes.c_float()
                raw.FPDFTextObj_GetFontSize(text.raw, ctypes.byref(size))
                matrix = text.get_matrix()
                scale = math.sqrt(abs(matrix.a * matrix.d - matrix.b * matrix.c))
                yield Set(number, size.value * scale, text.get_bounds(), page.get_size())


@pytest.mark.parametrize("scenario", SCENARIOS)
@pytest.mark.parametrize("name", PICTURED)
def test_pages_look_as_they_did(name: str, scenario: str) -> None:
    """`python -m tests.tools.page_pictures` takes the pictures anew."""
    kept, now = Image.open(reference(name, scenario)), contact_sheet(printed(name, scenario))
    dots, both = differing(kept, now)
    if kept.size != now.size or dots > MOST_LOUD:
        RESULTS.mkdir(parents=True, exist_ok=True)
        both.save(RESULTS / reference(name, scenario).name)
        pytest.fail(f"{dots} dots differ (only before: red, only now: blue); see test-results/pages/")


def test_a_line_that_moves_is_seen() -> None:
    sheet = contact_sheet(printed("records", "sod"))
    moved = sheet.copy()
    moved.paste(sheet.crop((20, 60, 200, 100)), (20, 61))
    assert differing(sheet, sheet)[0] == 0 and differing(sheet, moved)[0] > MOST_LOUD


@pytest.mark.parametrize(("scenario", "most"), [("sod", 14), ("spanish", 14), ("mixed", 22)])
def test_a_proposal_comes_to_eight_to_fourteen_pages(scenario: str, most: int) -> None:
    """Two fields over six years do, in either language; three unlike programs over eight years, with the
    practice's own words in every place, may take more."""
    assert 8 <= len(page_texts(printed("proposal", scenario))) <= most


@every_print
def test_fonts_are_embedded_in_part_and_no_other_is_named(name: str, scenario: str, content: str) -> None:
    pdf = printed(name, scenario, content)
    assert b"/ObjStm" not in pdf, "fonts would not be seen in it"
    named = re.findall(rb"/BaseFont\s*/(\S+)", pdf)
    assert named and [font for font in named if not re.match(rb"[A-Z0-9]{6}\+", font)] == []
    assert len(re.findall(rb"/FontFile2", pdf)) == len(re.findall(rb"/Type\s*/FontDescriptor", pdf))
    with pypdfium2.PdfDocument(pdf) as document:
        for page in document:
            for text in page.get_objects(filter=[raw.FPDF_PAGEOBJ_TEXT]):
                assert raw.FPDFFont_GetIsEmbedded(raw.FPDFTextObj_GetFont(text.raw)) == 1


def test_every_print_is_sound(tmp_path: Path) -> None:
    """By another program than the one that wrote it: qpdf --check finds neither error nor warning."""
    qpdf = shutil.which("qpdf")
    assert qpdf, "qpdf is missing; .ci/services installs it"
    wrong = {}
    for name, scenario, content in EVERY:
        file = tmp_path / f"{name} {scenario} {content}.pdf"
        file.write_bytes(printed(name, scenario, content))
        said = subprocess.run([qpdf, "--check", file], capture_output=True, text=True, check=False)
        if said.returncode or "WARNING" in said.stdout + said.stderr:
            wrong[file.name] = said.stdout + said.stderr
    assert wrong == {}


@every_print
def test_type_can_be_read_and_nothing_runs_off_the_paper(name: str, scenario: str, content: str) -> None:
    runs = list(set_in(printed(name, scenario, content)))
    assert min(run.size_pt for run in runs) >= LEAST_TYPE[name] - 0.01
    for run in runs:
        left, bottom, right, top = run.box
        assert left >= 18 and bottom >= 18 and right <= run.paper[0] - 18 and top <= run.paper[1] - 18, run


@pytest.mark.parametrize("content", CONTENTS)
@pytest.mark.parametrize("name", PICTURED)
def test_whatever_was_typed_each_page_has_its_number_and_text_is_text(name: str, content: str) -> None:
    pdf = printed(name, "mixed", content)
    texts = page_texts(pdf)
    for number, text in enumerate(texts, start=1):
        assert f"Page {number} of {len(texts)}" in text or name in NOT_NUMBERED
    assert (
        re.findall(rb"/(?:OpenAction|AA|JavaScript|Annots|EmbeddedFiles?|URI|Launch|AcroForm)\b", pdf) == []
    )
    whole = "".join("".join(texts).split())
    if content == "hostile":
        assert any("".join(typed.split()) in whole for typed in HOSTILE[:2])
    if content == "long":
        assert "unbroken" in whole and ("word700" in whole) == (name in SAYS_LETTER)


# Money

ACRES_IN_HA = Decimal(10_000) / Decimal("4046.8564224")
"""An international acre is 4046.8564224 m²: NIST Special Publication 811, appendix B."""


def dollars(plan: Plan, shown: Beside) -> Counter[Decimal]:
    """Each figure of the price that a proposal has to print, as often as it must stand there: sums of years
    and fields, lines, stages, what may come, and what options and other turns would make of it."""
    estimate, fields = plan.estimate, by_field(plan)
    columns = ("work", "seed", "materials", "spray", "hauling", "contingency", "discount", "tax", "total")
    figures = [getattr(year, column) for year in (*estimate.years, estimate.total) for column in columns]
    figures += [line.price for line in estimate.lines] + [stage.amount for stage in estimate.stages]
    figures += [one for one in (estimate.cost_share, estimate.after_cost_share) if one is not None]
    if estimate.range:
        figures += [estimate.range.p10, estimate.range.p50, estimate.range.p90]
        figures += [step.price for step in estimate.range.steps]
    if len(fields) > 1:
        figures += [figure for field in fields for figure in (*field.years, field.total)]
    figures += [move.change for move in shown.moves]
    for option in shown.options:
        if option.standing and option.difference:
            figures += [option.standing.total, option.difference]
    return Counter(abs(figure.dollars) for figure in figures if figure.dollars)


def to_the_cent(amount: Decimal) -> Decimal:
    return amount.quantize(Decimal("0.01"), ROUND_HALF_UP)


def amounts(text: str, before: str = "") -> Iterator[Decimal]:
    for found in re.findall(rf"{before}(\d[\d,]*\.\d\d)(?!\d)", text):
        yield Decimal(found.replace(",", ""))


@pytest.mark.parametrize("scenario", SCENARIOS)
def test_money_in_print_is_the_plans_to_the_cent(scenario: str) -> None:
    plan, shown = plans()[scenario], beside(plans()[scenario])
    text = "\n".join(page_texts(printed("proposal", scenario)))
    assert dollars(plan, shown) - Counter(amounts(text)) == Counter()
    told = re.sub(r"(?<=\d),(?=\d{3})", "", plan_json(plan) + beside_json(shown))
    numbers = re.findall(r"(?<![\d.])\d+(?:\.\d+)?(?![\d.])", told)
    known = {to_the_cent(Decimal(number)) for number in numbers}
    if plan.job.terms.cost_share:
        known.add(to_the_cent(plan.job.terms.cost_share.usd_per_acre * ACRES_IN_HA))
    assert set(amounts(text, before=r"\$")) <= known


@pytest.mark.parametrize("scenario", SCENARIOS)
def test_no_price_is_on_a_crew_sheet(scenario: str) -> None:
    assert "$" not in "".join(page_texts(printed("crew sheet", scenario)))
