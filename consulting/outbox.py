"""Letters queued in the transaction that they tell of, and sent afterwards; none is sent twice by itself.

A sender first marks a letter as being sent, then hands it to the mail server, then marks it as sent. Cut off
in between, it cannot know whether the server took the letter: that one is left to a person.
"""

from __future__ import annotations

import hashlib
import logging
import smtplib
from collections import Counter
from collections.abc import Callable, Iterable
from contextlib import suppress
from dataclasses import dataclass
from datetime import datetime, timedelta
from email.utils import formataddr, make_msgid, parseaddr
from uuid import uuid4

from django.conf import settings
from django.core.exceptions import ValidationError
from django.core.mail import EmailMessage, get_connection
from django.db import IntegrityError, models, transaction
from django.utils import timezone
from django.utils.translation import gettext, gettext_lazy
from django_scopes import scope, scopes_disabled

from consulting.letters import Enclosure, Letter, LetterState
from consulting.logs import KEY_IN_ADDRESS
from consulting.models import Practice, User
from consulting.services import save

logger = logging.getLogger(__name__)

WAITS = tuple(timedelta(minutes=minutes) for minutes in (1, 5, 30, 2 * 60, 6 * 60, 24 * 60, 24 * 60, 24 * 60))
"""Between one try and the next; after the last, nobody tries again by himself."""
LOST_AFTER = timedelta(minutes=15)
"""A letter that is being sent for so long has lost its sender; a mail server answers or times out sooner."""
LARGEST_ENCLOSURES_BYTES = 15_000_000
CUT_OFF = gettext_lazy(
    "Its sending was cut off, so it may have gone. Ask whether it came before you send it again."
)
BROUGHT_BACK = gettext_lazy(
    "It waited when this was kept, so it may have gone since. Ask whether it came before you send it again."
)
TOO_LATE = gettext_lazy("It could not be sent while it was still of use.")


@dataclass(frozen=True, slots=True)
class Enclosed:
    name: str
    content: bytes
    content_type: str = "application/pdf"


def one_line(text: str) -> str:
    """For a header: no line breaks, nothing that cannot be seen."""
    return " ".join("".join(sign if sign.isprintable() else " " for sign in text).split())


def plain(text: str) -> str:
    """The body: line breaks and tabs stay, other control characters and halves of characters go."""
    lines = text.replace("\r\n", "\n").replace("\r", "\n")
    return "".join(
        sign for sign in lines if sign in "\n\t" or not (sign < " " or "\ud800" <= sign <= "\udfff")
    )


@transaction.atomic
def put(
    *,
    practice: Practice,
    once: str,
    to: str,
    subject: str,
    text: str,
    attachments: Iterable[Enclosed] = (),
    about: str = "",
    by: User | None = None,
    useful_until: datetime | None = None,
) -> Letter:
    """Queue a letter in the caller's transaction; the one that is there, if `once` was queued before.

    `by` is who sends it off, None when it goes by itself. Raises ValidationError for an address that is none,
    an empty subject or text, and for too much of either or of what goes with it.
    """
    with scope(practice=practice):
        if (there := Letter.objects.filter(once=once).first()) is not None:
            return there
        enclosed = list(attachments)
        if sum(len(one.content) for one in enclosed) > LARGEST_ENCLOSURES_BYTES:
            most = f"{LARGEST_ENCLOSURES_BYTES / 1e6:.0f} MB"
            raise ValidationError(
                gettext("What goes with a letter may be {most} at most. Send a link instead.").format(
                    most=most
                )
            )
        letter = Letter(
            practice=practice,
            once=once,
            about=about,
            to=to.strip(),
            subject=one_line(subject)[:200],
            text=plain(text),
            by_name=str(by) if by else "",
            message_id=make_msgid(
                domain=parseaddr(settings.DEFAULT_FROM_EMAIL)[1].rpartition("@")[2] or None
            ),
            useful_until=useful_until,
        )
        letter.full_clean(validate_unique=False, validate_constraints=False)
        try:
            with transaction.atomic():
                letter.save()
        except IntegrityError:
            # Somebody queued the same at this very moment.
            return Letter.objects.get(once=once)
        for one in enclosed:
            save(
                Enclosure(practice=practice, letter=letter, content=one.content),
                name=one_line(one.name)[:200] or "enclosure",
                content_type=one.content_type,
                size_bytes=len(one.content),
                sha256=hashlib.sha256(one.content).hexdigest(),
            )
        return letter


