"""A season report arranged for a page: the practice's own, and the client's."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from typing import Any

from plans import fixed_points, reports
from plans.documents.season_facts import PhotoPoint, SeasonReport, Shot
from plans.documents.season_report import in_short, where
from plans.documents.stand_chart import describe, per_area_short, stand_chart
from plans.documents.svg import inline_svg
from plans.documents.words import converted, number, unit, upper_first
from plans.pages import WIDE


def report_shown(report: SeasonReport, photo_at: Callable[[Shot], str]) -> dict[str, Any]:
    """What `plans/_season_report.html` needs of a report, sent or not, in the manner in force.

    `photo_at` gives the address of a photograph; those that were taken away since are left out.
    """
    return {
        "report": report,
        "in_short": in_short(report),
        "charts": [
            (
                one,
                inline_svg(
                    stand_chart(one, wide=WIDE),
                    name=f"stand-{at}",
                    title=one.field,
                    description=describe(one),
                ),
            )
            for at, one in enumerate(report.counts)
        ],
        "points": list(points_shown(report, photo_at)),
        "done": [
            (one, where(one.fields, report), number(converted(one.acres, "acres"))) for one in report.done
        ],
        "acres_head": upper_first(unit("acres")),
        "per_area": per_area_short(),
        "coming": [(one, where(one.fields, report)) for one in report.coming],
    }


def points_shown(
    report: SeasonReport, photo_at: Callable[[Shot], str]
) -> Iterable[tuple[PhotoPoint, list[tuple[Shot, str]]]]:
    """Each point with its photographs that are still there, and their addresses."""
    left = fixed_points.left(reports.shots_of(report))
    for point in report.photos:
        if shots := [(shot, photo_at(shot)) for shot in point.shots if shot.name in left]:
            yield point, shots
