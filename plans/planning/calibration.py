"""Setting a sprayer and a drill by what they let out: swaths, spots, refills, worn nozzles, the next gate."""

from __future__ import annotations

from collections.abc import Sequence

from plans.planning.figures import Figure, Term
from plans.planning.spray import FT_PER_MIN_PER_MPH

SQFT_PER_ACRE = 43_560
SWATH_CONSTANT = SQFT_PER_ACRE / FT_PER_MIN_PER_MPH
"""495: square feet in an acre over the feet that 1 mph covers in a minute."""
WORN_PCT = 10.0


def boomless_gal_per_acre(nozzle_gal_per_min: float, speed_mph: float, swath_ft: float) -> Figure:
    """Spray volume of a boomless nozzle or hand wand [gal/acre] = 495 × gal/min / (mph × swath in ft).

    Source: Mesa County and Albany County (Wyoming) weed districts.
    """
    return Figure(
        SWATH_CONSTANT * nozzle_gal_per_min / (speed_mph * swath_ft),
        "gal/acre",
        "495 × gal per minute / (mph × swath)",
        (
            Term("nozzle", nozzle_gal_per_min, "gal/min"),
            Term("speed", speed_mph, "mph"),
            Term("swath", swath_ft, "ft"),
        ),
        "495 equation: Mesa County and Albany County weed districts",
    )


def spot_gal_per_acre(gallons: float, sprayed_sqft: float) -> Figure:
    """Spray volume of spot or hand work [gal/acre] = 43,560 × gal / ft² sprayed at the usual wetting.

    Source: hand-sprayer note citing Virginia Cooperative Extension 456-502.
    """
    return Figure(
        SQFT_PER_ACRE * gallons / sprayed_sqft,
        "gal/acre",
        "43,560 × gal / ft² sprayed",
        (Term("sprayed", gallons, "gal"), Term("area", sprayed_sqft, "ft²")),
        "measured-plot method: hand-sprayer note citing Virginia Cooperative Extension 456-502",
    )


def refill_gal_per_acre(gallons: float, distance_ft: float, swath_ft: float) -> Figure:
    """Spray volume by the refill test [gal/acre] = gal to refill × 43,560 / (ft driven × swath in ft).

    Source: Florida pest control examination study pages, method II.
    """
    return Figure(
        gallons * SQFT_PER_ACRE / (distance_ft * swath_ft),
        "gal/acre",
        "gal to refill × 43,560 / (distance × swath)",
        (
            Term("refilled", gallons, "gal"),
            Term("distance", distance_ft, "ft"),
            Term("swath", swath_ft, "ft"),
        ),
        "refill method: Florida pest control examination study pages, p. 213",
    )


def nozzle_wear(ounces: Sequence[float]) -> dict[str, Figure | str | dict[str, Figure]]:
    """Each nozzle's catch against the mean of all [%]; more than 10 % off either way is to be replaced.

    `ounces` are fl oz caught in the same time. Source: University of Florida IFAS (10 % off the mean).
    Raises ValueError for fewer than two catches or when nothing was caught.
    """
    if len(ounces) < 2:
        raise ValueError(f"ounces: has {len(ounces)} catch; give one of each nozzle, two at the least")
    mean = sum(ounces) / len(ounces)
    if mean <= 0:
        raise ValueError("ounces: nothing was caught; give the fl oz of each nozzle")
    off = [100 * (caught - mean) / mean for caught in ounces]
    source = "replace a nozzle more than 10 % off the mean: University of Florida IFAS"
    worn = [str(number) for number, pct in enumerate(off, start=1) if abs(pct) > WORN_PCT + 1e-9]
    return {
        "mean_oz": Figure(mean, "fl oz", "sum / nozzles", (Term("nozzles", len(ounces)),), source),
        "replace": f"nozzle {', '.join(worn)}" if worn else "none",
        "off_pct": {
            str(number): Figure(
                pct,
                "%",
                "100 × (caught - mean) / mean",
                (Term("caught", caught, "fl oz"), Term("mean", mean, "fl oz")),
                source,
            )
            for number, (caught, pct) in enumerate(zip(ounces, off, strict=True), start=1)
        },
    }


def next_drill_setting(
    setting_before: float, catch_before: float, setting_last: float, catch_last: float, wanted: float
) -> Figure:
    """The drill setting to try next: the straight line through the last two, read at the wanted amount.

    setting [the drill's own scale] = last + (wanted - last catch) × (last - before) / (last catch - catch
    before); catches and `wanted` in one unit (g, or lb/acre). Source: the secant rule, any numerical-analysis
    text. Catch again at the new setting: fluffy seed does not flow in a straight line. Raises ValueError when
    two settings or two catches are the same, or when the line leads to no setting above zero.
    """
    if setting_before == setting_last:
        raise ValueError(f"setting_last: {setting_last:g} is the setting before; give two different ones")
    if catch_before == catch_last:
        raise ValueError(
            f"catch_last: {catch_last:g} is what the setting before gave, so the drill does not answer; "
            "look for bridged seed or a slipping wheel"
        )
    slope = (setting_last - setting_before) / (catch_last - catch_before)
    setting = setting_last + (wanted - catch_last) * slope
    if setting <= 0:
        raise ValueError(
            f"wanted: {wanted:g} lies below what any setting above zero gives on that line; change the gear "
            "or catch again"
        )
    return Figure(
        setting,
        "setting",
        "last + (wanted - last catch) × (last - before) / (last catch - catch before)",
        (
            Term("before", setting_before),
            Term("catch before", catch_before),
            Term("last", setting_last),
            Term("last catch", catch_last),
            Term("wanted", wanted),
        ),
        "secant rule (numerical analysis); catch again at the new setting",
    )
