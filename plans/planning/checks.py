"""What must not be offered: mix × chemical × ground × person × price. Each rule is one small function.

A finding says what is wrong, why, and a way out; its severity and source come from reference/rules.csv.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Sequence
from dataclasses import replace
from datetime import date
from typing import cast

from plans.planning import (
    away,
    observed,
    planting_checks,
    program_checks,
    season,
    soil_ways,
    spray_checks,
    tables,
)
from plans.planning.fields import Prices, sowing_factor
from plans.planning.findings import FieldPlan, days_in_words, find, listing, passes
from plans.planning.job import Climate, Job, SlopeLimits
from plans.planning.plan import Finding, Severity
from plans.planning.programs import SHARED_SETS, among, steps_for

SEED_TEST_DAYS = 365
WIDE_COUNT_SPREAD = 1.3
WILD_COUNT_SPREAD = 2.0
"""Sources so far apart that the rate may be half of what was meant: someone must look."""
SEVERITIES: tuple[Severity, ...] = ("stop", "caution", "note")


def _ground(field: FieldPlan, limits: SlopeLimits) -> Iterator[Finding]:
    conversion = field.conversion
    name, slope_pct = conversion.field, conversion.slope_pct
    operations = {task.operation for task in field.tasks}
    if "discing" in operations and slope_pct > limits.tillage_pct:
        yield find(
            "tillage_steep",
            name,
            "discing",
            f"Discing {name} lays a slope of {slope_pct:g} % bare.",
            soil_ways.against_tillage(conversion, field.tasks),
            "Take a program and a seeding that leave the soil covered, and mow instead of discing thirds.",
            severity="stop" if slope_pct > limits.machines_pct else "caution",
        )
    if slope_pct > limits.machines_pct:
        yield find(
            "machine_steep",
            name,
            "tractor",
            f"{name} is steep at {slope_pct:g} % ({math.degrees(math.atan(slope_pct / 100)):.1f} degrees) "
            "for wheeled machines.",
            "Most overturns are sideways; no slope is free of it, and the steepest part of a field decides.",
            "Walk it first; work short passes up and down on dry ground, or plan hand work and price it."
            if slope_pct <= limits.across_pct
            else "Plan no tractor work across it; up and down only where the machine's manual allows that "
            "slope, heavy end uphill, or plan hand work and price it.",
        )
    if conversion.sensitive_neighbours.strip() and "boom_spraying" in operations:
        yield find(
            "neighbours",
            name,
            "boom_spraying",
            f"{name} has sensitive neighbors: {conversion.sensitive_neighbours.strip()}.",
            "Drift of a few drops can hurt gardens, vines, hives and organic crops.",
            "Tell them beforehand, leave a strip, and spray only with the wind away from them.",
        )
    if conversion.power_lines and "prescribed_burn" in operations:
        yield find(
            "burn_power_lines",
            name,
            "prescribed_burn",
            f"A burn is planned on {name}, which has power lines.",
            "Smoke can carry current to the ground.",
            "Speak with the utility, mow under the line first, or mow instead of burning.",
        )


def _windows(field: FieldPlan, years: int) -> Iterator[Finding]:
    name = field.conversion.field
    for slot in field.slots:
        if slot.missed is not None:
            yield find(
                "window_past",
                name,
                slot.step.step,
                f"{slot.step.label} on {name}: this season's window shut on {_day(slot.missed[1])}.",
                f"Work can begin on {_day(field.conversion.start_on)} at the earliest; the next sound window "
                f"is {_day(slot.earliest)} to {_day(slot.latest)}, and what follows moves with it.",
                "Take the later dates, begin sooner, or choose a kill program that starts in another season.",
            )
        if slot.repeats is not None:
            yield find(
                "work_too_old",
                name,
                slot.step.step,
                f"{slot.step.label} on {name} was done on {_day(slot.repeats)}, too long ago to build on.",
                "What it killed has had time to come back.",
                "The step is planned and priced again.",
            )
    yield from _without_effect(field, years)
    planned = {slot.step.step for slot in field.slots}
    logged = {entry.step for entry in field.conversion.log}
    steps = steps_for(field.conversion, years)
    last = max((step.order for step in steps if step.step in logged), default=0)
    for step in steps:
        if step.step in planned:
            continue
        if step.order < last:
            message, reason = "is not in the record and is left out", "Later work is in the record."
            way_out = "Enter its day if it was done; it is neither planned nor priced."
        else:
            message, reason = (
                "finds no window in its season and is left out",
                "The step before it comes too late for it, or it would close before it opens at this place.",
            )
            way_out = "Nothing need be done; it is neither planned nor priced."
        yield find("step_dropped", name, step.step, f"{step.label} on {name} {message}.", reason, way_out)


def _never_crossed(field: FieldPlan, climate: Climate) -> Iterator[Finding]:
    """Windows that open or close on a moment the place's normal year never comes to, and nobody has seen."""
    name, never = field.conversion.field, season.stand_ins(climate)
    hanging: dict[str, list[tables.Step]] = {}
    for slot in field.slots:
        for moment, day in ((slot.step.opens, slot.earliest), (slot.step.closes, slot.latest)):
            if slot.movable and moment in never and not _seen(moment, day, climate):
                steps = hanging.setdefault(moment, [])
                if slot.step not in steps:
                    steps.append(slot.step)
    for moment, steps in hanging.items():
        why = never[moment]
        labels = dict.fromkeys(f"“{step.label}”" for step in steps)
        yield find(
            "never_crossed",
            name,
            f"{moment}/{','.join(step.step for step in steps)}",
            f"On {name} the time for {listing(labels)} hangs on the moment "
            f"“{tables.moment_rules()[moment].label}”, which does not come at {climate.place}.",
            f"{why[0].upper()}{why[1:]}. Work set by such a day can be weeks out: seed "
            "sprouts before winter, or a spray finds the sod asleep or the natives awake.",
            "Enter the day as it is seen on the farm's page, or choose a way of seeding or upkeep that does "
            "not wait for it.",
        )


