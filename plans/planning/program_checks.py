"""Rules about the kill program: seeding, residue, flowers, weeds, and what was sprayed before."""

from __future__ import annotations

from collections.abc import Iterator

from plans.planning import tables
from plans.planning.findings import FieldPlan, find, is_flower, listing
from plans.planning.job import Climate, SlopeLimits
from plans.planning.leaves import COUNT_FIRST, phyllochrons, walk_to_count
from plans.planning.plan import Finding
from plans.planning.season import day_of, moment_days, month_day, on

LONG_WAIT_DAYS = 90
"""From here on what a predecessor sprayed outlasts a season's plan; common practice."""
LEAVES = 5
"""Leaves on the new grass before 2,4-D: the later of the printed 4 to 5."""
SERICEA = "sericea_two_summers"


def seeding(field: FieldPlan) -> Iterator[Finding]:
    """A program that kills everything wants seed; a release is not tilled, nor killed by a last spray."""
    conversion = field.conversion
    program = tables.programs()[conversion.kill_program]
    if conversion.seeding in program.seedings:
        return
    sown = tables.seedings()[conversion.seeding]
    nothing = sown.way == "none"
    yield find(
        "seeding_mismatch",
        conversion.field,
        f"{program.key}/{sown.key}",
        f"{conversion.field}: {program.label.lower()} does not go with {sown.label.lower()}.",
        "What is killed and not sown grows back to weeds."
        if nothing
        else "This way of seeding would kill or tear up the natives that are there.",
        f"Choose one of: {listing(tables.seedings()[key].label.lower() for key in program.seedings)}.",
        source=program.source,
    )


def residue(field: FieldPlan, limits: SlopeLimits) -> Iterator[Finding]:
    """Heavy residue on a slope stays as mulch and is drilled through."""
    conversion = field.conversion
    if conversion.thatch != "heavy" or conversion.slope_pct <= limits.tillage_pct:
        return
    burned = any(task.phase == "kill" and task.operation == "prescribed_burn" for task in field.tasks)
    if not burned and not field.seed.lines:
        return
    yield find(
        "residue_steep",
        conversion.field,
        "burn" if burned else "mulch",
        f"Heavy residue lies on the {conversion.slope_pct:g} % slope of {conversion.field} "
        "and is to be burned off."
        if burned
        else f"Heavy residue lies on the {conversion.slope_pct:g} % slope of {conversion.field}.",
        "It is the only cover that slope has between the kill and the new stand.",
        "Mow it instead of burning, leave it as mulch and drill through it."
        if burned
        else "Leave it as mulch and drill through it; do not burn, till or rake it off.",
        severity="caution" if burned else None,
    )


def sericea(field: FieldPlan) -> Iterator[Finding]:
    """Flowers cannot be sprayed around where sericea still comes from seed."""
    conversion = field.conversion
    flowers = [line.species for line in field.seed.lines if is_flower(line.species)]
    if flowers and SERICEA in (conversion.kill_program, *_called_for(field)):
        yield find(
            "sericea_flowers",
            conversion.field,
            ",".join(flowers),
            f"Sericea grows on {conversion.field}, and its mix has wildflowers: {listing(flowers)}.",
            "Its seed sprouts for years, and what kills it kills wildflowers too.",
            "Sow grasses alone now; add wildflowers after two summers in which no sericea came.",
        )


def carry_over(field: FieldPlan) -> Iterator[Finding]:
    """Herbicides that the notes name as used before: long waits, or seed of the mix that they kill."""
    conversion = field.conversion
    notes = conversion.notes.lower()
    for name, row in tables.ingredients().items():
        if name not in notes or not field.seed.lines:
            continue
        hurt = [
            line.species
            for line in field.seed.lines
            if tables.tolerance(line.species, name, "at planting").tolerance == "sensitive"
        ]
        wait = row.wait_before_seeding_days
        if not hurt and wait < LONG_WAIT_DAYS:
            continue
        yield find(
            "carry_over",
            conversion.field,
            name,
            f"The notes on {conversion.field} name {name}, which can kill {listing(hurt)} as they sprout."
            if hurt
            else f"The notes on {conversion.field} name {name}.",
            f"What was sprayed before can still be in the soil; the usual wait from {name} to seeding is "
            f"{wait} days."
            if wait
            else "What was sprayed before can still be in the soil when the seed goes in.",
            "Ask for the day and the rate, read the label's rotation lines, and sow a trial strip first.",
            source=row.source,
        )


def weeds(field: FieldPlan) -> Iterator[Finding]:
    """A weed named on the walk that another program is made for."""
    conversion = field.conversion
    for key in _called_for(field):
        program = tables.programs()[key]
        yield find(
            "weed_program",
            conversion.field,
            key,
            f"{conversion.field}: a weed is named there that has a program of its own, "
            f"{program.label[0].lower()}{program.label[1:]}.",
            f"{program.summary} {program.caution[:1].upper()}{program.caution[1:]}",
            f"Look how much of it there is. {program.way_out}",
            source=program.source,
        )


def _called_for(field: FieldPlan) -> list[str]:
    """Programs made for a weed that the field's own words name, other than the one chosen."""
    named = field.conversion.weeds.lower()
    return [
        program.key
        for program in tables.programs().values()
        if program.key != field.conversion.kill_program and any(target in named for target in program.targets)
    ]


def leaf_count(field: FieldPlan, climate: Climate) -> Iterator[Finding]:
    """When to go and count leaves before a broadleaf spray over new grass; the count alone releases it."""
    if not any(task.step == "broadleaf_2" and task.done_on is None for task in field.tasks):
        return
    grasses = [line.species for line in field.seed.lines if line.species in phyllochrons()]
    if not grasses:
        return
    green_up = month_day(moment_days(climate)["natives_green_up"])
    spans = {name: walk_to_count(name, green_up, LEAVES, climate.monthly_mean_f) for name in grasses}
    yield find(
        "count_leaves",
        field.conversion.field,
        ",".join(grasses),
        f"{field.conversion.field}: count {LEAVES} leaves on the native grass before the broadleaf spray.",
        "Counted from green-up in a normal year: "
        + "; ".join(
            f"{name} likely between {_said(span['from'])} and {_said(span['to'])}"
            for name, span in spans.items()
        )
        + f". {COUNT_FIRST}",
        "Walk from the first of these days on, and spray only what has its leaves.",
    )


def _said(stamp: object) -> str:
    day = on(2001, day_of(str(stamp)))
    return f"{day:%B} {day.day}"
