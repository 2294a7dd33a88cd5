"""Reads a phone's HEIC picture in a process of its own: a broken one can end the decoder, and all with it.

`python -m consulting.heic MOST_PIXELS SIDE` reads the picture from its standard input and writes it upright
as PNG, no side longer than SIDE, with what the camera wrote beside it. It ends with 3, and the sides on its
standard error, for a picture of more pixels.
"""

from __future__ import annotations

import io
import resource
import subprocess
import sys
import warnings
from pathlib import Path

HERE = Path(__file__).parent.parent
MOST_SECONDS = 20
MOST_MEMORY = 2 * 2**30
TOO_LARGE = 3


class Unreadable(ValueError):
    """The file is no picture that the decoder can read."""


class TooLarge(ValueError):
    def __init__(self, wide_px: int, high_px: int) -> None:
        super().__init__(f"{wide_px} × {high_px} pixels")
        self.wide_px, self.high_px = wide_px, high_px


def looks_like_heic(raw: bytes) -> bool:
    """Whether the file is of the family of containers that HEIC belongs to. Source: ISO/IEC 14496-12."""
    return raw[4:8] == b"ftyp"


def as_upright_png(raw: bytes, most_pixels: int, side_px: int) -> bytes:
    """The picture as PNG. Raises Unreadable or TooLarge."""
    command = [sys.executable, "-m", "consulting.heic", str(most_pixels), str(side_px)]
    try:
        done = subprocess.run(  # noqa: S603  our own program, told two numbers
            command, cwd=HERE, input=raw, capture_output=True, timeout=MOST_SECONDS, check=False
        )
    except subprocess.TimeoutExpired:
        raise Unreadable from None
    if done.returncode == TOO_LARGE:
        wide_px, high_px = map(int, done.stderr.split()[-2:])
        raise TooLarge(wide_px, high_px)
    if done.returncode:
        raise Unreadable
    return done.stdout


def main(most_pixels: int, side_px: int) -> int:
    from pi_heif import register_heif_opener
    from PIL import Image

    resource.setrlimit(resource.RLIMIT_AS, (MOST_MEMORY, MOST_MEMORY))
    resource.setrlimit(resource.RLIMIT_CPU, (MOST_SECONDS, MOST_SECONDS))
    warnings.simplefilter("ignore")
    register_heif_opener(thumbnails=False, depth_images=False, aux_images=False, decode_threads=1)
    with Image.open(io.BytesIO(sys.stdin.buffer.read()), formats=("HEIF",)) as picture:
        wide_px, high_px = picture.size
        if wide_px * high_px > most_pixels:
            sys.stderr.write(f"{wide_px} {high_px}\n")
            return TOO_LARGE
        picture.thumbnail((side_px, side_px))
        picture.save(sys.stdout.buffer, "PNG", exif=picture.getexif(), compress_level=1)
    return 0


if __name__ == "__main__":
    sys.exit(main(int(sys.argv[1]), int(sys.argv[2])))
