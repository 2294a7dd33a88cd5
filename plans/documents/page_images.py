"""Pages of a PDF as pictures, and what they say."""

from __future__ import annotations

from collections.abc import Iterable
from io import BytesIO
from math import ceil
from threading import Lock

import pypdfium2
from PIL import Image

_one_at_a_time = Lock()
"""PDFium may not be called by two threads at once."""


def page_images(pdf: bytes, pages: Iterable[int], *, wide_px: int) -> list[Image.Image]:
    """The pages with these numbers, from 0, each `wide_px` wide; those past the last are passed over."""
    with _one_at_a_time, pypdfium2.PdfDocument(pdf) as document:
        return [
            document[number].render(scale=wide_px / document[number].get_width()).to_pil()
            for number in pages
            if 0 <= number < len(document)
        ]


def page_sizes(pdf: bytes, *, wide_px: int) -> list[tuple[int, int]]:
    """Width and height of each page's picture [px]."""
    with _one_at_a_time, pypdfium2.PdfDocument(pdf) as document:
        sizes = [page.get_size() for page in document]
    return [(wide_px, ceil(high * wide_px / wide)) for wide, high in sizes]


def page_texts(pdf: bytes) -> list[str]:
    """What each page says, in reading order."""
    with _one_at_a_time, pypdfium2.PdfDocument(pdf) as document:
        return [page.get_textpage().get_text_bounded().replace("\r\n", "\n") for page in document]


def as_png(image: Image.Image) -> bytes:
    """A small PNG: print needs few colours."""
    out = BytesIO()
    image.convert("RGB").quantize(48, dither=Image.Dither.NONE).save(out, "PNG")
    return out.getvalue()
