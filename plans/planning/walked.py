"""A walk-over in numbers: what was written down of a field, sorted by reference/growing.csv."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from functools import lru_cache
from typing import Literal

from plans.planning import tables
from plans.planning.cells import Key, Source, Words

Kind = Literal[
    "cool-season sod",
    "smooth brome",
    "bermudagrass",
    "johnsongrass",
    "sericea lespedeza",
    "crop stubble",
    "horseweed",
    "annual weed",
    "perennial weed",
    "sown legume",
    "native",
    "broomsedge",
    "woody",
]
RANKS = {"few": 1, "patches": 2, "throughout": 3}
SHORT: Mapping[Kind, str] = {
    "bermudagrass": "bermuda",
    "johnsongrass": "johnson",
    "sericea lespedeza": "sericea",
    "horseweed": "horseweed",
    "annual weed": "annual",
    "smooth brome": "brome",
    "crop stubble": "stubble",
    "native": "native",
}
"""Kinds with a measure of their own, and how its name begins."""


@dataclass(frozen=True, slots=True)
class Growing:
    name: Key
    also: Words
    """Other words for it."""
    kind: Kind
    lists: Words
    """Where a form offers it: cover, weed, stem."""
    source: Source


@lru_cache(maxsize=1)
def growing() -> Mapping[str, Growing]:
    """What is found on tired ground, by name."""
    return tables.keyed("growing", Growing, "name")


@lru_cache(maxsize=1)
def _patterns() -> tuple[tuple[re.Pattern[str], Kind], ...]:
    """Every name and other word, the longest first, so that downy brome is no smooth brome."""
    named = [(word.lower(), row.kind) for row in growing().values() for word in (row.name, *row.also)]
    named.sort(key=lambda pair: -len(pair[0]))
    return tuple((re.compile(rf"\b{re.escape(word)}s?\b"), kind) for word, kind in named)


def kind_of(what: str) -> Kind | None:
    """The kind of what a person wrote; None for what the table does not know."""
    text = what.lower()
    return next((kind for pattern, kind in _patterns() if pattern.search(text)), None)


@dataclass(frozen=True, slots=True)
class Cover:
    what: str
    share_pct: float


@dataclass(frozen=True, slots=True)
class Weed:
    what: str
    abundance: Literal["few", "patches", "throughout"]


@dataclass(frozen=True, slots=True)
class Woody:
    what: str
    size: Literal["sprout", "brush", "sapling", "tree"]
    """Under 3 ft, to 6 ft, over 6 ft, 4 in thick and more."""
    stems_per_acre: float


@dataclass(frozen=True, slots=True)
class Walk:
    """What was found on a day. Shares are of the ground [%]."""

    on: date
    covers: tuple[Cover, ...] = ()
    weeds: tuple[Weed, ...] = ()
    woody: tuple[Woody, ...] = ()
    thatch_in: float | None = None
    bare_pct: float = 0

    @property
    def unknown(self) -> tuple[str, ...]:
        """Covers and weeds that reference/growing.csv does not know."""
        named = [row.what for row in self.covers] + [row.what for row in self.weeds]
        return tuple(what for what in named if kind_of(what) is None)


def measures(walk: Walk, slope_pct: float) -> dict[str, float]:
    """The numbers that reference/suggestions.csv asks for, by name.

    `*_pct` are shares of the ground, `*_weed` ranks from 0 (none) to 3 (throughout); stems are an acre.
    """
    shares: dict[Kind | None, float] = {}
    for cover in walk.covers:
        kind = kind_of(cover.what)
        shares[kind] = shares.get(kind, 0) + cover.share_pct
    ranks: dict[Kind | None, int] = {}
    for weed in walk.weeds:
        kind = kind_of(weed.what)
        ranks[kind] = max(ranks.get(kind, 0), RANKS[weed.abundance])
    found: dict[str, float] = {f"{short}_pct": shares.get(kind, 0) for kind, short in SHORT.items()}
    found |= {f"{short}_weed": float(ranks.get(kind, 0)) for kind, short in SHORT.items()}
    found["annual_pct"] += found["horseweed_pct"]
    found["annual_weed"] = max(found["annual_weed"], found["horseweed_weed"])
    return found | {
        "cool_pct": shares.get("cool-season sod", 0) + found["brome_pct"],
        "open_pct": found["stubble_pct"] + found["annual_pct"],
        "stems_per_acre": sum(row.stems_per_acre for row in walk.woody),
        "tall_stems_per_acre": sum(row.stems_per_acre for row in walk.woody if row.size != "sprout"),
        "bare_pct": walk.bare_pct,
        "slope_pct": slope_pct,
        **({} if walk.thatch_in is None else {"thatch_in": walk.thatch_in}),
    }
