"""The rig check as a reckoning: facts of tractor, implement and road in, every point out."""

from __future__ import annotations

from collections.abc import Mapping

from plans.planning.figures import Figure
from plans.planning.rig import Implement, Road, Tractor
from plans.planning.rig import rig_check as check
from plans.planning.rig_facts import SlopePct

Point = Mapping[str, Figure | str]


def rig_check(
    tractor: Tractor, implement: Implement, slope_pct: SlopePct | None = None, road: Road | None = None
) -> dict[str, str | dict[str, Point]]:
    """The verdict and every point compared, numbered in their order; lengths [in], weights [lb], powers [hp].

    Source: named at each point. The machines' manuals, standards and local law go before it.
    """
    found = check(tractor, implement, slope_pct, road)
    points: dict[str, Point] = {}
    for number, point in enumerate(found.points, start=1):
        said: dict[str, Figure | str] = {
            "verdict": point.verdict,
            "why": point.why,
            "look": point.look,
            "bring": point.bring,
            "source": point.source,
        }
        if point.figure:
            said["figure"] = point.figure
        points[f"{number} {point.part}"] = said
    return {"verdict": found.verdict, "points": points}
