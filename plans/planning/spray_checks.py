"""Rules about what is sprayed: tolerance, waits, rates, label maxima, licence, water."""

from __future__ import annotations

from collections.abc import Iterator

from plans.planning import spray, tables
from plans.planning.calendar import SOWING
from plans.planning.fields import WATER_STRIP_FT, Prices, choose_product, product_name, product_rate
from plans.planning.findings import FieldPlan, Pass, days_in_words, find, is_flower, listing, passes
from plans.planning.job import Job
from plans.planning.plan import Finding
from plans.planning.price_list import Product

ATRAZINE_WATER_FT = 200.0
"""From lakes and reservoirs: EPA 1992 label changes."""
BROADLEAF_ROLES = frozenset({"broadleaf", "brush"})


def _before_seed(item: Pass, field: FieldPlan) -> bool:
    """Whether a spray falls on ground where the seed is not in yet."""
    if item.step.timing != "at planting":
        return False
    return item.task.phase == "kill" or any(
        task.season == item.task.season
        and task.operation in SOWING
        and tables.steps()[task.step].order > item.step.order
        for task in field.tasks
    )


def tolerance(field: FieldPlan, prices: Prices) -> Iterator[Finding]:
    """Broadcast sprays from seeding on, and those that release a stand, against every species of the mix.

    Spot sprays are aimed and pass.
    """
    name = field.conversion.field
    for item in passes(field, prices):
        if item.task.operation != "boom_spraying" or _before_seed(item, field):
            continue
        role = tables.ingredients()[item.ingredient].role
        rows = [
            (line.species, tables.tolerance(line.species, item.ingredient, item.step.timing))
            for line in (field.conversion.mix.lines if field.conversion.mix else ())
        ]
        flowers = [species for species, _ in rows if is_flower(species)]
        if role in BROADLEAF_ROLES and flowers and item.task.season > 0:
            yield find(
                "broadleaf_over_flowers",
                name,
                f"{item.step.step}/{item.ingredient}",
                f"{item.ingredient} over {name} would kill the wildflowers in its mix: {listing(flowers)}.",
                "Broadleaf herbicides do not tell a planted wildflower from a weed.",
                "Leave the broadleaf spray out and clip or spot-spray, or plant this field to grass only.",
            )
            rows = [(species, row) for species, row in rows if species not in flowers]
        hurt = [(species, row) for species, row in rows if row.tolerance == "sensitive"]
        unsure = [(species, row) for species, row in rows if row.tolerance in ("moderate", "unknown")]
        if hurt:
            names = [species for species, _ in hurt]
            yield find(
                "tolerance_sensitive",
                name,
                f"{item.step.step}/{item.ingredient}",
                f"{item.ingredient} ({item.task.label.lower()}) kills or hurts {listing(names)} on {name}.",
                "; ".join(f"{species}: {row.note or row.tolerance}" for species, row in hurt),
                f"Take {listing(names)} out of the mix, or leave this spray out and clip instead.",
                source="; ".join(dict.fromkeys(row.source for _, row in hurt)),
            )
        if unsure:
            names = [species for species, _ in unsure]
            yield find(
                "tolerance_unsure",
                name,
                f"{item.step.step}/{item.ingredient}/{','.join(names)}",
                f"{listing(names)} may not stand {item.ingredient} ({item.task.label.lower()}) on {name}.",
                "; ".join(
                    f"{species}: {row.tolerance}{', ' + row.note if row.note else ''}"
                    for species, row in unsure
                ),
                "Find the species on the label, plant a trial strip first, or leave the spray out.",
                source="; ".join(dict.fromkeys(row.source for _, row in unsure)),
            )


def waits(field: FieldPlan, prices: Prices) -> Iterator[Finding]:
    """Days from every spray to the seeding against the ingredient's usual wait."""
    sowing = [task for task in field.tasks if task.operation in SOWING]
    for item in passes(field, prices):
        wait = tables.ingredients()[item.ingredient].wait_before_seeding_days
        for task in sowing:
            gap = (task.earliest - item.task.earliest).days
            if item.task.earliest <= task.earliest and item.task.phase != "establish" and gap < wait:
                yield find(
                    "wait_short",
                    field.conversion.field,
                    f"{item.step.step}/{item.ingredient}",
                    f"Seed goes in {days_in_words(gap)} after {item.ingredient} on {field.conversion.field}; "
                    f"the usual wait is {days_in_words(wait)}.",
                    "What is left in the soil can kill seedlings.",
                    "Seed later, or choose another ingredient for that step.",
                )


def _label_oz_to_lb(product: Product, ounces: float) -> float:
    if product.form == "liquid":
        return ounces / spray.FL_OZ_PER_GAL * (product.lb_active_per_gal or 0)
    return ounces / spray.OZ_PER_LB * (product.active_pct or 0) / 100


