"""Which steps a field's conversion takes: kill program, seeding and upkeep, read from the tables."""

from __future__ import annotations

from collections.abc import Collection

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


def _part_of(step: Step, program: str, seeding: str, years: int, thatch: str) -> bool:
    """Whether a step is part of this way of working on this ground, options apart."""
    return (
        step.set in (program, seeding, "upkeep")
        and step.season <= years
        and among(step.programs, program)
        and among(step.seedings, seeding)
        and (not step.when or thatch in step.when.removeprefix("thatch:").split("|"))
    )


def _taken(step: Step, options: Collection[str]) -> bool:
    """Whether the options chosen take a step in; one with a likelihood only where its option is chosen."""
    if step.likelihood_pct is not None and not step.option:
        return False
    return all((name.removeprefix("!") in options) != name.startswith("!") for name in step.option)


def belongs(
    step: Step, program: str, seeding: str, options: Collection[str], years: int, thatch: str
) -> bool:
    """Whether a step is firmly part of this way of working, before any is left out."""
    return _part_of(step, program, seeding, years, thatch) and _taken(step, options)


def possible_steps(conversion: Conversion, years: int) -> tuple[Step, ...]:
    """Steps that may be needed and are not in the plan, in working order, after the last one logged."""
    logged = [tables.steps()[done.step].order for done in conversion.log if done.step in tables.steps()]
    found = [
        step
        for step in tables.steps().values()
        if step.likelihood_pct is not None
        and step.step not in conversion.left_out
        and step.order > max(logged, default=0)
        and _part_of(step, conversion.kill_program, conversion.seeding, years, conversion.thatch)
        and not _taken(step, conversion.options)
    ]
    return tuple(sorted(found, key=lambda step: step.order))


def steps_for(conversion: Conversion, years: int) -> tuple[Step, ...]:
    """The steps of a conversion in working order. Raises UnknownChoice."""
    check_choices(conversion)
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
            conversion.thatch,
        )
    ]
    return tuple(sorted(chosen, key=lambda step: step.order))


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
