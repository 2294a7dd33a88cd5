"""The single calculations as forms and answers: words for their inputs, a form from them, rows of results."""

from __future__ import annotations

import json
import math
import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Any

from django import forms
from django.core.exceptions import ValidationError
from django.utils.functional import Promise
from django.utils.text import capfirst
from django.utils.translation import gettext, gettext_lazy

from consulting.formkit import HouseForm, NumberInput
from plans.documents.told import told
from plans.documents.words import exactly
from plans.planning import reckoner
from plans.planning.wire import BadInput

Text = str | Promise

GROUPS: Mapping[Text, Mapping[str, Text]] = {
    gettext_lazy("On a spray day"): {
        "spray_day": gettext_lazy("Go, wait or no"),
        "delta_t": gettext_lazy("Delta T"),
    },
    gettext_lazy("The sprayer"): {
        "sprayer_gal_per_acre": gettext_lazy("Gallons an acre from a boom"),
        "nozzle_gal_per_min": gettext_lazy("What one nozzle must give"),
        "nozzle_catch_128th": gettext_lazy("A nozzle by the 1/128-acre catch"),
        "boomless_gal_per_acre": gettext_lazy("Gallons an acre from a boomless nozzle or wand"),
        "spot_gal_per_acre": gettext_lazy("Gallons an acre of spot or hand work"),
        "refill_gal_per_acre": gettext_lazy("Gallons an acre by refilling"),
        "nozzle_wear": gettext_lazy("Worn nozzles"),
        "speed_mph": gettext_lazy("Ground speed"),
        "tank": gettext_lazy("Tank loads and product"),
        "volume_pct": gettext_lazy("A share by volume"),
        "acid_to_product": gettext_lazy("Product for a rate of acid"),
    },
    gettext_lazy("Seed and drill"): {
        "pls_pct": gettext_lazy("Pure live seed of a lot"),
        "bulk_lb": gettext_lazy("Bulk pounds to weigh out"),
        "price_per_pls_lb": gettext_lazy("Price of a PLS pound"),
        "seeds_per_sqft": gettext_lazy("Seeds per square foot"),
        "pls_lb_per_acre": gettext_lazy("PLS pounds an acre"),
        "seeds_per_row_ft": gettext_lazy("Seeds in a foot of row"),
        "drill_lb_per_acre": gettext_lazy("What the drill gave"),
        "drill_catch_g": gettext_lazy("What the drill should give"),
        "drill_wheel_g": gettext_lazy("Catch by turns of the wheel"),
        "next_drill_setting": gettext_lazy("The next drill setting"),
    },
    gettext_lazy("The ground"): {
        "acres_per_hour": gettext_lazy("Acres an hour"),
        "slope": gettext_lazy("Slope in percent and degrees"),
        "ls_factor": gettext_lazy("Length and steepness of a slope"),
        "soil_loss": gettext_lazy("Soil loss"),
        "growing_degree_days": gettext_lazy("Degree days"),
        "freeze_probability": gettext_lazy("Chance of a freeze"),
        "freeze_dates": gettext_lazy("Freeze dates at 90, 50 and 10 %"),
        "walk_to_count": gettext_lazy("When to walk and count leaves"),
    },
    gettext_lazy("The stand, trees and plots"): {
        "frequency_grid": gettext_lazy("Stand by the frequency grid"),
        "plants_per_acre": gettext_lazy("Trees an acre, square spacing"),
        "plants_per_acre_triangular": gettext_lazy("Trees an acre, triangular spacing"),
        "plants_in_strip": gettext_lazy("Plants in a strip"),
        "fertilizer": gettext_lazy("Fertilizer for a need"),
        "lime_tons": gettext_lazy("Lime of a given strength"),
        "food_plot": gettext_lazy("A food plot: seed and what the soil lacks"),
        "tree_block": gettext_lazy("A block of trees or shrubs"),
    },
}
TITLES: Mapping[str, Text] = {name: title for group in GROUPS.values() for name, title in group.items()}
UNITS = (
    ("_gal_per_min", "gal/min"),
    ("_lb_per_acre", "lb/acre"),
    ("_per_pls_lb", "per PLS lb"),
    ("_mph", "mph"),
    ("_pct", "%"),
    ("_sqft", "ft²"),
    ("_ft", "ft"),
    ("_in", "in"),
    ("_gal", "gal"),
    ("_lb", "lb"),
    ("_tons", "tons/acre"),
    ("_f", "°F"),
    ("_hour", "h"),
)
WORDS: Mapping[str, tuple[Text, str]] = {
    "pls_lb_per_acre": (gettext_lazy("Rate"), "lb PLS/acre"),
    "lb_per_acre": (gettext_lazy("Rate wanted"), "lb/acre"),
    "lb_ae_per_acre": (gettext_lazy("Rate of acid"), "lb/acre"),
    "lb_ae_per_gal": (gettext_lazy("Acid in a gallon"), "lb/gal"),
    "gal_per_acre": (gettext_lazy("Spray volume"), "gal/acre"),
    "nozzle_gal_per_min": (gettext_lazy("One nozzle gives"), "gal/min"),
    "seeds_per_sqft": (gettext_lazy("Seeds per square foot"), "seeds/ft²"),
    "seeds_per_lb": (gettext_lazy("Seeds in a pound"), "seeds/lb"),
    "price_per_bulk_lb": (gettext_lazy("Price of a bulk pound"), "$/lb"),
    "rate_per_acre": (gettext_lazy("Rate of product"), "per acre"),
    "temp_f": (gettext_lazy("Air temperature"), "°F"),
    "hour": (gettext_lazy("Hour of the day"), "h"),
    "sunrise_hour": (gettext_lazy("Sunrise"), "h"),
    "sunset_hour": (gettext_lazy("Sunset"), "h"),
    "label_wind_max_mph": (gettext_lazy("The label's wind limit"), "mph"),
    "smoke_or_fog_hangs": (gettext_lazy("Smoke or fog hangs over the ground"), ""),
    "ester": (gettext_lazy("An ester is in the tank"), ""),
    "cloud": (gettext_lazy("Sky"), ""),
    "side": (gettext_lazy("Season"), ""),
    "median": (gettext_lazy("Median date"), ""),
    "p90": (gettext_lazy("90 % date"), ""),
    "emerged": (gettext_lazy("Seedlings came up on"), ""),
    "monthly_mean_f": (gettext_lazy("Monthly means, January first"), "°F"),
    "count": (gettext_lazy("Mind"), ""),
    "from": (gettext_lazy("Walk from"), ""),
    "to": (gettext_lazy("Until"), ""),
    "delta_t": (gettext_lazy("Delta T"), ""),
    "none": (gettext_lazy("Looked at"), ""),
    "max_f": (gettext_lazy("Daily highs"), "°F"),
    "min_f": (gettext_lazy("Daily lows"), "°F"),
    "cap_f": (gettext_lazy("Upper cap"), "°F"),
    "grams": (gettext_lazy("Caught"), "g"),
    "ounces": (gettext_lazy("Caught"), "fl oz"),
    "seconds": (gettext_lazy("Time"), "s"),
    "gallons": (gettext_lazy("Gallons used"), "gal"),
    "acres": (gettext_lazy("Area"), "acres"),
    "row_ft": (gettext_lazy("Between rows"), "ft"),
    "plant_ft": (gettext_lazy("Between plants"), "ft"),
    "r": (gettext_lazy("R, rain and run-off"), ""),
    "k": (gettext_lazy("K, soil"), ""),
    "c": (gettext_lazy("C, cover"), ""),
    "p": (gettext_lazy("P, practice"), ""),
    "n": (gettext_lazy("Nitrogen, N"), "lb/acre"),
    "p2o5": (gettext_lazy("Phosphate, P₂O₅"), "lb/acre"),
    "k2o": (gettext_lazy("Potash, K₂O"), "lb/acre"),
    "grades": (gettext_lazy("Grades on the bags"), ""),
    "hits": (gettext_lazy("Cells with a seeded plant"), ""),
    "cells": (gettext_lazy("Cells looked at"), ""),
    "wanted": (gettext_lazy("Amount wanted"), ""),
    "turns": (gettext_lazy("Turns of the wheel"), ""),
    "recommended_tons": (gettext_lazy("Lime recommended"), "tons/acre"),
    "basis_ecce_pct": (gettext_lazy("Strength it is recommended at, ECCE"), "%"),
    "product_ecce_pct": (gettext_lazy("Strength of your lime, ECCE"), "%"),
}
HELP: Mapping[str, Text] = {
    "max_f": gettext_lazy("One a day, with commas between: 72, 75, 80."),
    "min_f": gettext_lazy("One a day, in the same order."),
    "ounces": gettext_lazy("For worn nozzles one a nozzle, with commas between: 20, 21, 19."),
    "grades": gettext_lazy("As on the bag, with commas between: 18-46-0, 0-0-60."),
    "median": gettext_lazy("A month and a day: 04-09."),
    "p90": gettext_lazy("As the station prints it: early in spring, late in fall. Such as 03-27."),
    "day": gettext_lazy("A month and a day: 04-20."),
    "emerged": gettext_lazy("A month and a day: 05-25."),
    "plant": gettext_lazy("switchgrass, big bluestem, indiangrass or tall fescue."),
    "monthly_mean_f": gettext_lazy("Twelve, with commas between."),
    "hour": gettext_lazy("By the clock, 0 to 24; half past ten is 10.5."),
    "sunrise_hour": gettext_lazy("Left empty, only 9 to 17 counts as the open part of the day."),
    "label_wind_max_mph": gettext_lazy("It goes before every limit here."),
    "setting_before": gettext_lazy("The one tried first."),
}


