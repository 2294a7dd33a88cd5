"""A practice's two colours, the shades made from them, and whether words in them can be read.

Relative luminance and contrast ratio are those of WCAG 2.2 (W3C Recommendation), "relative luminance",
"contrast ratio" and success criterion 1.4.3: words need 4.5:1. Colours are sRGB as `#rrggbb`.
"""

from __future__ import annotations

import colorsys
import re
from collections.abc import Callable
from dataclasses import dataclass
from functools import lru_cache
from math import floor

from plans.documents.manner import _

READABLE = 4.5
"""Least contrast of words on what they stand on; WCAG 2.2, 1.4.3 (AA)."""
_SEEN = 3.2
"""Contrast of a bar or a curve on white: over the 3:1 that WCAG 2.2, 1.4.11 asks of what is no word."""
_WASH = 1.19
"""Contrast of white with the wash behind a note."""
_MUTED = 0.6
"""A wash is no more vivid than this saturation."""
_WRITTEN = re.compile(r"#[0-9a-f]{6}")
_WHITE = "#ffffff"


class BadColour(ValueError):
    """A colour that cannot be taken; `nearest` is the nearest shade that can, where there is one."""

    def __init__(self, message: str, nearest: str = ""):
        super().__init__(message)
        self.nearest = nearest


@dataclass(frozen=True, slots=True, kw_only=True)
class Palette:
    """What drawings and headings are made in, each `#rrggbb`."""

    main: str = "#22513b"
    """Headings, rules and what is planted."""
    accent: str = "#80591a"
    """Words that stand out."""
    fill: str = "#b8862b"
    """Bars and curves of the old cover: the accent, lighter."""
    wash: str = "#f3ead2"
    """Behind notes: the accent, nearly white."""


HOUSE = Palette()


def luminance(colour: str) -> float:
    """Relative luminance, 0 for black to 1 for white."""

    def linear(part: float) -> float:
        return float(part / 12.92 if part <= 0.04045 else ((part + 0.055) / 1.055) ** 2.4)

    red, green, blue = (linear(part) for part in parts(colour))
    return 0.2126 * red + 0.7152 * green + 0.0722 * blue


def contrast(one: str, other: str) -> float:
    """Contrast ratio of two colours, 1 to 21, in either order."""
    darker, lighter = sorted((luminance(one), luminance(other)))
    return (lighter + 0.05) / (darker + 0.05)


@lru_cache(maxsize=4096)
def parts(colour: str) -> tuple[float, float, float]:
    """Red, green and blue, each 0 to 1."""
    red, green, blue = (int(colour[at : at + 2], 16) / 255 for at in (1, 3, 5))
    return red, green, blue


def _written(hue: float, lightness: float, saturation: float) -> str:
    return "#" + "".join(
        f"{round(part * 255):02x}" for part in colorsys.hls_to_rgb(hue, lightness, saturation)
    )


def _shade(colour: str, holds: Callable[[str], bool], most: float = 1.0) -> str:
    """The lightest shade of the same hue for which `holds`; it holds for black and for all darker ones."""
    hue, _, saturation = colorsys.rgb_to_hls(*parts(colour))
    saturation = min(saturation, most)
    low, high = 0.0, 1.0
    for _ in range(16):
        middle = (low + high) / 2
        if holds(_written(hue, middle, saturation)):
            low = middle
        else:
            high = middle
    return _written(hue, low, saturation)


def darker(colour: str) -> str:
    """The same hue under a pointer."""
    hue, lightness, saturation = colorsys.rgb_to_hls(*parts(colour))
    return _written(hue, 0.72 * lightness, saturation)


@lru_cache(maxsize=1024)
def _wash(accent: str) -> str:
    return _shade(accent, lambda shade: contrast(shade, _WHITE) >= _WASH, most=_MUTED)


@lru_cache(maxsize=256)
def palette_of(main: str, accent: str) -> Palette:
    """The palette of two colours; the house's own where they are the house's."""
    if (main, accent) == (HOUSE.main, HOUSE.accent):
        return HOUSE
    fill = _shade(accent, lambda shade: contrast(shade, _WHITE) >= _SEEN)
    return Palette(main=main, accent=accent, fill=fill, wash=_wash(accent))


def is_colour(text: str) -> bool:
    return bool(_WRITTEN.fullmatch(text))


def contrast_in_print(colour: str, accent: str) -> float:
    """The least contrast that words in the colour have: on white, or on the accent's wash."""
    return min(contrast(colour, ground) for ground in (_WHITE, _wash(accent)))


def checked_accent(colour: str) -> str:
    """The colour as it is kept. Raises BadColour for one that is none, or that words cannot be read in."""
    return _checked(colour, lambda shade: contrast_in_print(shade, shade))


def checked_main(colour: str, accent: str) -> str:
    """The same for the main colour, beside an accent that was checked."""
    return _checked(colour, lambda shade: contrast_in_print(shade, accent))


def _checked(colour: str, contrast_of: Callable[[str], float]) -> str:
    colour = colour.strip().lower()
    if not is_colour(colour):
        raise BadColour(_("A color is written as # and six digits from 0 to f, such as #22513b."))
    found = contrast_of(colour)
    if found >= READABLE:
        return colour
    nearest = _shade(colour, lambda shade: contrast_of(shade) >= READABLE)
    raise BadColour(
        _(
            "Words in {colour} are too pale: their contrast is {found} to 1, and it takes {least} to 1 to "
            "read them. The nearest shade that can be read is {nearest}."
        ).format(colour=colour, found=f"{floor(found * 100) / 100:.2f}", least=READABLE, nearest=nearest),
        nearest,
    )
