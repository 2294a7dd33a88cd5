"""Soil loss: the factors of the universal soil loss equation, for comparing ways of working the same field.

USLE: Wischmeier and Smith 1978, USDA Agriculture Handbook 537. RUSLE: Renard and others 1997, USDA
Agriculture Handbook 703. Their slope factors differ by half on steep ground and are never mixed. Agencies
use later tools: these figures compare choices and prove nothing to a program.
"""

from __future__ import annotations

import math

from plans.planning.figures import Figure, Term

UNIT_LENGTH_FT = 72.6
USLE = "USDA Agriculture Handbook 537 (Wischmeier and Smith 1978)"
RUSLE = "USDA Agriculture Handbook 703 (Renard and others 1997), moderate rill erosion"
STEEP_BREAK_PCT = 9.0
SHORT_SLOPE_FT = 15.0


def _inputs(slope_pct: float, slope_length_ft: float) -> tuple[Term, Term]:
    return Term("slope", slope_pct, "%"), Term("length", slope_length_ft, "ft")


def ls_usle(slope_pct: float, slope_length_ft: float) -> Figure:
    """Length-slope factor [no unit], USLE: (length / 72.6)^m × (65.41 s² + 4.56 s + 0.065), s the sine.

    m is 0.5 from 5 %, 0.4 from 3.5 %, 0.3 from 1 %, else 0.2. Source: Agriculture Handbook 537.
    """
    power = 0.5 if slope_pct >= 5 else 0.4 if slope_pct >= 3.5 else 0.3 if slope_pct >= 1 else 0.2
    sine = math.sin(math.atan(slope_pct / 100))
    value = (slope_length_ft / UNIT_LENGTH_FT) ** power * (65.41 * sine**2 + 4.56 * sine + 0.065)
    return Figure(
        value,
        "LS",
        f"(length / 72.6)^{power:g} × (65.41 sin² + 4.56 sin + 0.065)",
        _inputs(slope_pct, slope_length_ft),
        USLE,
    )


def ls_rusle(slope_pct: float, slope_length_ft: float) -> Figure:
    """Length-slope factor [no unit], RUSLE: (length / 72.6)^m × S.

    m = b / (1 + b), b = (s / 0.0896) / (3 s^0.8 + 0.56), s the sine of the slope. S = 10.8 s + 0.03 under
    9 %, 16.8 s - 0.50 from 9 %, 3 s^0.8 + 0.56 under 15 ft. Source: Agriculture Handbook 703, moderate ratio
    of rill to interrill erosion.
    """
    sine = math.sin(math.atan(slope_pct / 100))
    ratio = (sine / 0.0896) / (3 * sine**0.8 + 0.56)
    power = ratio / (1 + ratio)
    if slope_length_ft < SHORT_SLOPE_FT:
        steepness, words = 3 * sine**0.8 + 0.56, "(3 sin^0.8 + 0.56)"
    elif slope_pct < STEEP_BREAK_PCT:
        steepness, words = 10.8 * sine + 0.03, "(10.8 sin + 0.03)"
    else:
        steepness, words = 16.8 * sine - 0.50, "(16.8 sin - 0.50)"
    return Figure(
        (slope_length_ft / UNIT_LENGTH_FT) ** power * steepness,
        "LS",
        f"(length / 72.6)^{power:.3f} × {words}",
        _inputs(slope_pct, slope_length_ft),
        RUSLE,
    )


def ls_factor(slope_pct: float, slope_length_ft: float) -> dict[str, Figure]:
    """Both length-slope factors [no unit]. Source: USDA Agriculture Handbooks 537 (USLE) and 703 (RUSLE)."""
    return {"usle": ls_usle(slope_pct, slope_length_ft), "rusle": ls_rusle(slope_pct, slope_length_ft)}


def soil_loss(
    r: float, k: float, slope_pct: float, slope_length_ft: float, c: float, p: float
) -> dict[str, Figure]:
    """Mean yearly soil loss [tons/acre/year] = R × K × LS × C × P, by the LS of each.

    Source: USDA Agriculture Handbooks 537 (USLE) and 703 (RUSLE).

    R in hundreds of ft-tonf·in/(acre·h·year), K in tons/acre per unit of R; C and P have no unit.
    """
    result = {}
    for method, factor in ls_factor(slope_pct, slope_length_ft).items():
        result[method] = Figure(
            r * k * float(factor.value) * c * p,
            "tons/acre/year",
            "R × K × LS × C × P",
            (Term("R", r), Term("K", k), Term("LS", float(factor.value)), Term("C", c), Term("P", p)),
            factor.source,
        )
    return result
