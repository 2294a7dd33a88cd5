"""Stand counts by the frequency grid.

Source: Vogel and Masters 2001, Journal of Range Management 54:653-655 (plants/m² is at least 0.4 × frequency
%); pass marks: Schmer and others 2006, Crop Science 46:157-161, and NDSU (25 % conservation, 40 % forage).
"""

from __future__ import annotations

from plans.planning.figures import Figure, Term

PLANTS_PER_M2_PER_PCT = 0.4
SQFT_PER_M2 = 10.763910416709722
GRID_SOURCE = "Vogel and Masters 2001, Journal of Range Management 54:653-655"
MARKS_SOURCE = "Schmer and others 2006, Crop Science 46:157-161; NDSU switchgrass report 2004"
FORAGE_PCT = 40.0
CONSERVATION_PCT = 25.0


def verdict(frequency_pct: float) -> str:
    """What a frequency [%] at the end of a season means in words. Source: Schmer 2006; NDSU 2004."""
    if frequency_pct >= FORAGE_PCT:
        return "enough for forage and for cover"
    if frequency_pct >= CONSERVATION_PCT:
        return "enough for cover; thin for forage, and it can fill in without reseeding"
    return "thin: needs more, perhaps overseeding; judge no sooner than the end of the first season"


def frequency_grid(hits: int, cells: int) -> dict[str, Figure | str]:
    """Frequency [%], plants/m², plants/ft² and a verdict from cells with a seeded plant of cells looked at.

    Source: Vogel and Masters 2001; the density is a conservative figure. Raises ValueError when more cells
    are hit than were looked at.
    """
    if hits > cells:
        raise ValueError(f"hits: {hits} is more than the {cells} cells looked at")
    frequency = 100 * hits / cells
    dense = PLANTS_PER_M2_PER_PCT * frequency
    inputs = (Term("cells hit", hits), Term("cells looked at", cells))
    return {
        "frequency_pct": Figure(frequency, "%", "100 × cells hit / cells looked at", inputs, GRID_SOURCE),
        "plants_per_m2": Figure(
            dense, "plants/m²", "0.4 × frequency %", (Term("frequency", frequency, "%"),), GRID_SOURCE
        ),
        "plants_per_sqft": Figure(
            dense / SQFT_PER_M2,
            "plants/ft²",
            "plants per m² / 10.764",
            (Term("density", dense, "plants/m²"),),
            GRID_SOURCE,
        ),
        "verdict": verdict(frequency),
    }
