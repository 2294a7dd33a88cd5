"""The price by year as a table of figures, with only the columns that carry an amount."""

from __future__ import annotations

from dataclasses import dataclass

from plans.planning.figures import Figure
from plans.planning.plan import CATEGORIES, Estimate, YearPrice

PARTS = (*CATEGORIES, "contingency", "discount", "tax")


@dataclass(frozen=True, slots=True)
class YearRow:
    """A row of the price by year: a figure for each part that is not nothing, and the total."""

    label: str
    phase: str
    cells: tuple[tuple[str, Figure | None], ...]
    """Head and figure of each column."""
    total: Figure


@dataclass(frozen=True, slots=True)
class YearTable:
    heads: tuple[str, ...]
    rows: tuple[YearRow, ...]
    total: YearRow


def year_table(estimate: Estimate) -> YearTable:
    used = tuple(part for part in PARTS if any(getattr(year, part).dollars for year in estimate.years))

    def row(label: str, year: YearPrice) -> YearRow:
        figures: dict[str, Figure] = {part: getattr(year, part) for part in used}
        cells = tuple(
            (part.capitalize(), figure if figure.dollars else None) for part, figure in figures.items()
        )
        return YearRow(label=label, phase=year.phase, cells=cells, total=year.total)

    return YearTable(
        heads=tuple(part.capitalize() for part in used),
        rows=tuple(row(str(year.year), year) for year in estimate.years),
        total=row("All years", estimate.total),
    )
