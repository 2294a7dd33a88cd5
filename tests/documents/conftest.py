"""The example job, planned and printed once for all tests here."""

from __future__ import annotations

from datetime import date
from pathlib import Path

import pypdfium2
import pytest

from plans.documents.proposal import proposal_pdf
from plans.planning.beside import Beside
from plans.planning.options import Wanted, compare
from plans.planning.plan import Plan
from plans.planning.planner import plan_job
from plans.planning.price_moves import price_moves
from plans.planning.wire import read_job_file

EXAMPLE = Path(__file__).parents[2] / "plans" / "examples" / "job.json"
TODAY = date(2026, 11, 25)


def printed(plan: Plan, **changes: object) -> bytes:
    return proposal_pdf(plan, **({"number": "2026-014", "revision": 2, "offered_on": TODAY} | changes))


def pages(pdf: bytes) -> list[str]:
    """What each page says: body, foot, head. Readers in pure Python take seconds for a long print."""
    document = pypdfium2.PdfDocument(pdf)
    return [page.get_textpage().get_text_bounded().replace("\r\n", "\n") for page in document]


@pytest.fixture(scope="session")
def plan() -> Plan:
    file = read_job_file(EXAMPLE.read_bytes())
    return plan_job(file.job, file.prices, TODAY)


@pytest.fixture(scope="session")
def beside(plan: Plan) -> Beside:
    """Three options and what would move the price."""
    prices = read_job_file(EXAMPLE.read_bytes()).prices
    shown = [Wanted(key=key) for key in ("richer_mix", "no_herbicide", "year_later")]
    return Beside(options=compare(plan, prices, shown), moves=price_moves(plan, prices))


@pytest.fixture(scope="session")
def pdf(plan: Plan, beside: Beside) -> bytes:
    return printed(plan, beside=beside)


@pytest.fixture(scope="session")
def texts(pdf: bytes) -> list[str]:
    return pages(pdf)
