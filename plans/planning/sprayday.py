"""The air on a spray day: wet bulb, Delta T, and go, wait or no. The label decides; this is no permission."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass
from functools import lru_cache
from typing import Literal

from plans.planning import tables
from plans.planning.cells import Key, Source
from plans.planning.figures import Figure, Term

Cloud = Literal["clear", "partly cloudy", "overcast"]
Verdict = Literal["go", "wait", "no"]
VERDICTS: tuple[Verdict, ...] = ("go", "wait", "no")
LABEL = "Nothing read here stands against it. The label and your own eyes decide."


@dataclass(frozen=True, slots=True)
class Limit:
    key: Key
    value: float
    unit: Key
    source: Source


@lru_cache(maxsize=1)
def _limits() -> dict[str, Limit]:
    return dict(tables.keyed("spray_day", Limit, "key"))


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


@dataclass(frozen=True, slots=True, kw_only=True)
class Air:
    """What is read before the boom opens. Hours are of the clock, 0 to 24, all of the same clock."""

    temp_f: float
    humidity_pct: float
    wind_mph: float
    cloud: Cloud
    hour: float
    sunrise_hour: float | None = None
    sunset_hour: float | None = None
    label_wind_max_mph: float | None = None
    """The label's own wind limit, which goes before every limit here."""
    ester: bool = False
    smoke_or_fog_hangs: bool = False


Reason = tuple[Verdict, str, str]
"""What it makes of the day, the limit it rests on, and why in words."""


def _wind(air: Air) -> Iterator[Reason]:
    limits = _limits()
    floor, ceiling, stop = (limits[key].value for key in ("wind_floor", "wind_ceiling", "wind_stop"))
    if air.wind_mph < floor:
        sky = " Under a clear sky that is how an inversion feels." if air.cloud == "clear" else ""
        yield (
            "wait",
            "wind_floor",
            f"Wind {air.wind_mph:g} mph is under {floor:g}: fine drops hang and drift as a cloud.{sky}",
        )
    if air.label_wind_max_mph is not None:
        if air.wind_mph > air.label_wind_max_mph:
            yield (
                "no",
                "wind_stop",
                f"Wind {air.wind_mph:g} mph is over the label's {air.label_wind_max_mph:g}.",
            )
    elif air.wind_mph > stop:
        yield "no", "wind_stop", f"Wind {air.wind_mph:g} mph is over {stop:g}; drops leave the field."
    elif air.wind_mph > ceiling:
        yield (
            "wait",
            "wind_ceiling",
            f"Wind {air.wind_mph:g} mph is over {ceiling:g}; printed limits are 8, 10 and 15, and the "
            "lowest is taken until the label's own is given.",
        )


def wind_cautions(wind_mph: float | None, cloud: str | None = None) -> tuple[str, ...]:
    """What stands against a wind [mph] by reference/spray_day.csv; nothing where it is unknown."""
    if wind_mph is None:
        return ()
    clear: Cloud = "clear" if cloud == "clear" else "overcast"
    air = Air(temp_f=60.0, humidity_pct=50.0, wind_mph=wind_mph, cloud=clear, hour=12.0)
    return tuple(words for _, _, words in _wind(air))


def _inversion(air: Air) -> Iterator[Reason]:
    limits = _limits()
    opens = (
        limits["first_hour"].value
        if air.sunrise_hour is None
        else air.sunrise_hour + limits["after_sunrise"].value
    )
    shuts = (
        limits["last_hour"].value
        if air.sunset_hour is None
        else air.sunset_hour - limits["before_sunset"].value
    )
    if air.smoke_or_fog_hangs:
        yield "no", "layered", "Smoke or fog hangs: the air is layered and drift goes far."
    if not opens <= air.hour <= shuts:
        key = "after_sunrise" if air.hour < opens else "before_sunset"
        yield (
            "wait",
            key,
            f"At hour {air.hour:g} an inversion may lie; air is mostly mixed from {opens:g} to {shuts:g}.",
        )


def _heat(air: Air) -> Iterator[Reason]:
    limits = _limits()
    if air.temp_f <= limits["frozen"].value:
        yield "no", "frozen", f"At {air.temp_f:g} °F leaf and nozzle freeze; nothing is taken up."
    elif air.temp_f < limits["cold"].value:
        yield (
            "wait",
            "cold",
            f"At {air.temp_f:g} °F plants take up little; {limits['cold'].value:g} is the usual floor.",
        )
    if air.temp_f > limits["hot"].value:
        yield "no", "hot", f"At {air.temp_f:g} °F drops dry in the air and products vaporize."
    elif air.ester and air.temp_f > limits["hot_ester"].value:
        yield (
            "no",
            "hot_ester",
            f"An ester turns to vapor above {limits['hot_ester'].value:g} °F and moves off the field.",
        )
    elif air.temp_f > limits["warm"].value:
        yield "wait", "warm", f"{air.temp_f:g} °F is over {limits['warm'].value:g}; wait for cooler air."


def _moisture(air: Air) -> Iterator[Reason]:
    limits = _limits()
    gap = float(delta_t(air.temp_f, air.humidity_pct).value)
    if air.humidity_pct < limits["humidity_low"].value:
        yield "wait", "humidity_low", f"Humidity {air.humidity_pct:g} % dries drops before they land."
    if air.humidity_pct > limits["humidity_high"].value:
        yield "wait", "humidity_high", f"Humidity {air.humidity_pct:g} %: leaves are wet and drops hang."
    if gap > limits["delta_t_stop"].value:
        yield "no", "delta_t_stop", f"Delta T {gap:.1f} °C is over 10; drops shrink and drift."
    elif gap > limits["delta_t_high"].value:
        yield "wait", "delta_t_high", f"Delta T {gap:.1f} °C is over 8; wait, or use coarser drops."
    elif gap < limits["delta_t_low"].value:
        yield "wait", "delta_t_low", f"Delta T {gap:.1f} °C is under 2; drops last long and may hang."


def spray_day(air: Air) -> dict[str, Figure | str | dict[str, dict[str, str]]]:
    """Go, wait or no, with every reason and the source of its limit, and Delta T [°C].

    Source: the rows of reference/spray_day.csv; where they disagree the cautious one is taken, and a wind
    limit of the label goes before them. The worst reason decides. Nothing here is a permission. Raises
    ValueError when the sun sets before it rises.
    """
    rise, fall = air.sunrise_hour, air.sunset_hour
    if rise is not None and fall is not None and fall <= rise:
        raise ValueError(f"sunset_hour: {fall:g} is not later than sunrise_hour {rise:g}")
    reasons = [reason for rule in (_wind, _inversion, _heat, _moisture) for reason in rule(air)]
    worst = max((VERDICTS.index(verdict) for verdict, _, _ in reasons), default=0)
    return {
        "verdict": VERDICTS[worst],
        "reasons": {key: {"why": words, "source": _limits()[key].source} for _, key, words in reasons}
        or {"none": {"why": LABEL, "source": "the product label"}},
        "delta_t": delta_t(air.temp_f, air.humidity_pct),
    }
