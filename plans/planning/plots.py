"""Food plots: the window that the crops of one share, and what their soil test asks to be spread.

Sources: reference/plots.csv, plot_windows.csv and soil_test.csv; the laboratory's own recommendation goes
before the table's.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

from plans.planning import planting, tables
from plans.planning.figures import Figure, Term
from plans.planning.job import Climate, Conversion
from plans.planning.plan import FieldPlot
from plans.planning.planting import NUTRIENTS, Grade, Nutrient
from plans.planning.plants import PlotCrop
from plans.planning.season import moment_days
from plans.planning.tables import Step

SOWING_OPENS, SOWING_SHUTS = "sowing_opens", "sowing_shuts"
"""In reference/steps.csv these stand for the first and last day of the crops' own window."""
LAB_SOURCE = "the laboratory's recommendation, as entered"
MEAN_SOURCE = "each crop by its share of a full seeding; common practice"


@dataclass(frozen=True, slots=True)
class CropWindow:
    """First and last day for sowing a plot, each as a moment of the year and days from it."""

    opens: str
    opens_days: int
    closes: str
    closes_days: int
    parted: tuple[str, str] | None = None
    """The two crops that share no day, if so; the window is then the first crop's."""


USUAL = {
    "spring": CropWindow("last_freeze", 0, "last_freeze", 45),
    "fall": CropWindow("first_freeze", -60, "first_freeze", -30),
}
"""For a plot without any crop of the table, which is stopped anyway: common practice."""


def crops(conversion: Conversion) -> tuple[PlotCrop, ...]:
    """The crops of the plot that stand in reference/plots.csv, in the mix's order."""
    lines = conversion.mix.lines if conversion.mix else ()
    return tuple(tables.plot_crops()[line.species] for line in lines if line.species in tables.plot_crops())


def seasonless(conversion: Conversion) -> tuple[str, ...]:
    """Species of the mix that are not sown as a plot in the season chosen, by reference/plot_windows.csv."""
    season = tables.seedings()[conversion.seeding].crop_season
    lines = conversion.mix.lines if conversion.mix else ()
    return tuple(line.species for line in lines if (line.species, season) not in tables.plot_windows())


def crop_window(conversion: Conversion, climate: Climate) -> CropWindow | None:
    """The window that all crops of a plot share at a place, in the season of its seeding; None for no plot.

    Crops without a window in that season are passed over; a plot of such crops alone takes their other one.
    Source: reference/plot_windows.csv.
    """
    season = tables.seedings()[conversion.seeding].crop_season
    if not season:
        return None
    windows = tables.plot_windows()
    names = [crop.species for crop in crops(conversion)]
    other = "fall" if season == "spring" else "spring"
    rows = [windows[name, season] for name in names if (name, season) in windows] or [
        windows[name, other] for name in names if (name, other) in windows
    ]
    if not rows:
        return USUAL[season]
    days = moment_days(climate)
    last_to_open = max(rows, key=lambda row: days[row.opens] + row.opens_days)
    first_to_shut = min(rows, key=lambda row: days[row.closes] + row.closes_days)
    opens = days[last_to_open.opens] + last_to_open.opens_days
    shuts = days[first_to_shut.closes] + first_to_shut.closes_days
    parted = None
    if opens > shuts:
        parted = (first_to_shut.species, last_to_open.species)
        last_to_open = first_to_shut = rows[0]
    return CropWindow(
        last_to_open.opens,
        last_to_open.opens_days,
        first_to_shut.closes,
        first_to_shut.closes_days,
        parted,
    )


def dated(step: Step, window: CropWindow | None) -> Step:
    """The step with the crops' own window in place of the stand-ins of the table.

    A step of a plot in a field that is none, which is stopped anyway, takes the usual window of spring.
    """
    if not {step.opens, step.closes} & {SOWING_OPENS, SOWING_SHUTS}:
        return step
    window = window or USUAL["spring"]
    ends = {
        SOWING_OPENS: (window.opens, window.opens_days),
        SOWING_SHUTS: (window.closes, window.closes_days),
    }
    opens, opens_days = ends.get(step.opens, (step.opens, 0))
    closes, closes_days = ends.get(step.closes, (step.closes, 0))
    return replace(
        step,
        opens=opens,
        opens_days=step.opens_days + opens_days,
        closes=closes,
        closes_days=step.closes_days + closes_days,
    )


