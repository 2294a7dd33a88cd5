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

from consulting.formkit import HouseForm, NumberInput
from plans.planning import reckoner
from plans.planning.figures import plain
from plans.planning.wire import BadInput

GROUPS: Mapping[str, Mapping[str, str]] = {
    "On a spray day": {
        "spray_day": "Go, wait or no",
        "delta_t": "Delta T",
    },
    "The sprayer": {
        "sprayer_gal_per_acre": "Gallons an acre from a boom",
        "nozzle_gal_per_min": "What one nozzle must give",
        "nozzle_catch_128th": "A nozzle by the 1/128-acre catch",
        "boomless_gal_per_acre": "Gallons an acre from a boomless nozzle or wand",
        "spot_gal_per_acre": "Gallons an acre of spot or hand work",
        "refill_gal_per_acre": "Gallons an acre by refilling",
        "nozzle_wear": "Worn nozzles",
        "speed_mph": "Ground speed",
        "tank": "Tank loads and product",
        "volume_pct": "A share by volume",
        "acid_to_product": "Product for a rate of acid",
    },
    "Seed and drill": {
        "pls_pct": "Pure live seed of a lot",
        "bulk_lb": "Bulk pounds to weigh out",
        "price_per_pls_lb": "Price of a PLS pound",
        "seeds_per_sqft": "Seeds per square foot",
        "pls_lb_per_acre": "PLS pounds an acre",
        "seeds_per_row_ft": "Seeds in a foot of row",
        "drill_lb_per_acre": "What the drill gave",
        "drill_catch_g": "What the drill should give",
        "drill_wheel_g": "Catch by turns of the wheel",
        "next_drill_setting": "The next drill setting",
    },
    "The ground": {
        "acres_per_hour": "Acres an hour",
        "slope": "Slope in percent and degrees",
        "ls_factor": "Length and steepness of a slope",
        "soil_loss": "Soil loss",
        "growing_degree_days": "Degree days",
        "freeze_probability": "Chance of a freeze",
        "freeze_dates": "Freeze dates at 90, 50 and 10 %",
        "walk_to_count": "When to walk and count leaves",
    },
    "The stand, trees and plots": {
        "frequency_grid": "Stand by the frequency grid",
        "plants_per_acre": "Trees an acre, square spacing",
        "plants_per_acre_triangular": "Trees an acre, triangular spacing",
        "plants_in_strip": "Plants in a strip",
        "fertilizer": "Fertilizer for a need",
        "lime_tons": "Lime of a given strength",
        "food_plot": "A food plot: seed and what the soil lacks",
        "tree_block": "A block of trees or shrubs",
    },
}
TITLES: Mapping[str, str] = {name: title for group in GROUPS.values() for name, title in group.items()}
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
WORDS: Mapping[str, tuple[str, str]] = {
    "pls_lb_per_acre": ("Rate", "lb PLS/acre"),
    "lb_per_acre": ("Rate wanted", "lb/acre"),
    "lb_ae_per_acre": ("Rate of acid", "lb/acre"),
    "lb_ae_per_gal": ("Acid in a gallon", "lb/gal"),
    "gal_per_acre": ("Spray volume", "gal/acre"),
    "nozzle_gal_per_min": ("One nozzle gives", "gal/min"),
    "seeds_per_sqft": ("Seeds per square foot", "seeds/ft²"),
    "seeds_per_lb": ("Seeds in a pound", "seeds/lb"),
    "price_per_bulk_lb": ("Price of a bulk pound", "$/lb"),
    "rate_per_acre": ("Rate of product", "per acre"),
    "temp_f": ("Air temperature", "°F"),
    "hour": ("Hour of the day", "h"),
    "sunrise_hour": ("Sunrise", "h"),
    "sunset_hour": ("Sunset", "h"),
    "label_wind_max_mph": ("The label's wind limit", "mph"),
    "smoke_or_fog_hangs": ("Smoke or fog hangs over the ground", ""),
    "ester": ("An ester is in the tank", ""),
    "cloud": ("Sky", ""),
    "side": ("Season", ""),
    "median": ("Median date", ""),
    "p90": ("90 % date", ""),
    "emerged": ("Seedlings came up on", ""),
    "monthly_mean_f": ("Monthly means, January first", "°F"),
    "count": ("Mind", ""),
    "from": ("Walk from", ""),
    "to": ("Until", ""),
    "delta_t": ("Delta T", ""),
    "none": ("Looked at", ""),
    "max_f": ("Daily highs", "°F"),
    "min_f": ("Daily lows", "°F"),
    "cap_f": ("Upper cap", "°F"),
    "grams": ("Caught", "g"),
    "ounces": ("Caught", "fl oz"),
    "seconds": ("Time", "s"),
    "gallons": ("Gallons used", "gal"),
    "acres": ("Area", "acres"),
    "row_ft": ("Between rows", "ft"),
    "plant_ft": ("Between plants", "ft"),
    "r": ("R, rain and run-off", ""),
    "k": ("K, soil", ""),
    "c": ("C, cover", ""),
    "p": ("P, practice", ""),
    "n": ("Nitrogen, N", "lb/acre"),
    "p2o5": ("Phosphate, P₂O₅", "lb/acre"),
    "k2o": ("Potash, K₂O", "lb/acre"),
    "grades": ("Grades on the bags", ""),
    "hits": ("Cells with a seeded plant", ""),
    "cells": ("Cells looked at", ""),
    "wanted": ("Amount wanted", ""),
    "turns": ("Turns of the wheel", ""),
    "recommended_tons": ("Lime recommended", "tons/acre"),
    "basis_ecce_pct": ("Strength it is recommended at, ECCE", "%"),
    "product_ecce_pct": ("Strength of your lime, ECCE", "%"),
}
HELP: Mapping[str, str] = {
    "max_f": "One a day, with commas between: 72, 75, 80.",
    "min_f": "One a day, in the same order.",
    "ounces": "For worn nozzles one a nozzle, with commas between: 20, 21, 19.",
    "grades": "As on the bag, with commas between: 18-46-0, 0-0-60.",
    "median": "A month and a day: 04-09.",
    "p90": "As the station prints it: early in spring, late in fall. Such as 03-27.",
    "day": "A month and a day: 04-20.",
    "emerged": "A month and a day: 05-25.",
    "plant": "switchgrass, big bluestem, indiangrass or tall fescue.",
    "monthly_mean_f": "Twelve, with commas between.",
    "hour": "By the clock, 0 to 24; half past ten is 10.5.",
    "sunrise_hour": "Left empty, only 9 to 17 counts as the open part of the day.",
    "label_wind_max_mph": "It goes before every limit here.",
    "setting_before": "The one tried first.",
}


def words_for(name: str) -> tuple[str, str]:
    """Label and unit of an input."""
    if name in WORDS:
        return WORDS[name]
    for suffix, unit in UNITS:
        if name.endswith(suffix) and name != suffix.removeprefix("_"):
            return name.removesuffix(suffix).replace("_", " ").capitalize(), unit
    return name.replace("_", " ").capitalize(), ""


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
                raise ValidationError(
                    f"{self.label}: “{part[:40]}” is no number. Write them like 72, 75.5, 80."
                )
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
        return forms.ChoiceField(choices=[(choice, choice.capitalize()) for choice in kind["enum"]], **common)
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


def answers(result: Mapping[str, Any], label: str = "") -> Iterator[Answer]:
    """Every figure and every word of an answer, in order, named by where it stands."""
    if "working" in result:
        yield Answer(
            label or "Answer", plain(result["value"], result["unit"]), result["working"], result["source"]
        )
        return
    if "why" in result:
        yield Answer(label, result["why"], source=result["source"])
        return
    for key, part in result.items():
        name = words_for(key)[0] if not key.isdigit() else key
        named = f"{label}, {name.lower()}" if label and label != "Reasons" else name
        if isinstance(part, str):
            yield Answer(named, part)
        else:
            yield from answers(part, named)
