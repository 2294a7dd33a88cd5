"""Pictures in the place of the demo's photographs: a field from its gate, drawn, the same every time."""

from __future__ import annotations

import io
from random import Random

from PIL import Image, ImageDraw

from consulting.images import Photo

WIDE, HIGH = 960, 640
SKY, HILL, POST = (214, 226, 232), (126, 146, 128), (84, 74, 62)
LOOKS: dict[str, tuple[tuple[int, int, int], tuple[int, int, int], int]] = {
    "sod": ((120, 146, 82), (98, 128, 66), 14),
    "seedlings": ((170, 152, 108), (116, 140, 78), 20),
    "stand": ((176, 148, 92), (150, 110, 62), 70),
}
"""Ground, leaf and height of the leaf [px]."""
FLOWERS = ((224, 186, 60), (148, 104, 160))


def from_the_gate(look: str) -> Photo:
    """The field as `sod`, `seedlings` or `stand`."""
    ground, leaf, tall = LOOKS[look]
    chance = Random(look)  # noqa: S311  a drawing, no secret
    picture = Image.new("RGB", (WIDE, HIGH), SKY)
    pen = ImageDraw.Draw(picture)
    pen.polygon([(0, 250), (260, 190), (560, 236), (WIDE, 176), (WIDE, 300), (0, 300)], fill=HILL)
    pen.rectangle((0, 280, WIDE, HIGH), fill=ground)
    for _tuft in range(5200):
        x, y = chance.uniform(0, WIDE), 282 + (HIGH - 282) * chance.random() ** 1.6
        near = (y - 282) / (HIGH - 282)
        top = y - tall * (0.25 + near) * chance.uniform(0.6, 1.1)
        shade = tuple(max(0, min(255, part + chance.randint(-18, 18))) for part in leaf)
        pen.line((x, y, x + chance.uniform(-6, 6) * near, top), fill=shade, width=1 + round(2 * near))
        if look == "stand" and chance.random() < 0.04:
            size = 2 + 5 * near
            pen.ellipse((x - size, top - size, x + size, top + size), fill=chance.choice(FLOWERS))
    pen.rectangle((70, 330, 104, HIGH), fill=POST)
    for rail in (400, 490):
        pen.rectangle((0, rail, 104, rail + 16), fill=POST)
    out = io.BytesIO()
    picture.save(out, "JPEG", quality=80)
    return Photo(out.getvalue(), WIDE, HIGH)