def share_of_full(conversion: Conversion, lb_per_acre: Sequence[tuple[str, float]]) -> dict[str, float]:
    """Each crop's share of its own full rate, the middle of the printed ones. Source: reference/plots.csv."""
    shares = {}
    for name, pounds in lb_per_acre:
        crop = tables.plot_crops().get(name)
        if crop is not None:
            shares[name] = pounds / ((crop.rate_lb_per_acre_low + crop.rate_lb_per_acre_high) / 2)
    return shares


def _table_need(conversion: Conversion, shares: dict[str, float]) -> dict[str, Figure]:
    test = conversion.soil_test
    levels = {"P2O5": test.phosphorus, "K2O": test.potassium} if test else {}
    by_crop = {
        name: planting.plot_need(name, levels["P2O5"] or "medium", levels["K2O"] or "medium")
        for name in shares
    }
    needs: dict[str, Figure] = {}
    for nutrient in NUTRIENTS:
        if nutrient != "N" and not levels.get(nutrient):
            continue
        terms = tuple(
            term
            for name, share in shares.items()
            for term in (Term(name, by_crop[name][nutrient].value, "lb/acre"), Term("share", round(share, 3)))
        )
        if nutrient == "N":
            value = sum(float(by_crop[name]["N"].value) * share for name, share in shares.items())
            value /= sum(shares.values())
            formula = "nitrogen of each crop × its share of a full seeding / all shares"
        else:
            value = max(float(by_crop[name][nutrient].value) for name in shares)
            formula = f"the highest {nutrient} that a crop of the plot asks for"
        source = next(iter(by_crop.values()))[nutrient].source
        needs[nutrient] = Figure(value, "lb/acre", formula, terms, f"{source}; {MEAN_SOURCE}")
    return needs


def needed(conversion: Conversion, shares: dict[str, float]) -> dict[str, Figure]:
    """N, P2O5 and K2O [lb/acre]: the laboratory's, else the table's by level; none without a test.

    Source: as entered; reference/soil_test.csv.
    """
    test = conversion.soil_test
    if test is None or not shares:
        return {}
    lab = {"N": test.n_lb_per_acre, "P2O5": test.p2o5_lb_per_acre, "K2O": test.k2o_lb_per_acre}
    found = _table_need(conversion, shares) | {
        nutrient: Figure(amount, "lb/acre", "as recommended", (), LAB_SOURCE)
        for nutrient, amount in lab.items()
        if amount is not None
    }
    return {nutrient: found[nutrient] for nutrient in NUTRIENTS if nutrient in found}


def _depths(found: Sequence[PlotCrop]) -> str:
    spans: dict[str, list[str]] = {}
    for crop in found:
        spans.setdefault(f"{crop.depth_in_low:g} to {crop.depth_in_high:g} in", []).append(crop.species)
    return "; ".join(f"{', '.join(names)} {span} deep" for span, names in spans.items())


def field_plot(
    conversion: Conversion,
    lb_per_acre: Sequence[tuple[str, float]],
    grades: Sequence[Grade],
    lime_ecce_pct: float | None,
    climate: Climate,
) -> FieldPlot | None:
    """What the plot is fed [lb/acre, tons/acre]; None for a field that is no plot.

    `lb_per_acre` is the mix as written, `grades` the fertilizers and `lime_ecce_pct` [%] the lime that the
    practice buys; without a lime the laboratory's tons stand. Source: as the figures say.
    """
    window = crop_window(conversion, climate)
    if window is None:
        return None
    found, test = crops(conversion), conversion.soil_test
    need = needed(conversion, share_of_full(conversion, lb_per_acre))
    wanted: dict[Nutrient, float] = {
        nutrient: float(need[nutrient].value) for nutrient in NUTRIENTS if nutrient in need
    }
    feed = planting.fertilizer(wanted, grades)
    lime = None
    if test is not None and test.lime_tons_per_acre:
        lime = planting.lime_tons(
            test.lime_tons_per_acre, test.lime_ecce_pct, lime_ecce_pct or test.lime_ecce_pct
        )
    return FieldPlot(
        field=conversion.field,
        crops=tuple(crop.species for crop in found),
        sown=_depths(found),
        parted=window.parted,
        need=need,
        fertilizer=dict(feed.products),
        short={name: figure for name, figure in feed.short.items() if float(figure.value) > 0.5},
        lime=lime,
    )
