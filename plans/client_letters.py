"""What is mailed when something passes between practice and client; each letter once."""

from __future__ import annotations

from typing import Any
from zoneinfo import ZoneInfo

from django.utils import timezone

from consulting.outbox import LARGEST_ENCLOSURES_BYTES, Enclosed, put
from plans.client_documents import key_of
from plans.mailing import about, write
from plans.models import Agreement, Answer, Plan, Proposal, Question, Refusal


def agreed(agreement: Agreement) -> None:
    """A copy of the agreement to both, with the document that was agreed to."""
    plan, proposal = agreement.plan, agreement.proposal
    pdf = bytes(proposal.pdf)
    enclosed = [Enclosed(f"{key_of(proposal)}.pdf", pdf)] if len(pdf) <= LARGEST_ENCLOSURES_BYTES else []
    said: dict[str, Any] = {"agreement": agreement, "proposal": proposal, "enclosed": enclosed}
    to_client(plan, "agreed", f"agreement:{agreement.pk}:client", **said)
    to_practice(plan, "agreed", f"agreement:{agreement.pk}:practice", **said)


def declined(refusal: Refusal) -> None:
    to_practice(refusal.plan, "declined", f"refusal:{refusal.pk}", refusal=refusal, proposal=refusal.proposal)


def asked(question: Question) -> None:
    to_practice(question.plan, "question", f"question:{question.pk}", question=question)


def answered(answer: Answer) -> None:
    question = answer.question
    to_client(question.plan, "answer", f"answer:{answer.pk}", answer=answer, question=question)


def to_client(plan: Plan, template: str, once: str, **said: Any) -> None:
    """Nothing where the client has no e-mail address."""
    client = plan.farm.client
    if client.email:
        send(plan, template, once, client.email, reader=client, **said)


def to_practice(plan: Plan, template: str, once: str, **said: Any) -> None:
    """In the practice's own language; to whoever made the offer where the practice has no address."""
    proposal: Proposal | None = plan.proposals.defer("inputs", "result", "pdf").first()
    if to := plan.practice.email or (proposal.offered_by.email if proposal else ""):
        send(plan, template, once, to, reader=None, **said)


def send(plan: Plan, template: str, once: str, to: str, **said: Any) -> None:
    practice = plan.practice
    with timezone.override(ZoneInfo(practice.time_zone)):
        draft = write(template, practice=practice, to=to, plan=plan, client=plan.farm.client, **said)
    put(
        practice=practice,
        once=once,
        to=to,
        subject=draft.subject,
        text=draft.text,
        attachments=said.get("enclosed", ()),
        about=about(plan.changes or plan),
    )
