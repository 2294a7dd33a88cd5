"""A kill program and a seeding suggested from a walk-over, and why: read from reference/suggestions.csv.

The first row of the table that holds on the ground is the suggestion, the next one with another answer the
runner-up. The order of its rows says which trouble goes first: what stands in the way of a boom, then what a
kill of the sod would set free, then what covers most ground. Nothing is chosen here; findings stay the judge.
"""

from __future__ import annotations

import re
from collections.abc import Collection, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache
from typing import Literal

from plans.planning import tables
from plans.planning.cells import Key, Source, Words
from plans.planning.job import Climate
from plans.planning.programs import conditions, useful_options
from plans.planning.season import day_of, moment_days, on
from plans.planning.walked import Walk, measures

NEAR = 0.4
"""A measure from this part of its mark on is named as what would change the choice."""
ABUNDANCE = {"few": "a few", "patches": "in patches", "throughout": "throughout"}
LONGEST_FACT = 200
_CONDITION = re.compile(r"(\w+)\s*(>=|<|=)\s*(.+)")


@dataclass(frozen=True, slots=True)
class SuggestionRow:
    chooses: Literal["program", "runner-up", "seeding", "option", "thatch"]
    key: Key
    when: Words
    """All of these hold: `measure>=number`, `measure<number`, `purpose=…`, `program=…`, `seeding=…`."""
    mark: str
    """The condition in words, where a person may wonder what would change the choice."""
    words: Key
    """Why, as a sentence; `{measure}` stands for what was found."""
    source: Source

    def __post_init__(self) -> None:
        for condition in self.when:
            if not _CONDITION.fullmatch(condition):
                raise ValueError(f"{condition!r} must read measure>=number, measure<number or name=word")


@dataclass(frozen=True, slots=True)
class WalkSeason:
    """A time of the year in which some measures cannot be judged."""

    key: Key
    measures: Words
    opens: Key
    closes: Key
    look: Key
    """The moment from which on they can."""
    words: Key
    source: Source


@lru_cache(maxsize=1)
def rows() -> tuple[SuggestionRow, ...]:
    return tables.read_table(tables.FOLDER / "suggestions.csv", SuggestionRow)


@lru_cache(maxsize=1)
def seasons() -> Mapping[str, WalkSeason]:
    return tables.keyed("walk_seasons", WalkSeason, "key")


@dataclass(frozen=True, slots=True)
class Reason:
    words: str
    source: str


@dataclass(frozen=True, slots=True)
class Choice:
    """A program, seeding or option of the tables, and why."""

    key: str
    label: str
    reason: Reason


@dataclass(frozen=True, slots=True)
class FieldFacts:
    """What a walk-over says of a field in the words of its own page; None where it says nothing."""

    cover: str | None
    thatch: str | None
    weeds: str
    woody_plants: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Suggestion:
    """`program` is None where nothing that was found decides."""

    program: Choice | None = None
    runner_up: Choice | None = None
    changes: tuple[str, ...] = ()
    """What would change the choice of program, a sentence each."""
    seeding: Choice | None = None
    options: tuple[Choice, ...] = ()
    look_again: tuple[Reason, ...]
    """What the season of the walk leaves open."""
    unknown: tuple[str, ...]
    """What was written down and is in no table."""

    @property
    def choices(self) -> dict[str, str | list[str]]:
        """What is suggested, by the names that a conversion has for it; empty where nothing is."""
        if not self.program:
            return {}
        seeding = {"seeding": self.seeding.key} if self.seeding else {}
        return {
            "kill_program": self.program.key,
            **seeding,
            "options": [choice.key for choice in self.options],
        }


Known = Mapping[str, float | str]


def _condition_holds(condition: str, known: Known) -> bool:
    name, sign, wanted = _CONDITION.fullmatch(condition).groups()  # type: ignore[union-attr]
    value = known.get(name)
    if value is None:
        return False
    if sign == "=":
        return value == wanted
    return float(value) >= float(wanted) if sign == ">=" else float(value) < float(wanted)


def _holds(row: SuggestionRow, known: Known) -> bool:
    return all(_condition_holds(condition, known) for condition in row.when)


def _choices(chooses: str, labels: Mapping[str, str], known: Known) -> list[Choice]:
    """Every answer that holds, once, by its first row that does, in the order of the table."""
    found: dict[str, Choice] = {}
    for row in rows():
        if row.chooses == chooses and row.key not in found and _holds(row, known):
            found[row.key] = Choice(row.key, labels[row.key], Reason(row.words.format(**known), row.source))
    return list(found.values())


