"""A word to the client before an offer ends that nobody has answered."""

from __future__ import annotations

from datetime import date, datetime, time, timedelta
from zoneinfo import ZoneInfo

from django.db import transaction
from django.db.models import OuterRef, Subquery

from consulting import outbox
from consulting.letters import Letter, LetterState
from consulting.models import Practice
from plans.mailing import about, to_client
from plans.models import Proposal, State

LET_STAND_DAYS = 3
"""An offer is not called to mind sooner after it was made, however soon it ends."""


def end_of(day: date, practice: Practice) -> datetime:
    """The midnight at which that day is over where the practice is."""
    return datetime.combine(day + timedelta(days=1), time(), ZoneInfo(practice.time_zone))


def offers_ending(practice: Practice, today: date) -> list[Proposal]:
    """The latest proposals of offered plans that are to be called to mind."""
    newest = Proposal.objects.filter(plan=OuterRef("plan")).order_by("-revision").values("pk")[:1]
    rows = Proposal.objects.filter(
        pk=Subquery(newest),
        plan__state=State.OFFERED,
        valid_until__range=(today, today + timedelta(days=practice.remind_days)),
        offered_on__lte=today - timedelta(days=LET_STAND_DAYS),
    )
    return list(rows.select_related("plan__farm__client", "plan__practice").defer("inputs", "result", "pdf"))


@transaction.atomic
def reminders_queue(practice: Practice, today: date) -> int:
    """Queue what is due and was not queued before: how many. Inside the practice's scope.

    One that still waits is taken back when its offer was answered meanwhile.
    """
    due = offers_ending(practice, today) if practice.remind_client else []
    words = {f"reminder:{proposal.pk}": proposal for proposal in due if proposal.plan.farm.client.email}
    for idle in Letter.objects.filter(once__startswith="reminder:", state=LetterState.WAITS):
        if idle.once not in words:
            outbox.take_back(letter=idle)
    known = set(Letter.objects.filter(once__in=words).values_list("once", flat=True))
    for once in words.keys() - known:
        proposal = words[once]
        draft = to_client("reminder", proposal.plan, proposal=proposal)
        outbox.put(
            practice=practice,
            once=once,
            to=draft.to,
            subject=draft.subject,
            text=draft.text,
            about=about(proposal.plan),
            useful_until=end_of(proposal.valid_until, practice),
        )
    return len(words.keys() - known)