def message_of(letter: Letter) -> EmailMessage:
    """By the practice's name, from the site's address; an answer goes to the practice."""
    practice = letter.practice
    sender = parseaddr(settings.DEFAULT_FROM_EMAIL)[1]
    headers = {"Message-ID": letter.message_id}
    if not letter.by_name:
        headers["Auto-Submitted"] = "auto-generated"  # RFC 3834, section 5: nobody's absence note answers it
    message = EmailMessage(
        subject=letter.subject,
        body=letter.text,
        from_email=formataddr((one_line(practice.name), sender)),
        to=[letter.to],
        reply_to=[practice.email] if practice.email else None,
        headers=headers,
    )
    for one in letter.enclosures.all():
        message.attach(one.name, bytes(one.content or b""), one.content_type)
    return message


# Sending


class NotTaken(Exception):
    """The mail server surely did not take the letter. `for_good`: another try would end the same."""

    def __init__(self, why: str, for_good: bool = False):
        super().__init__(why)
        self.for_good = for_good


class NoServer(NotTaken):
    """There is no mail server to hand anything to."""


@transaction.atomic
def claim_next(now: datetime) -> Letter | None:
    """The next letter that is due, marked as being sent; no other sender gets it."""
    due = Letter.objects.filter(state=LetterState.WAITS, due_at__lte=now).order_by("due_at", "pk")
    letter = due.select_for_update(of=("self",), skip_locked=True).first()
    if letter is None:
        return None
    letter.state, letter.claim, letter.claimed_at = LetterState.SENDING, uuid4(), now
    letter.tries += 1
    letter.save(update_fields=["state", "claim", "claimed_at", "tries"])
    return letter


@transaction.atomic
def settle(letter: Letter, **values: object) -> bool:
    """Write how it went, if this sender still holds the letter."""
    held = Letter.objects.filter(
        pk=letter.pk, claim=letter.claim, state__in=[LetterState.SENDING, LetterState.UNSURE]
    )
    settled = bool(held.update(**values))
    if settled and values.get("state") == LetterState.SENT:
        Enclosure.objects.filter(letter_id=letter.pk).update(content=None)
        # What opens a page is kept nowhere but as a hash.
        Letter.objects.filter(pk=letter.pk).update(text=KEY_IN_ADDRESS.sub("…", letter.text))
    return settled


def hand_over(letter: Letter) -> None:
    """Give a letter to the mail server, over a connection of its own: one that is kept may break meanwhile.

    Raises NotTaken when the server surely did not take it, and anything else when that is not known.
    """
    try:
        message = message_of(letter)
        message.message().as_bytes()
    except (ValueError, UnicodeError) as wrong:
        raise NotTaken(
            gettext("It cannot be put into the form of an e-mail: {wrong}").format(wrong=wrong), for_good=True
        ) from wrong
    message.connection = server = get_connection()
    try:
        server.open()
    except OSError as wrong:
        raise NoServer(
            gettext("The mail server could not be reached ({reason}).").format(reason=said(wrong))
        ) from wrong
    try:
        message.send()
    except smtplib.SMTPRecipientsRefused as wrong:
        code, answer = next(iter(wrong.recipients.values()))
        raise NotTaken(refusal(code, answer), for_good=code >= 500) from wrong
    except smtplib.SMTPResponseException as wrong:
        # RFC 5321, section 4.2.1: 4yz may be tried again, 5yz ends the same.
        raise NotTaken(refusal(wrong.smtp_code, wrong.smtp_error), wrong.smtp_code >= 500) from wrong
    finally:
        with suppress(OSError):
            server.close()


def refusal(code: int, answer: bytes | str) -> str:
    text = answer.decode(errors="replace") if isinstance(answer, bytes) else answer
    return gettext("The mail server refused it: {code} {text}").format(code=code, text=one_line(text))


