"""US customary amounts as metric ones: single values, and amounts that stand within a text.

Factors: NIST Special Publication 811 (2008), Appendix B.8, as published there; those of a unit over another
are the quotient of the two.
"""

from __future__ import annotations

from dataclasses import dataclass

SQUARE_FOOT_M2 = 9.290304e-2
ACRE_HA = 4.046873e-1
INCH_CM = 2.54
FOOT_M = 3.048e-1
YARD_M = 9.144e-1
MILE_KM = 1.609344
POUND_KG = 4.535924e-1
OUNCE_G = 2.834952e1
SHORT_TON_T = 9.071847e-1
GALLON_L = 3.785412
QUART_L = 9.463529e-1
PINT_L = 4.731765e-1
FLUID_OUNCE_ML = 2.957353e1
PSI_KPA = 6.894757
HORSEPOWER_KW = 7.456999e-1
"""Of 550 ft·lbf a second."""
FAHRENHEIT_ZERO, FAHRENHEIT_PER_CELSIUS = 32.0, 1.8


@dataclass(frozen=True, slots=True)
class Metric:
    """The metric unit that stands for a US customary one, and the way there: (value - zero) × factor."""

    unit: str
    factor: float
    zero: float = 0.0

    def value(self, us: float) -> float:
        return (us - self.zero) * self.factor


SMALL = {"mL": "L", "g": "kg", "mL/ha": "L/ha", "g/ha": "kg/ha"}
"""A thousand of a small unit is one of a large one."""
METRIC: dict[str, Metric] = {
    "acre": Metric("ha", ACRE_HA),
    "lb": Metric("kg", POUND_KG),
    "oz": Metric("g", OUNCE_G),
    "ton": Metric("t", SHORT_TON_T),
    "gal": Metric("L", GALLON_L),
    "qt": Metric("L", QUART_L),
    "pt": Metric("L", PINT_L),
    "fl oz": Metric("mL", FLUID_OUNCE_ML),
    "in": Metric("cm", INCH_CM),
    "ft": Metric("m", FOOT_M),
    "yd": Metric("m", YARD_M),
    "mile": Metric("km", MILE_KM),
    "mph": Metric("km/h", MILE_KM),
    "°F": Metric("°C", 1 / FAHRENHEIT_PER_CELSIUS, FAHRENHEIT_ZERO),
    "psi": Metric("kPa", PSI_KPA),
    "hp": Metric("kW", HORSEPOWER_KW),
    "ft²": Metric("m²", SQUARE_FOOT_M2),
    "acre/h": Metric("ha/h", ACRE_HA),
    "lb/acre": Metric("kg/ha", POUND_KG / ACRE_HA),
    "oz/acre": Metric("g/ha", OUNCE_G / ACRE_HA),
    "tons/acre": Metric("t/ha", SHORT_TON_T / ACRE_HA),
    "gal/acre": Metric("L/ha", GALLON_L / ACRE_HA),
    "qt/acre": Metric("L/ha", QUART_L / ACRE_HA),
    "pt/acre": Metric("L/ha", PINT_L / ACRE_HA),
    "fl oz/acre": Metric("mL/ha", FLUID_OUNCE_ML / ACRE_HA),
    "seeds/ft²": Metric("seeds/m²", 1 / SQUARE_FOOT_M2),
    "plants/ft²": Metric("plants/m²", 1 / SQUARE_FOOT_M2),
    "plants/acre": Metric("plants/ha", 1 / ACRE_HA),
    "stems/acre": Metric("stems/ha", 1 / ACRE_HA),
    "$/acre": Metric("$/ha", 1 / ACRE_HA),
    "$/lb": Metric("$/kg", 1 / POUND_KG),
}


def in_metric(value: float, unit: str) -> tuple[float, str] | None:
    """The amount in metric measure, in the larger unit from a thousand on; None where it has none."""
    if (metric := METRIC.get(unit)) is None:
        return None
    found = metric.value(value)
    if abs(found) >= 1000 and metric.unit in SMALL:
        return found / 1000, SMALL[metric.unit]
    return found, metric.unit