def _seen(moment: str, day: date, climate: Climate) -> bool:
    """Whether the moment was seen in the season of a day: within half a year of it."""
    return any(
        seen.moment == moment and abs((seen.on - day).days) <= season.DAYS // 2 for seen in climate.observed
    )


def _without_effect(field: FieldPlan, years: int) -> Iterator[Finding]:
    """Options, left-out steps, own rates and logged work that belong to no step of this field's program."""
    conversion = field.conversion
    ways = (conversion.kill_program, conversion.seeding, *SHARED_SETS)
    own = {
        step.step: step
        for step in tables.steps().values()
        if step.set in ways
        and among(step.programs, conversion.kill_program)
        and among(step.seedings, conversion.seeding)
    }
    options = {option.removeprefix("!") for step in own.values() for option in step.option}
    named = [
        *(option for option in conversion.options if option not in options),
        *(step for step in conversion.left_out if step not in own),
        *(key for key in conversion.rates_lb_per_acre if key.partition("/")[0] not in own),
        *(done.step for done in conversion.log if done.step not in own),
    ]
    if named:
        one = len(named) == 1
        yield find(
            "no_effect",
            conversion.field,
            ",".join(named),
            f"{conversion.field}: {named[0]} changes nothing here."
            if one
            else f"{conversion.field}: {listing(named)} change nothing here.",
            "It belongs to another kill program or way of seeding."
            if one
            else "They belong to another kill program or way of seeding.",
            "Take it out, or choose the program it belongs to."
            if one
            else "Take them out, or choose the program they belong to.",
        )


def _day(day: date) -> str:
    return f"{day:%B} {day.day}, {day.year}"


def _mix(field: FieldPlan) -> Iterator[Finding]:
    if not field.seed.lines:
        return
    yield from _against_targets(field)
    yield from _seed_counts(field)
    if any(line.species == "cereal rye" for line in field.seed.lines) and field.plot is None:
        yield find(
            "pushy_nurse",
            field.conversion.field,
            "cereal rye",
            f"Cereal rye is in the mix on {field.conversion.field}.",
            "It shades seedlings and its residue holds them back.",
            "Use a light rate of oats in spring or winter wheat in fall.",
        )


def _against_targets(field: FieldPlan) -> Iterator[Finding]:
    """The mix beside what its purpose asks for; a food plot has rates of its own."""
    conversion = field.conversion
    name, target = conversion.field, tables.purposes().get(conversion.purpose)
    if target is None:
        return
    density = float(field.seed.seeds_per_sqft.value) / sowing_factor(conversion)
    low, high = target.seeds_per_sqft_low, target.seeds_per_sqft_high
    usual = f"{low:g} to {high:g} seeds per square foot are usual for {conversion.purpose}."
    if density < low * 0.995:
        yield find(
            "density_low",
            name,
            field.seed.mix,
            f"The mix on {name} has {density:.3g} live seeds per square foot. {usual}",
            "A thin seeding leaves room for the old sod and weeds.",
            "Raise the rate, or choose another purpose for this field.",
            source=target.source,
        )
    elif density > high * 1.005:
        yield find(
            "density_high",
            name,
            field.seed.mix,
            f"The mix on {name} has {density:.3g} live seeds per square foot. {usual}",
            "Seed above that is paid for and mostly lost, and a thick grass stand crowds out flowers.",
            "Lower the rate, or say why more is wanted.",
            source=target.source,
        )
    grass = float(field.seed.grass_share_pct.value)
    if not target.grass_share_pct_low <= grass <= target.grass_share_pct_high:
        yield find(
            "grass_share",
            name,
            field.seed.mix,
            f"Grass is {grass:.0f} % of the seeds on {name}; {target.grass_share_pct_low:g} to "
            f"{target.grass_share_pct_high:g} % is usual for {conversion.purpose}.",
            "The share of grass decides whether the stand becomes cover or flowers.",
            "Shift seeds between grasses and wildflowers in the mix.",
            source=target.source,
        )


