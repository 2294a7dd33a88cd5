"""What is asked of a machine of each kind: the rig check's facts in groups, with words, units and choices."""

from __future__ import annotations

import json
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, is_dataclass
from functools import lru_cache
from types import NoneType, UnionType
from typing import Annotated, Any, Literal, Union, get_args, get_origin, get_type_hints

from django.utils.text import capfirst
from django.utils.translation import gettext
from pydantic import TypeAdapter, ValidationError

from plans.planning.figures import plain
from plans.planning.rig import Implement, TowVehicle, Tractor, Trailer
from plans.planning.rig_tables import (
    CouplerSeries,
    HitchCategory,
    PlugKey,
    PtoKey,
    TowCouplerKey,
    couplers,
    hitches,
    inches,
    plugs,
    pto_shafts,
    tow_couplers,
)

CLASSES: Mapping[str, type[Any]] = {
    "tractor": Tractor,
    "implement": Implement,
    "truck": TowVehicle,
    "trailer": Trailer,
}
HITCH, PTO, OIL, POWER, ROAD = "Hitch", "PTO", "Hydraulics", "Weight and power", "Road"
LAYOUT: Mapping[str, Mapping[str, str]] = {
    "tractor": {
        HITCH: "hitches quick_coupler lift_lb_at_24_in lift_lb_at_ball_ends ball_ends_behind_axle_in "
        "drawbar_pin_in drawbar_load_lb",
        PTO: "pto_shafts pto_overruns pto_to_drawbar_pin_in",
        OIL: "remotes remote_floats remote_gpm free_return coupler coupler_size_in",
        POWER: "weight_lb front_axle_lb pto_hp drawbar_hp wheelbase_in track_in track_max_in slope_limit_pct",
        ROAD: "width_in plug",
    },
    "implement": {
        HITCH: "attaches hitch quick_coupler_ready balance_in drawbar_pin_in drawbar_load_lb",
        PTO: "pto_driven pto_rpm pto_shaft pto_guarded overrunning_coupler",
        OIL: "hoses double_acting single_acting motors motor_gpm hose_coupler hose_coupler_size_in",
        POWER: "machine weight_lb load_lb pto_hp drawbar_hp slope_limit_pct",
        ROAD: "width_in road_mph emblem coupler tongue_lb rated_gross_lb brakes breakaway chains plug "
        "lamps_work",
    },
    "truck": {
        HITCH: "coupler hitch_rating_lb tongue_rating_lb",
        POWER: "weight_lb tow_rating_lb combined_rating_lb",
        ROAD: "brake_controller plug",
    },
    "trailer": {
        HITCH: "coupler tongue_lb",
        POWER: "weight_lb rated_gross_lb other_load_lb",
        ROAD: "width_in brakes breakaway chains plug lamps_work",
    },
}
WORDS: Mapping[str, str] = {
    "tractor.hitches": "Three-point hitch",
    "tractor.quick_coupler": "Quick coupler on the links",
    "tractor.lift_lb_at_24_in": "Lift 24 in behind the ball ends",
    "tractor.lift_lb_at_ball_ends": "Lift at the ball ends",
    "tractor.pto_shafts": "PTO shafts",
    "tractor.drawbar_pin_in": "Hole in the drawbar",
    "tractor.drawbar_load_lb": "Load on the drawbar",
    "tractor.pto_to_drawbar_pin_in": "PTO shaft to drawbar pin",
    "tractor.pto_overruns": "PTO overruns",
    "tractor.remotes": "Remotes",
    "tractor.remote_floats": "A remote floats",
    "tractor.remote_gpm": "Flow of a remote",
    "tractor.free_return": "Free return",
    "tractor.coupler": "Series of the couplers",
    "tractor.coupler_size_in": "Size of the couplers",
    "tractor.front_axle_lb": "On the front axle",
    "tractor.ball_ends_behind_axle_in": "Ball ends behind the rear axle",
    "tractor.track_in": "Rear track as set",
    "tractor.track_max_in": "Rear track at its widest",
    "implement.attaches": "How it attaches",
    "implement.hitch": "Hitch category",
    "implement.quick_coupler_ready": "Suits a quick coupler",
    "implement.balance_in": "Balances behind the ball ends",
    "implement.drawbar_pin_in": "Pin of the tongue",
    "implement.drawbar_load_lb": "Tongue on the drawbar",
    "implement.pto_driven": "Driven by the PTO",
    "implement.pto_rpm": "PTO speed",
    "implement.pto_shaft": "PTO shaft it takes",
    "implement.pto_guarded": "Shields in place",
    "implement.hoses": "Hoses to the tractor",
    "implement.double_acting": "Circuits with two hoses",
    "implement.single_acting": "Circuits with one hose",
    "implement.motor_gpm": "Flow that a motor asks for",
    "implement.hose_coupler": "Series of the hose ends",
    "implement.hose_coupler_size_in": "Size of the hose ends",
    "implement.machine": "Class of machine",
    "implement.load_lb": "Load on it",
    "implement.pto_hp": "Power it needs at the PTO",
    "implement.drawbar_hp": "Power it needs at the drawbar",
    "implement.road_mph": "Fastest on its own wheels",
    "implement.emblem": "Slow-moving-vehicle emblem",
    "truck.coupler": "What it tows with",
    "truck.hitch_rating_lb": "Least stamp on the hitch",
    "truck.tongue_rating_lb": "Tongue weight it may carry",
    "truck.combined_rating_lb": "Combined rating (GCWR)",
    "truck.brake_controller": "Controller for electric brakes",
    "trailer.other_load_lb": "Other load",
    "coupler": "What its tongue carries",
    "tongue_lb": "Tongue weight",
    "rated_gross_lb": "Gross weight on its plate",
    "tow_rating_lb": "Tow rating",
    "chains": "Two chains",
    "lamps_work": "Lamps were tried and work",
    "slope_limit_pct": "Slope limit in its manual",
    "width_in": "Width on the road",
    "pto_hp": "Power at the PTO",
    "drawbar_hp": "Power at the drawbar",
}
"""By kind and name, or by name alone; what is not here is made of the name."""
UNITS = {"lb": "lb", "in": "in", "hp": "hp", "gpm": "gal/min", "pct": "%", "mph": "mph", "rpm": "rpm"}
NONE, NONE_THERE = "none", "It has none"


