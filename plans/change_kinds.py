"""What a change can be about: whose page tells it, who may read it, and its columns and values in words."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from typing import Any

from django.apps import apps
from django.db import models
from django.urls import reverse
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy as marked

from consulting.changes import Change
from consulting.followed import Followed
from consulting.models import Machine
from consulting.policy import Right
from plans.documents import words
from plans.documents.told import told
from plans.machine_facts import every_fact
from plans.planning import tables
from plans.planning.other_ways import other_ways


@dataclass(frozen=True, slots=True)
class Whole:
    """A kind of record that has a page of what was changed on it."""

    title: Any
    right: Right
    page: str = ""
    """Name of its own page's address, which takes its key; empty for one that shares a page."""
    shared: str = ""


WHOLES: Mapping[str, Whole] = {
    "client": Whole(marked("Clients"), Right.SEE_WORK, "client"),
    "farm": Whole(marked("Farms"), Right.SEE_WORK, "farm"),
    "field": Whole(marked("Fields"), Right.SEE_WORK, "field"),
    "visit": Whole(marked("Visits"), Right.SEE_WORK, "visit"),
    "machine": Whole(marked("Machines"), Right.SEE_WORK, "machine"),
    "stocklot": Whole(marked("The shed"), Right.SEE_WORK, "shed_lot"),
    "plan": Whole(marked("Plans"), Right.SEE_PRICES, "plan"),
    "mix": Whole(marked("Mixes"), Right.SEE_PRICES, "mix"),
    "ownspecies": Whole(marked("Species of our own"), Right.SEE_PRICES, shared="own_species"),
    "seedprice": Whole(marked("Prices of seed"), Right.SEE_PRICES, shared="prices"),
    "plantprice": Whole(marked("Prices of trees and shrubs"), Right.SEE_PRICES, shared="prices"),
    "supplyprice": Whole(marked("Prices of supplies"), Right.SEE_PRICES, shared="prices"),
    "product": Whole(marked("Prices of herbicides"), Right.SEE_PRICES, shared="prices"),
    "adjuvantprice": Whole(marked("Prices of adjuvants"), Right.SEE_PRICES, shared="prices"),
    "workrate": Whole(marked("Rates of work"), Right.SEE_PRICES, shared="prices"),
    "dayoff": Whole(marked("Days off"), Right.EDIT_RECORDS, shared="fit"),
    "membership": Whole(marked("People"), Right.RUN_PRACTICE, shared="people"),
    "invitation": Whole(marked("Invitations"), Right.RUN_PRACTICE, shared="people"),
    "practice": Whole(marked("The practice"), Right.RUN_PRACTICE, shared="practice_details"),
}

NAMED: Mapping[str, Any] = {
    "client": marked("the client “{name}”"),
    "farm": marked("the farm “{name}”"),
    "field": marked("the field “{name}”"),
    "machine": marked("the machine “{name}”"),
    "stocklot": marked("the lot “{name}” in the shed"),
    "plan": marked("the plan “{name}”"),
    "mix": marked("the mix “{name}”"),
    "ownspecies": marked("the species “{name}”"),
    "seedprice": marked("the seed price “{name}”"),
    "plantprice": marked("the plant price “{name}”"),
    "supplyprice": marked("the supply price “{name}”"),
    "product": marked("the herbicide price “{name}”"),
    "adjuvantprice": marked("the adjuvant price “{name}”"),
    "workrate": marked("the work rate “{name}”"),
    "membership": marked("the member {name}"),
    "invitation": marked("the invitation to {name}"),
    "practice": marked("the settings of {name}"),
    "machinephoto": marked("the photograph of the machine “{within}”"),
    "machinespan": marked("the days {name} of the machine “{within}”"),
    "logo": marked("the logo"),
    "observation": marked("“{name}” on the farm “{within}”"),
    "prevailingwind": marked("“{name}” on the farm “{within}”"),
    "landmark": marked("“{name}” on the map of the farm “{within}”"),
    "exclusion": marked("the distance “{name}” of the field “{within}”"),
    "walkphoto": marked("the photograph “{name}” of the field “{within}”"),
    "countphoto": marked("the photograph “{name}” of the visit “{within}”"),
    "mixline": marked("{name} in the mix “{within}”"),
    "conversion": marked("the field “{name}” in the plan “{within}”"),
    "planoption": marked("the option “{name}” of the plan “{within}”"),
    "acceptance": marked("an accepted caution of the plan “{within}”"),
    "reportwords": marked("the words of a season report of the plan “{within}”"),
    "clientlink": marked("the link to the client’s page of the plan “{within}”"),
    "practicelook": marked("the look of {within}"),
    "recordlabels": marked("what records of work say besides"),
    "calendarfeed": marked("the calendar address of {within}"),
    "dayoff": marked("the days off of {name}"),
}
FORGOTTEN: Mapping[str, Any] = {
    "client": marked("a client"),
    "farm": marked("a farm"),
    "field": marked("a field"),
    "landmark": marked("something on the map of the farm “{within}”"),
    "invitation": marked("an invitation"),
}
"""What is left to say of a record that is forgotten once it is removed."""

