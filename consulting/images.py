"""Turns an uploaded picture into one we made ourselves."""

from __future__ import annotations

import io
import math
import warnings
from dataclasses import dataclass
from typing import BinaryIO

from django.core.exceptions import ValidationError
from PIL import Image, ImageOps, UnidentifiedImageError

MAX_BYTES = 2_000_000
MAX_PIXELS = 16_000_000
MAX_PHOTO_BYTES = 12_000_000
MAX_PHOTO_PIXELS = 64_000_000
LARGEST_SIDE_PX = 1200
FORMATS = ("PNG", "JPEG", "WEBP", "GIF")


@dataclass(frozen=True, slots=True)
class Picture:
    png: bytes
    width_px: int
    height_px: int


@dataclass(frozen=True, slots=True)
class Photo:
    jpeg: bytes
    width_px: int
    height_px: int


def as_png(upload: BinaryIO) -> Picture:
    """The picture upright, at most 1200 px a side, as PNG without metadata.

    Raises ValidationError for a file that is too large, not a picture, or has too many pixels.
    """
    upright = _upright(upload, MAX_BYTES, MAX_PIXELS)
    out = io.BytesIO()
    upright.save(out, "PNG", optimize=True)
    return Picture(out.getvalue(), upright.width, upright.height)


def as_jpeg(upload: BinaryIO) -> Photo:
    """A photograph upright, at most 1200 px a side, as JPEG without metadata; what is clear becomes white.

    Takes what a phone makes. Raises ValidationError as `as_png` does.
    """
    upright = _upright(upload, MAX_PHOTO_BYTES, MAX_PHOTO_PIXELS)
    white = Image.new("RGBA", upright.size, "white")
    white.alpha_composite(upright)
    out = io.BytesIO()
    white.convert("RGB").save(out, "JPEG", quality=82, optimize=True)
    return Photo(out.getvalue(), upright.width, upright.height)


def _upright(upload: BinaryIO, max_bytes: int, max_pixels: int) -> Image.Image:
    raw = upload.read(max_bytes + 1)
    if len(raw) > max_bytes:
        raise ValidationError(
            f"The picture is larger than {max_bytes // 1_000_000} MB. Save it smaller and try again."
        )
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("error", Image.DecompressionBombWarning)
            with Image.open(io.BytesIO(raw), formats=FORMATS) as picture:
                # A JPEG can be decoded at a fraction of its size; what cannot is held to the lower limit.
                shown = picture.size
                if max_pixels > MAX_PIXELS:
                    picture.draft("RGB", (LARGEST_SIDE_PX, LARGEST_SIDE_PX))
                most = max_pixels if picture.size != shown else MAX_PIXELS
                if shown[0] * shown[1] > most:
                    raise ValidationError(
                        f"The picture is {shown[0]} × {shown[1]} pixels. Keep it to "
                        f"{most // 1_000_000} million, such as {math.isqrt(most)} × {math.isqrt(most)}."
                    )
                upright = ImageOps.exif_transpose(picture).convert("RGBA")
    except (Image.DecompressionBombError, Image.DecompressionBombWarning):
        raise ValidationError("The picture has far too many pixels. Save it smaller and try again.") from None
    except (UnidentifiedImageError, OSError, ValueError, SyntaxError, EOFError):
        raise ValidationError("This file is not a picture we can read. Use PNG, JPEG, WebP or GIF.") from None
    upright.thumbnail((LARGEST_SIDE_PX, LARGEST_SIDE_PX))
    return upright
