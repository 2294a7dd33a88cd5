"""Private addresses of the client's page: made, opened, revoked; and what is asked through them."""

from __future__ import annotations

from datetime import date, datetime
from uuid import UUID

from django.core.exceptions import ValidationError
from django.db import transaction
from django.db.models import F
from django.db.models.functions import Coalesce
from django.utils import timezone
from django.utils.translation import gettext as _
from django_scopes import scopes_disabled

from consulting.models import User
from consulting.services import save
from plans import client_letters as letters
from plans.models import Answer, ClientLink, Plan, Question
from plans.models.feeds import key_hash, new_key
from plans.services import Refused, locked

USUAL_DAYS = 365
MOST_DAYS = 3660
MOST_WAITING = 20
"""Questions of one plan that wait for an answer; then a call is the better way."""


def plain_text(text: str) -> str:
    """As it was typed, without what cannot be seen: line breaks and tabs stay."""
    lines = text.replace("\r\n", "\n").replace("\r", "\n")
    return "".join(sign for sign in lines if sign in "\n\t" or sign.isprintable()).strip()


def one_line(text: str) -> str:
    return " ".join(plain_text(text).split())


@transaction.atomic
def link_make(*, plan: Plan, user: User, expires_on: date, today: date) -> tuple[ClientLink, str]:
    """A new link and its key, which nobody can read again. One that there was works no more."""
    if not today < expires_on or (expires_on - today).days > MOST_DAYS:
        raise ValidationError({"expires_on": _("Choose a day after today, and within ten years.")})
    held = locked(plan)
    revoke(held)
    key = new_key()
    link = ClientLink(
        practice_id=held.practice_id,
        plan=held,
        key_sha256=key_hash(key),
        made_by=user,
        made_by_name=str(user),
    )
    return save(link, expires_on=expires_on), key


@transaction.atomic
def link_revoke(*, plan: Plan) -> None:
    revoke(locked(plan))


def revoke(plan: Plan) -> None:
    ClientLink.objects.filter(plan=plan, revoked_at__isnull=True).update(revoked_at=timezone.now())


def link_of(plan: Plan) -> ClientLink | None:
    """The plan's link that was not revoked."""
    return ClientLink.objects.filter(plan=plan, revoked_at__isnull=True).first()


def link_behind(key: str) -> ClientLink | None:
    """The link with this key, of whatever practice and whether or not it still works."""
    with scopes_disabled():
        return (
            ClientLink.objects.select_related("practice", "plan__farm__client")
            .filter(key_sha256=key_hash(key))
            .first()
        )


def note_opening(link: ClientLink, now: datetime) -> None:
    ClientLink.objects.filter(pk=link.pk).update(
        opened=F("opened") + 1, last_opened_at=now, first_opened_at=Coalesce("first_opened_at", now)
    )


@transaction.atomic
def question_ask(*, link: ClientLink, uid: UUID, text: str, name: str = "") -> Question:
    """Keep a question; the one that is there, if it was sent before. Raises Refused when too many wait."""
    plan = locked(link.plan)
    asked = Question.objects.filter(plan=plan)
    if (there := asked.filter(uid=uid).first()) is not None:
        return there
    if asked.filter(answers__isnull=True).count() >= MOST_WAITING:
        raise Refused(
            _("Many of your questions wait for an answer already. Please call us, so that none gets lost.")
        )
    question = save(
        Question(practice_id=plan.practice_id, plan=plan, link=link, uid=uid),
        text=plain_text(text),
        name=one_line(name),
    )
    letters.asked(question)
    return question


def unanswered(plan: Plan | None = None) -> list[Question]:
    """Questions that wait for an answer, the oldest first: a plan's, or the first of the whole practice."""
    waiting = (
        Question.objects.filter(answers__isnull=True).select_related("plan__farm__client").order_by("pk")
    )
    return list(waiting.filter(plan=plan) if plan else waiting[:MOST_WAITING])


@transaction.atomic
def question_answer(*, question: Question, user: User, text: str) -> Answer:
    answer = save(
        Answer(practice_id=question.practice_id, question=question, by=user, by_name=str(user)),
        text=plain_text(text),
    )
    letters.answered(answer)
    return answer
