"""The air on a spray day: wet bulb and Delta T. The label decides; a figure here is no permission."""

from __future__ import annotations

import math

from plans.planning.figures import Figure, Term


def wet_bulb_c(temp_c: float, humidity_pct: float) -> float:
    """Wet-bulb temperature [°C] from air [°C] and relative humidity [%], near sea-level pressure.

    Fitted for -20 to 50 °C and 5 to 99 %. Source: Stull 2011, Journal of Applied Meteorology and
    Climatology 50:2267-2269.
    """
    return float(
        temp_c * math.atan(0.151977 * (humidity_pct + 8.313659) ** 0.5)
        + math.atan(temp_c + humidity_pct)
        - math.atan(humidity_pct - 1.676331)
        + 0.00391838 * humidity_pct**1.5 * math.atan(0.023101 * humidity_pct)
        - 4.686035
    )


def delta_t(temp_f: float, humidity_pct: float) -> Figure:
    """Delta T [°C]: dry bulb less wet bulb. 2 to 8 is the usual range for spraying, over 10 is avoided.

    Source: Stull 2011 for the wet bulb; the bands are an Australian guideline (GRDC), not a US label rule.
    """
    temp_c = (temp_f - 32) / 1.8
    wet = wet_bulb_c(temp_c, humidity_pct)
    return Figure(
        temp_c - wet,
        "°C",
        "dry bulb - wet bulb",
        (
            Term("air", temp_f, "°F"),
            Term("air", temp_c, "°C"),
            Term("humidity", humidity_pct, "%"),
            Term("wet bulb", wet, "°C"),
        ),
        "wet bulb: Stull 2011, Journal of Applied Meteorology and Climatology 50:2267",
    )
