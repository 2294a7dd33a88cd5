"""Papers that somebody scanned or photographed: an image is made anew, a PDF is opened before it is kept."""

from __future__ import annotations

import io
from dataclasses import dataclass
from threading import Lock
from typing import BinaryIO

import pypdfium2
from django.core.exceptions import ValidationError
from django.utils.translation import gettext as _

from consulting.images import PHOTO_TYPES, as_jpeg

MAX_PDF_BYTES = 8_000_000
MOST_PAGES = 40
SCAN_TYPES = f"application/pdf,{PHOTO_TYPES}"
"""What a form asks for."""
ONE_AT_A_TIME = Lock()
"""PDFium is not made for several threads."""


@dataclass(frozen=True, slots=True)
class Paper:
    kind: str
    """jpg or pdf."""
    content: bytes
    pages: int


def as_paper(upload: BinaryIO) -> Paper:
    """The paper as it is kept. Raises ValidationError for what is too large, too long or cannot be opened."""
    raw = upload.read(MAX_PDF_BYTES + 1)
    if not raw.lstrip().startswith(b"%PDF-"):
        upload.seek(0)
        return Paper("jpg", as_jpeg(upload).jpeg, 1)
    if len(raw) > MAX_PDF_BYTES:
        said = _("The PDF is larger than {most} MB. Scan it at a lower resolution.")
        raise ValidationError(said.format(most=MAX_PDF_BYTES // 1_000_000))
    return Paper("pdf", raw, pages_of(raw))


def pages_of(pdf: bytes) -> int:
    """How many pages a PDF has, each of which opens. Raises ValidationError."""
    try:
        with ONE_AT_A_TIME, pypdfium2.PdfDocument(io.BytesIO(pdf)) as document:
            pages = len(document)
            if 0 < pages <= MOST_PAGES:
                for number in range(pages):
                    document[number].close()
    except pypdfium2.PdfiumError:
        raise ValidationError(
            _(
                "This PDF cannot be opened; it may be damaged or locked by a password. "
                "Save it again without one."
            )
        ) from None
    if not 0 < pages <= MOST_PAGES:
        raise ValidationError(
            _("The PDF has {pages} pages. Keep it to the signed ones, at most {most_pages}.").format(
                pages=pages, most_pages=MOST_PAGES
            )
        )
    return pages
