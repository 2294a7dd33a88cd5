"""Rules about food plots and plantings of trees and shrubs, and whether purpose and seeding go together."""

from __future__ import annotations

from collections.abc import Iterator

from plans.planning import tables
from plans.planning.fields import WATER_STRIP_FT, as_written
from plans.planning.findings import FieldPlan, find, listing
from plans.planning.plan import Finding
from plans.planning.planting import SQFT_PER_ACRE
from plans.planning.plots import crops, seasonless, share_of_full
from plans.planning.programs import conditions_met

THIN_SHARE, THICK_SHARE = 0.7, 1.4
"""Shares of a full seeding, all crops together, outside which a plot is thin or wasteful; common practice."""
BRASSICAS_IN_A_ROW = 2
STRIP_SLACK = 1.1
"""A strip, each row with the ground of one row spacing, may pass the acres by this for measuring error."""


def purpose(field: FieldPlan) -> Iterator[Finding]:
    """A way of seeding serves some purposes and not others."""
    conversion = field.conversion
    sown = tables.seedings()[conversion.seeding]
    if conversion.purpose in sown.purposes:
        return
    fitting = [row.label.lower() for row in tables.seedings().values() if conversion.purpose in row.purposes]
    yield find(
        "purpose_seeding",
        conversion.field,
        f"{conversion.purpose}/{sown.key}",
        f"{conversion.field}: {sown.label.lower()} does not make {conversion.purpose}.",
        "Its steps and windows are those of another kind of cover.",
        f"Choose one of: {listing(fitting)}.",
    )


def plot(field: FieldPlan) -> Iterator[Finding]:
    """Season, rate and habits of the crops of a food plot."""
    if field.plot is None:
        return
    conversion = field.conversion
    name, season = conversion.field, tables.seedings()[conversion.seeding].crop_season
    astray = seasonless(conversion)
    if astray:
        yield find(
            "plot_season",
            name,
            ",".join(astray),
            f"{listing(astray)} on {name}: no {season} window is known.",
            "Sown out of season a crop freezes, burns up or never feeds anything.",
            "Choose the other season, take it out of the mix, or plant two plots.",
        )
    if field.plot.parted is not None:
        yield find(
            "plot_season",
            name,
            "/".join(field.plot.parted),
            f"{listing(field.plot.parted)} share no sowing day on {name}.",
            "One is sown before the other's window opens; the plan takes the first crop's.",
            "Plant two plots, or mix crops of the same weeks.",
        )
    shares = share_of_full(conversion, as_written(conversion, field.seed))
    whole = sum(shares.values())
    if shares and not THIN_SHARE <= whole <= THICK_SHARE:
        yield find(
            "plot_rate",
            name,
            field.seed.mix,
            f"The plot on {name} gets {100 * whole:.0f} % of a full seeding, all crops together.",
            "Each crop's rate over the middle of its printed rates, added up; about 100 % fills the ground. "
            + ("A thin plot fills with weeds." if whole < THIN_SHARE else "Crowded crops starve each other."),
            "Set each crop's pounds to its share of its full rate.",
        )
    told = [f"{crop.species}: {crop.caution}" for crop in crops(conversion) if crop.caution]
    if told:
        yield find(
            "plot_crops",
            name,
            ",".join(crop.species for crop in crops(conversion) if crop.caution),
            f"{name}: what to mind about its crops.",
            " ".join(told),
            "Tell the landowner; keep stock off where it says so.",
        )
    if "resow" in conversion.options:
        brassicas = [crop.species for crop in crops(conversion) if crop.feeds_as == "brassica"]
        if brassicas and field.seed_times > BRASSICAS_IN_A_ROW:
            yield find(
                "plot_rotation",
                name,
                ",".join(brassicas),
                f"{listing(brassicas)} would stand on {name} {field.seed_times} times running.",
                "Root disease builds up in brassicas after two years on the same ground.",
                "Sow them for two years at most, then a clover or a grain on this plot.",
            )
    elif "crop:annual" in conditions_met(conversion):
        yield find(
            "plot_once",
            name,
            "resow",
            f"The plot on {name} is sown once; its crops last one season.",
            "The years after it are in no step and no line of the estimate.",
            "Add the step that sows it again each year, or mix in a clover that lives on.",
        )


