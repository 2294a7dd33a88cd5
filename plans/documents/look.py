"""Colours, paragraph styles and the one kind of table used in print."""

from __future__ import annotations

from collections.abc import Collection, Sequence

from reportlab.graphics.shapes import Drawing
from reportlab.lib.colors import Color, HexColor
from reportlab.lib.enums import TA_RIGHT
from reportlab.lib.styles import ParagraphStyle
from reportlab.pdfbase import pdfmetrics
from reportlab.platypus import CondPageBreak, Flowable, Paragraph, Spacer, Table

from plans.documents import fonts
from plans.documents.colours import Palette, palette_of, parts
from plans.documents.fonts import SANS, SANS_BOLD, SERIF, SERIF_BOLD, SERIF_ITALIC, markup
from plans.documents.manner import in_force, sheet


def palette() -> Palette:
    """The colours of the look in force."""
    look = in_force().look
    return palette_of(look.main, look.accent)


def foot(usual: str) -> str:
    """What stands at the foot of a client's pages."""
    return in_force().look.foot.strip() or usual


class _OwnColour(Color):
    """A colour of the palette in force when something is drawn in it, not when it was named."""

    alpha = 1

    def __init__(self, name: str):
        self.name = name

    def __reduce__(self) -> tuple[type[_OwnColour], tuple[str]]:
        return _OwnColour, (self.name,)

    @property
    def hex(self) -> str:
        return str(getattr(palette(), self.name))

    red = property(lambda self: parts(self.hex)[0])
    green = property(lambda self: parts(self.hex)[1])
    blue = property(lambda self: parts(self.hex)[2])


INK = HexColor("#20241f")
QUIET = HexColor("#5b6157")
GREEN = _OwnColour("main")
STRAW = _OwnColour("fill")
STRAW_DARK = _OwnColour("accent")
STRAW_WASH = _OwnColour("wash")
"""Named as they are in the house's own colours."""
RULE = HexColor("#d8d3c4")
WHITE = HexColor("#ffffff")

TEXT_WIDTH = 468.0
"""Width of the text on an upright page [pt], whatever the paper."""
FOOT_FONT, FOOT_SIZE = SANS, 8.0
FOOT_WIDE = TEXT_WIDTH - 90
"""Room for words at the foot of an upright page, beside the page number [pt]."""
HEAD_ROOM = 72.0
FOOT_ROOM = 68.0


def text_height() -> float:
    """Height of the text on an upright page [pt]."""
    return sheet()[1] - HEAD_ROOM - FOOT_ROOM


def _style(name: str, font: str, size: float, leading: float, **more: object) -> ParagraphStyle:
    return ParagraphStyle(
        name, fontName=font, fontSize=size, leading=leading, **{"textColor": INK, "splitLongWords": 1} | more
    )


BODY = _style("body", SANS, 10, 14.5, spaceAfter=6, allowWidows=0, allowOrphans=0)
LETTER = _style("letter", SERIF, 10.4, 14.8, spaceAfter=7, allowWidows=0, allowOrphans=0)
LETTER_TIGHT = _style("letter tight", SERIF, 10.4, 14.8)
SUBJECT = _style("subject", SERIF_BOLD, 13.5, 18, spaceBefore=4, spaceAfter=9, textColor=GREEN)
PRACTICE = _style("practice", SERIF_BOLD, 17, 20, textColor=GREEN)
H2 = _style("section", SERIF_BOLD, 16, 20, spaceBefore=14, spaceAfter=4, textColor=GREEN)
H3 = _style("part", SERIF_BOLD, 12, 15, spaceBefore=10, spaceAfter=4)
H3_FINE = _style("fine part", SERIF_BOLD, 11, 13, spaceBefore=6, spaceAfter=2)
YEAR = _style("year", SERIF_BOLD, 10.5, 13)
H4 = _style("step", SANS_BOLD, 9.5, 13, spaceBefore=9, spaceAfter=1, textColor=STRAW_DARK)
SMALL = _style("small", SANS, 8.6, 12, spaceAfter=4, textColor=QUIET, allowWidows=0, allowOrphans=0)
SMALL_RIGHT = _style("small right", SANS, 8.6, 12, alignment=TA_RIGHT, textColor=QUIET)
CELL = _style("cell", SANS, 9.2, 12.4)
CELL_BOLD = _style("cell bold", SANS_BOLD, 9.2, 12.4)
CELL_SMALL = _style("cell small", SANS, 8.3, 11, textColor=QUIET)
FINE = _style("fine", SANS, 8.3, 11)
FINE_BOLD = _style("fine bold", SANS_BOLD, 8.3, 11)
FINEST = _style("finest", SANS, 7.6, 9.2)
FINEST_BOLD = _style("finest bold", SANS_BOLD, 7.6, 9.2)
DATES = _style("dates", SERIF_ITALIC, 9, 12.4)
HEAD = _style("head", SANS, 8.2, 10, textColor=QUIET)
HEAD_RIGHT = _style("head right", SANS, 8.2, 10, textColor=QUIET, alignment=TA_RIGHT)


def p(text: str, style: ParagraphStyle = BODY) -> Paragraph:
    """A paragraph of plain text."""
    return Paragraph(markup(text, style.fontName), style)


def rich(*parts: str, style: ParagraphStyle = BODY) -> Paragraph:
    """A paragraph of ready parts: `plain`, `strong`, `quiet`."""
    return Paragraph("".join(parts), style)


def plain(text: str, font: str = SANS) -> str:
    return markup(text, font)


