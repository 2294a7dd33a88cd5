"""What a PDF holds, for tests: sizes of type, fonts, grey pictures of its pages."""

from __future__ import annotations

import ctypes
import math
from io import BytesIO

import numpy as np
import pypdfium2
import pypdfium2.raw as pdfium
from numpy.typing import NDArray
from pypdf import PdfReader


def type_sizes(pdf: bytes) -> list[tuple[float, str]]:
    """Size [pt] and text of every run of text, as it is seen on the paper."""
    document = pypdfium2.PdfDocument(pdf)
    found = []
    for page in document:
        text = page.get_textpage()
        for run in page.get_objects(filter=[pdfium.FPDF_PAGEOBJ_TEXT], max_depth=5):
            size = ctypes.c_float()
            assert pdfium.FPDFTextObj_GetFontSize(run.raw, size)
            a, b, c, d, *_ = run.get_matrix().get()
            length = pdfium.FPDFTextObj_GetText(run.raw, text.raw, None, 0)
            buffer = ctypes.create_string_buffer(length)
            pdfium.FPDFTextObj_GetText(
                run.raw, text.raw, ctypes.cast(buffer, ctypes.POINTER(ctypes.c_ushort)), length
            )
            said = buffer.raw.decode("utf-16-le").rstrip("\0")
            found.append((size.value * math.sqrt(abs(a * d - b * c)), said))
    return found


def fonts_not_embedded(pdf: bytes) -> set[str]:
    bare = set()
    for page in PdfReader(BytesIO(pdf)).pages:
        for font in page["/Resources"].get("/Font", {}).values():
            described = font.get_object()
            if "/FontFile2" not in described.get("/FontDescriptor", {}):
                bare.add(described["/BaseFont"])
    return bare


def page_sizes(pdf: bytes) -> list[tuple[float, float]]:
    return [page.get_size() for page in pypdfium2.PdfDocument(pdf)]


def grey(pdf: bytes, scale: float = 4.0) -> NDArray[np.uint8]:
    """The first page as a black-and-white printer shows it: 0 black to 255 white, rows from the top."""
    page = pypdfium2.PdfDocument(pdf)[0]
    return np.asarray(page.render(scale=scale, grayscale=True).to_numpy()).squeeze()
