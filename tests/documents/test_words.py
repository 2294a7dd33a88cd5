"""Sources as a reader is told them."""

from __future__ import annotations

import csv

import pytest

from plans.documents import words
from plans.planning import tables


@pytest.mark.parametrize(
    ("written", "told"),
    [
        ("ASABE EP367 (seen)", "ASABE EP367"),
        ("plant sheet [seen]; 8-10 common [memory]", "plant sheet; 8-10 common (from memory of the trade)"),
        ("limits (from memory); label", "limits (from memory of the trade); label"),
        ("trade bulletin (seen, weak)", "trade bulletin (weak)"),
        ("guide (seen: fall kill can release it)", "guide (fall kill can release it)"),
        ("a district (University of Arizona, seen)", "a district (University of Arizona)"),
        ("a table (seen in a reprint)", "a table (seen in a reprint)"),
        ("What was seen stays seen [sic]", "What was seen stays seen [sic]"),
    ],
)
def test_marks_become_words(written: str, told: str) -> None:
    assert words.source(written) == told


def test_no_mark_of_any_table_is_left() -> None:
    for path in tables.FOLDER.glob("*.csv"):
        with path.open(encoding="utf-8", newline="") as file:
            for cell in (cell for row in csv.reader(file) for cell in row):
                told = words.source(cell)
                assert "[from" not in told and "memory]" not in told and "seen)" not in told, cell
                assert "(seen," not in told and "[seen" not in told, cell


@pytest.mark.parametrize(
    ("value", "unit", "said"),
    [
        (1, "acre", "1 acre"),
        (0.996, "acre", "1 acre"),
        (2.5, "acre", "2.5 acres"),
        (1, "plants", "1 plant"),
        (4879, "plants", "4,879 plants"),
        (1, "tubes", "1 tube"),
        (1.111, "tons", "1.11 tons"),
        (1, "h", "1 hour"),
        (5.784, "lb", "5.78 lb"),
        (3, "", "3"),
    ],
)
def test_one_is_said_as_one(value: float, unit: str, said: str) -> None:
    assert words.quantity(value, unit) == said
