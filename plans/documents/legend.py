"""The legend of a map in print: its numbers and signs with what they stand for."""

from __future__ import annotations

from collections.abc import Sequence

from reportlab.platypus import Table

from plans.documents.fonts import SANS
from plans.documents.look import CELL_SMALL, FINE, FINE_BOLD, p
from plans.documents.map_sheet import Line, mark_drawing

MARK_WIDE, ACRES_WIDE = 18.0, 120.0
STACKED_BELOW = 260.0
"""A narrower legend has acres behind the words."""


def legend_table(lines: Sequence[Line], wide: float) -> Table:
    """As many rows as lines, `wide` pt across."""
    stacked = wide < STACKED_BELOW
    rows = []
    for line in lines:
        quiet = line.mark == "" and not line.total
        style = FINE_BOLD if line.total else CELL_SMALL if quiet else FINE
        mark = mark_drawing(line.mark) if line.mark else ""
        if stacked:
            rows.append([mark, p(f"{line.text}: {line.acres}" if line.acres else line.text, style)])
        else:
            rows.append([mark, p(line.text, style), line.acres])
    widths = (
        [MARK_WIDE, wide - MARK_WIDE] if stacked else [MARK_WIDE, wide - MARK_WIDE - ACRES_WIDE, ACRES_WIDE]
    )
    return Table(
        rows,
        colWidths=widths,
        style=[
            ("FONT", (0, 0), (-1, -1), SANS),
            ("VALIGN", (0, 0), (-1, -1), "TOP"),
            ("LEFTPADDING", (0, 0), (-1, -1), 0),
            ("RIGHTPADDING", (0, 0), (-1, -1), 0),
            ("TOPPADDING", (0, 0), (-1, -1), 0.5),
            ("BOTTOMPADDING", (0, 0), (-1, -1), 1.5),
            *([] if stacked else [("ALIGN", (2, 0), (2, -1), "RIGHT"), ("FONT", (2, 0), (2, -1), SANS, 8.3)]),
        ],
        hAlign="LEFT",
    )
