"""What of a plan a client may fetch from the client's page, as PDFs. A further kind is one more source."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass
from datetime import date
from functools import partial
from itertools import chain

from django.utils.translation import gettext as _

from consulting.clock import today_for
from plans.documents.wall_plan import wall_plan_pdf
from plans.documents.wall_sheet import Sheet, sheets_for, wall_sheet_pdf
from plans.manners import manner_of
from plans.models import Plan, Proposal, SentReport
from plans.reports import sent_reports
from plans.selectors import frozen_outcome, latest_proposal, plans_whole, revisions_of
from plans.stages import was_agreed
from plans.standing import about_of, standing_of


@dataclass(frozen=True, slots=True)
class Shared:
    """A document that a client sees listed; its bytes are read when it is fetched."""

    key: str
    """Small letters, digits and hyphens: its address and the stem of its file's name."""
    title: str
    on: date
    pdf: Callable[[], bytes]
    report: int | None = None
    """Of a season report its number, by which it has a page too."""


def title_of(proposal: Proposal) -> str:
    if proposal.is_change_order:
        return _("Change order {number}").format(number=proposal.number)
    return _("Proposal {number}, revision {revision}").format(
        number=proposal.number, revision=proposal.revision
    )


def key_of(proposal: Proposal) -> str:
    if proposal.is_change_order:
        return f"change-order-{proposal.number}"
    return f"proposal-{proposal.number}-revision-{proposal.revision}"


def proposals(plan: Plan) -> Iterable[Shared]:
    """All that was offered, the latest first: every revision, and the change orders."""
    for proposal in revisions_of(plan).order_by("-number"):
        yield Shared(
            key=key_of(proposal),
            title=title_of(proposal),
            on=proposal.offered_on,
            pdf=partial(stored, proposal.pk),
        )


def stored(pk: int) -> bytes:
    return bytes(Proposal.objects.only("pdf").get(pk=pk).pdf)


def for_the_wall(plan: Plan) -> Iterable[Shared]:
    """What a client hangs up and takes along, once the plan is agreed; printed as the work stands today."""
    proposal = latest_proposal(plan) if was_agreed(plan) else None
    if proposal is None or frozen_outcome(proposal) is None:
        return
    today = today_for(plan.practice)
    yield Shared("plan-for-the-wall", _("Plan for the wall"), today, partial(wall_print, plan.pk, today))
    large = partial(wall_print, plan.pk, today, large=True)
    yield Shared("plan-in-large-print", _("Plan for the wall, large print"), today, large)
    for key, sheet in sheets_for(manner_of(plan.practice).paper):
        title = _("The years ahead, {paper}").format(paper=sheet.label)
        yield Shared(f"years-ahead-{key}", title, today, partial(wall_print, plan.pk, today, sheet=sheet))


def wall_print(pk: int, today: date, *, large: bool = False, sheet: Sheet | None = None) -> bytes:
    """Raises ValueError for a plan that this version of the site cannot read any more."""
    plan = plans_whole().get(pk=pk)
    standing = standing_of(plan, today)
    if standing is None:
        raise ValueError("the proposal was written by another version of the site")
    about = about_of(plan, standing, today)
    if sheet is not None:
        return wall_sheet_pdf(standing.outcome, sheet, about)
    return wall_plan_pdf(standing.outcome, about, large=large)


def season_reports(plan: Plan) -> Iterable[Shared]:
    """Every season report that was frozen, the latest first."""
    for report in sent_reports(plan):
        yield Shared(
            key=key_of_report(report),
            title=title_of_report(report),
            on=report.sent_on,
            pdf=partial(stored_report, report.pk),
            report=report.pk,
        )


def key_of_report(report: SentReport) -> str:
    return f"season-report-{report.year}-edition-{report.edition}"


def title_of_report(report: SentReport) -> str:
    if report.edition > 1:
        return _("Season report {year}, edition {edition}").format(year=report.year, edition=report.edition)
    return _("Season report {year}").format(year=report.year)


def stored_report(pk: int) -> bytes:
    return bytes(SentReport.objects.only("pdf").get(pk=pk).pdf)


SOURCES: tuple[Callable[[Plan], Iterable[Shared]], ...] = (proposals, for_the_wall, season_reports)


def shared_with_client(plan: Plan) -> list[Shared]:
    return list(chain.from_iterable(source(plan) for source in SOURCES))


def shared_document(plan: Plan, key: str) -> Shared | None:
    return next((one for one in shared_with_client(plan) if one.key == key), None)