def _labels(literal: Any) -> dict[str, str]:
    """What stands in a list for each value of a Literal."""
    tables: dict[Any, Any] = {
        HitchCategory: lambda: {key: f"Category {key}: {row.pins}" for key, row in hitches().items()},
        PtoKey: lambda: {key: row.label for key, row in pto_shafts().items()},
        CouplerSeries: lambda: {key: row.label for key, row in couplers().items()},
        PlugKey: lambda: {key: row.label for key, row in plugs().items()},
        TowCouplerKey: lambda: {key: row.label for key, row in tow_couplers().items()},
        Literal["none"]: lambda: {NONE: NONE_THERE},
        Literal["three-point", "drawbar"]: lambda: {
            "three-point": "Hung on the three-point links",
            "drawbar": "Pulled from the drawbar",
        },
    }
    found = tables.get(literal, dict)()
    return {value: capfirst(found.get(value, value)) for value in get_args(literal)}


@dataclass(frozen=True, slots=True)
class Asked:
    """One fact as it is asked for. `form` is number, whole, answer, choice or several."""

    name: str
    label: str
    unit: str
    help: str
    form: str
    choices: tuple[tuple[str, str], ...] = ()

    def shown(self, value: Any) -> str:
        """A value as a person reads it."""
        if isinstance(value, bool):
            return "Yes" if value else "No"
        labels = dict(self.choices)
        if isinstance(value, list):
            return "; ".join(labels.get(str(part), str(part)) for part in value) or NONE_THERE
        if self.choices or not isinstance(value, int | float):
            return labels.get(str(value), str(value))
        if self.unit == "in":
            return gettext("{size} in").format(size=inches(value).removesuffix(" in"))
        return plain(value, self.unit)


@dataclass(frozen=True, slots=True)
class AskedGroup:
    title: str
    facts: tuple[Asked, ...]


def _leaves(hint: Any) -> Iterator[Any]:
    origin = get_origin(hint)
    if origin is Annotated:
        yield from _leaves(get_args(hint)[0])
    elif origin in (Union, UnionType):
        for part in get_args(hint):
            yield from _leaves(part)
    elif hint is not NoneType:
        yield hint


def _asked(kind: str, name: str, hint: Any, said: str) -> Asked:
    label, unit = _words(kind, name)
    leaves = list(_leaves(hint))
    several = get_origin(leaves[0]) is tuple
    literals = [get_args(leaf)[0] for leaf in leaves] if several else leaves
    simple = {float: "number", int: "whole", bool: "answer"}
    if leaves[0] in simple:
        return Asked(name, label, unit, said, simple[leaves[0]])
    choices = tuple(pair for literal in literals for pair in _labels(literal).items())
    if several:
        # The docstring tells none by an empty list; a form has a box for that.
        said = f"{said.partition('; empty where')[0].rstrip('.')}."
    return Asked(name, label, unit, said, "several" if several else "choice", choices)


