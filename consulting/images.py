"""Turns an uploaded picture into one we made ourselves."""

from __future__ import annotations

import io
import warnings
from dataclasses import dataclass
from typing import BinaryIO

from django.core.exceptions import ValidationError
from PIL import Image, ImageOps, UnidentifiedImageError

MAX_BYTES = 2_000_000
MAX_PIXELS = 16_000_000
LARGEST_SIDE_PX = 1200
FORMATS = ("PNG", "JPEG", "WEBP", "GIF")


@dataclass(frozen=True, slots=True)
class Picture:
    png: bytes
    width_px: int
    height_px: int


def as_png(upload: BinaryIO) -> Picture:
    """The picture upright, at most 1200 px a side, as PNG without metadata.

    Raises ValidationError for a file that is too large, not a picture, or has too many pixels.
    """
    raw = upload.read(MAX_BYTES + 1)
    if len(raw) > MAX_BYTES:
        raise ValidationError("The picture is larger than 2 MB. Save it smaller and try again.")
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("error", Image.DecompressionBombWarning)
            with Image.open(io.BytesIO(raw), formats=FORMATS) as picture:
                if picture.width * picture.height > MAX_PIXELS:
                    raise ValidationError(
                        f"The picture is {picture.width} × {picture.height} pixels. Keep it to 16 million, "
                        "such as 4000 × 4000."
                    )
                upright = ImageOps.exif_transpose(picture).convert("RGBA")
    except (Image.DecompressionBombError, Image.DecompressionBombWarning):
        raise ValidationError("The picture has far too many pixels. Save it smaller and try again.") from None
    except (UnidentifiedImageError, OSError, ValueError, SyntaxError, EOFError):
        raise ValidationError("This file is not a picture we can read. Use PNG, JPEG, WebP or GIF.") from None
    upright.thumbnail((LARGEST_SIDE_PX, LARGEST_SIDE_PX))
    out = io.BytesIO()
    upright.save(out, "PNG", optimize=True)
    return Picture(out.getvalue(), upright.width, upright.height)
