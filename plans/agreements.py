"""A client's yes or no to one revision, on the page or on paper. What is added here never changes."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date
from typing import Any

from django.core.exceptions import ValidationError
from django.db import transaction
from django.db.models import Q, QuerySet
from django.utils import timezone
from django.utils.translation import gettext as _

from consulting.models import Practice, User
from consulting.scans import Paper
from consulting.sender import Sender
from consulting.services import save
from plans import client_letters as letters
from plans.client_links import one_line, plain_text
from plans.documents.words import day, usd
from plans.models import Agreement, AgreementScan, ClientLink, Plan, Proposal, Refusal, State
from plans.selectors import latest_proposal
from plans.services import Refused, locked, plan_move
from plans.stages import was_agreed
from plans.visits import plan_agree

How = Agreement.How
OF_AGREEMENT = (
    *("number", "plan_id", "proposal_id", "pdf_sha256", "inputs_sha256", "result_sha256", "total_usd"),
    *("how", "name", "statement", "signed_on", "address", "user_agent", "link_id", "entered_by_name"),
)
"""What is sealed, besides the moment."""


@dataclass(frozen=True, slots=True)
class Seen:
    """The revision that the client had before their eyes when they answered."""

    number: int
    sha256: str


def statement(proposal: Proposal) -> str:
    """What a client says yes to, word for word."""
    if proposal.is_change_order:
        return _(
            "I have read change order {number}, which makes the whole price {price}, with its windows and "
            "cautions, and I agree to it. All else stays as agreed."
        ).format(number=proposal.number, price=usd(proposal.total_usd))
    return _(
        "I have read proposal {number}, revision {revision}, for {price} in all, with its windows, cautions "
        "and terms, and I agree to it."
    ).format(number=proposal.number, revision=proposal.revision, price=usd(proposal.total_usd))


def matter_of(plan: Plan, number: int | None = None) -> Plan:
    """What a client is asked about on a plan's page: a change to it that stands offered, or the plan itself.

    With the number of a proposal or change order, the one of these that it was offered of.
    """
    changes = Plan.objects.filter(changes=plan).select_related("practice", "farm__client")
    if number is not None:
        return changes.filter(proposals__number=number).first() or plan
    return changes.filter(state=State.OFFERED).first() or plan


def yes_of(plan: Plan) -> State:
    """The state into which a yes brings a plan."""
    return State.TAKEN_IN if plan.is_change else State.AGREED


def agreements_of(plan: Plan) -> QuerySet[Agreement]:
    """All that a client agreed to of a plan and of the changes to it, the latest first."""
    return Agreement.objects.filter(Q(plan=plan) | Q(plan__changes=plan)).select_related("proposal")


def closed(plan: Plan, proposal: Proposal | None, seen: Seen | None, today: date) -> str:
    """Why this revision cannot be answered any more, and what to do; empty while it can."""
    who = plan.practice.name
    if proposal is None:
        return _("Nothing has been offered yet. {practice} will put the proposal here.").format(practice=who)
    if seen is not None and seen.number != proposal.number:
        return _(
            "There is a newer revision than the one you had open. It stands on this page now: please read "
            "it, and answer that one."
        )
    if seen is not None and seen.sha256 != proposal.sha256:
        return _(
            "What was sent does not name the proposal as it is on record. Open this page again and answer "
            "from there."
        )
    if plan.state == State.DRAFT:
        return _(
            "{practice} is working on the next revision, so this one can no longer be answered. The new one "
            "will stand here."
        ).format(practice=who)
    if plan.state == State.WITHDRAWN:
        return _("This proposal was withdrawn. Ask {practice} if you would still like the work done.").format(
            practice=who
        )
    if plan.state == State.DECLINED:
        return _(
            "This proposal was declined on {day}. If you have changed your mind, ask {practice} to offer it "
            "again."
        ).format(day=day(plan.state_on), practice=who)
    if plan.state != State.OFFERED:
        return _("This proposal is agreed to already. There is nothing more to do.")
    if today > proposal.valid_until:
        return _(
            "This proposal was open until {day}, so its price no longer holds. Ask {practice} to renew it."
        ).format(day=day(proposal.valid_until), practice=who)
    return ""


def checked_name(name: str) -> str:
    """Raises ValidationError for none."""
    found = one_line(name)
    if not any(sign.isalnum() for sign in found):
        raise ValidationError({"name": _("Your name is missing. Type it as you would sign.")})
    return found


@transaction.atomic
def agree_on_page(*, link: ClientLink, seen: Seen, name: str, sender: Sender, today: date) -> Agreement:
    """The client's yes. Given twice, the first one stands and is returned.

    Raises Refused where that revision cannot be agreed to any more, ValidationError for a missing name.
    """
    plan = locked(matter_of(link.plan, seen.number))
    made = agreements_of(plan).filter(proposal__number=seen.number).first()
    if made and was_agreed(plan):
        return made
    proposal = latest_proposal(plan)
    why = closed(plan, proposal, seen, today)
    if proposal is None or why:
        raise Refused(why)
    name = checked_name(name)
    agreement = add(
        plan,
        proposal,
        how=How.PAGE,
        name=name,
        signed_on=today,
        address=sender.address,
        user_agent=sender.user_agent,
        link=link,
    )
    plan_agree(plan=plan, user=None, today=today, by_name=name)
    letters.agreed(agreement)
    return agreement


@transaction.atomic
def agree_on_paper(
    *, plan: Plan, user: User, name: str, signed_on: date, paper: Paper | None, today: date
) -> Agreement:
    """Enter that the client signed the latest revision on paper, with a scan of it where there is one.

    A plan that was agreed before agreements were kept gets its agreement and stays as it is. Raises Refused
    and ValidationError.
    """
    held = locked(plan)
    proposal = latest_proposal(held)
    if proposal is None or not (held.may_become(yes_of(held)) or was_agreed(held)):
        raise Refused(_("Only a proposal that stands offered can be signed."))
    if agreement_of(proposal):
        raise Refused(_("This revision is agreed to already; its agreement is on record."))
    if not proposal.offered_on <= signed_on <= today:
        said = _("The proposal was offered on {day}; choose a day from then to today.")
        raise ValidationError({"signed_on": said.format(day=day(proposal.offered_on))})
    entered: dict[str, Any] = {"entered_by": user, "entered_by_name": str(user)}
    agreement = add(held, proposal, how=How.PAPER, name=checked_name(name), signed_on=signed_on, **entered)
    if paper is not None:
        scan_keep(agreement, user, paper)
    if held.state == State.OFFERED:
        plan_agree(plan=held, user=user, today=today)
        letters.agreed(agreement)
    return agreement


@transaction.atomic
def scan_add(*, agreement: Agreement, user: User, paper: Paper) -> AgreementScan:
    """One more page of what was signed."""
    return scan_keep(agreement, user, paper)


def scan_keep(agreement: Agreement, user: User, paper: Paper) -> AgreementScan:
    return save(
        AgreementScan(
            practice_id=agreement.practice_id,
            agreement=agreement,
            kind=paper.kind,
            pages=paper.pages,
            content=paper.content,
            sha256=hashlib.sha256(paper.content).hexdigest(),
            entered_by=user,
            entered_by_name=str(user),
        )
    )


@transaction.atomic
def decline(*, link: ClientLink, seen: Seen, name: str, reason: str, sender: Sender, today: date) -> Refusal:
    """The client's no. Given twice, the first one stands. Raises Refused and ValidationError as for a yes."""
    plan = locked(matter_of(link.plan, seen.number))
    proposal = latest_proposal(plan)
    if proposal and proposal.number == seen.number and plan.state == State.DECLINED:
        if there := Refusal.objects.filter(proposal=proposal).first():
            return there
    if why := closed(plan, proposal, seen, today):
        raise Refused(why)
    refusal = save(
        Refusal(practice_id=plan.practice_id, plan=plan, proposal=proposal, link=link),
        name=checked_name(name),
        reason=plain_text(reason),
        address=sender.address,
        user_agent=sender.user_agent,
    )
    plan_move(plan=plan, state=State.DECLINED, today=today)
    letters.declined(refusal)
    return refusal


