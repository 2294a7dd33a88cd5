"""Letters to a client that a person reads over and sends off."""

from __future__ import annotations

from collections.abc import Callable
from datetime import timedelta
from uuid import UUID

from django.db import transaction

from consulting import outbox
from consulting.clock import today_for
from consulting.letters import Letter
from consulting.models import User
from consulting.outbox import Enclosed
from plans.client_links import USUAL_DAYS, link_make, link_of
from plans.mailing import Draft, about, to_client
from plans.models import Plan, Proposal, SentReport
from plans.services import locked

PAGE = "{page}"
"""Stands in a letter where the address of the client's page goes, which nobody knows before it is sent."""


def offer_letter(proposal: Proposal) -> Draft:
    return to_client("offer", proposal.plan, proposal=proposal, page=page_wanted(proposal.plan))


def report_letter(report: SentReport) -> Draft:
    """What goes with a season's report."""
    return to_client("report", report.plan, season=str(report.year), page=page_wanted(report.plan))


def page_wanted(plan: Plan) -> str:
    """PAGE where the address of the client's page is to stand; nothing where a link works already."""
    link = link_of(plan)
    return "" if link is not None and link.works(today_for(plan.practice)) else PAGE


@transaction.atomic
def send_off(
    *,
    plan: Plan,
    what: str,
    uid: UUID,
    user: User,
    draft: Draft,
    enclosed: tuple[Enclosed, ...] = (),
    page_at: Callable[[str], str] | None = None,
) -> Letter:
    """Queue a letter to the client that a person has read over, once for each `uid`.

    With `page_at`, which makes an address of a key, the client's page gets a new link, and PAGE in the text
    becomes its address. Raises ValidationError as `outbox.put` does.
    """
    locked(plan)
    once = f"{what}:{plan.pk}:{uid}"
    if (there := Letter.objects.filter(once=once).first()) is not None:
        return there
    text = draft.text
    if page_at is not None:
        today = today_for(plan.practice)
        _, key = link_make(plan=plan, user=user, expires_on=today + timedelta(days=USUAL_DAYS), today=today)
        text = text.replace(PAGE, page_at(key))
    return outbox.put(
        practice=plan.practice,
        once=once,
        to=draft.to,
        subject=draft.subject,
        text=text,
        attachments=enclosed,
        about=about(plan),
        by=user,
    )