def _words(kind: str, name: str) -> tuple[str, str]:
    own = WORDS.get(f"{kind}.{name}") or WORDS.get(name)
    stem, _, last = name.rpartition("_")
    unit = "lb" if "_lb_" in name else UNITS.get(last, "")
    return own or capfirst((stem if unit else name).replace("_", " ")), unit


def _docstrings(of: type[Any]) -> dict[str, str]:
    """What each fact's docstring says, those of the classes it extends included."""
    found: dict[str, str] = {}
    for base in reversed(of.__mro__):
        if is_dataclass(base):
            facts = TypeAdapter(base).json_schema()["properties"]
            found |= {name: part["description"] for name, part in facts.items() if "description" in part}
    return found


@lru_cache(maxsize=len(CLASSES))
def asked(kind: str) -> tuple[AskedGroup, ...]:
    """The facts of a kind, in the groups of its form."""
    hints, said = get_type_hints(CLASSES[kind], include_extras=True), _docstrings(CLASSES[kind])
    return tuple(
        AskedGroup(
            title, tuple(_asked(kind, name, hints[name], said.get(name, "")) for name in names.split())
        )
        for title, names in LAYOUT[kind].items()
    )


def every_fact(kind: str) -> list[Asked]:
    return [fact for group in asked(kind) for fact in group.facts]


class BadFacts(ValueError):
    """Facts that the rig check cannot take: what is wrong with each, by name."""

    def __init__(self, problems: dict[str, str]):
        super().__init__("; ".join(f"{name} {said}" for name, said in problems.items()))
        self.problems = problems


@lru_cache(maxsize=len(CLASSES))
def _adapter(kind: str) -> TypeAdapter[Any]:
    return TypeAdapter(CLASSES[kind])


def read_facts(kind: str, name: str, facts: Mapping[str, Any]) -> Any:
    """The rig check's dataclass of that kind. Raises BadFacts."""
    try:
        return _adapter(kind).validate_json(json.dumps({**facts, "name": name}))
    except ValidationError as error:
        problems: dict[str, str] = {}
        for item in error.errors(include_url=False):
            problems.setdefault(str(item["loc"][0]) if item["loc"] else "", _said(item))
        raise BadFacts(problems) from None


BOUNDS = {
    "greater_than": "must be more than {gt:g}",
    "greater_than_equal": "must be {ge:g} or more",
    "less_than_equal": "must be {le:g} or less",
}


def _said(item: Any) -> str:
    if item["type"] in BOUNDS:
        return BOUNDS[item["type"]].format(**item["ctx"])
    if item["type"] == "literal_error":
        return "must be one of the list"
    return str(item["msg"]).replace("Input should be", "must be")


IDLE: tuple[tuple[str, str, str], ...] = (
    ("attaches", "drawbar", "hitch quick_coupler_ready balance_in"),
    ("attaches", "three-point", "drawbar_pin_in drawbar_load_lb road_mph coupler tongue_lb rated_gross_lb"),
    ("attaches", "three-point", "brakes breakaway chains"),
    ("pto_driven", "False", "pto_rpm pto_shaft pto_guarded overrunning_coupler"),
    ("motors", "*", "hoses"),
    ("motors", "0", "motor_gpm"),
    ("hoses", "0", "hose_coupler hose_coupler_size_in double_acting single_acting motors motor_gpm"),
    ("hitches", "[]", "quick_coupler lift_lb_at_24_in lift_lb_at_ball_ends ball_ends_behind_axle_in"),
    ("pto_shafts", "[]", "pto_overruns pto_to_drawbar_pin_in"),
    ("remotes", "0", "remote_floats remote_gpm free_return coupler coupler_size_in"),
    ("brakes", "none", "breakaway"),
)
"""A fact, its value (* is any), and what need not be looked at then."""


def idle(facts: Mapping[str, Any]) -> set[str]:
    """Facts that nobody need look at, by what is known of the others."""
    return {
        name
        for fact, value, names in IDLE
        if fact in facts and value in ("*", str(facts[fact]))
        for name in names.split()
        if name not in facts
    }


@dataclass(frozen=True, slots=True)
class KnownGroup:
    title: str
    known: tuple[tuple[str, str], ...]
    """Label and value of each."""
    open: tuple[str, ...]
    """Labels of what somebody ought to look at."""


def known_facts(kind: str, facts: Mapping[str, Any]) -> list[KnownGroup]:
    """What is known of a machine and what is not, in the groups of its form."""
    settled = {*facts, *idle(facts)}
    found = [
        KnownGroup(
            group.title,
            tuple((fact.label, fact.shown(facts[fact.name])) for fact in group.facts if fact.name in facts),
            tuple(fact.label for fact in group.facts if fact.name not in settled),
        )
        for group in asked(kind)
    ]
    return [group for group in found if group.known or group.open]
