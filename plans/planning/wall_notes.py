"""What a landowner looks for, leaves alone, does and calls about in a year of the plan: read from a table.

A note belongs to a year by what is done in it: `phase=kill & operation=boom_spraying; season=2` holds where
one step is a sprayed kill, or one of the second season.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache
from typing import Annotated, Any, Literal, get_args

from pydantic import BeforeValidator

from plans.planning import tables
from plans.planning.cells import Key, Source, words
from plans.planning.job import Conversion
from plans.planning.plan import Task

Kind = Literal["who", "expect", "look_for", "do_not", "call", "you", "renter"]
KINDS: tuple[Kind, ...] = get_args(Kind)
ALWAYS = "always"
FACTS = ("phase", "operation", "step", "season", "caution", "cover", "purpose", "seeding")
"""What a condition may ask of a step."""


def _conditions(text: Any) -> Any:
    """`a=b & c=d; e=f` as alternatives, each of facts that must hold together."""
    if not isinstance(text, str):
        return text
    return tuple(tuple(part.strip() for part in one.split("&")) for one in words(text))


@dataclass(frozen=True, slots=True)
class WallNote:
    note: Key
    kind: Kind
    on: Annotated[tuple[tuple[str, ...], ...], BeforeValidator(_conditions)]
    text: Key
    source: Source

    def __post_init__(self) -> None:
        for condition in self.on:
            for fact in condition:
                name, equals, value = fact.partition("=")
                if fact != ALWAYS and not (equals and value and name in FACTS):
                    raise ValueError(f"on: {fact!r} must read always, or one of {', '.join(FACTS)} = value")
        if not self.on:
            raise ValueError("on: is empty; give always or a condition")


@lru_cache(maxsize=1)
def wall_notes() -> Mapping[str, WallNote]:
    """The table by note. Raises TableError."""
    return tables.keyed("wall_notes", WallNote, "note")


def facts_of(task: Task, ground: Conversion | None) -> frozenset[str]:
    """What holds of a step on its ground, as conditions name it."""
    step = tables.steps().get(task.step)
    found = [f"phase={task.phase}", f"operation={task.operation}", f"step={task.step}"]
    found += [f"season={task.season}", *(f"caution={key}" for key in (step.cautions if step else ()))]
    if ground is not None:
        found += [f"cover={ground.cover}", f"purpose={ground.purpose}", f"seeding={ground.seeding}"]
    return frozenset((ALWAYS, *found))


def notes_for(tasks: Iterable[Task], conversions: Sequence[Conversion]) -> dict[Kind, tuple[WallNote, ...]]:
    """The notes that hold for these steps, by kind, in table order; what always holds holds for none, too."""
    grounds = {conversion.field: conversion for conversion in conversions}
    facts = [facts_of(task, grounds.get(task.field)) for task in tasks] or [frozenset({ALWAYS})]
    holding = [
        note
        for note in wall_notes().values()
        if any(set(condition) <= known for condition in note.on for known in facts)
    ]
    return {kind: tuple(note for note in holding if note.kind == kind) for kind in KINDS}


def who_does(task: Task) -> str:
    """Who does a step where it is not the practice alone; empty where it is."""
    found = notes_for([task], ())["who"]
    return found[0].text if found else ""
