"""The plan for the wall as PDF: a page a year, large print, and the years ahead on one large sheet.

No price is on them, so that crew may print those of agreed plans.
"""

from __future__ import annotations

from django.core.exceptions import PermissionDenied
from django.http import Http404, HttpResponse
from django.shortcuts import get_object_or_404
from django.views.decorators.http import require_safe

from consulting.access import PracticeRequest, practice_view
from consulting.clock import today_for
from consulting.policy import Right, may
from plans.documents.wall_about import WallAbout
from plans.documents.wall_plan import wall_plan_pdf
from plans.documents.wall_sheet import SHEETS, wall_sheet_pdf
from plans.planning.plan import Plan as Outcome
from plans.selectors import plans_whole
from plans.stages import was_agreed
from plans.standing import about_of, standing_of
from plans.views.offers import as_file, file_stem


def plan_for_the_wall(request: PracticeRequest, pk: int) -> tuple[Outcome, WallAbout]:
    """403 for a plan that is not agreed where prices may not be seen, 404 where nothing is worked out."""
    plan = get_object_or_404(plans_whole(), pk=pk)
    if not was_agreed(plan) and not may(request.membership, Right.SEE_PRICES):
        raise PermissionDenied
    today = today_for(request.practice)
    standing = standing_of(plan, today)
    if standing is None:
        raise Http404("nothing is worked out yet")
    return standing.outcome, about_of(plan, standing, today)


@require_safe
@practice_view(Right.SEE_WORK)
def wall_plan(request: PracticeRequest, pk: int) -> HttpResponse:
    outcome, about = plan_for_the_wall(request, pk)
    name = file_stem("plan for the wall", outcome.job.title)
    return as_file(wall_plan_pdf(outcome, about), "application/pdf", f"{name}.pdf", inline=True)


@require_safe
@practice_view(Right.SEE_WORK)
def large_print(request: PracticeRequest, pk: int) -> HttpResponse:
    outcome, about = plan_for_the_wall(request, pk)
    name = file_stem("plan in large print", outcome.job.title)
    return as_file(wall_plan_pdf(outcome, about, large=True), "application/pdf", f"{name}.pdf", inline=True)


@require_safe
@practice_view(Right.SEE_WORK)
def wall_sheet(request: PracticeRequest, pk: int, sheet: str) -> HttpResponse:
    if sheet not in SHEETS:
        raise Http404("no such size of paper")
    outcome, about = plan_for_the_wall(request, pk)
    name = file_stem("years ahead", sheet, outcome.job.title)
    return as_file(
        wall_sheet_pdf(outcome, SHEETS[sheet], about), "application/pdf", f"{name}.pdf", inline=True
    )
