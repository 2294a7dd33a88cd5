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


def belongs(
    step: Step, program: str, seeding: str, options: Collection[str], years: int, thatch: str
) -> bool:
    """Whether a step is part of this way of working, before any is left out.

    A step with a likelihood is certain only where its option is taken.
    """
    if step.set not in (program, seeding, "upkeep") or step.season > years:
        return False
    if not among(step.programs, program) or not among(step.seedings, seeding):
        return False
    if any((name.removeprefix("!") in options) == name.startswith("!") for name in step.option):
        return False
    if step.likelihood_pct is not None and not step.option:
        return False
    return not step.when or thatch in step.when.removeprefix("thatch:").split("|")


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