def strong(text: str, font: str = SANS_BOLD) -> str:
    return f'<font name="{font}">{markup(text, font)}</font>'


def quiet(text: str, font: str = SANS) -> str:
    return f'<font color="{QUIET.hexval().replace("0x", "#")}">{markup(text, font)}</font>'


def paragraphs(text: str, style: ParagraphStyle = BODY) -> list[Flowable]:
    """A longer text as typed: one paragraph per line, so that any length flows over pages."""
    return [p(line, style) for line in fonts.clean(text).split("\n") if line.strip()]


def section(title: str, room: float = 130) -> list[Flowable]:
    """A section heading that moves on when less than `room` [pt] is left on the page."""
    return [CondPageBreak(room), p(title, H2)]


def high(flowables: Sequence[Flowable]) -> float:
    """What flowables beneath each other take of a page, with the space between them [pt]."""
    room = text_height()
    return sum(
        one.wrap(TEXT_WIDTH, room)[1] + one.getSpaceBefore() + one.getSpaceAfter() for one in flowables
    )


def part(title: str, room: float = 90, style: ParagraphStyle = H3) -> list[Flowable]:
    return [CondPageBreak(room), p(title, style)]


def gap(height: float) -> Spacer:
    return Spacer(1, height)


def beside(text: Paragraph, right: Drawing, wide: float) -> list[Flowable]:
    """A line of text with a drawing at its right end, or below it where both do not fit `wide` [pt]."""
    style = text.style
    if fonts.width(text.getPlainText(), style.fontName, style.fontSize) + right.width + 8 > wide:
        return [text, right]
    bare = [(f"{side}PADDING", (0, 0), (-1, -1), 0) for side in ("LEFT", "RIGHT", "TOP", "BOTTOM")]
    look = [*bare, ("VALIGN", (0, 0), (-1, -1), "TOP"), ("FONT", (0, 0), (-1, -1), SANS)]
    return [Table([[text, right]], colWidths=[wide - right.width, right.width], style=look, hAlign="LEFT")]


class _Table(Table):
    """Breaks between rows; inside a row only when a page of its own would not hold the row."""

    def split(self, availWidth: float, availHeight: float) -> list[Flowable]:
        self._calc(availWidth, availHeight)
        between = self._splitRows(availHeight, doInRowSplit=False)
        if between or availHeight < 0.75 * text_height():
            return between
        self._nosplitCmds: list[tuple] = []
        self._rowNoSplitCells: list[tuple] = []
        return self._splitRows(availHeight, doInRowSplit=True)


def table(
    head: Sequence[str],
    rows: Sequence[Sequence[object]],
    widths: Sequence[float],
    *,
    numbers: Collection[int] = (),
    totals: int = 0,
    ruled: bool = True,
    text: ParagraphStyle = CELL,
    tight: bool = False,
    extra: Sequence[tuple] = (),
) -> Table:
    """Rows under thin rules; the head repeats on each page and a tall row splits.

    `numbers` are right-aligned columns of tabular figures, `totals` the last rows set as sums.
    String cells are printed as they are, without markup or wrapping; use paragraphs for words, in the
    style `text`, so that figures and words stand on one line.
    """
    last = len(widths) - 1
    above, below = (1.6, 2.2) if tight else (3.2, 4)
    size, leading = text.fontSize + 0.2, text.leading
    # Paragraphs stand on their font's ascent, strings on their size: bring both to one line.
    level = above + pdfmetrics.getAscent(text.fontName, text.fontSize) - size
    top = [p(word, HEAD_RIGHT if i in numbers else HEAD) for i, word in enumerate(head)] if head else []
    body = [*([top] if top else []), *[list(row) for row in rows]]
    first = 1 if top else 0
    style: list[tuple] = [
        ("VALIGN", (0, 0), (-1, -1), "TOP"),
        ("FONT", (0, 0), (-1, -1), SERIF, size, leading),
        ("TEXTCOLOR", (0, 0), (-1, -1), INK),
        ("LEFTPADDING", (0, 0), (-1, -1), 6),
        ("RIGHTPADDING", (0, 0), (-1, -1), 6),
        ("LEFTPADDING", (0, 0), (0, -1), 0),
        ("RIGHTPADDING", (last, 0), (last, -1), 0),
        ("TOPPADDING", (0, 0), (-1, -1), above),
        ("BOTTOMPADDING", (0, 0), (-1, -1), below),
        *([("LINEBELOW", (0, first), (-1, -1), 0.4, RULE)] if ruled else []),
        *[("ALIGN", (i, 0), (i, -1), "RIGHT") for i in numbers],
        *[("TOPPADDING", (i, first), (i, -1), level) for i in numbers],
    ]
    if top:
        style += [("VALIGN", (0, 0), (-1, 0), "BOTTOM"), ("LINEBELOW", (0, 0), (-1, 0), 0.8, GREEN)]
    if totals:
        style += [
            ("LINEABOVE", (0, -totals), (-1, -totals), 0.9, INK),
            ("LINEBELOW", (0, -1), (-1, -1), 0, WHITE),
            ("FONT", (0, -totals), (-1, -1), SERIF_BOLD, size, leading),
        ]
        if len(body) - first > totals + 1:
            style.append(("NOSPLIT", (0, -totals - 1), (-1, -1)))
    return _Table(
        body,
        colWidths=list(widths),
        repeatRows=first,
        splitInRow=1,
        style=style + list(extra),
        hAlign="LEFT",
        spaceBefore=2,
        spaceAfter=4 if text.fontSize < FINE.fontSize else 8,
    )
