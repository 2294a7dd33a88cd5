"""Corners as a person types them: a line a corner, in decimal degrees or degrees, minutes and seconds."""

from __future__ import annotations

import re
from collections.abc import Sequence

from sites.ground.bring_in import FAR_MILES
from sites.ground.errors import GroundError
from sites.ground.found import MOST_CORNERS
from sites.ground.measuring import miles_between
from sites.ground.mending import mend
from sites.ground.outline import Outline, Point
from sites.ground.rings import nested

Rings = tuple[tuple[Point, ...], ...]
"""Runs of corners: the rings of an outline, or one line or point."""
NUMBER = re.compile(r"[+-]?(?:\d+\.?\d*|\.\d+)")
LETTER = re.compile(r"[NSEW]")
BESIDE = re.compile(r"[\s°º'’′\"”″,;:()]*")
"""What may stand between numbers and letters."""
LIKE = "Write it like 38.95120, -92.33410 or 38 57 04.3 N, 92 20 02.8 W."


def read_corners(text: str, *, latitude_first: bool) -> Rings:
    """Runs of corners; an empty line begins the next run. Raises GroundError naming the line."""
    runs: list[list[Point]] = [[]]
    for number, line in enumerate(text.splitlines(), start=1):
        if line.strip():
            runs[-1].append(_corner(line, f"line {number}", latitude_first))
        elif runs[-1]:
            runs.append([])
    found = tuple(tuple(run) for run in runs if run)
    if not found:
        raise GroundError(f"No corner is given. {LIKE}")
    if sum(map(len, found)) > MOST_CORNERS:
        raise GroundError(f"More than {MOST_CORNERS:,} corners are given. Leave some out.")
    return found


def outline_of_rings(rings: Sequence[Sequence[Point]]) -> tuple[Outline, tuple[str, ...]]:
    """An outline, and what was mended of it; a ring inside another is a hole. Raises GroundError."""
    # A person does not type the first corner again, so closing the ring is no mending.
    closed = [ring if ring[0] == ring[-1] else (*ring, ring[0]) for ring in rings]
    polygons, _ = nested([tuple((*corner, None) for corner in ring) for ring in closed])
    return mend([[[position[:2] for position in ring] for ring in polygon] for polygon in polygons])


def rings_of(outline: Outline) -> list[tuple[Point, ...]]:
    """Every ring of an outline, open: its first corner does not stand again at the end."""
    return [ring[:-1] for part in outline.parts for ring in (part.shell, *part.holes)]


def written(rings: Sequence[Sequence[Point]], *, latitude_first: bool) -> str:
    """The text that `read_corners` reads as these rings, to a tenth of a millimetre."""
    return "\n\n".join(
        "\n".join(", ".join(map(_short, reversed(corner) if latitude_first else corner)) for corner in ring)
        for ring in rings
    )


def _short(degrees: float) -> str:
    return f"{degrees:.9f}".rstrip("0").rstrip(".")


def doubt_of_place(point: Point, expected: Point | None) -> str:
    """Why a point may not be meant, as a sentence; empty where it lies about where it is `expected`."""
    if expected is None or miles_between(expected, point) <= FAR_MILES:
        return ""
    longitude, latitude = point
    if abs(longitude) <= 90 and miles_between(expected, (latitude, longitude)) <= FAR_MILES:
        return "It would lie at the farm with the other number first. Choose the other order."
    if miles_between(expected, (-longitude, latitude)) <= FAR_MILES:
        return "It would lie at the farm with the longitude west. Put a minus or a W to it."
    return f"It lies {miles_between(expected, point):,.0f} miles from the farm. Check the numbers."


def _corner(line: str, place: str, latitude_first: bool) -> Point:
    text = line.upper().replace("−", "-")
    if BESIDE.fullmatch(LETTER.sub("", NUMBER.sub("", text))) is None:
        raise GroundError(f"“{line.strip()[:60]}” is no corner. {LIKE}", place)
    numbers = NUMBER.findall(text)
    if len(numbers) not in (2, 4, 6):
        raise GroundError(f"It holds {len(numbers)} numbers, which do not make two angles. {LIKE}", place)
    half = len(numbers) // 2
    first, second = (_degrees(part, place) for part in (numbers[:half], numbers[half:]))
    letters = LETTER.findall(text)
    if letters:
        first, second = _signed((first, second), letters, place, latitude_first)
    latitude, longitude = (first, second) if latitude_first else (second, first)
    if abs(latitude) > 90:
        other = "longitude" if latitude_first else "latitude"
        raise GroundError(
            f"A latitude of {latitude:g} cannot be. If {other} stands first, choose that order.", place
        )
    if abs(longitude) > 180:
        raise GroundError(f"A longitude of {longitude:g} cannot be: it goes to 180.", place)
    return longitude, latitude


def _degrees(parts: Sequence[str], place: str) -> float:
    """Degrees from degrees, minutes and seconds, of which the last alone may have decimals."""
    degrees, *rest = map(float, parts)
    for unit, part, value in zip(("minutes", "seconds"), parts[1:], rest, strict=False):
        if part[0] in "+-" or value >= 60:
            raise GroundError(f"{part} cannot be {unit}: they go from 0 to 60.", place)
    if any("." in part for part in parts[:-1]):
        raise GroundError("Only the last part of an angle may have decimals.", place)
    minutes, seconds = [*rest, 0.0, 0.0][:2]
    size = abs(degrees) + minutes / 60 + seconds / 3600
    return -size if parts[0].startswith("-") else size


def _signed(
    angles: tuple[float, float], letters: Sequence[str], place: str, latitude_first: bool
) -> tuple[float, float]:
    axes = ["NS" if letter in "NS" else "EW" for letter in letters]
    if sorted(axes) != ["EW", "NS"]:
        raise GroundError("Give N or S to the one angle and E or W to the other.", place)
    if min(angles) < 0:
        raise GroundError("It has a letter and a minus. Leave one of them out.", place)
    if (axes[0] == "NS") != latitude_first:
        stands = "latitude" if axes[0] == "NS" else "longitude"
        raise GroundError(f"By its letters {stands} stands first. Choose that order.", place)
    first, second = (
        -angle if letter in "SW" else angle for angle, letter in zip(angles, letters, strict=True)
    )
    return first, second
