"""What of a plan a client may fetch from the client's page, as PDFs. A further kind is one more source."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass
from datetime import date
from functools import partial
from itertools import chain

from django.utils.translation import gettext as _

from plans.models import Plan, Proposal, SentReport
from plans.reports import sent_reports
from plans.selectors import revisions_of


@dataclass(frozen=True, slots=True)
class Shared:
    """A document that a client sees listed; its bytes are read when it is fetched."""

    key: str
    """Small letters, digits and hyphens: its address and the stem of its file's name."""
    title: str
    on: date
    pdf: Callable[[], bytes]


def proposals(plan: Plan) -> Iterable[Shared]:
    """Every revision and change order that was offered, the latest first."""
    for proposal in revisions_of(plan).reverse():
        kind, title = "proposal", _("Proposal {number}, revision {revision}")
        if proposal.is_change_order:
            kind, title = "change-order", _("Change order {number}")
        yield Shared(
            key=f"{kind}-{proposal.number}-revision-{proposal.revision}",
            title=title.format(number=proposal.number, revision=proposal.revision),
            on=proposal.offered_on,
            pdf=partial(stored, proposal.pk),
        )


def stored(pk: int) -> bytes:
    return bytes(Proposal.objects.only("pdf").get(pk=pk).pdf)


def season_reports(plan: Plan) -> Iterable[Shared]:
    """Every season report that was frozen, the latest first."""
    for report in sent_reports(plan):
        title = _("Season report {year}")
        if report.edition > 1:
            title = _("Season report {year}, edition {edition}")
        yield Shared(
            key=f"season-report-{report.year}-edition-{report.edition}",
            title=title.format(year=report.year, edition=report.edition),
            on=report.sent_on,
            pdf=partial(stored_report, report.pk),
        )


def stored_report(pk: int) -> bytes:
    return bytes(SentReport.objects.only("pdf").get(pk=pk).pdf)


SOURCES: tuple[Callable[[Plan], Iterable[Shared]], ...] = (proposals, season_reports)


def shared_with_client(plan: Plan) -> list[Shared]:
    return list(chain.from_iterable(source(plan) for source in SOURCES))


def shared_document(plan: Plan, key: str) -> Shared | None:
    return next((one for one in shared_with_client(plan) if one.key == key), None)
