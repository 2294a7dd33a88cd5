"""Dates, numbers and dollars by locale, beside what CLDR prints; paper by manner."""

from __future__ import annotations

import json
from dataclasses import replace
from datetime import date
from decimal import Decimal
from io import BytesIO
from typing import get_args

import pytest
from pypdf import PdfReader

from consulting.manner import LOCALES, MEASURES, PAPERS
from plans.documents import words
from plans.documents.manner import using
from plans.documents.told import told
from plans.planning import wire
from plans.planning.job import LocaleName, Manner, Measures, Paper
from plans.planning.plan import Plan
from tests.documents.conftest import printed

DAY = date(2026, 9, 5)


@pytest.mark.parametrize(
    ("locale", "long", "short", "brief", "number", "dollars"),
    [
        # Unicode CLDR, as Babel 2.19 carries it: dates long, medium and MMMd; decimal; dollars.
        ("en_US", "September 5, 2026", "Sep 5, 2026", "Sep 5", "1,234.5", "$1,234.50"),
        ("en_GB", "5 September 2026", "5 Sept 2026", "5 Sept", "1,234.5", "US$1,234.50"),
        ("en_CA", "September 5, 2026", "Sep 5, 2026", "Sep 5", "1,234.5", "US$1,234.50"),
        ("es_US", "5 de septiembre de 2026", "5 sep 2026", "5 sep", "1,234.5", "$1,234.50"),
        ("es_MX", "5 de septiembre de 2026", "5 sep 2026", "5 sep", "1,234.5", "USD\u00a01,234.50"),
        ("es_ES", "5 de septiembre de 2026", "5 sept 2026", "5 sept", "1.234,5", "1.234,50\u00a0US$"),
    ],
)
def test_a_locale_writes_days_numbers_and_dollars(
    locale: LocaleName, long: str, short: str, brief: str, number: str, dollars: str
) -> None:
    with using(Manner(locale=locale)):
        assert (words.day(DAY), words.short(DAY), words.short(DAY, year=False)) == (long, short, brief)
        assert (words.number(1234.5), words.usd(Decimal("1234.50"))) == (number, dollars)
        assert words.usd(Decimal("-1234.50")) == "−" + dollars


def test_days_and_amounts_of_a_sentence_follow_the_locale() -> None:
    said = "First kill on Ridge: this season's window shut on September 5, 2026."
    with using(Manner(locale="en_GB")):
        assert told(said).endswith("shut on 5 September 2026.")
    with using(Manner(locale="es_ES")):
        assert told("Sep 5 – Oct 31, 2027") == "5 sept – 31 oct 2027"
        assert told("May 99 has no such day") == "May 99 has no such day"
        assert told("glyphosate, 2.5 lb/gal") == "glyphosate, 2,5 lb/gal"


def test_what_a_practice_may_choose_is_what_is_printed() -> None:
    assert tuple(value for value, _ in LOCALES) == get_args(LocaleName)
    assert tuple(value for value, _ in PAPERS) == get_args(Paper)
    assert tuple(value for value, _ in MEASURES) == get_args(Measures)


def in_manner(plan: Plan, **changes: str) -> Plan:
    return replace(plan, job=replace(plan.job, manner=Manner(**changes)))  # type: ignore[arg-type]


def test_a4_holds_every_page_of_a_proposal(plan: Plan) -> None:
    """ISO 216: 210 by 297 mm, at 72 pt to the inch of 25.4 mm."""
    wide, high = 210 / 25.4 * 72, 297 / 25.4 * 72
    reader = PdfReader(BytesIO(printed(in_manner(plan, paper="A4"))))
    boxes = {tuple(map(float, page.mediabox[2:])) for page in reader.pages}
    upright = (pytest.approx(wide, abs=0.01), pytest.approx(high, abs=0.01))
    assert len(boxes) <= 2 and all(box == upright or box[::-1] == upright for box in boxes)
    assert reader.trailer["/Root"]["/Lang"] == "en-US"


def test_a_job_keeps_its_manner_and_an_old_one_is_as_usual(plan: Plan) -> None:
    kept = wire.read_plan(wire.plan_json(in_manner(plan, locale="es_US", paper="A4", measures="metric")))
    assert (kept.job.manner.locale, kept.job.manner.paper, kept.job.manner.metric) == ("es_US", "A4", True)
    old = json.loads(wire.plan_json(plan))
    del old["job"]["manner"]
    assert wire.read_plan(json.dumps(old)).job.manner == Manner()