def _seed_counts(field: FieldPlan) -> Iterator[Finding]:
    name = field.conversion.field
    wide = [
        plant
        for line in field.seed.lines
        if (plant := tables.species().get(line.species))
        and plant.seeds_per_lb_high / plant.seeds_per_lb_low > WIDE_COUNT_SPREAD
    ]
    if wide:
        yield find(
            "seed_count_range",
            name,
            ",".join(plant.common_name for plant in wide),
            f"Sources differ on the seed count of {listing(plant.common_name for plant in wide)} ({name}).",
            "; ".join(
                f"{plant.common_name}: {plant.seeds_per_lb_low:,.0f} to {plant.seeds_per_lb_high:,.0f}, "
                f"{plant.seeds_per_lb:,.0f} used"
                for plant in wide
            ),
            "Enter the lot's own count when the seed is bought.",
            severity="caution"
            if any(plant.seeds_per_lb_high / plant.seeds_per_lb_low > WILD_COUNT_SPREAD for plant in wide)
            else None,
        )


def _program(field: FieldPlan) -> Iterator[Finding]:
    conversion = field.conversion
    program = tables.programs()[conversion.kill_program]
    name = conversion.field
    if conversion.cover not in program.covers:
        yield find(
            "cover_mismatch",
            name,
            program.key,
            f"{program.label} is planned on {name}, where {conversion.cover} grows.",
            f"The program is meant for {listing(program.covers)}.",
            "Choose a program made for this cover, or say why this one fits.",
            source=program.source,
        )
    if program.caution:
        yield find(
            "spring_only" if program.key == "sod_spring_only" else "program_note",
            name,
            program.key,
            f"{name}: {program.caution}",
            f"{program.label}: {program.summary[0].lower()}{program.summary[1:]}",
            program.way_out,
            source=program.source,
        )


def _seed_lots(fields: Sequence[FieldPlan], prices: Prices, today: date) -> Iterator[Finding]:
    to_buy = [field for field in fields if field.seed_times]
    names = list(dict.fromkeys(line.species for field in to_buy for line in field.seed.lines))
    lots = {name: prices.lots[name] for name in names if name in prices.lots}
    old = [
        name for name, lot in lots.items() if lot.tested_on and (today - lot.tested_on).days > SEED_TEST_DAYS
    ]
    if old:
        yield find(
            "old_test",
            "",
            ",".join(old),
            f"Seed tests older than a year: {listing(old)}.",
            "; ".join(f"{name}: tested {_day(cast(date, lots[name].tested_on))}" for name in old)
            + ". Germination falls in store, and many states void a test after nine months or a year.",
            "Have the lot tested again before it is weighed out.",
        )
    future = [name for name, lot in lots.items() if lot.tested_on and lot.tested_on > today]
    if future:
        yield find(
            "future_test",
            "",
            ",".join(future),
            f"A test date still to come: {listing(future)}.",
            "; ".join(f"{name}: tested {_day(cast(date, lots[name].tested_on))}" for name in future)
            + ". No seed has been tested on a day that has not been.",
            "Copy the test date from the seed tag into the price list.",
        )
    undated = [name for name, lot in lots.items() if lot.tested_on is None]
    if undated:
        yield find(
            "no_test_date",
            "",
            ",".join(undated),
            f"No test date is entered for {listing(undated)}.",
            "Purity and germination are only as good as the test they come from.",
            "Copy the test date from the seed tag into the price list.",
        )