COLUMNS: Mapping[str, Any] = {
    "log": marked("steps already done"),
    "options": marked("optional steps taken"),
    "left_out": marked("usual steps left out"),
    "rates_lb_per_acre": marked("own rates"),
    "start_on": marked("work may begin on"),
    "facts": marked("what is known of it"),
    "jpeg": marked("picture"),
    "png": marked("picture"),
    "shape": marked("shape on the map"),
    "trees": marked("planting"),
    "replaced": marked("replaced by its next version"),
    "revoked_at": marked("revoked on"),
    "changes": marked("plan that it changes"),
}
"""Columns whose form has no one label for them."""
UNITS: Mapping[str, str] = {
    "_pct": "%",
    "_ft": "ft",
    "_mph": "mph",
    "_gal": "gal",
    "_lb": "lb",
    "_hours": "h",
    "_in": "in",
}
"""By the end of a column's name."""
OWN_UNITS: Mapping[str, str] = {
    "round_trip_miles": "miles",
    "elevation_ft": "ft",
    "acres": "acres",
    "label_rate_low_oz_per_acre": "oz an acre",
    "label_rate_high_oz_per_acre": "oz an acre",
    "label_season_max_oz_per_acre": "oz an acre",
    "carrier_gal_per_acre": "gal an acre",
    "lb_active_per_gal": "lb/gal",
    "acres_per_hour": "acres an hour",
    "valid_days": "days",
    "remind_days": "days",
    "tell_days": "days",
    "years": "seasons",
    "keep_years": "years",
}


def may_read(kind: str, rights: Mapping[str, bool]) -> bool:
    return kind in WHOLES and rights[WHOLES[kind].right]


def hidden(column: str, rights: Mapping[str, bool]) -> bool:
    """Whether a column is of money that this reader does not see."""
    return "usd" in column.split("_") and not rights[Right.SEE_PRICES]


def address(about: str, slug: str) -> str:
    """The page of a record by `plan:12`."""
    kind, _colon, key = about.partition(":")
    whole = WHOLES[kind]
    return reverse(whole.page, args=[slug, key]) if whole.page else reverse(whole.shared, args=[slug])


def record_in_words(change: Change) -> str:
    """`the mix “Hill mix”`, as it was called then."""
    pattern = FORGOTTEN.get(change.kind) if not change.name else None
    name = _name(change) or _("without a name")
    return str(pattern or NAMED[change.kind]).format(name=name, within=change.within)


def _name(change: Change) -> str:
    reads = LABELS.get(f"{change.kind}.name")
    return told(reads(change.name)) if reads else told(change.name)


def columns_of(kind: str) -> dict[str, models.Field[Any, Any]]:
    """A kind's followed columns, in the order of its form."""
    model = next((model for model in apps.get_models() if model._meta.model_name == kind), None)
    return {field.name: field for field in model.followed()} if model and issubclass(model, Followed) else {}


def value_in_words(kind: str, field: models.Field[Any, Any], value: Any) -> str:
    """A kept value as its page shows it; empty for nothing, and for what cannot be told in a line."""
    if value in (None, "", [], {}):
        return ""
    if isinstance(value, bool):
        return _("yes") if value else _("no")
    reads = LABELS.get(f"{kind}.{field.name}", str)
    if isinstance(value, list):
        plain = all(isinstance(item, str) for item in value)
        return words.listed(told(_choice(field, item) or reads(item)) for item in value) if plain else ""
    if isinstance(value, dict):
        return _facts(value) if field.name == "facts" else ""
    return _one(field, value, reads)


def _facts(facts: Mapping[str, Any]) -> str:
    """What is known of a machine, fact by fact."""
    every = {fact.name: fact for kind in Machine.Kind for fact in every_fact(kind)}
    return "; ".join(
        _("{fact}: {value}").format(fact=every[name].label, value=every[name].shown(value))
        for name, value in facts.items()
        if name in every
    )


def column_in_words(field: models.Field[Any, Any]) -> str:
    return str(COLUMNS.get(field.name) or _(str(field.verbose_name)))


def _one(field: models.Field[Any, Any], value: Any, reads: Callable[[str], str]) -> str:
    if label := _choice(field, value):
        return _(str(label))
    if "usd" in field.name.split("_"):
        return words.usd(Decimal(str(value)))
    if isinstance(field, models.DateField):
        return words.day(date.fromisoformat(str(value)[:10]))
    if isinstance(value, int | float):
        return _with_unit(field.name, value)
    return told(reads(str(value)))


def _with_unit(column: str, value: float) -> str:
    ends = next((unit for end, unit in UNITS.items() if column.endswith(end)), "")
    unit = OWN_UNITS.get(column, ends)
    if unit in ("acres", "miles"):
        return words.quantity(value, unit)
    shown = words.number(value, 4)
    return f"{shown} {told(unit)}" if unit else shown


def _choice(field: models.Field[Any, Any], value: Any) -> str:
    found = dict(field.flatchoices).get(value, "") if isinstance(value, str) else ""
    return str(found)


def _label_in(rows: Mapping[str, Any], key: str) -> str:
    return rows[key].label if key in rows else key


LABELS: Mapping[str, Callable[[str], str]] = {
    "workrate.name": lambda key: _label_in(tables.operations(), key),
    "workrate.operation": lambda key: _label_in(tables.operations(), key),
    "machine.operations": lambda key: _label_in(tables.operations(), key),
    "conversion.kill_program": lambda key: _label_in(tables.programs(), key),
    "conversion.seeding": lambda key: _label_in(tables.seedings(), key),
    "conversion.options": lambda key: _label_in(tables.steps(), key),
    "conversion.left_out": lambda key: _label_in(tables.steps(), key),
    "planoption.name": lambda key: _label_in(other_ways(), key),
}
"""Keys of the reference tables, told by their labels."""
