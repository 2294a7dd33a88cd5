"""Turns an uploaded picture into one we made ourselves."""

from __future__ import annotations

import io
import math
import struct
import warnings
from dataclasses import dataclass
from typing import Any, BinaryIO

from django.core.exceptions import ValidationError
from django.utils.translation import gettext as _
from PIL import ExifTags, Image, ImageOps, UnidentifiedImageError

from consulting import heic

MAX_BYTES = 2_000_000
MAX_PIXELS = 16_000_000
MAX_PHOTO_BYTES = 12_000_000
MAX_PHOTO_PIXELS = 64_000_000
MAX_HEIC_PIXELS = 26_000_000
"""What phones take by default; decoded whole it asks for some 80 MB."""
LARGEST_SIDE_PX = 1200
FORMATS = ("PNG", "JPEG", "WEBP", "GIF")
PHOTO_FORMATS = (*FORMATS, "HEIF")
PHOTO_TYPES = "image/png,image/jpeg,image/webp,image/gif,image/heic,image/heif,.heic"
"""What a form asks a phone for."""


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
    place: tuple[float, float] | None = None
    """Longitude and latitude where it was taken [degrees], where that was asked for and is known."""


def as_png(upload: BinaryIO) -> Picture:
    """The picture upright, at most 1200 px a side, as PNG without metadata.

    Raises ValidationError for a file that is too large, not a picture, or has too many pixels.
    """
    upright, _place_unread = _upright(upload, MAX_BYTES, MAX_PIXELS, FORMATS)
    out = io.BytesIO()
    upright.save(out, "PNG", optimize=True)
    return Picture(out.getvalue(), upright.width, upright.height)


def as_jpeg(upload: BinaryIO, *, with_place: bool = False) -> Photo:
    """A photograph upright, at most 1200 px a side, as JPEG without metadata; what is clear becomes white.

    Takes what a phone makes. `with_place` reads where it was taken; the JPEG itself never says.
    Raises ValidationError as `as_png` does.
    """
    upright, place = _upright(upload, MAX_PHOTO_BYTES, MAX_PHOTO_PIXELS, PHOTO_FORMATS, with_place)
    white = Image.new("RGBA", upright.size, "white")
    white.alpha_composite(upright)
    out = io.BytesIO()
    white.convert("RGB").save(out, "JPEG", quality=82, optimize=True)
    return Photo(out.getvalue(), upright.width, upright.height, place)


def smaller(jpeg: bytes, most_px: int) -> bytes:
    """One of our own JPEGs with no side longer than `most_px`; as it is where it fits."""
    with Image.open(io.BytesIO(jpeg), formats=("JPEG",)) as picture:
        if max(picture.size) <= most_px:
            return jpeg
        picture.thumbnail((most_px, most_px))
        out = io.BytesIO()
        picture.convert("RGB").save(out, "JPEG", quality=82, optimize=True)
    return out.getvalue()


def _upright(
    upload: BinaryIO, max_bytes: int, max_pixels: int, formats: tuple[str, ...], with_place: bool = False
) -> tuple[Image.Image, tuple[float, float] | None]:
    raw = upload.read(max_bytes + 1)
    if len(raw) > max_bytes:
        raise ValidationError(
            _("The picture is larger than {most} MB. Save it smaller and try again.").format(
                most=max_bytes // 1_000_000
            )
        )
    try:
        if "HEIF" in formats and heic.looks_like_heic(raw):
            raw = heic.as_upright_png(raw, MAX_HEIC_PIXELS, LARGEST_SIDE_PX)
        with warnings.catch_warnings():
            warnings.simplefilter("error", Image.DecompressionBombWarning)
            with Image.open(io.BytesIO(raw), formats=FORMATS) as picture:
                # A JPEG can be decoded at a fraction of its size; what cannot is held to the lower limit.
                shown = picture.size
                if max_pixels > MAX_PIXELS:
                    picture.draft("RGB", (LARGEST_SIDE_PX, LARGEST_SIDE_PX))
                most = max_pixels if picture.size != shown else MAX_PIXELS
                if shown[0] * shown[1] > most:
                    raise _too_large(*shown, most)
                place = _place(picture.getexif()) if with_place else None
                upright = ImageOps.exif_transpose(picture).convert("RGBA")
    except heic.TooLarge as large:
        raise _too_large(large.wide_px, large.high_px, MAX_HEIC_PIXELS) from None
    except (Image.DecompressionBombError, Image.DecompressionBombWarning):
        said = _("The picture has far too many pixels. Save it smaller and try again.")
        raise ValidationError(said) from None
    except (UnidentifiedImageError, OSError, ValueError, SyntaxError, EOFError, RuntimeError):
        known = (
            _("This file is not a picture we can read. Use PNG, JPEG, WebP, GIF or HEIC.")
            if "HEIF" in formats
            else _("This file is not a picture we can read. Use PNG, JPEG, WebP or GIF.")
        )
        raise ValidationError(known) from None
    upright.thumbnail((LARGEST_SIDE_PX, LARGEST_SIDE_PX))
    return upright, place


def _too_large(wide_px: int, high_px: int, most: int) -> ValidationError:
    said = _("The picture is {wide} × {high} pixels. Keep it to {most} million, such as {side} × {side}.")
    side = math.isqrt(most)
    return ValidationError(said.format(wide=wide_px, high=high_px, most=most // 1_000_000, side=side))


def _place(exif: Image.Exif) -> tuple[float, float] | None:
    """Longitude and latitude that a camera wrote; None for none, or for what is no place on earth."""
    try:
        gps = exif.get_ifd(ExifTags.IFD.GPSInfo)
        longitude = _degrees(gps[ExifTags.GPS.GPSLongitude], gps[ExifTags.GPS.GPSLongitudeRef], "W")
        latitude = _degrees(gps[ExifTags.GPS.GPSLatitude], gps[ExifTags.GPS.GPSLatitudeRef], "S")
    except (KeyError, TypeError, ValueError, ArithmeticError, SyntaxError, struct.error):
        return None
    on_earth = abs(longitude) <= 180 and abs(latitude) <= 90
    # What a camera writes before it has found itself.
    return (longitude, latitude) if on_earth and (longitude, latitude) != (0, 0) else None


def _degrees(parts: Any, side: Any, negative: str) -> float:
    """Degrees, minutes and seconds as degrees; minus on the `negative` side."""
    degrees, minutes, seconds = (float(part) for part in parts)
    value = degrees + minutes / 60 + seconds / 3600
    if not math.isfinite(value):
        raise ValueError
    return round(-value if str(side).strip("\0 ").upper() == negative else value, 6)
