"""A rig check arranged for a page: the verdict in words, its points part by part."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from itertools import groupby

from plans.documents import words
from plans.planning.rig import RigCheck, RigPoint
from plans.planning.rig_facts import Answer, Part

VERDICTS: Mapping[Answer, str] = {"yes": "Yes", "no": "No", "unknown": "Go and look"}
PARTS: Mapping[Part, str] = {
    "hitch": "Hitch",
    "PTO": "PTO",
    "hydraulics": "Hydraulics",
    "power": "Power",
    "lift": "Lift",
    "tow": "Tow",
    "brakes": "Brakes",
    "lights": "Lights",
    "ballast": "Front axle",
    "width": "Slope",
    "transport width": "Width on the road",
}


@dataclass(frozen=True, slots=True)
class ShownPoint:
    verdict: Answer
    says: str
    point: RigPoint


@dataclass(frozen=True, slots=True)
class ShownPart:
    title: str
    points: tuple[ShownPoint, ...]


@dataclass(frozen=True, slots=True)
class ShownRig:
    verdict: Answer
    says: str
    sum: str
    against: tuple[RigPoint, ...]
    """The points that say no."""
    bring: tuple[str, ...]
    parts: tuple[ShownPart, ...]


def shown(check: RigCheck) -> ShownRig:
    parts = tuple(
        ShownPart(PARTS[part], tuple(ShownPoint(p.verdict, VERDICTS[p.verdict], p) for p in points))
        for part, points in groupby(check.points, key=lambda point: point.part)
    )
    against = tuple(point for point in check.points if point.verdict == "no")
    return ShownRig(check.verdict, VERDICTS[check.verdict], _sum(check), against, check.bring, parts)


def _sum(check: RigCheck) -> str:
    """What was compared and how it came out, in a sentence."""
    by_verdict = {answer: [p for p in check.points if p.verdict == answer] for answer in VERDICTS}
    against, open_points = by_verdict["no"], by_verdict["unknown"]
    look = f"{words.count(len(open_points), 'point')} to go and look at" if open_points else ""
    of = f"of {words.count(len(check.points), 'point')} compared"
    if against:
        said = f"{words.count(len(against), 'speaks', 'speak')} against it"
        return f"{of[:1].upper()}{of[1:]} {said}{f'; {look}' if look else ''}."
    if look:
        return f"Nothing {of} speaks against it; {look}."
    return f"Nothing {of} speaks against it{', with what is brought along' if check.bring else ''}."
