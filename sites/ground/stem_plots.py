"""Woody stems an acre from counts in small circles."""

from __future__ import annotations

import math
from dataclasses import dataclass

from sites.ground.errors import GroundError

PLOT_ACRES = 0.01
SQFT_PER_ACRE = 43_560
PLOT_RADIUS_FT = math.sqrt(PLOT_ACRES * SQFT_PER_ACRE / math.pi)
"""11.78 ft."""
SOURCE = (
    "fixed-radius plots, area = π r²: Alabama extension, Fixed-Radius Plots as Inventory Method in "
    "Southern Forests (seen); each stem stands for one over the plots' acres: University of Missouri, "
    "Natural Resource Biometrics (seen); 1/100 acre for brush: forestry handbooks [from memory]"
)


@dataclass(frozen=True, slots=True)
class Stems:
    per_acre: float
    working: str
    source: str = SOURCE


def stems_per_acre(stems: float, plots: int) -> Stems:
    """Stems counted in all of `plots` circles of 1/100 acre [stems/acre]. Raises GroundError for no plot.

    Source: `SOURCE`.
    """
    if plots < 1:
        raise GroundError("Stems are counted in at least one plot. Say in how many.", "plots")
    per_acre = stems / (plots * PLOT_ACRES)
    circles = "plot" if plots == 1 else "plots"
    working = (
        f"{stems:g} stems / ({plots} {circles} × {PLOT_ACRES:g} acre, a circle of {PLOT_RADIUS_FT:.2f} ft "
        f"radius) = {per_acre:,.0f} stems an acre"
    )
    return Stems(per_acre, working)
