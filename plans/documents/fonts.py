"""The printed fonts, and plain text made ready for them.

User text is text: `markup` escapes it and picks, character by character, a font that has the glyph.
The two large East Asian fonts are parsed only when a text needs them.
"""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Iterator
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from threading import Lock
from xml.sax.saxutils import escape

from reportlab.pdfbase import pdfmetrics
from reportlab.pdfbase.ttfonts import TTFont
from reportlab.platypus.tables import CellStyle

FOLDER = Path(__file__).resolve().parents[2] / "static" / "fonts"


@dataclass(frozen=True, slots=True)
class Face:
    """A font file and how CSS asks for it."""

    file: str
    family: str
    weight: int = 400
    style: str = "normal"


SERIF = "Source Serif 4"
SERIF_BOLD = "Source Serif 4 SemiBold"
SERIF_ITALIC = "Source Serif 4 Italic"
SANS = "Atkinson Hyperlegible Next"
SANS_BOLD = "Atkinson Hyperlegible Next SemiBold"
SANS_ITALIC = "Atkinson Hyperlegible Next Italic"
CHINESE = "Noto Sans SC"
KOREAN = "Noto Sans KR"

FACES = {
    SERIF: Face("source-serif-4/SourceSerif4_400Regular.ttf", "Source Serif 4"),
    SERIF_BOLD: Face("source-serif-4/SourceSerif4_600SemiBold.ttf", "Source Serif 4", 600),
    SERIF_ITALIC: Face("source-serif-4/SourceSerif4_400Regular_Italic.ttf", "Source Serif 4", style="italic"),
    SANS: Face("atkinson-hyperlegible-next/AtkinsonHyperlegibleNext_400Regular.ttf", SANS),
    SANS_BOLD: Face("atkinson-hyperlegible-next/AtkinsonHyperlegibleNext_600SemiBold.ttf", SANS, 600),
    SANS_ITALIC: Face(
        "atkinson-hyperlegible-next/AtkinsonHyperlegibleNext_400Regular_Italic.ttf", SANS, style="italic"
    ),
    CHINESE: Face("noto-sans-sc/NotoSansSC_400Regular.ttf", CHINESE),
    KOREAN: Face("noto-sans-kr/NotoSansKR_400Regular.ttf", KOREAN),
}
FALLBACKS = {
    SANS: (SERIF, CHINESE, KOREAN),
    SANS_BOLD: (SERIF_BOLD, CHINESE, KOREAN),
    SANS_ITALIC: (SERIF_ITALIC, CHINESE, KOREAN),
}
MISSING = "□"
"""Printed, from the Chinese font, for a character that no font has."""

_lock = Lock()


@cache
def glyphs(name: str) -> frozenset[int]:
    """Registers the font with ReportLab and returns the code points it has."""
    with _lock:
        if name not in pdfmetrics.getRegisteredFontNames():
            pdfmetrics.registerFont(TTFont(name, str(FOLDER / FACES[name].file)))
        return frozenset(pdfmetrics.getFont(name).face.charToGlyph)


for _regular, _bold, _italic in ((SERIF, SERIF_BOLD, SERIF_ITALIC), (SANS, SANS_BOLD, SANS_ITALIC)):
    for _name in (_regular, _bold, _italic):
        glyphs(_name)
    pdfmetrics.registerFontFamily(_regular, _regular, _bold, _italic, _bold)
# A cell names its font even where it holds no words; ReportLab's own choice is never embedded.
CellStyle.fontname = SANS


def _plain_space(c: str) -> str:
    """Any space as the common one, but for the one that keeps words together; a lone surrogate as missing."""
    category = unicodedata.category(c)
    if c == "\t" or (category == "Zs" and c != "\u00a0"):
        return " "
    return MISSING if category == "Cs" else c


def clean(text: str) -> str:
    """Composed (NFC), line ends as \\n, odd spaces as common ones, without control or format characters."""
    text = text.replace("\r\n", "\n").replace("\r", "\n").replace("\u2028", "\n").replace("\u2029", "\n")
    if text.isascii() and text.isprintable():
        return text
    kept = (
        c if c == "\n" else _plain_space(c)
        for c in unicodedata.normalize("NFC", text)
        if c in "\n\t" or not (unicodedata.category(c) in ("Cc", "Cf") or "\ufe00" <= c <= "\ufe0f")
    )
    return "".join(kept)


def _clusters(text: str) -> Iterator[str]:
    """Each character together with the combining marks that follow it."""
    start = 0
    for i in range(1, len(text)):
        if not unicodedata.combining(text[i]):
            yield text[start:i]
            start = i
    if text:
        yield text[start:]


def _font_for(piece: str, font: str) -> str | None:
    points = {ord(c) for c in piece}
    for name in (font, *FALLBACKS.get(font, (CHINESE, KOREAN))):
        if points <= glyphs(name):
            return name
    return None


def _pieces(text: str, font: str) -> Iterator[tuple[str, str]]:
    """A word in the one font that has all of it; failing that by cluster, then by letter."""
    for word in re.split(r"(\s+)", text):
        if word.isspace():
            yield font, word
        elif name := _font_for(word, font):
            yield name, word
        else:
            for cluster in _clusters(word):
                if name := _font_for(cluster, font):
                    yield name, cluster
                else:
                    for letter in cluster:
                        name = _font_for(letter, font)
                        yield (name, letter) if name else (CHINESE, MISSING)


def runs(text: str, font: str = SANS) -> list[tuple[str, str]]:
    """(font, characters) in order; together the cleaned text, with MISSING for what no font has."""
    text = clean(text)
    if {ord(c) for c in text if c != "\n"} <= glyphs(font):
        return [(font, text)] if text else []
    made: list[tuple[str, str]] = []
    for name, piece in _pieces(text, font):
        if made and made[-1][0] == name:
            made[-1] = (name, made[-1][1] + piece)
        elif piece:
            made.append((name, piece))
    return made


def markup(text: str, font: str = SANS) -> str:
    """Plain text as a ReportLab paragraph string for a style that is set in `font`."""
    parts = []
    for name, piece in runs(text, font):
        shown = escape(piece).replace("\n", "<br/>")
        parts.append(shown if name == font else f'<font name="{name}">{shown}</font>')
    return "".join(parts)


def width(text: str, font: str, size: float) -> float:
    """Set width of one line [pt]."""
    return sum(pdfmetrics.stringWidth(piece, name, size) for name, piece in runs(text, font))


def fit(text: str, font: str, size: float, room: float) -> str:
    """The text on one line, cut with an ellipsis where it is wider than `room` [pt]."""
    text = " ".join(clean(text).split())
    if width(text, font, size) <= room:
        return text
    low, high = 0, len(text)
    while low < high:
        middle = (low + high + 1) // 2
        if width(text[:middle].rstrip() + "…", font, size) <= room:
            low = middle
        else:
            high = middle - 1
    return text[:low].rstrip() + "…"
