"""Which steps a field's conversion takes: kill program, seeding and upkeep, read from the tables."""

from __future__ import annotations

from collections.abc import Collection, Iterable

from plans.planning import tables
from plans.planning.job import Conversion
from plans.planning.tables import Step


class UnknownChoice(ValueError):
    """A program, seeding, option or step that is in no table."""


def known(kind: str, key: str, allowed: object) -> None:
    """Raises UnknownChoice when `key` is not among `allowed`."""
    if key not in allowed:  # type: ignore[operator]
        names = ", ".join(sorted(allowed))  # type: ignore[call-overload]
        raise UnknownChoice(f"{kind}: {key!r} is not one of: {names}")


def check_choices(conversion: Conversion) -> None:
    """Raises UnknownChoice naming the field of the conversion, the value and what is allowed."""
    where = f"conversion {conversion.field!r}"
    known(f"{where}, kill_program", conversion.kill_program, tables.programs().keys())
    known(f"{where}, seeding", conversion.seeding, tables.seedings().keys())
    for option in conversion.options:
        known(f"{where}, options", option, tables.options().keys())
    for step in (*conversion.left_out, *(done.step for done in conversion.log)):
        known(f"{where}, left_out or log", step, tables.steps().keys())
    for key in conversion.rates_lb_per_acre:
        step, _, ingredient = key.partition("/")
        known(f"{where}, rates_lb_per_acre", step, tables.steps().keys())
        chemicals = [name for name, _ in tables.steps()[step].chemicals]
        if ingredient or len(chemicals) != 1:
            keys = [f"{step}/{name}" for name in chemicals]
            known(f"{where}, rates_lb_per_acre", key, keys or ["(this step sprays nothing)"])


def among(names: tuple[str, ...], key: str) -> bool:
    """Whether a cell of keys takes a key: empty takes all, `!key` all but that one."""
    if any(name.startswith("!") for name in names):
        return f"!{key}" not in names
    return not names or key in names


LAST_SEASON = 5
SHARED_SETS = ("plot", "upkeep")
"""Sets of steps that several seedings share; each step names those it belongs to."""


def conditions(
    thatch: str,
    species: Iterable[str],
    *,
    soil_tested: bool = False,
    limed: bool = False,
    tubes: bool = False,
    replaced: bool = False,
) -> frozenset[str]:
    """What holds on a field, in the words of the `when` column of reference/steps.csv."""
    plants = [tables.species().get(name) for name in species]
    lives_on = any(plant is not None and plant.life != "annual" for plant in plants)
    facts = {
        f"thatch:{thatch}": True,
        "crop:perennial": lives_on,
        "crop:annual": not lives_on,
        "fertilizer": soil_tested,
        "lime": limed,
        "tubes": tubes,
        "replaced": replaced,
    }
    return frozenset(name for name, holds in facts.items() if holds)


def conditions_met(conversion: Conversion) -> frozenset[str]:
    """`conditions` of a field as it is planned."""
    test, trees, mix = conversion.soil_test, conversion.trees, conversion.mix
    return conditions(
        conversion.thatch,
        [line.species for line in mix.lines] if mix else [],
        soil_tested=test is not None,
        limed=test is not None and test.lime_tons_per_acre > 0,
        tubes=trees is not None and trees.tubes_pct > 0,
        replaced=trees is not None and trees.replaced_pct > 0,
    )


def _part_of(step: Step, program: str, seeding: str, years: int, met: Collection[str]) -> bool:
    """Whether a step is part of this way of working on this ground, options apart."""
    kind, _, values = step.when.rpartition(":")
    wanted = [f"{kind}:{value}" if kind else value for value in values.split("|")]
    return (
        step.set in (program, seeding, *SHARED_SETS)
        and step.season <= years
        and among(step.programs, program)
        and among(step.seedings, seeding)
        and (not step.when or any(value in met for value in wanted))
    )


def _taken(step: Step, options: Collection[str]) -> bool:
    """Whether the options chosen take a step in; one with a likelihood only where its option is chosen."""
    if step.likelihood_pct is not None and not step.option:
        return False
    return all((name.removeprefix("!") in options) != name.startswith("!") for name in step.option)


def useful_options(program: str, seeding: str, met: Collection[str]) -> tuple[tables.Option, ...]:
    """Options that add or take away a step of this way of working, in table order."""
    named = {
        option.removeprefix("!")
        for step in tables.steps().values()
        if _part_of(step, program, seeding, LAST_SEASON, met)
        for option in step.option
    }
    return tuple(
        row
        for key, row in tables.options().items()
        if key in named and among(row.seedings, seeding) and among(row.programs, program)
    )


def belongs(
    step: Step, program: str, seeding: str, options: Collection[str], years: int, met: Collection[str]
) -> bool:
    """Whether a step is firmly part of this way of working, before any is left out.

    `met` is what `conditions_met` says of the field.
    """
    return _part_of(step, program, seeding, years, met) and _taken(step, options)


def possible_steps(conversion: Conversion, years: int) -> tuple[Step, ...]:
    """Steps that may be needed and are not in the plan, in working order, after the last one logged."""
    met = conditions_met(conversion)
    logged = [tables.steps()[done.step].order for done in conversion.log if done.step in tables.steps()]
    found = [
        step
        for step in tables.steps().values()
        if step.likelihood_pct is not None
        and step.step not in conversion.left_out
        and step.order > max(logged, default=0)
        and _part_of(step, conversion.kill_program, conversion.seeding, years, met)
        and not _taken(step, conversion.options)
        and worked_acres(step, conversion)
    ]
    return tuple(sorted(found, key=lambda step: step.order))


def steps_for(conversion: Conversion, years: int) -> tuple[Step, ...]:
    """The steps of a conversion in working order. Raises UnknownChoice."""
    check_choices(conversion)
    met = conditions_met(conversion)
    chosen = [
        step
        for step in tables.steps().values()
        if step.step not in conversion.left_out
        and belongs(
            step,
            conversion.kill_program,
            conversion.seeding,
            conversion.options,
            years,
            met,
        )
    ]
    return tuple(sorted(chosen, key=lambda step: step.order))


def worked_acres(step: Step, conversion: Conversion) -> float:
    """Acres that a step works: its share of those left for its kind of work [acres].

    Source: share in reference/steps.csv, kind of work in reference/operations.csv.
    """
    work = tables.operations()[step.operation].work
    return round(conversion.acres_to(work) * step.share_pct / 100, 6)


def chemicals_for(step: Step, conversion: Conversion) -> tuple[tuple[str, float], ...]:
    """Ingredient and rate [lb acid or active per acre] of a step, the conversion's own rates first.

    An own rate is keyed `step/ingredient`, or `step` alone where the step has one ingredient.
    """
    own = conversion.rates_lb_per_acre
    alone = len(step.chemicals) == 1
    return tuple(
        (name, own.get(f"{step.step}/{name}", own.get(step.step, rate) if alone else rate))
        for name, rate in step.chemicals
    )


def programs_for(cover: str) -> tuple[tables.Program, ...]:
    """Kill programs meant for a cover, in table order."""
    return tuple(program for program in tables.programs().values() if cover in program.covers)