def words_for(name: str) -> tuple[str, str]:
    """Label and unit of an input."""
    if name in WORDS:
        label, unit = WORDS[name]
        return str(label), gettext(unit) if unit else ""
    for suffix, unit in UNITS:
        if name.endswith(suffix) and name != suffix.removeprefix("_"):
            return _named(name.removesuffix(suffix)), gettext(unit)
    return _named(name), ""


def _named(name: str) -> str:
    """A label made of a name, as `MADE_OF_NAMES` of the catalogue's tool lists them."""
    return gettext(name.replace("_", " ").capitalize())


class Numbers(forms.CharField):
    """Numbers with commas between. A single number is one too."""

    def to_python(self, value: Any) -> Any:
        typed = super().to_python(value)
        found = []
        for part in re.split(r"[,;\s]+", typed.strip(" ,;")) if typed else []:
            try:
                number = float(part)
            except ValueError:
                number = math.nan
            if not math.isfinite(number):
                no_number = gettext("{label}: “{part}” is no number. Write them like 72, 75.5, 80.")
                raise ValidationError(no_number.format(label=self.label, part=part[:40]))
            found.append(number)
        return found


class Names(forms.CharField):
    """Words with commas between."""

    def to_python(self, value: Any) -> Any:
        return [part.strip() for part in str(super().to_python(value)).split(",") if part.strip()]


