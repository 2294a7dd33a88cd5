"""Records in print: all that they say, typed text as text, the same bytes again, long ones over pages."""

from __future__ import annotations

from dataclasses import replace
from datetime import date
from typing import Any

from plans.documents.records import PrintedLine, PrintedRecord, records_pdf
from tests.documents.conftest import pages

LINE = PrintedLine(
    name="glyphosate, 3 lb/gal",
    ingredient="glyphosate",
    registration_number="INV-0-1",
    restricted_use=True,
    amount=9.75,
    unit="gal",
    rate_per_acre=0.975,
    planned=7.5,
    apart_pct=30.0,
    reason="second pass on the west side",
)
RECORD = PrintedRecord(
    number=3,
    kind="Application",
    work="First kill: spray the fall regrowth",
    on=date(2027, 9, 20),
    acres=10.0,
    field="North Bottom",
    farm="Invented Farm",
    place="Invented County",
    customer="Lena Landowner",
    address="1 Invented Road",
    facts=(("Time", "07:40 to 09:10"), ("Certified applicator", "Ada Applicator, certificate INV-1234")),
    lines=(LINE,),
    notes="two loads",
    extra=(("Nozzle", "=flat fan"),),
    keep_until=date(2034, 9, 20),
    entered="Entered by Cass Crew on September 20, 2027 at 10:02.",
    sha256="ab" * 32,
)


def printed(*records: PrintedRecord, **more: Any) -> bytes:
    said = {
        "practice": "Kestrel Cover Company",
        "address": "2 Invented Road",
        "title": "North Bottom, 2027",
        "printed_on": date(2027, 12, 1),
    }
    return records_pdf(records, **(said | more))


def test_all_of_it_is_printed_and_the_label_comes_first() -> None:
    text = " ".join("\n".join(pages(printed(RECORD))).split())
    for said in (
        *("North Bottom, 2027", "One record", "Lena Landowner", "1 Invented Road", "07:40 to 09:10"),
        *("EPA Reg. No. INV-0-1, restricted use", "9.75 gal", "0.975 gal/acre", "7.5 gal", "+30 %"),
        "To be kept until September 20, 2034 at least.",
        *("Why: second pass on the west side", "two loads", "Entered by Cass Crew", "ab" * 32),
        *("The product label and the rules of the state come before", "two years at least"),
    ):
        assert said in text, said
    assert "Part 110" not in text and "$" not in text


def test_the_same_records_give_the_same_bytes() -> None:
    assert printed(RECORD) == printed(RECORD)


def test_typed_text_is_text_in_print() -> None:
    odd = replace(
        RECORD, customer="<b>A & B</b> 田中", notes="<a href='x'>no</a>", lines=(replace(LINE, name="<i>x"),)
    )
    text = " ".join(pages(printed(odd, title="<u>T</u>", practice="P & <Q>")))
    for said in ("<b>A & B</b> 田中", "<a href='x'>no</a>", "<i>x", "<u>T</u>", "P & <Q>"):
        assert said in text, said


def test_what_was_superseded_says_so() -> None:
    text = " ".join(
        pages(printed(replace(RECORD, superseded="This record no longer stands: record 4 followed.")))
    )
    assert "no longer stands" in text


def test_many_and_long_records_run_over_pages() -> None:
    long = replace(RECORD, notes="word " * 190, address="line\n" * 60, lines=(LINE,) * 60)
    found = pages(printed(*[RECORD] * 20, long))
    assert len(found) > 8 and f"Page {len(found)} of {len(found)}" in found[-1]