def _listed_prices(fields: Sequence[FieldPlan], prices: Prices, job: Job) -> Iterator[Finding]:
    missing: list[str] = []
    unchecked: list[str] = []

    def look(name: str, found: bool, doubtful: bool) -> None:
        if not found and name not in missing:
            missing.append(name)
        if doubtful and name not in unchecked:
            unchecked.append(name)

    for field in fields:
        for line in field.seed.lines if field.seed_times else ():
            lot = prices.lots.get(line.species)
            look(f"{line.species} seed", lot is not None, bool(lot and lot.unchecked))
        for item in passes(field, prices):
            look(item.ingredient, item.product is not None, bool(item.product and item.product.unchecked))
            for kind, _ in item.step.adjuvants:
                adjuvant = prices.adjuvants.get(kind)
                look(kind, adjuvant is not None, bool(adjuvant and adjuvant.unchecked))
        for material in field.materials:
            look(material.name, material.cost is not None, material.unchecked)
        for task in field.tasks:
            rate = prices.work.get(task.operation)
            label = tables.operations()[task.operation].label.lower()
            look(label, rate is not None, bool(rate and rate.unchecked))
    if job.farm.round_trip_miles:
        look("hauling", True, prices.hauling_unchecked)
    if missing:
        yield find(
            "no_price",
            "",
            ",".join(missing),
            f"No listed price for {listing(missing)}.",
            "What has no price is in the plan and in no line of the estimate: the total is too low.",
            "Enter a price in the price list, or take it out of the plan.",
        )
    if unchecked:
        yield find(
            "unchecked_price",
            "",
            ",".join(unchecked),
            f"Prices nobody has confirmed: {listing(unchecked)}.",
            "They came with the starter list and are round figures.",
            "Confirm or correct them in the price list.",
        )


def _observed(job: Job, fields: Sequence[FieldPlan]) -> Iterator[Finding]:
    """Which observation moved what, for the years in which there is work."""
    years = {day.year for field in fields for task in field.tasks for day in (task.earliest, task.latest)}
    labels = tables.moment_rules()
    moved = [(key, year, move) for (key, year), move in observed.moves(job.climate).items()]
    for seen in dict.fromkeys(move.because for _, year, move in moved if year in years):
        own = [(key, year, move.days) for key, year, move in moved if move.because == seen]
        key, year, off = next(each for each in own if each[0] == seen.moment)
        others = [labels[other].label for other, _, days in own if other != seen.moment and days]
        normal = season.on(year, season.moment_days(job.climate)[key])
        label, day, apart = labels[key].label.capitalize(), _day(seen.on), days_in_words(abs(off))
        usual = f"{normal:%B} {normal.day}"
        if not off:
            message = f"{label} was seen on {day}, as in a normal year."
        elif off > 0:
            message = f"{label} was seen on {day}, {apart} later than the normal {usual}."
        else:
            message = f"{label} was seen on {day}, {apart} earlier than the normal {usual}."
        yield find(
            "observed_moves",
            "",
            f"{seen.moment}/{seen.on}",
            message,
            f"Moved with it in that season: {listing(others)}." if others else "Nothing else hangs on it.",
            "Take the observation back on the farm's page if it was a slip.",
        )


def findings(job: Job, prices: Prices, today: date, fields: Sequence[FieldPlan]) -> tuple[Finding, ...]:
    """Every finding of the job: stops first, then cautions, then notes; each only once."""
    per_field: tuple[Callable[[FieldPlan], Iterator[Finding]], ...] = (
        lambda field: spray_checks.tolerance(field, prices),
        lambda field: spray_checks.waits(field, prices),
        lambda field: spray_checks.rates(field, prices),
        lambda field: spray_checks.season_maximum(field, prices),
        lambda field: spray_checks.resistance(field, prices),
        lambda field: spray_checks.restricted(field, prices, job),
        lambda field: spray_checks.near_water(field, prices),
        lambda field: _ground(field, job.practice.slopes),
        away.kept_away,
        lambda field: _windows(field, job.terms.years),
        lambda field: _never_crossed(field, job.climate),
        _mix,
        _program,
        program_checks.seeding,
        lambda field: program_checks.residue(field, job.practice.slopes),
        program_checks.sericea,
        program_checks.weeds,
        program_checks.carry_over,
        planting_checks.purpose,
        planting_checks.plot,
        planting_checks.plot_feeding,
        planting_checks.trees,
        lambda field: program_checks.leaf_count(field, job.climate),
    )
    found = [finding for field in fields for rule in per_field for finding in rule(field)]
    found += _listed_prices(fields, prices, job)
    found += _seed_lots(fields, prices, today)
    found += _observed(job, fields)
    unique = dict.fromkeys(replace(finding) for finding in found)
    return tuple(sorted(unique, key=lambda finding: SEVERITIES.index(finding.severity)))