def _field(name: str, schema: Mapping[str, Any], required: bool) -> forms.Field:
    kinds = [part for part in schema.get("anyOf", [schema]) if part.get("type") != "null"]
    kind = kinds[0]
    label, _ = words_for(name)
    common: dict[str, Any] = {"label": label, "required": required, "help_text": HELP.get(name, "")}
    if "enum" in kind:
        return forms.ChoiceField(
            choices=[(choice, capfirst(told(choice))) for choice in kind["enum"]], **common
        )
    if kind["type"] == "boolean":
        return forms.BooleanField(**{**common, "required": False})
    if kind["type"] == "array":
        numbers = kind["items"].get("type") == "number"
        return Numbers(max_length=40_000, **common) if numbers else Names(max_length=2000, **common)
    if kind["type"] == "integer":
        return forms.IntegerField(widget=NumberInput, **common)
    if kind["type"] == "string":
        return forms.CharField(max_length=200, **common)
    return forms.FloatField(widget=NumberInput, **common)


class ReckoningForm(HouseForm, forms.Form):
    """The inputs of one calculation, made from what it says it takes."""

    def __init__(self, name: str, data: Any = None) -> None:
        self.name = name
        self.answer: dict[str, Any] | None = None
        super().__init__(data)
        schema = reckoner.inputs_schema(name)
        for key, part in schema["properties"].items():
            field = _field(key, part, key in schema.get("required", []))
            self.fields[key] = field
            self.dress(key, field, unit=words_for(key)[1])

    def clean(self) -> dict[str, Any]:
        data = super().clean() or self.cleaned_data
        if not self.errors:
            given = {key: value for key, value in data.items() if value is not None}
            try:
                self.answer = reckoner.reckon(self.name, json.dumps(given))
            except BadInput as bad:
                for problem in bad.problems:
                    self._show(problem)
        return data

    def _show(self, problem: str) -> None:
        where, _, said = problem.partition("; given ")[0].partition(": ")
        key = re.split(r"[.\[]", where)[0]
        if key not in self.fields:
            self.add_error(None, problem.partition("; given ")[0])
            return
        if said.startswith("String should match"):
            said = "must be a month and a day, such as 04-17"
        said = said.replace("Input should be", "must be").replace("List should have", "must have")
        self.add_error(key, f"{self.fields[key].label} {said.rstrip('.')}.")


@dataclass(frozen=True, slots=True)
class Answer:
    """One line of an answer; words have no working and may have no source."""

    label: str
    shown: str
    working: str = ""
    source: str = ""


_INPUT = re.compile(r"(.*?) (−?-?\$?\d.*)")


def told_working(working: str) -> str:
    """`formula: input; input = value` in the language in force; its numbers stay as they are."""
    rule, equals, value = working.rpartition(" = ")
    formula, colon, inputs = rule.partition(": ")
    parts = [_INPUT.fullmatch(part) for part in inputs.split("; ")] if colon else []
    if not all(parts):
        return f"{told(rule, convert=False)}{equals}{value}"
    said = "; ".join(f"{told(part[1], convert=False)} {part[2]}" for part in parts if part)
    return f"{told(formula, convert=False)}{colon}{said}{equals}{value}"


def answers(result: Mapping[str, Any], label: str = "") -> Iterator[Answer]:
    """Every figure and every word of an answer, in order, named by where it stands."""
    if "working" in result:
        shown = exactly(result["value"], result["unit"])
        yield Answer(label or gettext("Answer"), shown, told_working(result["working"]), result["source"])
        return
    if "why" in result:
        yield Answer(label, told(result["why"], convert=False), source=result["source"])
        return
    for key, part in result.items():
        name = words_for(key)[0] if not key.isdigit() else key
        named = f"{label}, {name.lower()}" if label and label != _named("reasons") else name
        if isinstance(part, str):
            yield Answer(named, told(part, convert=False))
        else:
            yield from answers(part, named)