def said(wrong: OSError) -> str:
    if isinstance(wrong, smtplib.SMTPResponseException):
        return gettext("it answered {code}").format(code=wrong.smtp_code)
    return wrong.strerror or type(wrong).__name__


def find_lost(now: datetime) -> int:
    """Letters whose sender is gone: they may have been sent, so a person says what becomes of them."""
    lost = Letter.objects.filter(state=LetterState.SENDING, claimed_at__lt=now - LOST_AFTER)
    return lost.update(state=LetterState.UNSURE, trouble=CUT_OFF)


def hold_back(letters: type[models.Model] = Letter) -> int:
    """As an archive is brought back: what waited when it was kept may have gone since; how many.

    `letters` is the table as it was then.
    """
    with scopes_disabled():
        waiting = letters._base_manager.filter(state__in=[LetterState.WAITS, LetterState.SENDING])
        return waiting.update(state=LetterState.UNSURE, claim=None, trouble=BROUGHT_BACK)


def send_one(letter: Letter, clock: Callable[[], datetime]) -> str:
    """Hand a claimed letter over and write down how it went: the state that it is in now."""
    now = clock()
    if letter.useful_until and letter.useful_until < now:
        settle(letter, state=LetterState.FAILED, trouble=TOO_LATE)
        return LetterState.FAILED
    try:
        hand_over(letter)
    except NotTaken as why:
        last = why.for_good or letter.tries > len(WAITS)
        state = LetterState.FAILED if last else LetterState.WAITS
        due_at = letter.due_at if last else clock() + WAITS[letter.tries - 1]
        settle(letter, state=state, due_at=due_at, trouble=str(why)[:500])
        kind = type(why.__cause__).__name__
        logger.warning("letter %s not sent at try %s: %s", letter.pk, letter.tries, kind)
        if isinstance(why, NoServer):
            raise
        return state
    except Exception as wrong:  # noqa: BLE001  whatever a back end raises, the letter may be gone
        settle(letter, state=LetterState.UNSURE, trouble=CUT_OFF)
        logger.error("letter %s may have gone: %s", letter.pk, type(wrong).__name__)
        return LetterState.UNSURE
    settle(letter, state=LetterState.SENT, sent_at=clock(), trouble="")
    logger.info("letter %s sent", letter.pk)
    return LetterState.SENT


def send_due(
    at_most: int | None = None,
    clock: Callable[[], datetime] = timezone.now,
    wanted: Callable[[], bool] = lambda: True,
) -> Counter[str]:
    """Send what is due, of every practice, one letter after another: how many went into which state.

    Stops early when no mail server answers, and when nothing more is `wanted`.
    """
    went: Counter[str] = Counter()
    with scopes_disabled():
        lost = find_lost(clock())
        while wanted() and (at_most is None or went.total() < at_most):
            if (letter := claim_next(clock())) is None:
                break
            try:
                went[send_one(letter, clock)] += 1
            except NoServer:
                went[LetterState.WAITS] += 1
                break
    return went + Counter({LetterState.UNSURE: lost})


# What a person decides


class Settled(Exception):
    """The letter stands otherwise by now; the message says how."""


@transaction.atomic
def send_again(*, letter: Letter) -> Letter:
    """Queue a letter that failed or may have gone; under the same Message-ID. Raises Settled."""
    held = Letter.objects.select_for_update(of=("self",)).get(pk=letter.pk)
    if not held.may_be_sent_again:
        raise Settled(
            gettext("This letter is {state}; nothing was changed.").format(
                state=held.get_state_display().lower()
            )
        )
    held.state, held.tries, held.claim = LetterState.WAITS, 0, None
    held.due_at, held.useful_until = timezone.now(), None
    held.save(update_fields=["state", "tries", "claim", "due_at", "useful_until"])
    return held


@transaction.atomic
def take_back(*, letter: Letter) -> Letter:
    """Leave a letter unsent. Raises Settled when it went already."""
    held = Letter.objects.select_for_update(of=("self",)).get(pk=letter.pk)
    if not held.may_be_taken_back:
        raise Settled(
            gettext("This letter is {state}; nothing was changed.").format(
                state=held.get_state_display().lower()
            )
        )
    held.state, held.claim = LetterState.DROPPED, None
    held.save(update_fields=["state", "claim"])
    return held