def plot_feeding(field: FieldPlan) -> Iterator[Finding]:
    """Soil test, lime and fertilizer of a food plot."""
    if field.plot is None:
        return
    conversion, test = field.conversion, field.conversion.soil_test
    name, plot = conversion.field, field.plot
    if test is None:
        yield find(
            "plot_soil_test",
            name,
            "soil test",
            f"No soil test is entered for the plot on {name}.",
            "Lime and fertilizer are left out of the plan and of the price.",
            "Send a soil sample in and enter what the laboratory writes.",
        )
        return
    sour = [crop.species for crop in crops(conversion) if test.ph is not None and test.ph < crop.ph_low]
    if sour and not test.lime_tons_per_acre:
        yield find(
            "plot_lime",
            name,
            ",".join(sour),
            f"The soil of {name} is sour at pH {test.ph:g} for {listing(sour)}, and no lime is planned.",
            "Below "
            + listing(f"{tables.plot_crops()[crop].ph_low:g} ({crop})" for crop in sour)
            + " fertilizer is mostly lost on them.",
            "Ask the laboratory for its tons of lime and enter them, or choose crops that bear it.",
        )
    short = [f"{nutrient} ({figure.value:.0f} lb/acre short)" for nutrient, figure in plot.short.items()]
    if short:
        lacking = listing(
            f"{nutrient} ({figure.value:.0f} lb/acre short)" for nutrient, figure in plot.short.items()
        )
        yield find(
            "plot_short",
            name,
            ",".join(plot.short),
            f"No listed fertilizer gives {name} all its {lacking}.",
            "Bags are taken so that nothing is overdone; what none can give alone is left short.",
            "List a fertilizer that carries it by itself.",
        )
    near = conversion.water_within_ft
    if near is not None and near < WATER_STRIP_FT and plot.fertilizer:
        yield find(
            "feed_near_water",
            name,
            "fertilizer",
            f"Fertilizer is planned on {name}, with water {near:g} ft away.",
            "Phosphorus and nitrogen that reach water feed algae.",
            "Leave an unfertilized strip as wide as state rules ask, and never spread before a storm.",
        )


def trees(field: FieldPlan) -> Iterator[Finding]:
    """Spacing, browse, lines overhead and habits of the trees and shrubs of a planting."""
    found, asked = field.trees, field.conversion.trees
    if found is None or asked is None:
        return
    name = field.conversion.field
    rows = [tables.woody()[line.species] for line in found.lines]
    apart = asked.plant_ft if asked.layout == "triangle" else min(asked.row_ft, asked.plant_ft)
    taken = asked.rows * asked.row_ft * asked.length_ft / SQFT_PER_ACRE
    if asked.layout == "strip" and taken > field.conversion.acres * STRIP_SLACK:
        yield find(
            "tree_strip_acres",
            name,
            "length_ft",
            f"The strip on {name} takes {taken:,.1f} acres of a field of {field.conversion.acres:,.6g}.",
            "Plants are counted by the rows, mowing and spraying by the acres: one of the two is a slip.",
            "Look at rows, spacing and length, and at the acres.",
        )
    crowded = [row for row in rows if apart < row.spacing_ft_low]
    if crowded:
        yield find(
            "tree_spacing",
            name,
            ",".join(row.common_name for row in crowded),
            f"{listing(row.common_name for row in crowded)} on {name}: {apart:g} ft apart is close.",
            "; ".join(
                f"{row.common_name}: {row.spacing_ft_low:g} to {row.spacing_ft_high:g} ft is usual"
                for row in crowded
            ),
            "Set them wider, or plan and price a thinning.",
        )
    open_to_deer = [row.common_name for row in rows if row.kind == "tree"]
    if open_to_deer and asked.tubes_pct == 0 and asked.fence_ft == 0:
        yield find(
            "tree_browse",
            name,
            ",".join(open_to_deer),
            f"{listing(open_to_deer)} on {name} would stand open to deer.",
            "Where deer are many, unprotected seedlings of mast trees are bitten back year after year.",
            "Plan tubes or a fence, or say why deer are no matter here.",
        )
    tall = [row.common_name for row in rows if row.kind == "tree"]
    if tall and field.conversion.power_lines:
        yield find(
            "tree_power_lines",
            name,
            ",".join(tall),
            f"{listing(tall)} would grow on {name}, which has power lines.",
            "Trees under a line are cut by the utility sooner or later.",
            "Keep trees out of the line's strip, set shrubs there, and ask the utility first.",
        )
    test = field.conversion.soil_test
    unfit = [row for row in rows if test and test.ph and not row.ph_low <= test.ph <= row.ph_high]
    if test and unfit:
        yield find(
            "tree_soil",
            name,
            ",".join(row.common_name for row in unfit),
            f"{listing(row.common_name for row in unfit)} on {name}: the soil is at pH {test.ph:g}.",
            "; ".join(f"{row.common_name}: pH {row.ph_low:g} to {row.ph_high:g}" for row in unfit),
            "Choose a species that bears this soil.",
        )
    told = [f"{row.common_name}: {row.caution}" for row in rows if row.caution]
    if told:
        yield find(
            "tree_habits",
            name,
            ",".join(row.common_name for row in rows if row.caution),
            f"{name}: what to mind about its trees and shrubs.",
            " ".join(told),
            "Tell the landowner, and choose another where it matters.",
        )
