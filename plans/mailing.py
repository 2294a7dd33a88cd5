"""Letters about plans: written in the reader's language, read over by a person, and queued."""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import Any
from uuid import UUID

from django.template.loader import render_to_string

from consulting import outbox
from consulting.letters import Letter
from consulting.manner import ReaderFields
from consulting.models import Practice, User
from consulting.outbox import Enclosed
from plans.manners import manner_of, speaking
from plans.models import Plan, Proposal
from sites.models import Farm


@dataclass(frozen=True, slots=True)
class Draft:
    """A letter that is not queued yet."""

    to: str
    subject: str
    text: str


def about(matter: Plan | Farm) -> str:
    """By what letters are found: those of a plan, and word of visits, which is of a whole farm."""
    return f"{'plan' if isinstance(matter, Plan) else 'farm'}:{matter.pk}"


def write(template: str, *, practice: Practice, reader: ReaderFields, to: str, **said: Any) -> Draft:
    """The letter of templates/mail that is called so; its first line is the subject."""
    with speaking(manner_of(practice, reader)):
        written = render_to_string(
            f"mail/{template}.txt", {"practice": practice, "signature": signature(practice), **said}
        )
    subject, _, text = written.strip().partition("\n")
    return Draft(to=to, subject=subject.strip(), text=re.sub(r"\n{3,}", "\n\n", text.strip()) + "\n")


def signature(practice: Practice) -> str:
    own = practice.letter_signature.strip()
    return own or "\n".join(part for part in (practice.name, practice.phone, practice.email) if part)


def to_client(template: str, plan: Plan, **said: Any) -> Draft:
    client = plan.farm.client
    return write(
        template, practice=plan.practice, reader=client, to=client.email, plan=plan, client=client, **said
    )


def offer_letter(proposal: Proposal) -> Draft:
    return to_client("offer", proposal.plan, proposal=proposal)


def report_letter(plan: Plan, season: str) -> Draft:
    """What goes with a season's report; `season` as the report calls it, such as 2027."""
    return to_client("report", plan, season=season)


def send_off(
    *, plan: Plan, what: str, uid: UUID, user: User, draft: Draft, enclosed: tuple[Enclosed, ...] = ()
) -> Letter:
    """Queue a letter to the client that a person has read over, once for each `uid`.

    Raises ValidationError as `outbox.put` does.
    """
    return outbox.put(
        practice=plan.practice,
        once=f"{what}:{plan.pk}:{uid}",
        to=draft.to,
        subject=draft.subject,
        text=draft.text,
        attachments=enclosed,
        about=about(plan),
        by=user,
    )
