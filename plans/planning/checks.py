"""What must not be offered: mix × chemical × ground × person × price. Each rule is one small function.

A finding says what is wrong, why, and a way out; its severity and source come from reference/rules.csv.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from datetime import date
from typing import cast

from plans.planning import spray, tables
from plans.planning.calendar import SOWING, Slot
from plans.planning.fields import (
    SPRAYING,
    WATER_STRIP_FT,
    Prices,
    choose_product,
    product_name,
    product_rate,
    sowing_factor,
)
from plans.planning.job import Conversion, Job, Product
from plans.planning.plan import FieldSeed, Finding, Severity, TankMix, Task
from plans.planning.programs import chemicals_for, steps_for

SEED_TEST_DAYS = 365
GENTLE_SLOPE_PCT = 8.0
STEEP_SLOPE_PCT = 15.0
"""Planning bands in common use: to 8 % free, 8-15 % on the contour, over 15 % with care; no legal limits."""
ATRAZINE_WATER_FT = 200.0
WIDE_COUNT_SPREAD = 1.3
BROADLEAF_ROLES = frozenset({"broadleaf", "brush"})
SEVERITIES: tuple[Severity, ...] = ("stop", "caution", "note")


@dataclass(frozen=True, slots=True)
class FieldPlan:
    """What has been worked out for one field, for the rules to look at."""

    conversion: Conversion
    slots: tuple[Slot, ...]
    tasks: tuple[Task, ...]
    seed: FieldSeed
    tanks: tuple[TankMix, ...]


@dataclass(frozen=True, slots=True)
class _Pass:
    """One ingredient in one spray task."""

    task: Task
    step: tables.Step
    ingredient: str
    lb_per_acre: float
    product: Product | None


def _find(
    rule: str,
    field: str,
    subject: str,
    message: str,
    reason: str,
    way_out: str,
    severity: Severity | None = None,
    source: str = "",
) -> Finding:
    row = tables.rules()[rule]
    return Finding(
        severity=severity or row.severity,
        rule=rule,
        field=field,
        subject=subject,
        message=message,
        reason=reason,
        way_out=way_out,
        source=source or row.source,
    )


def _listing(names: Iterable[str]) -> str:
    found = list(names)
    return found[0] if len(found) == 1 else f"{', '.join(found[:-1])} and {found[-1]}"


def _passes(field: FieldPlan, prices: Prices) -> Iterator[_Pass]:
    for task in field.tasks:
        if task.operation in SPRAYING:
            step = tables.steps()[task.step]
            for name, rate in chemicals_for(step, field.conversion):
                yield _Pass(task, step, name, rate, choose_product(name, field.conversion, prices))


def _tolerance(field: FieldPlan, prices: Prices) -> Iterator[Finding]:
    """Broadcast sprays from seeding on, against every species of the mix. Spot sprays are aimed and pass."""
    name = field.conversion.field
    for item in _passes(field, prices):
        if (
            item.task.phase == "kill"
            or item.task.operation != "boom_spraying"
            or item.task.step == "clean_up"
        ):
            continue
        role = tables.ingredients()[item.ingredient].role
        rows = [
            (line, tables.tolerance(line.species, item.ingredient, item.step.timing))
            for line in field.seed.lines
        ]
        flowers = [line.species for line, _ in rows if line.group in ("forb", "legume")]
        if role in BROADLEAF_ROLES and flowers and item.task.season > 0:
            yield _find(
                "broadleaf_over_flowers",
                name,
                f"{item.step.step}/{item.ingredient}",
                f"{item.ingredient} over {name} would kill the wildflowers in its mix: {_listing(flowers)}.",
                "Broadleaf herbicides do not tell a planted wildflower from a weed.",
                "Leave the broadleaf spray out and clip or spot-spray, or plant this field to grass only.",
            )
            rows = [(line, row) for line, row in rows if line.group not in ("forb", "legume")]
        hurt = [(line, row) for line, row in rows if row.tolerance == "sensitive"]
        unsure = [(line, row) for line, row in rows if row.tolerance in ("moderate", "unknown")]
        if hurt:
            names = [line.species for line, _ in hurt]
            yield _find(
                "tolerance_sensitive",
                name,
                f"{item.step.step}/{item.ingredient}",
                f"{item.ingredient} ({item.task.label.lower()}) kills or hurts {_listing(names)} on {name}.",
                "; ".join(f"{line.species}: {row.note or row.tolerance}" for line, row in hurt),
                f"Take {_listing(names)} out of the mix, or leave this spray out and clip instead.",
                source="; ".join(dict.fromkeys(row.source for _, row in hurt)),
            )
        if unsure:
            names = [line.species for line, _ in unsure]
            yield _find(
                "tolerance_unsure",
                name,
                f"{item.step.step}/{item.ingredient}/{','.join(names)}",
                f"{_listing(names)} may not stand {item.ingredient} ({item.task.label.lower()}) on {name}.",
                "; ".join(
                    f"{line.species}: {row.tolerance}{', ' + row.note if row.note else ''}"
                    for line, row in unsure
                ),
                "Find the species on the label, plant a trial strip first, or leave the spray out.",
                source="; ".join(dict.fromkeys(row.source for _, row in unsure)),
            )


def _waits(field: FieldPlan, prices: Prices) -> Iterator[Finding]:
    sowing = [task for task in field.tasks if task.operation in SOWING]
    for item in _passes(field, prices):
        wait = tables.ingredients()[item.ingredient].wait_before_seeding_days
        for task in sowing:
            gap = (task.earliest - item.task.earliest).days
            if item.task.earliest <= task.earliest and item.task.phase != "establish" and gap < wait:
                yield _find(
                    "wait_short",
                    field.conversion.field,
                    f"{item.step.step}/{item.ingredient}",
                    f"Seed goes in {gap} days after {item.ingredient} on {field.conversion.field}; "
                    f"the usual wait is {wait} days.",
                    "What is left in the soil can kill seedlings.",
                    "Seed later, or choose another ingredient for that step.",
                )


def _label_oz_to_lb(product: Product, ounces: float) -> float:
    if product.form == "liquid":
        return ounces / spray.FL_OZ_PER_GAL * (product.lb_active_per_gal or 0)
    return ounces / spray.OZ_PER_LB * (product.active_pct or 0) / 100


def _rates(field: FieldPlan, prices: Prices) -> Iterator[Finding]:
    name = field.conversion.field
    for item in _passes(field, prices):
        usual = tables.ingredients()[item.ingredient]
        subject = f"{item.step.step}/{item.ingredient}"
        if not usual.rate_low_lb_per_acre <= item.lb_per_acre <= usual.rate_high_lb_per_acre:
            yield _find(
                "reference_rate",
                name,
                subject,
                f"{item.lb_per_acre:g} lb/acre of {item.ingredient} on {name} is outside the usual "
                f"{usual.rate_low_lb_per_acre:g} to {usual.rate_high_lb_per_acre:g}.",
                "Too little leaves live roots; too much costs money and may break the label.",
                "Check the rate against the label and the target.",
                source=usual.source,
            )
        if item.product is None:
            continue
        rate = product_rate(item.product, item.lb_per_acre)
        amount, unit = float(rate.value), rate.unit
        if amount > item.product.label_rate_high_oz_per_acre * 1.0005:
            yield _find(
                "label_rate_high",
                name,
                subject,
                f"{amount:.4g} {unit} of {product_name(item.product)} on {name} is over the label's "
                f"{item.product.label_rate_high_oz_per_acre:g} {unit}.",
                "The label is the law.",
                "Lower the rate of this step, or enter the label's real maximum if the price list is wrong.",
            )
        elif amount < item.product.label_rate_low_oz_per_acre * 0.9995:
            yield _find(
                "label_rate_low",
                name,
                subject,
                f"{amount:.4g} {unit} of {product_name(item.product)} on {name} is under the label's "
                f"{item.product.label_rate_low_oz_per_acre:g} {unit}.",
                "A low rate burns the top off and leaves the root.",
                "Raise the rate of this step to the label's range.",
            )


def _season_maximum(field: FieldPlan, prices: Prices) -> Iterator[Finding]:
    """All passes of an ingredient in a calendar year on the ground actually treated, whatever the product."""
    sums: dict[tuple[int, str], list[_Pass]] = {}
    for item in _passes(field, prices):
        sums.setdefault((item.task.earliest.year, item.ingredient), []).append(item)
    name = field.conversion.field
    for (year, ingredient), items in sums.items():
        pounds = sum(item.lb_per_acre for item in items)
        caps = [
            _label_oz_to_lb(item.product, item.product.label_season_max_oz_per_acre)
            for item in items
            if item.product is not None
        ]
        usual = tables.ingredients()[ingredient].season_max_lb_per_acre
        where = f"{pounds:.4g} lb/acre of {ingredient} on {name} in {year} ({len(items)} passes)"
        if caps and pounds > min(caps) * 1.0005:
            yield _find(
                "season_max",
                name,
                f"{year}/{ingredient}",
                f"{where} is over the label's {min(caps):.4g} lb a year.",
                "The yearly maximum counts every product and pass of the ingredient on the same ground.",
                "Lower a rate, leave a pass out, or move one to another year.",
            )
        elif pounds > usual * 1.0005:
            yield _find(
                "reference_rate",
                name,
                f"{year}/{ingredient}",
                f"{where} is over the {usual:g} lb that most labels allow.",
                "The label entered here allows more than is usual.",
                "Read the label again before this is offered.",
                source=tables.ingredients()[ingredient].source,
            )


def _restricted(field: FieldPlan, prices: Prices, job: Job) -> Iterator[Finding]:
    if job.practice.applicator_licence.strip():
        return
    for ingredient in dict.fromkeys(item.ingredient for item in _passes(field, prices)):
        product = choose_product(ingredient, field.conversion, prices)
        if (product and product.restricted_use) or tables.ingredients()[ingredient].restricted_use == "yes":
            yield _find(
                "restricted_no_licence",
                field.conversion.field,
                ingredient,
                f"{ingredient} on {field.conversion.field} is a restricted-use product and no applicator "
                "licence is on file.",
                "Restricted-use products are for certified applicators or under their direct supervision.",
                "Enter the licence in the practice's details, hire a licensed applicator, or leave it out.",
            )


def _near_water(field: FieldPlan, prices: Prices) -> Iterator[Finding]:
    distance = field.conversion.water_within_ft
    if distance is None:
        return
    name = field.conversion.field
    for ingredient in dict.fromkeys(item.ingredient for item in _passes(field, prices)):
        product = choose_product(ingredient, field.conversion, prices)
        strip = ATRAZINE_WATER_FT if ingredient == "atrazine" else WATER_STRIP_FT
        if distance >= strip or (product and product.aquatic_label):
            continue
        yield _find(
            "near_water",
            name,
            ingredient,
            f"{ingredient} is planned {distance:g} ft from water on {name}.",
            tables.ingredients()[ingredient].near_water + ".",
            f"Leave a strip of at least {strip:g} ft unsprayed, or use a product labelled for it.",
            severity="stop" if distance == 0 else None,
        )


def _ground(field: FieldPlan) -> Iterator[Finding]:
    conversion = field.conversion
    name, slope_pct = conversion.field, conversion.slope_pct
    operations = {task.operation for task in field.tasks}
    if "discing" in operations and slope_pct > GENTLE_SLOPE_PCT:
        yield _find(
            "tillage_steep",
            name,
            "discing",
            f"Discing {name} lays bare a {slope_pct:g} % slope.",
            "Dead sod left standing holds the soil; tilled, the same slope can lose many times as much.",
            "Drill through the dead sod instead of tilling and broadcasting.",
            severity="stop" if slope_pct > STEEP_SLOPE_PCT else "caution",
        )
    if slope_pct > STEEP_SLOPE_PCT:
        yield _find(
            "machine_steep",
            name,
            "tractor",
            f"{name} is steep at {slope_pct:g} % for wheeled machines.",
            "Most overturns are sideways; no slope is free of it, and the steepest part of a field decides.",
            "Walk it first; work short passes up and down on dry ground, or plan hand work and price it.",
        )
    if conversion.sensitive_neighbours.strip() and "boom_spraying" in operations:
        yield _find(
            "neighbours",
            name,
            "boom_spraying",
            f"{name} has sensitive neighbours: {conversion.sensitive_neighbours.strip()}.",
            "Drift of a few drops can hurt gardens, vines, hives and organic crops.",
            "Tell them beforehand, leave a strip, and spray only with the wind away from them.",
        )
    if conversion.power_lines and "prescribed_burn" in operations:
        yield _find(
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
            yield _find(
                "window_past",
                name,
                slot.step.step,
                f"{slot.step.label} on {name}: this season's window shut on {_day(slot.missed[1])}.",
                f"Work can begin on {_day(field.conversion.start_on)} at the earliest; the next sound window "
                f"is {_day(slot.earliest)} to {_day(slot.latest)}, and what follows moves with it.",
                "Take the later dates, begin sooner, or choose a kill program that starts in another season.",
            )
        if slot.repeats is not None:
            yield _find(
                "work_too_old",
                name,
                slot.step.step,
                f"{slot.step.label} on {name} was done on {_day(slot.repeats)}, too long ago to build on.",
                "What it killed has had time to come back.",
                "The step is planned and priced again.",
            )
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
                "The step before it comes too late for it.",
            )
            way_out = "Nothing need be done; it is neither planned nor priced."
        yield _find("step_dropped", name, step.step, f"{step.label} on {name} {message}.", reason, way_out)


def _day(day: date) -> str:
    return f"{day:%B} {day.day}, {day.year}"


def _mix(field: FieldPlan) -> Iterator[Finding]:
    conversion = field.conversion
    name, target = conversion.field, tables.purposes()[conversion.purpose]
    density = float(field.seed.seeds_per_sqft.value) / sowing_factor(conversion)
    low, high = target.seeds_per_sqft_low, target.seeds_per_sqft_high
    span = f"{low:g} to {high:g} for {conversion.purpose}"
    if density < low * 0.995:
        yield _find(
            "density_low",
            name,
            conversion.mix.name,
            f"The mix on {name} has {density:.3g} live seeds per square foot; {span} is usual.",
            "A thin seeding leaves room for the old sod and weeds.",
            "Raise the rate, or choose another purpose for this field.",
            source=target.source,
        )
    elif density > high * 1.005:
        yield _find(
            "density_high",
            name,
            conversion.mix.name,
            f"The mix on {name} has {density:.3g} live seeds per square foot; {span} is usual.",
            "Seed above that is paid for and mostly lost, and a thick grass stand crowds out flowers.",
            "Lower the rate, or say why more is wanted.",
            source=target.source,
        )
    grass = field.seed.grass_share_pct
    if not target.grass_share_pct_low <= grass <= target.grass_share_pct_high:
        yield _find(
            "grass_share",
            name,
            conversion.mix.name,
            f"Grass is {grass:.0f} % of the seeds on {name}; {target.grass_share_pct_low:g} to "
            f"{target.grass_share_pct_high:g} % is usual for {conversion.purpose}.",
            "The share of grass decides whether the stand becomes cover or flowers.",
            "Shift seeds between grasses and wildflowers in the mix.",
            source=target.source,
        )
    if any(line.species == "cereal rye" for line in field.seed.lines):
        yield _find(
            "pushy_nurse",
            name,
            "cereal rye",
            f"Cereal rye is in the mix on {name}.",
            "It shades seedlings and its residue holds them back.",
            "Use a light rate of oats in spring or winter wheat in fall.",
        )
    wide = [
        plant
        for line in field.seed.lines
        if (plant := tables.species().get(line.species))
        and plant.seeds_per_lb_high / plant.seeds_per_lb_low > WIDE_COUNT_SPREAD
    ]
    if wide:
        yield _find(
            "seed_count_range",
            name,
            ",".join(plant.common_name for plant in wide),
            f"Sources differ on seeds in a pound of {_listing(plant.common_name for plant in wide)} ({name}).",
            "; ".join(
                f"{plant.common_name}: {plant.seeds_per_lb_low:,.0f} to {plant.seeds_per_lb_high:,.0f}, "
                f"{plant.seeds_per_lb:,.0f} used"
                for plant in wide
            ),
            "Enter the lot's own count when the seed is bought.",
        )


def _program(field: FieldPlan) -> Iterator[Finding]:
    conversion = field.conversion
    program = tables.programs()[conversion.kill_program]
    name = conversion.field
    if conversion.cover not in program.covers:
        yield _find(
            "cover_mismatch",
            name,
            program.key,
            f"{program.label} is planned on {name}, where {conversion.cover} grows.",
            f"The program is meant for {_listing(program.covers)}.",
            "Choose a program made for this cover, or say why this one fits.",
            source=program.source,
        )
    if program.caution:
        rule = "spring_only" if program.key == "sod_spring_only" else "program_note"
        yield _find(
            rule,
            name,
            program.key,
            f"{program.label} on {name}.",
            program.caution,
            "Choose the fall and spring program, or accept a likely second season."
            if rule == "spring_only"
            else "Ask before seed is bought.",
            source=program.source,
        )


def _seed_lots(fields: Sequence[FieldPlan], prices: Prices, today: date) -> Iterator[Finding]:
    names = list(dict.fromkeys(line.species for field in fields for line in field.seed.lines))
    lots = {name: prices.lots[name] for name in names if name in prices.lots}
    old = [
        name for name, lot in lots.items() if lot.tested_on and (today - lot.tested_on).days > SEED_TEST_DAYS
    ]
    if old:
        yield _find(
            "old_test",
            "",
            ",".join(old),
            f"Seed tests older than a year: {_listing(old)}.",
            "; ".join(f"{name}: tested {_day(cast(date, lots[name].tested_on))}" for name in old)
            + ". Germination falls in store, and many states void a test after nine months or a year.",
            "Have the lot tested again before it is weighed out.",
        )
    undated = [name for name, lot in lots.items() if lot.tested_on is None]
    if undated:
        yield _find(
            "no_test_date",
            "",
            ",".join(undated),
            f"No test date is entered for {_listing(undated)}.",
            "Purity and germination are only as good as the test they come from.",
            "Copy the test date from the seed tag into the price list.",
        )


def _listed_prices(fields: Sequence[FieldPlan], prices: Prices) -> Iterator[Finding]:
    missing: list[str] = []
    unchecked: list[str] = []

    def look(name: str, found: bool, doubtful: bool) -> None:
        if not found and name not in missing:
            missing.append(name)
        if doubtful and name not in unchecked:
            unchecked.append(name)

    for field in fields:
        for line in field.seed.lines:
            lot = prices.lots.get(line.species)
            look(f"{line.species} seed", lot is not None, bool(lot and lot.unchecked))
        for item in _passes(field, prices):
            look(item.ingredient, item.product is not None, bool(item.product and item.product.unchecked))
            for kind, _ in item.step.adjuvants:
                adjuvant = prices.adjuvants.get(kind)
                look(kind, adjuvant is not None, bool(adjuvant and adjuvant.unchecked))
        for task in field.tasks:
            rate = prices.work.get(task.operation)
            label = tables.operations()[task.operation].label.lower()
            look(label, rate is not None, bool(rate and rate.unchecked))
    if missing:
        yield _find(
            "no_price",
            "",
            ",".join(missing),
            f"No listed price for {_listing(missing)}.",
            "What has no price is in the plan and in no line of the estimate: the total is too low.",
            "Enter a price in the price list, or take it out of the plan.",
        )
    if unchecked:
        yield _find(
            "unchecked_price",
            "",
            ",".join(unchecked),
            f"Prices nobody has confirmed: {_listing(unchecked)}.",
            "They came with the starter list and are round figures.",
            "Confirm or correct them in the price list.",
        )


def findings(job: Job, prices: Prices, today: date, fields: Sequence[FieldPlan]) -> tuple[Finding, ...]:
    """Every finding of the job: stops first, then cautions, then notes; each only once."""
    per_field: tuple[Callable[[FieldPlan], Iterator[Finding]], ...] = (
        lambda field: _tolerance(field, prices),
        lambda field: _waits(field, prices),
        lambda field: _rates(field, prices),
        lambda field: _season_maximum(field, prices),
        lambda field: _restricted(field, prices, job),
        lambda field: _near_water(field, prices),
        _ground,
        lambda field: _windows(field, job.terms.years),
        _mix,
        _program,
    )
    found = [finding for field in fields for rule in per_field for finding in rule(field)]
    found += _listed_prices(fields, prices)
    found += _seed_lots(fields, prices, today)
    unique = dict.fromkeys(replace(finding) for finding in found)
    return tuple(sorted(unique, key=lambda finding: SEVERITIES.index(finding.severity)))