def suggest(walk: Walk, slope_pct: float, purpose: str, climate: Climate) -> Suggestion:
    """What a walk-over suggests for a purpose on a slope [%] of that steepness, in that climate.

    Sources: beside each reason, from reference/suggestions.csv and reference/walk_seasons.csv.
    """
    known: dict[str, float | str] = {**measures(walk, slope_pct), "purpose": purpose}
    labels = {key: row.label for key, row in tables.programs().items()}
    programs = [choice for choice in _choices("program", labels, known) if _serves(choice.key, purpose)]
    hidden = _hidden(walk, climate)
    look_again = _look_again(hidden, walk, climate)
    if not programs:
        return Suggestion(look_again=look_again, unknown=walk.unknown)
    program = programs[0]
    known["program"] = program.key
    others = [*programs[1:], *_choices("runner-up", labels, known)]
    runner_up = next((choice for choice in others if _serves(choice.key, purpose)), None)
    seeding = _seeding(program.key, purpose, known)
    known["seeding"] = seeding.key if seeding else ""
    unseen = {name for season in hidden for name in season.measures}
    return Suggestion(
        program=program,
        runner_up=runner_up,
        changes=tuple(_changes(programs, known, unseen, labels)),
        seeding=seeding,
        options=tuple(_options(program.key, known)),
        look_again=look_again,
        unknown=walk.unknown,
    )


def _ways(purpose: str) -> list[str]:
    return [key for key, row in tables.seedings().items() if purpose in row.purposes]


def _serves(program: str, purpose: str) -> bool:
    """Whether a program goes with a way of seeding that serves the purpose."""
    return bool(set(tables.programs()[program].seedings) & set(_ways(purpose)))


def _seeding(program: str, purpose: str, known: Known) -> Choice | None:
    labels = {key: row.label for key, row in tables.seedings().items()}
    fit = set(tables.programs()[program].seedings) & set(_ways(purpose))
    return next((choice for choice in _choices("seeding", labels, known) if choice.key in fit), None)


def _options(program: str, known: Known) -> list[Choice]:
    met = conditions(_thatch(known) or "none", [])
    useful = {row.option: row.label for row in useful_options(program, str(known["seeding"]), met)}
    labels = {key: row.label for key, row in tables.options().items()}
    return [choice for choice in _choices("option", labels, known) if choice.key in useful]


def _thatch(known: Known) -> str | None:
    found = (row.key for row in rows() if row.chooses == "thatch" and _holds(row, known))
    return next(found, None)


def _changes(
    programs: Sequence[Choice], known: Known, unseen: Collection[str], labels: Mapping[str, str]
) -> Iterator[str]:
    """What goes before the suggestion and is near its mark or could not be seen; then what it rests on."""
    near: dict[str, list[str]] = {}
    rests_on: list[str] = []
    for row in rows():
        if row.chooses != "program" or not row.mark:
            continue
        if row.key == programs[0].key:
            rests_on += [row.mark] if _holds(row, known) else []
        elif not rests_on and _near(row, known, unseen):
            near.setdefault(row.key, []).append(row.mark)
    for key, marks in near.items():
        yield f"{capital(', or '.join(marks))} would make it: {labels[key]}."
    if rests_on and len(programs) > 1:
        yield f"Without {' or '.join(rests_on)} it would be: {programs[1].label}."


def capital(text: str) -> str:
    return text[:1].upper() + text[1:]


def _near(row: SuggestionRow, known: Known, unseen: Collection[str]) -> bool:
    """Whether the row's first measure is near its mark, or hidden in the season, and the others hold."""
    name, sign, wanted = _CONDITION.fullmatch(row.when[0]).groups()  # type: ignore[union-attr]
    if sign != ">=" or not all(_condition_holds(condition, known) for condition in row.when[1:]):
        return False
    return name in unseen or float(known.get(name, 0)) >= NEAR * float(wanted)


def _hidden(walk: Walk, climate: Climate) -> list[WalkSeason]:
    """The seasons, of those in which something cannot be judged, that the walk fell in."""
    days, day = moment_days(climate), day_of(f"{walk.on:%m-%d}")
    found = []
    for row in seasons().values():
        opens, closes = days[row.opens], days[row.closes]
        if (opens <= day < closes) if opens <= closes else (day >= opens or day < closes):
            found.append(row)
    return found


def _look_again(hidden: Iterable[WalkSeason], walk: Walk, climate: Climate) -> tuple[Reason, ...]:
    found = []
    for row in hidden:
        day = on(walk.on.year, moment_days(climate)[row.look])
        found.append(Reason(f"{row.words}, about {day:%B} {day.day} here.", row.source))
    return tuple(found)


def facts_of(walk: Walk, slope_pct: float, climate: Climate) -> FieldFacts:
    """What the walk-over says of cover, thatch, weeds and woody plants, as a field's own page has them.

    The cover is the one that the suggested kill program is written for.
    """
    purpose = next(iter(tables.purposes()))
    program = suggest(walk, slope_pct, purpose, climate).program
    weeds = "; ".join(f"{row.what} {ABUNDANCE[row.abundance]}" for row in walk.weeds)
    woody = "; ".join(f"{row.what}, {row.stems_per_acre:,.0f} stems an acre" for row in walk.woody)
    return FieldFacts(
        cover=tables.programs()[program.key].covers[0] if program else None,
        thatch=_thatch(measures(walk, slope_pct)),
        weeds=weeds[:LONGEST_FACT],
        woody_plants=woody[:LONGEST_FACT],
    )