def rates(field: FieldPlan, prices: Prices) -> Iterator[Finding]:
    """Each pass against the usual range and the label's range of one application."""
    name = field.conversion.field
    for item in passes(field, prices):
        usual = tables.ingredients()[item.ingredient]
        subject = f"{item.step.step}/{item.ingredient}"
        if not usual.rate_low_lb_per_acre <= item.lb_per_acre <= usual.rate_high_lb_per_acre:
            yield find(
                "reference_rate",
                name,
                subject,
                f"{item.lb_per_acre:g} lb/acre of {item.ingredient} on {name} is outside the usual "
                f"{usual.rate_low_lb_per_acre:g} to {usual.rate_high_lb_per_acre:g} lb/acre.",
                "Too little leaves live roots; too much costs money and may break the label.",
                "Check the rate against the label and the target.",
                source=usual.source,
            )
        if item.product is None:
            continue
        rate = product_rate(item.product, item.lb_per_acre)
        amount, unit = float(rate.value), rate.unit
        if amount > item.product.label_rate_high_oz_per_acre * 1.0005:
            yield find(
                "label_rate_high",
                name,
                subject,
                f"{amount:.4g} {unit} of {product_name(item.product)} on {name} is over the label's "
                f"{item.product.label_rate_high_oz_per_acre:g} {unit}.",
                "The label is the law.",
                "Lower the rate of this step, or enter the label's real maximum if the price list is wrong.",
            )
        elif amount < item.product.label_rate_low_oz_per_acre * 0.9995:
            yield find(
                "label_rate_low",
                name,
                subject,
                f"{amount:.4g} {unit} of {product_name(item.product)} on {name} is under the label's "
                f"{item.product.label_rate_low_oz_per_acre:g} {unit}.",
                "A low rate burns the top off and leaves the root.",
                "Raise the rate of this step to the label's range.",
            )


def season_maximum(field: FieldPlan, prices: Prices) -> Iterator[Finding]:
    """All passes of an ingredient in a calendar year on the ground actually treated, whatever the product."""
    sums: dict[tuple[int, str], list[Pass]] = {}
    for item in passes(field, prices):
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
            yield find(
                "season_max",
                name,
                f"{year}/{ingredient}",
                f"{where} is over the label's {min(caps):.4g} lb a year.",
                "The yearly maximum counts every product and pass of the ingredient on the same ground.",
                "Lower a rate, leave a pass out, or move one to another year.",
            )
        elif pounds > usual * 1.0005:
            yield find(
                "reference_rate",
                name,
                f"{year}/{ingredient}",
                f"{where} is over the {usual:g} lb that most labels allow.",
                "The label entered here allows more than is usual.",
                "Read the label again before this is offered.",
                source=tables.ingredients()[ingredient].source,
            )


TARGETS = {
    "burndown": frozenset({"grass", "broadleaf"}),
    "broadleaf": frozenset({"broadleaf"}),
    "brush": frozenset({"broadleaf"}),
    "grass-selective": frozenset({"grass"}),
    "pre-emergent": frozenset({"seedlings"}),
}
"""What each role of ingredient is sprayed against."""


def resistance(field: FieldPlan, prices: Prices) -> Iterator[Finding]:
    """The same group twice running against the same kind of weed, with no other group between or beside.

    Groups are the ingredients' (HRAC). One note per group. Source: reference/rules.csv.
    """
    found = sorted(passes(field, prices), key=lambda item: (item.task.earliest, item.task.key))
    known = [(item, tables.ingredients()[item.ingredient]) for item in found]
    said: set[int] = set()
    for at, (first, row) in enumerate(known):
        weeds = TARGETS[row.role]
        for again, other in known[at + 1 :]:
            if again.task.key == first.task.key or not TARGETS[other.role] & weeds:
                continue
            beside = {
                each.group
                for item, each in known
                if first.task.earliest <= item.task.earliest <= again.task.earliest
                and TARGETS[each.role] & weeds
            }
            if beside == {row.group} and row.group not in said:
                said.add(row.group)
                yield find(
                    "same_group_twice",
                    field.conversion.field,
                    str(row.group),
                    f"{field.conversion.field}: herbicides of group {row.group} twice running.",
                    f"{first.ingredient} ({first.task.label.lower()}), then {again.ingredient} "
                    f"({again.task.label.lower()}), and no other group between. Weeds that live through a "
                    "group live through it again, and their seed fills the field.",
                    "Walk the field between the two; what lived through is dug, clipped or sprayed with "
                    "another group that the new stand will bear.",
                )
            break


def restricted(field: FieldPlan, prices: Prices, job: Job) -> Iterator[Finding]:
    """Restricted-use products need an applicator license on file."""
    if job.practice.applicator_licence.strip():
        return
    for ingredient in dict.fromkeys(item.ingredient for item in passes(field, prices)):
        product = choose_product(ingredient, field.conversion, prices)
        if (product and product.restricted_use) or tables.ingredients()[ingredient].restricted_use == "yes":
            yield find(
                "restricted_no_licence",
                field.conversion.field,
                ingredient,
                f"{ingredient} on {field.conversion.field} is a restricted-use product and no applicator "
                "license is on file.",
                "Restricted-use products are for certified applicators or under their direct supervision.",
                "Enter the license in the practice's details, hire a licensed applicator, or leave it out.",
            )


def near_water(field: FieldPlan, prices: Prices) -> Iterator[Finding]:
    """Products without an aquatic label against the distance to water [ft]."""
    distance = field.conversion.water_within_ft
    if distance is None:
        return
    name = field.conversion.field
    for ingredient in dict.fromkeys(item.ingredient for item in passes(field, prices)):
        product = choose_product(ingredient, field.conversion, prices)
        strip = ATRAZINE_WATER_FT if ingredient == "atrazine" else WATER_STRIP_FT
        if distance >= strip or (product and product.aquatic_label):
            continue
        told = tables.ingredients()[ingredient].near_water
        yield find(
            "near_water",
            name,
            ingredient,
            f"{ingredient} is planned {distance:g} ft from water on {name}.",
            f"{told[:1].upper()}{told[1:]}.",
            f"Leave a strip of at least {strip:g} ft unsprayed, or use a product labeled for it.",
            severity="stop" if distance == 0 else None,
        )
