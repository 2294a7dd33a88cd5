"""Amounts that stand within a sentence: made metric, or written with the numbers of the locale.

An amount is one number or a span of two, whole, decimal or in fractions, with its unit behind. The rate of a
product keeps the unit of its label, since that is what is measured out, and has the metric one in brackets.
What is only a size by name (a ball, a pin, a shaft) is not given to these functions.
"""

from __future__ import annotations

import re
from fractions import Fraction
from math import floor, log10

from plans.documents.measures import METRIC, SMALL
from plans.documents.words import number

_NUMBER = r"(?:\d[\d,]*(?:\.\d+)? \d+/\d+|\d+/\d+|\d[\d,]*(?:\.\d+)?)"
_SPAN = r" to | and | or | of |-|–| – | a | y | u | o | de "
_AN_ACRE = r"(?:/ac(?:re)?\b| an acre\b| per acre\b| por acre\b| el acre\b)"
_A_SQUARE_FOOT = r"(?:/ft²| (?:a|per) square foot\b| por pie cuadrado\b)"
_OF = r"(?: (?:PLS|bulk|SVP|a granel))?"
UNITS: tuple[tuple[str, str], ...] = (
    (rf"gal{_AN_ACRE}", "gal/acre"),
    (rf"(?:tons?|toneladas?){_AN_ACRE}", "tons/acre"),
    (rf"(?:live )?seeds{_A_SQUARE_FOOT}", "seeds/ft²"),
    (rf"semillas(?: vivas)?{_A_SQUARE_FOOT}", "seeds/ft²"),
    (rf"(?:plants|plantas){_A_SQUARE_FOOT}", "plants/ft²"),
    (rf"(?:lb|pounds|libras){_OF}{_AN_ACRE}", "lb/acre"),
    (rf"stems{_AN_ACRE}", "stems/acre"),
    (rf"tallos{_AN_ACRE}", "stems/acre"),
    (r"(?:acres?)/h\b", "acre/h"),
    (r"acres?\b(?!/)", "acre"),
    (r"(?:lb|pounds?|libras?)\b(?![/²])", "lb"),
    (r"(?:fl oz|fluid ounces?|onzas líquidas)\b(?!/)", "fl oz"),
    (r"(?:oz|ounces?|onzas?)\b(?!/)", "oz"),
    (r"(?:gal|gallons?|galones|galón)\b(?!/)", "gal"),
    (r"(?:qt|quarts?|cuartos)\b(?!/)", "qt"),
    (r"(?:pt|pints?|pintas?)\b(?!/)", "pt"),
    (r"(?:tons?|toneladas?)\b(?!/)", "ton"),
    (r"(?:feet|foot|ft|pies?)\b(?!²)", "ft"),
    (r"(?:inch(?:es)?|pulgadas?)\b", "in"),
    (
        r"in\b(?=[.,;:)]|$"
        r"| (?:tall|deep|high|wide|thick|long|apart|or|and|to|before|of [a-z]+)\b)",
        "in",
    ),
    (r"(?:miles?|millas?)\b", "mile"),
    (r"mph\b", "mph"),
    (r"(?:yd|yards?|yardas?)\b", "yd"),
    (r"psi\b", "psi"),
    (r"hp\b", "hp"),
    (r"°F", "°F"),
)
_LABEL = rf"(?:fl oz|oz|qt|pt|lb (?:ae|ai)){_AN_ACRE}"
_LABEL_RATE = re.compile(rf"({_NUMBER})(?:({_SPAN})({_NUMBER}))? ?({_LABEL})")
_FOR_A_TANK = re.compile(
    rf"{_NUMBER}(?:(?:{_SPAN}){_NUMBER})? ?(?:fl oz|oz|lb|qt|pt|gal)(?:/| per | por )100 gal\b"
)
"""An adjuvant as its label has it."""
_FOR_A_CATCH = re.compile(r"1/128 (?:de )?acre\b")
"""A course of a calibration, by its name."""
_DOLLARS_AN_ACRE = re.compile(rf"\$({_NUMBER}){_AN_ACRE}")
_AMOUNTS = [
    (re.compile(rf"({_NUMBER})(?:({_SPAN})({_NUMBER}))?(?: de |[ -])?(?:{unit})"), key) for unit, key in UNITS
]
_NAMED = (
    (re.compile(r"\b(?:a quarter(?: of an)? inch|un cuarto de pulgada)\b"), "6 mm"),
    (re.compile(r"\b(?:half an inch|media pulgada)\b"), "13 mm"),
    (re.compile(r"\b(?:three quarters of an inch|tres cuartos de pulgada)\b"), "19 mm"),
    (re.compile(r"\b(?:an inch|una pulgada)\b"), "2.5 cm"),
)
_ALONE = re.compile(r"(?<![\w.,/\x00])\d[\d,]*\.?\d*(?![\w/])")


