"""Takes the pictures of printed pages anew into tests/documents/pages/: python -m tests.tools.page_pictures

Look at what changed before you commit it: test-results/pages/ shows where a failing test saw a difference.
"""

from __future__ import annotations

import os
from pathlib import Path

import django
from PIL import Image, ImageChops

from plans.documents.page_images import page_images, page_sizes

PAGES = Path(__file__).parents[1] / "documents" / "pages"
RESULTS = Path(__file__).parents[2] / "test-results" / "pages"
WIDE_PX, ACROSS, GREYS = 170, 8, 8
LOUD = 60
"""A dot that differs by more of 255 levels counts; anti-aliasing stays under it."""
MOST_LOUD = 12
"""Dots of a sheet that may differ."""


def contact_sheet(pdf: bytes) -> Image.Image:
    """All pages side by side in a few greys, small: layout can be seen, words hardly."""
    pages = page_images(pdf, range(len(page_sizes(pdf, wide_px=WIDE_PX))), wide_px=WIDE_PX)
    high = max(page.height for page in pages)
    rows = -(-len(pages) // ACROSS)
    sheet = Image.new("L", (WIDE_PX * min(ACROSS, len(pages)), high * rows), 128)
    for at, page in enumerate(pages):
        sheet.paste(page.convert("L"), (at % ACROSS * WIDE_PX, at // ACROSS * high))
    step = 256 // GREYS
    return sheet.point([grey // step * 255 // (GREYS - 1) for grey in range(256)])


def differing(one: Image.Image, other: Image.Image) -> tuple[int, Image.Image]:
    """How many dots differ loudly, and both over each other: what only one of them has is red or blue."""
    size = (max(one.width, other.width), max(one.height, other.height))
    first, second = (Image.new("L", size, 128) for _ in range(2))
    first.paste(one)
    second.paste(other)
    loud = ImageChops.difference(first, second).point(lambda level: 255 if level > LOUD else 0)
    return loud.histogram()[255], Image.merge("RGB", (second, ImageChops.darker(first, second), first))


def reference(name: str, scenario: str) -> Path:
    return PAGES / f"{name.replace(' ', '-')}-{scenario}.png"


def take() -> None:
    from tests.documents.prints import PICTURED, plans, printed

    PAGES.mkdir(exist_ok=True)
    for old in PAGES.glob("*.png"):
        old.unlink()
    for scenario in plans():
        for name in PICTURED:
            contact_sheet(printed(name, scenario)).save(reference(name, scenario), optimize=True)
            print(reference(name, scenario).name)


if __name__ == "__main__":
    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "tests.settings")
    django.setup()
    take()
