"""How a tank is filled: the order of its parts, the jar test, and what is left over."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from typing import Annotated

from pydantic import Field

from plans.planning import spray, tables
from plans.planning.cells import Key, Source, Words
from plans.planning.figures import plain

JAR_TEST = (
    "Try the same shares in a quart jar first, in the same order, and look again after half an hour: clumps, "
    "layers, gel or heat mean that it must not go in the tank."
)
"""Source: South Dakota State University Extension and Virginia Cooperative Extension BSE-351 for the test;
half an hour from memory."""


@dataclass(frozen=True, slots=True)
class FillStep:
    place: Annotated[int, Field(ge=1)]
    words: Key
    holds: Words
    """Ingredients or adjuvants by name; `dry` and `liquid` for products named nowhere else."""
    source: Source


@lru_cache(maxsize=1)
def fill_steps() -> tuple[FillStep, ...]:
    """The steps of filling a tank, in their order. Raises TableError."""
    found = tables.read_table(tables.FOLDER / "fill_order.csv", FillStep)
    return tuple(sorted(found, key=lambda step: step.place))


def order(parts: Sequence[tuple[str, str]]) -> tuple[str, ...]:
    """Steps of filling in words, for parts given as (ingredient or adjuvant, dry or liquid).

    Source: South Dakota State University Extension and a Manitoba guide, row by row in
    reference/fill_order.csv. The label's own order goes before it.
    """
    named = {name for step in fill_steps() for name in step.holds}
    said = []
    for step in fill_steps():
        inside = [name for name, form in parts if (name if name in named else form) in step.holds]
        if inside:
            said.append(step.words.format(names=_listed(inside)))
        elif step.holds in (("water",), ("top",)):
            said.append(step.words)
    return tuple(said)


def _listed(names: Sequence[str]) -> str:
    return names[0] if len(names) == 1 else f"{', '.join(names[:-1])} and {names[-1]}"


def left_over(split: spray.Loads, tank_gal: float) -> str:
    """What the last load would leave if the tank were filled whole [gal]. Source: Missouri G1272."""
    if not split.last_gal:
        return "The tanks come out even; nothing should be left but what stays in the hoses."
    spare = tank_gal - split.last_gal
    return (
        f"Mix the last load for its own acres: a whole tank there would leave {plain(spare, 'gal')} over. "
        "What stays in the hoses is rinsed out onto the same field, within the label's rate."
    )