def _value(text: str) -> float:
    """1,200; 2.5; 3/4; 1 1/2."""
    return float(sum(Fraction(part) for part in text.replace(",", "").split()))


def _rounded(value: float) -> str:
    """To three figures, as a sentence wants it."""
    if not value:
        return number(0)
    return number(round(value, 2 - floor(log10(abs(value)))), 4)


def _small(values: list[float], unit: str) -> tuple[list[float], str]:
    """A hand's breadth in millimeters, a spoonful in milliliters."""
    if unit == "cm" and max(values) < 2.5:
        return [round(value * 10) for value in values], "mm"
    if unit == "L" and max(values) < 1:
        return [value * 1000 for value in values], "mL"
    if unit == "°C":
        return [round(value, 1) for value in values], "°C"
    return values, unit


def _in_metric(found: re.Match[str], key: str) -> str:
    first, between, second = found.group(1, 2, 3)
    metric = METRIC[key]
    values = [metric.value(_value(text)) for text in (first, second) if text]
    values, unit = _small(values, metric.unit)
    said = f"{between or ''}".join(_rounded(value) for value in values)
    return f"{said} {_unit_words(unit, found.group(0))}"


def _unit_words(unit: str, was: str) -> str:
    """Seeds and plants stay words; what is said of pounds (PLS, bulk) stays behind the unit."""
    for noun in ("seeds", "semillas vivas", "semillas", "plants", "plantas", "stems", "tallos"):
        if noun in was:
            return unit.replace(unit.partition("/")[0], ("live " if "live seeds" in was else "") + noun)
    of = re.search(r" (PLS|bulk|SVP|a granel)\b", was)
    base, slash, per = unit.partition("/")
    return f"{base} {of.group(1)}{slash}{per}" if of else unit


def _beside_the_label(found: re.Match[str]) -> str:
    first, between, second, unit = found.groups()
    base = re.sub(rf"(?: ae| ai)?{_AN_ACRE}$", "", unit)
    metric = METRIC[f"{base}/acre"]
    values, name = [metric.value(_value(text)) for text in (first, second) if text], metric.unit
    if max(values) >= 1000 and name in SMALL:
        values, name = [value / 1000 for value in values], SMALL[name]
    said = f"{between or ''}".join(_rounded(value) for value in values)
    return f"{_localized(found.group(0))} [{said} {name}]"


def metric(text: str) -> str:
    """US customary amounts of a text in metric measures."""
    kept: list[str] = []

    def keep(said: str) -> str:
        kept.append(said)
        return f"\x00{len(kept) - 1}\x00"

    text = _FOR_A_TANK.sub(lambda found: keep(_localized(found.group())), text)
    text = _FOR_A_CATCH.sub(lambda found: keep(found.group()), text)
    text = _LABEL_RATE.sub(lambda found: keep(_beside_the_label(found)), text)
    text = _DOLLARS_AN_ACRE.sub(
        lambda found: keep(f"${number(METRIC['$/acre'].value(_value(found.group(1))))}/ha"), text
    )
    for pattern, key in _AMOUNTS:
        text = pattern.sub(lambda found, key=key: keep(_in_metric(found, key)), text)  # type: ignore[misc]
    for pattern, said in _NAMED:
        text = pattern.sub(lambda _, said=said: keep(_localized(said)), text)  # type: ignore[misc]
    text = _localized(text)
    return re.sub("\x00(\\d+)\x00", lambda found: kept[int(found.group(1))], text)


def numbers(text: str) -> str:
    """The numbers of a text with the separators of the locale."""
    return _localized(text)


def _localized(text: str) -> str:
    return _ALONE.sub(_number, text)


def _number(found: re.Match[str]) -> str:
    text = found.group()
    end = "" if text[-1].isdigit() else text[-1]
    text = text.removesuffix(end) if end else text
    grouped = "," in text or "." in text
    decimals = len(text.partition(".")[2])
    return (number(_value(text), decimals) if grouped else text) + end
