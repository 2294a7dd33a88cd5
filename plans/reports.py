"""Season reports: the years there are, their own words, and sending one, which freezes it."""

from __future__ import annotations

import hashlib
from datetime import date

from django.db import transaction
from django.db.models import QuerySet
from django.utils.translation import gettext as _

from consulting.images import smaller
from consulting.models import User
from consulting.services import logo_png, save
from plans import fixed_points
from plans.documents.season_facts import SeasonReport, Shot, report_json
from plans.documents.season_report import season_report_pdf
from plans.manners import manner_of, speaking
from plans.models import Plan, ReportWords, SentReport
from plans.records import standing
from plans.report_facts import season_report
from plans.services import Refused, locked
from plans.stages import was_agreed

PRINTED_PX = 640
"""Longest side of a photograph in print, three to a row."""


def years_of_work(plan: Plan, today: date) -> list[int]:
    """Years with a record of work, and this year, the latest first."""
    years = standing().filter(visit__plan=plan).order_by().values_list("on__year", flat=True).distinct()
    return sorted({*years, today.year}, reverse=True)


def usual_year(plan: Plan, today: date) -> int:
    """The latest year in which work was done; this one where none was."""
    last = standing().filter(visit__plan=plan).order_by("-on").first()
    return last.on.year if last else today.year


def words_of(plan: Plan, year: int) -> ReportWords:
    found = ReportWords.objects.filter(plan=plan, year=year).first()
    return found or ReportWords(practice_id=plan.practice_id, plan=plan, year=year)


@transaction.atomic
def words_keep(*, plan: Plan, year: int, words: str) -> ReportWords:
    locked(plan)
    return save(words_of(plan, year), words=words)


def report_of(plan: Plan, year: int, today: date) -> SeasonReport:
    """The report as it stands. Raises Refused for a plan that nobody agreed to."""
    if not was_agreed(plan) or plan.is_change:
        raise Refused(_("A season report tells of agreed work. This plan has none."))
    manner = manner_of(plan.practice, plan.farm.client)
    with speaking(manner):
        return season_report(plan, year, words_of(plan, year).words, today, manner)


def shots_of(report: SeasonReport) -> list[Shot]:
    return [shot for point in report.photos for shot in point.shots]


def printed(report: SeasonReport, plan: Plan) -> bytes:
    kept = fixed_points.pictures(shots_of(report))
    small = {name: smaller(jpeg, PRINTED_PX) for name, jpeg in kept.items()}
    return season_report_pdf(report, small, logo=logo_png(plan.practice))


@transaction.atomic
def report_send(*, plan: Plan, year: int, user: User, today: date) -> SentReport:
    """Freeze the report of a year as it stands; the client can be shown it from now on. Raises Refused."""
    locked(plan)
    report = report_of(plan, year, today)
    pdf = printed(report, plan)
    last = SentReport.objects.filter(plan=plan, year=year).first()
    return SentReport.objects.create(
        practice_id=plan.practice_id,
        plan=plan,
        year=year,
        edition=last.edition + 1 if last else 1,
        content=report_json(report),
        pdf=pdf,
        sha256=hashlib.sha256(pdf).hexdigest(),
        sent_on=today,
        sent_by=user,
        sent_by_name=str(user),
    )


def sent_reports(plan: Plan) -> QuerySet[SentReport]:
    """What was sent of a plan, the latest year and edition first; light rows."""
    return SentReport.objects.filter(plan=plan).defer("content", "pdf")
