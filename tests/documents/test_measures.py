"""Metric measures beside published factors, single and within sentences."""

from __future__ import annotations

import csv
import re

import pytest

from plans.documents import measures, words
from plans.documents.manner import using
from plans.documents.told import told
from plans.planning import tables
from plans.planning.job import Manner

METRIC = Manner(measures="metric")


@pytest.mark.parametrize(
    ("unit", "factor"),
    [
        ("acre", 4.046873e3 / 1e4),
        ("lb", 4.535924e-1),
        ("oz", 2.834952e-2 * 1e3),
        ("ton", 9.071847e2 / 1e3),
        ("gal", 3.785412e-3 * 1e3),
        ("qt", 9.463529e-4 * 1e3),
        ("pt", 4.731765e-4 * 1e3),
        ("fl oz", 2.957353e-5 * 1e6),
        ("in", 2.54e-2 * 1e2),
        ("ft", 3.048e-1),
        ("yd", 9.144e-1),
        ("mile", 1.609344e3 / 1e3),
        ("mph", 1.609344),
        ("psi", 6.894757),
        ("hp", 7.456999e2 / 1e3),
        ("ft²", 9.290304e-2),
    ],
)
def test_factors_are_those_of_the_standards_institute(unit: str, factor: float) -> None:
    """NIST Special Publication 811 (2008), Appendix B.8: SI units, here in the multiples that are printed."""
    assert measures.METRIC[unit].value(1.0) == pytest.approx(factor, rel=1e-9)


@pytest.mark.parametrize(
    ("unit", "value"),
    [
        # 1 lb/acre = 1.12085 kg/ha, 1 gal/acre = 9.3540 L/ha: common practice, NIST factors divided by hand.
        ("lb/acre", 1.12085),
        ("gal/acre", 9.3540),
        ("seeds/ft²", 10.7639),
        ("tons/acre", 2.24170),
        ("fl oz/acre", 73.078),
    ],
)
def test_a_unit_over_another_is_their_quotient(unit: str, value: float) -> None:
    assert measures.METRIC[unit].value(1.0) == pytest.approx(value, rel=2e-5)


def test_degrees_meet_where_water_freezes_and_boils() -> None:
    degrees = measures.METRIC["°F"]
    assert [round(degrees.value(f), 9) for f in (32.0, 212.0, -40.0)] == [0.0, 100.0, -40.0]


@pytest.mark.parametrize(
    ("said", "metric"),
    [
        ("15 gal/acre of spray", "140 L/ha of spray"),
        ("10 to 20 gal an acre.", "93.5 to 187 L/ha."),
        ("11.2 of 12 acres are left to spray: 50 ft from Mill Creek.",
         "4.53 of 4.86 ha are left to spray: 15.2 m from Mill Creek."),
        ("8 lb PLS an acre, and 3 lb/acre of oats", "8.97 kg PLS/ha, and 3.36 kg/ha of oats"),
        ("Soil 55 °F or more at 2 in; depth 1/4 in, never over 1/2 in; 3 to 4 mph.",
         "Soil 12.8 °C or more at 5.08 cm; depth 6 mm, never over 13 mm; 4.83 to 6.44 km/h."),
        ("a quarter inch deep", "6 mm deep"),
        ("1,250.5 live seeds per square foot", "13,500 live seeds/m²"),
        ("4,500 lb on the drawbar", "2,040 kg on the drawbar"),
        ("$40 an acre", "$98.84/ha"),
        ("in full leaf, 2 to 4 ft; not in drought.", "in full leaf, 0.61 to 1.22 m; not in drought."),
        ("Cut to about 4 in before growth starts.", "Cut to about 10.2 cm before growth starts."),
    ],
)  # fmt: skip
def test_amounts_within_a_sentence(said: str, metric: str) -> None:
    with using(METRIC):
        assert told(said) == metric


@pytest.mark.parametrize(
    ("said", "metric"),
    [
        ("2 qt/acre", "2 qt/acre [4.68 L/ha]"),
        ("0.5 to 1 lb ae/acre", "0.5 to 1 lb ae/acre [0.56 to 1.12 kg/ha]"),
        ("5 fl oz/acre", "5 fl oz/acre [365 mL/ha]"),
        ("17 lb per 100 gal", "17 lb per 100 gal"),
        ("glyphosate, 3 lb/gal", "glyphosate, 3 lb/gal"),
    ],
)
def test_a_label_keeps_its_own_unit(said: str, metric: str) -> None:
    with using(METRIC):
        assert told(said) == metric


@pytest.mark.parametrize(
    "said",
    [
        "Seeded plants in 40 of 100 cells and over: enough.",
        "In 2027 and 2028, in 3 passes.",
        "horseweed that withstands glyphosate and group 2 herbicides",
        "40 CFR 170",
        "30 days and more before the seed",
    ],
)
def test_what_is_no_amount_stays(said: str) -> None:
    with using(METRIC):
        assert told(said) == said


US_UNIT = re.compile(
    r"\d (?:in\b(?! the| April| May)|ft\b|°F|mph\b|gal\b|acres?\b|lb\b|miles?\b|inch|feet|yards?\b)"
)


@pytest.mark.parametrize(
    ("table", "columns"),
    [
        ("steps.csv", ("why", "conditions")),
        ("cautions.csv", ("brief", "text")),
        ("programs.csv", ("summary", "caution", "way_out")),
        ("seedings.csv", ("summary",)),
        ("wall_notes.csv", ("text",)),
    ],
)
def test_no_table_leaves_a_us_amount_behind(table: str, columns: tuple[str, ...]) -> None:
    """In either language that it is told in."""
    with (tables.FOLDER / table).open(encoding="utf-8", newline="") as file:
        texts = [row[column] for row in csv.DictReader(file) for column in columns]
    for manner in (METRIC, Manner(locale="es_MX", measures="metric")):
        with using(manner):
            left = [said for text in texts if US_UNIT.search(said := told(text))]
        assert not left


@pytest.mark.parametrize(
    ("value", "unit", "said"),
    [
        (11.2, "acre", "4.53 ha"),
        (64.0, "fl oz", "1.89 L"),
        (2.0, "fl oz", "59.15 mL"),
        (230.0, "mile", "370.15 km"),
        (5.784, "lb", "2.62 kg"),
        (3.0, "h", "3 hours"),
    ],
)
def test_a_figure_with_its_unit(value: float, unit: str, said: str) -> None:
    with using(METRIC):
        assert words.quantity(value, unit) == said


def test_a_labels_amount_stands_first() -> None:
    with using(METRIC):
        assert words.by_label(64.0, "fl oz/acre") == "64 fl oz/acre [4.677 L/ha]"
    assert words.by_label(64.0, "fl oz/acre") == "64 fl oz/acre"