def agreement_of(proposal: Proposal) -> Agreement | None:
    return Agreement.objects.filter(proposal=proposal).first()


def sha256_of(text: str | bytes) -> str:
    return hashlib.sha256(text if isinstance(text, bytes) else text.encode()).hexdigest()


def add(plan: Plan, proposal: Proposal, **values: Any) -> Agreement:
    """Give the agreement its number, the hashes of what is on record, and its seal."""
    # No other agreement gets the same number meanwhile; rows that point to the practice may still be added.
    Practice.objects.select_for_update(no_key=True).get(pk=plan.practice_id)
    last = Agreement.objects.order_by("-number").first()
    whole = Proposal.objects.get(pk=proposal.pk)
    agreement = Agreement(
        practice_id=plan.practice_id,
        number=last.number + 1 if last else 1,
        plan=plan,
        proposal=whole,
        pdf_sha256=sha256_of(bytes(whole.pdf)),
        inputs_sha256=sha256_of(whole.inputs),
        result_sha256=sha256_of(whole.result + whole.before),
        total_usd=whole.total_usd,
        statement=statement(whole),
        at=timezone.now(),
        **values,
    )
    if agreement.pdf_sha256 != whole.sha256:
        raise Refused(
            _(
                "The stored document is not the one that was offered, so nothing was agreed to. Please "
                "call us."
            )
        )
    agreement.full_clean(exclude={"sha256"})
    agreement.sha256 = sealed(last.sha256 if last else "", agreement)
    agreement.save()
    return agreement


# The chain


def content(agreement: Agreement) -> str:
    """All that an agreement says, as canonical JSON: sorted keys, no spaces."""
    said: dict[str, Any] = {name: getattr(agreement, name) for name in OF_AGREEMENT}
    said["at"] = agreement.at.timestamp()
    return json.dumps(said, sort_keys=True, separators=(",", ":"), ensure_ascii=False, default=str)


def sealed(before: str, agreement: Agreement) -> str:
    """SHA-256 of the seal before and of what the agreement says."""
    return sha256_of(before + content(agreement))


@dataclass(frozen=True, slots=True)
class Chain:
    """What the check of a practice's agreements found."""

    length: int
    broken_at: int | None = None
    why: str = ""


def chain() -> Chain:
    """Follow the agreements of the practice in scope from the first.

    It shows one changed, taken out or put in between; an end cut off shows beside the letter that was sent.
    """
    length, before = 0, ""
    for agreement in in_order():
        if agreement.number != length + 1:
            return Chain(length, length + 1, _("it is gone"))
        if sealed(before, agreement) != agreement.sha256:
            return Chain(length, agreement.number, _("it says something else than when it was made"))
        length, before = agreement.number, agreement.sha256
    return Chain(length)


def in_order() -> Iterator[Agreement]:
    yield from Agreement.objects.order_by("number").iterator(chunk_size=500)
