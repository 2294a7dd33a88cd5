"""Type for what hangs on a wall: sizes that can be read where it hangs, in ink that needs no color."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

from reportlab.lib.styles import ParagraphStyle
from reportlab.pdfbase import pdfmetrics

from plans.documents.fonts import SANS, SANS_BOLD, SERIF_BOLD
from plans.documents.look import GREEN, H2, INK

LEAST_ARC_MIN = 16.0
"""Least height of a capital in minutes of arc. ISO 9241-3 and U.S. NRC NUREG-0700 section 1.3.1-4."""
ARMS_LENGTH_IN = 24.0
"""From the eye to a wall that a hand can touch [in]; common practice."""
LARGE_PT = 18.0
"""Large print: American Printing House for the Blind, Guidelines for Print Document Design (18 points)."""
LARGE_HEAD_PT = 22.0
"""A heading of large print: American Council of the Blind, Large Print Guidelines 2022."""
SIZES_PT = (11.0, 10.5, 10.0, 9.5, 9.0)
"""Of the plan on usual pages, the largest first that keeps a year on its page."""


def least_size_pt(distance_in: float, font: str = SANS) -> float:
    """Type whose capitals are `LEAST_ARC_MIN` high at that distance [pt].

    Height = 6.283 × distance × minutes / 21,600: U.S. NRC NUREG-0700, section 1.3.1-4.
    """
    capital_in = 6.283 * distance_in * LEAST_ARC_MIN / 21_600
    return capital_in * 72 / (pdfmetrics.getFont(font).face.capHeight / 1000)


@dataclass(frozen=True, slots=True)
class WallType:
    """Paragraph styles in proportion to the size of the text."""

    size: float
    large: bool
    title: ParagraphStyle
    head: ParagraphStyle
    body: ParagraphStyle
    line: ParagraphStyle
    """Of a list of steps."""
    bold: ParagraphStyle
    item: ParagraphStyle
    number: ParagraphStyle
    """The telephone number of the practice."""


@lru_cache(maxsize=16)
def wall_type(size: float, large: bool = False) -> WallType:
    """In large print no line is slanted, squeezed or in columns, and all of it is ink."""
    leading = size * (1.3 if large else 1.28)
    head = max(size * 1.18, LARGE_HEAD_PT if large else 0.0)
    title = head if large else size * 1.7

    def style(name: str, font: str, points: float, lead: float, **more: object) -> ParagraphStyle:
        values = {"textColor": INK, "splitLongWords": 1, "allowWidows": 0, "allowOrphans": 0} | more
        return ParagraphStyle(name, fontName=font, fontSize=points, leading=lead, **values)

    return WallType(
        size=size,
        large=large,
        title=style(H2.name, SERIF_BOLD, title, title * 1.2, spaceAfter=size * 0.4, textColor=GREEN),
        head=style(
            "head",
            SANS_BOLD,
            head,
            head * 1.25,
            spaceBefore=size * 0.8,
            spaceAfter=size * 0.2,
            keepWithNext=1,
        ),
        body=style("body", SANS, size, leading, spaceAfter=size * 0.3),
        line=style("line", SANS, size, leading),
        bold=style("bold", SANS_BOLD, size, leading),
        item=style(
            "item",
            SANS,
            size,
            leading,
            leftIndent=size,
            spaceAfter=size * (0.4 if large else 0.18),
            bulletFontName=SANS_BOLD,
            bulletFontSize=size,
        ),
        number=style("number", SERIF_BOLD, max(size * 2, 22.0), max(size * 2, 22.0) * 1.2),
    )
