"""What is mailed when something passes between practice and client; each letter once."""

from __future__ import annotations

from django.utils import timezone
from django.utils.translation import gettext as _

from consulting.models import Practice
from consulting.outbox import LARGEST_ENCLOSURES_BYTES, Enclosed, put
from plans.client_language import as_client_reads
from plans.documents.words import day, usd
from plans.models import Agreement, Answer, Plan, Proposal, Question, Refusal


def agreed(agreement: Agreement) -> None:
    """A copy of the agreement to both, with the document that was agreed to."""
    plan, proposal = agreement.plan, agreement.proposal
    with as_client_reads(plan):
        at = timezone.localtime(agreement.at)
        subject = _("Agreed: {title}, proposal {number}, revision {revision}").format(
            title=plan.title, number=proposal.number, revision=proposal.revision
        )
        said = [
            _("{name} agreed to this proposal for {farm} on {day}, for {price} in all:").format(
                name=agreement.name,
                farm=plan.farm.name,
                day=day(agreement.signed_on),
                price=usd(agreement.total_usd),
            ),
            agreement.statement,
            _("Noted on {day} at {time}, as agreement {number}.").format(
                day=day(at.date()), time=at.strftime("%H:%M %Z"), number=agreement.number
            ),
            _("SHA-256 of the document: {hash}").format(hash=agreement.pdf_sha256),
            _("Seal of the agreement: {hash}").format(hash=agreement.sha256),
            _("Please keep this letter with the document."),
            sign_off(plan.practice),
        ]
    pdf = bytes(proposal.pdf)
    name = f"proposal-{proposal.number}-revision-{proposal.revision}.pdf"
    enclosed = [Enclosed(name, pdf)] if len(pdf) <= LARGEST_ENCLOSURES_BYTES else []
    for whose, to in (("client", plan.farm.client.email), ("practice", practice_address(plan, proposal))):
        if to:
            put(
                practice=plan.practice,
                once=f"agreement:{agreement.pk}:{whose}",
                to=to,
                subject=subject,
                text="\n\n".join(said),
                attachments=enclosed,
                about=about(plan),
            )


def declined(refusal: Refusal) -> None:
    plan, proposal = refusal.plan, refusal.proposal
    why = f"\n\n{refusal.reason}" if refusal.reason else " No reason was given."
    to_practice(
        plan,
        once=f"refusal:{refusal.pk}",
        subject=f"Declined: {plan.title}, proposal {proposal.number}",
        text=f"{refusal.name} declined proposal {proposal.number}, revision {proposal.revision}, for "
        f"{plan.farm.name}.{why}",
    )


def asked(question: Question) -> None:
    who = question.name or question.plan.farm.client.name
    to_practice(
        question.plan,
        once=f"question:{question.pk}",
        subject=f"A question about {question.plan.title}",
        text=f"{who} asks on the client’s page of {question.plan.title}:\n\n{question.text}\n\n"
        "Answer it on the plan’s client page; the answer stands there for the client to read.",
    )


def answered(answer: Answer) -> None:
    question = answer.question
    plan = question.plan
    if not (to := plan.farm.client.email):
        return
    with as_client_reads(plan):
        said = [
            _("You asked about {title}:").format(title=plan.title),
            question.text,
            _("{name} answers:").format(name=answer.by_name),
            answer.text,
            _("Question and answer stand on your page as well."),
            sign_off(plan.practice),
        ]
        subject = _("An answer about {title}").format(title=plan.title)
    put(
        practice=plan.practice,
        once=f"answer:{answer.pk}",
        to=to,
        subject=subject,
        text="\n\n".join(said),
        about=about(plan),
        by=answer.by,
    )


def to_practice(plan: Plan, *, once: str, subject: str, text: str) -> None:
    if to := practice_address(plan, plan.proposals.defer("inputs", "result", "pdf").first()):
        put(practice=plan.practice, once=once, to=to, subject=subject, text=text, about=about(plan))


def about(plan: Plan) -> str:
    """The word by which the plan's letters are found."""
    return f"plan:{plan.pk}"


def practice_address(plan: Plan, proposal: Proposal | None) -> str:
    """The practice's own address, or that of whoever made the offer."""
    return plan.practice.email or (proposal.offered_by.email if proposal else "")


def sign_off(practice: Practice) -> str:
    return "\n".join(part for part in (practice.name, practice.phone, practice.email) if part)
