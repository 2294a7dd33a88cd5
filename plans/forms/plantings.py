"""The parts of a field's form that a food plot or a planting of trees and shrubs asks for."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date
from typing import Any

from django import forms
from django.forms.boundfield import BoundField
from django.utils.translation import gettext, gettext_lazy

from consulting.formkit import HouseForm
from plans.facts import trees_of
from plans.forms import put
from plans.forms.prices import tree_choices

TREE_LINES = 8
LAYOUTS = [
    ("square", gettext_lazy("A block, in rows")),
    ("triangle", gettext_lazy("A block, in triangles")),
    ("strip", gettext_lazy("A strip of rows")),
]
STOCKS = [
    ("", gettext_lazy("The cheapest listed of each")),
    ("bare-root seedling", gettext_lazy("Bare-root seedling")),
    ("container", gettext_lazy("Container")),
    ("live stake", gettext_lazy("Live stake")),
    ("balled and burlapped", gettext_lazy("Balled and burlapped")),
]
LEVELS = [
    ("", gettext_lazy("Not known")),
    ("low", gettext_lazy("Low")),
    ("medium", gettext_lazy("Medium")),
    ("high", gettext_lazy("High")),
]


def _number(label: str, low: float, high: float, text: str = "", required: bool = False) -> forms.FloatField:
    return forms.FloatField(label=label, min_value=low, max_value=high, help_text=text, required=required)


def tree_fields() -> dict[str, tuple[forms.Field, str]]:
    """Field and unit by the names that `plans.planning.job.Trees` has."""
    return {
        "layout": (forms.ChoiceField(label=gettext("Layout"), choices=LAYOUTS), ""),
        "row_ft": (
            _number(gettext("Between rows"), 1, 200, gettext("Not used in triangles."), required=True),
            "ft",
        ),
        "plant_ft": (_number(gettext("Between plants of a row"), 1, 200, required=True), "ft"),
        "rows": (
            forms.IntegerField(
                label=gettext("Rows of the strip"), min_value=1, max_value=500, required=False
            ),
            "rows",
        ),
        "length_ft": (_number(gettext("Length of the strip"), 0, 100_000), "ft"),
        "stock": (forms.ChoiceField(label=gettext("Stock"), choices=STOCKS, required=False), ""),
        "tubes_pct": (_number(gettext("Plants in tubes"), 0, 100), "%"),
        "fence_ft": (_number(gettext("Fence round it"), 0, 1_000_000), "ft"),
        "replaced_pct": (_number(gettext("Plants set again in the second spring"), 0, 100), "%"),
    }


TREE_DEFAULTS = {
    "layout": "square",
    "row_ft": 10,
    "plant_ft": 10,
    "rows": 1,
    "length_ft": 0,
    "stock": "",
    "tubes_pct": 0,
    "fence_ft": 0,
    "replaced_pct": 10,
}


def soil_fields() -> dict[str, tuple[forms.Field, str]]:
    """Field and unit by the names that `plans.planning.job.SoilTest` has."""
    lab = gettext("The laboratory’s own figure for this crop; it goes before ours.")
    return {
        "tested_on": (forms.DateField(label=gettext("Soil tested on"), required=False), ""),
        "ph": (_number(gettext("Soil pH"), 3, 10), "pH"),
        "phosphorus": (forms.ChoiceField(label=gettext("Phosphorus is"), choices=LEVELS, required=False), ""),
        "potassium": (forms.ChoiceField(label=gettext("Potassium is"), choices=LEVELS, required=False), ""),
        "n_lb_per_acre": (_number(gettext("Nitrogen asked for"), 0, 500, lab), "lb/acre"),
        "p2o5_lb_per_acre": (_number(gettext("Phosphate (P₂O₅) asked for"), 0, 500, lab), "lb/acre"),
        "k2o_lb_per_acre": (_number(gettext("Potash (K₂O) asked for"), 0, 500, lab), "lb/acre"),
        "lime_tons_per_acre": (_number(gettext("Lime asked for"), 0, 20), "tons/acre"),
        "lime_ecce_pct": (
            _number(
                gettext("Lime that the laboratory means"),
                1,
                100,
                gettext("Effective calcium carbonate equivalent."),
            ),
            "%",
        ),
    }


SOIL_DEFAULTS = {"lime_ecce_pct": 100}


def add_trees(form: HouseForm, kept: Mapping[str, Any] | None) -> None:
    """Fields of a planting, with what is kept or the usual."""
    for name, (field, unit) in tree_fields().items():
        put(form, f"trees-{name}", field, unit)
        form.initial.setdefault(f"trees-{name}", (kept or TREE_DEFAULTS).get(name))
    lines = (kept or {}).get("lines", [])
    for at in range(max(TREE_LINES, len(lines) + 2)):
        put(
            form,
            f"tree-{at}",
            forms.ChoiceField(label=gettext("Species"), choices=tree_choices(), required=False),
        )
        put(form, f"share-{at}", _number(gettext("Share of the plants"), 0.1, 100), "%")
        if at < len(lines):
            form.initial.setdefault(f"tree-{at}", lines[at]["species"])
            form.initial.setdefault(f"share-{at}", lines[at]["share_pct"])


def add_soil_test(form: HouseForm, kept: Mapping[str, Any] | None, *only: str) -> None:
    """Fields of a soil test, all of them or some, with what is kept."""
    for name, (field, unit) in soil_fields().items():
        if only and name not in only:
            continue
        put(form, f"soil-{name}", field, unit)
        form.initial.setdefault(f"soil-{name}", (kept or SOIL_DEFAULTS).get(name))


def tree_lines(form: HouseForm) -> list[tuple[BoundField, BoundField]]:
    names = [name for name in form.fields if name.startswith("tree-")]
    return [(form[name], form[name.replace("tree-", "share-")]) for name in names]


def trees_typed(form: HouseForm, cleaned: Mapping[str, Any]) -> dict[str, Any] | None:
    """The planting as kept in the database; None where something is wrong, said beside its field."""
    lines = []
    for box, share_box in tree_lines(form):
        species, share = cleaned.get(box.name), cleaned.get(share_box.name)
        if species and share:
            lines.append({"species": species, "share_pct": share})
        elif species and not share_box.errors:
            form.add_error(
                share_box.name,
                gettext("Which share of the plants is {species}? Give it, or clear the line.").format(
                    species=species
                ),
            )
        elif share:
            form.add_error(box.name, gettext("Which species is this? Choose one, or clear the line."))
    if not lines:
        form.add_error("tree-0", gettext("Choose at least one tree or shrub."))
    given = {name: cleaned.get(f"trees-{name}") for name in TREE_DEFAULTS}
    if given["layout"] == "strip" and (given["length_ft"] or 0) < (given["plant_ft"] or 0):
        form.add_error(
            "trees-length_ft",
            gettext("A strip needs the length of its rows, at least the space between two plants."),
        )
    if form.errors:
        return None
    kept = {"lines": lines} | {
        name: TREE_DEFAULTS[name] if value is None else value for name, value in given.items()
    }
    try:
        trees_of(kept)
    except ValueError as refused:
        message = str(refused)
        form.add_error("share-0", message[0].upper() + message[1:] + ".")
        return None
    return kept


def check_soil_day(form: HouseForm, cleaned: Mapping[str, Any], today: date) -> None:
    """A soil test of a day to come is a slip."""
    tested_on = cleaned.get("soil-tested_on")
    if tested_on and tested_on > today:
        form.add_error(
            "soil-tested_on", gettext("Soil tested on: that day is still to come. Enter the day of the test.")
        )


def soil_typed(cleaned: Mapping[str, Any]) -> dict[str, Any] | None:
    """The soil test as kept in the database; None where nothing is entered."""
    given = {name: cleaned.get(f"soil-{name}") for name in soil_fields()}
    said = {name: value for name, value in given.items() if value not in (None, "")}
    if not said.keys() - {"lime_ecce_pct"}:
        return None
    if "tested_on" in said:
        said["tested_on"] = said["tested_on"].isoformat()
    return said
