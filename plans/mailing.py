"""Letters about plans, written in the language and the measures of their reader."""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import Any

from django.template.loader import render_to_string

from consulting.manner import ReaderFields
from consulting.models import Practice
from plans.manners import speaking, spoken_to
from plans.models import Plan
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


def write(template: str, *, practice: Practice, reader: ReaderFields | None, to: str, **said: Any) -> Draft:
    """The letter of templates/mail that is called so; its first line is the subject.

    Without a reader it is written in the practice's own language.
    """
    with speaking(spoken_to(practice, reader)):
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
