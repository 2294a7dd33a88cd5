"""Letters: queued with what they tell of, sent once, tried again, left to a person where nobody can know."""

from __future__ import annotations

import logging
import smtplib
from concurrent.futures import ThreadPoolExecutor
from datetime import UTC, datetime, timedelta
from email.message import Message
from threading import Barrier
from typing import Any

import pytest
from django.core import mail
from django.core.exceptions import ValidationError
from django.core.mail.backends import locmem
from django.core.management import call_command
from django.db import connection, connections, transaction
from django.test import override_settings
from django_scopes import scope, scopes_disabled

from consulting import outbox
from consulting.letters import Enclosure, Letter, LetterState
from consulting.models import Practice
from consulting.outbox import Enclosed, put, send_due
from tests.factories import make_practice, make_user

NOON = datetime(2026, 5, 4, 12, tzinfo=UTC)


class Clock:
    def __init__(self) -> None:
        self.now = NOON

    def __call__(self) -> datetime:
        return self.now

    def on(self, wait: timedelta) -> None:
        self.now += wait


class Server(locmem.EmailBackend):
    """A mail server that does, letter by letter, what it was told to; then takes everything."""

    answers: list[Exception | None] = []
    reached: list[Exception | None] = []

    def open(self) -> None:
        if type(self).reached and (wrong := type(self).reached.pop(0)):
            raise wrong

    def send_messages(self, messages: Any) -> int:
        if type(self).answers and (wrong := type(self).answers.pop(0)):
            raise wrong
        return super().send_messages(messages)


@pytest.fixture
def server() -> Any:
    Server.answers, Server.reached = [], []
    with override_settings(EMAIL_BACKEND=f"{__name__}.Server"):
        yield Server


@pytest.fixture
def practice(db: None) -> Practice:
    return make_practice("Kestrel Cover Company", slug="kestrel", email="office@kestrel.example.org")


def queue(practice: Practice, once: str = "offer:7", **values: Any) -> Letter:
    usual = {"to": "ada@example.org", "subject": "Your proposal", "text": "Dear Ada,\nhere it is.\n"}
    letter = put(practice=practice, once=once, **{**usual, **values})
    with scope(practice=practice):
        Letter.objects.filter(pk=letter.pk).update(due_at=NOON)
    return letter


def now(letter: Letter) -> Letter:
    with scopes_disabled():
        return Letter.objects.get(pk=letter.pk)


def test_a_letter_goes_by_the_name_of_the_practice_and_once(practice: Practice) -> None:
    letter = queue(practice, attachments=[Enclosed("proposal 7.pdf", b"%PDF-1.7")])
    assert queue(practice, text="another") == letter and not mail.outbox
    assert send_due(clock=lambda: NOON) == {"sent": 1}
    assert send_due(clock=lambda: NOON) == {}
    [sent] = mail.outbox
    made = sent.message()
    assert made["From"] == "Kestrel Cover Company <no-reply@localhost>"
    assert (made["To"], made["Reply-To"]) == ("ada@example.org", "office@kestrel.example.org")
    assert made["Message-ID"] == letter.message_id and made["Auto-Submitted"] == "auto-generated"
    assert sent.attachments == [("proposal 7.pdf", b"%PDF-1.7", "application/pdf")]
    there = now(letter)
    assert (there.state, there.sent_at, there.text) == (LetterState.SENT, NOON, letter.text)
    with scopes_disabled():
        kept = Enclosure.objects.get(letter=letter)
    assert kept.content is None and kept.size_bytes == 8
    # printf '%PDF-1.7' | sha256sum
    assert kept.sha256 == "86edbaa24831badfa0a8b04bb410141e2ee4182b6d0014493fe262a7a331c20b"


def test_it_is_queued_with_what_it_tells_of_or_not_at_all(practice: Practice) -> None:
    with pytest.raises(RuntimeError), transaction.atomic():
        queue(practice)
        raise RuntimeError
    assert send_due() == {}


def test_two_practices_may_use_the_same_word(practice: Practice) -> None:
    other = make_practice("Upland & Daughters", slug="upland")
    assert queue(practice) != queue(other)
    assert send_due(clock=lambda: NOON) == {"sent": 2}


def test_who_sends_it_off_is_named_and_it_is_no_machine_that_writes(practice: Practice) -> None:
    letter = queue(practice, by=make_user(name="Perrin Planner"))
    send_due(clock=lambda: NOON)
    assert letter.by_name == "Perrin Planner" and "Auto-Submitted" not in mail.outbox[0].message()


@pytest.mark.parametrize("to", ["", "ada", "ada@example.org\nBcc: all@example.org", "a@b.org, c@d.org"])
def test_one_sound_address_is_asked(practice: Practice, to: str) -> None:
    with pytest.raises(ValidationError) as refused:
        queue(practice, to=to)
    assert set(refused.value.message_dict) == {"to"}


def test_nothing_typed_becomes_a_header(practice: Practice) -> None:
    practice.name = 'Kestrel", <x@example.org>\r\nBcc: all@example.org'
    practice.save()
    nasty = "Yes\r\nBcc: all@example.org\r\n\r\n<b>\u202e\u2028\x00\ud800"
    queue(
        practice, subject=nasty, text=nasty, attachments=[Enclosed(nasty + ".pdf", b"x", "application/pdf")]
    )
    send_due(clock=lambda: NOON)
    made: Message = mail.outbox[0].message()
    assert set(made.keys()) == {
        "Content-Type", "MIME-Version", "Subject", "From", "To", "Reply-To", "Date", "Message-ID",
        "Auto-Submitted",
    }  # fmt: skip
    assert made["Subject"] == "Yes Bcc: all@example.org <b>"
    assert str(made["From"]).endswith(" <no-reply@localhost>") and mail.outbox[0].recipients() == [
        "ada@example.org"
    ]
    assert mail.outbox[0].body == "Yes\nBcc: all@example.org\n\n<b>\u202e\u2028"


def test_what_is_too_large_is_refused(practice: Practice) -> None:
    with pytest.raises(ValidationError, match="15 MB at most"):
        queue(practice, attachments=[Enclosed("a.pdf", b"x" * 8_000_000)] * 2)
    with pytest.raises(ValidationError):
        queue(practice, text="x" * 20_001)


def test_it_waits_longer_after_each_try_and_gives_up(practice: Practice, server: Any) -> None:
    letter, clock = queue(practice), Clock()
    server.answers[:] = [smtplib.SMTPDataError(451, b"4.3.0 try later")] * 9
    for tries, wait in enumerate(outbox.WAITS, start=1):
        assert send_due(clock=clock) == {"waits": 1}
        assert now(letter).tries == tries
        clock.on(wait - timedelta(seconds=1))
        assert send_due(clock=clock) == {}
        clock.on(timedelta(seconds=1))
    assert send_due(clock=clock) == {"failed": 1} and not mail.outbox
    assert now(letter).trouble == "The mail server refused it: 451 4.3.0 try later"
    clock.on(timedelta(days=30))
    assert send_due(clock=clock) == {}

    with scopes_disabled():
        outbox.send_again(letter=letter)
    assert send_due() == {"sent": 1}
    assert mail.outbox[0].message()["Message-ID"] == letter.message_id


@pytest.mark.parametrize(
    "refused",
    [
        smtplib.SMTPRecipientsRefused({"ada@example.org": (550, b"no such mailbox")}),
        smtplib.SMTPDataError(554, b"no such mailbox"),
    ],
)
def test_what_a_server_refuses_for_good_is_not_tried_again(
    practice: Practice, server: Any, refused: Exception
) -> None:
    letter = queue(practice)
    server.answers[:] = [refused]
    assert send_due(clock=lambda: NOON) == {"failed": 1}
    assert "no such mailbox" in now(letter).trouble


def test_without_a_server_one_letter_tries_and_the_others_wait(practice: Practice, server: Any) -> None:
    letters = [queue(practice, once=f"offer:{number}") for number in (1, 2, 3)]
    server.reached[:] = [ConnectionRefusedError(111, "Connection refused")]
    assert send_due(clock=lambda: NOON) == {"waits": 1}
    assert [now(letter).tries for letter in letters] == [1, 0, 0]
    assert now(letters[0]).trouble == "The mail server could not be reached (Connection refused)."
    assert send_due(clock=lambda: NOON) == {"sent": 2}
    assert send_due(clock=lambda: NOON + outbox.WAITS[0]) == {"sent": 1}


@pytest.mark.parametrize("wrong", [smtplib.SMTPServerDisconnected("gone"), TimeoutError(), RuntimeError()])
def test_a_connection_that_breaks_leaves_the_letter_to_a_person(
    practice: Practice, server: Any, wrong: Exception
) -> None:
    letter = queue(practice)
    server.answers[:] = [wrong]
    assert send_due(clock=lambda: NOON) == {"unsure": 1}
    assert send_due(clock=lambda: NOON + timedelta(days=9)) == {} and not mail.outbox
    assert "may have gone" in now(letter).trouble


class Killed(BaseException):
    """The process ends here: nothing after it runs."""


@pytest.mark.parametrize("taken", [False, True], ids=["before", "after the server took it"])
def test_a_sender_that_dies_in_between_sends_nothing_twice(
    practice: Practice, server: Any, monkeypatch: pytest.MonkeyPatch, taken: bool
) -> None:
    letter, clock = queue(practice), Clock()

    def killed(self: Any, messages: Any) -> int:
        if taken:
            locmem.EmailBackend.send_messages(self, messages)
        raise Killed

    with monkeypatch.context() as dying, pytest.raises(Killed):
        dying.setattr(Server, "send_messages", killed)
        send_due(clock=clock)
    assert now(letter).state == LetterState.SENDING
    assert send_due(clock=clock) == {}
    clock.on(outbox.LOST_AFTER + timedelta(seconds=1))
    assert send_due(clock=clock) == {"unsure": 1}
    assert send_due(clock=clock) == {}
    assert len(mail.outbox) == taken

    with scopes_disabled():
        outbox.send_again(letter=letter)
    assert send_due() == {"sent": 1} and len(mail.outbox) == taken + 1


def test_a_slow_sender_still_says_how_it_went_unless_a_person_was_first(practice: Practice) -> None:
    slow, other = queue(practice, once="a"), queue(practice, once="b")
    with scopes_disabled():
        held = [outbox.claim_next(NOON), outbox.claim_next(NOON)]
        outbox.find_lost(NOON + timedelta(days=1))
        outbox.send_again(letter=other)
        assert [outbox.settle(letter, state=LetterState.SENT) for letter in held if letter] == [True, False]
    assert (now(slow).state, now(other).state) == (LetterState.SENT, LetterState.WAITS)


def test_what_comes_too_late_does_not_go(practice: Practice) -> None:
    letter = queue(practice, useful_until=NOON)
    assert send_due(clock=lambda: NOON + timedelta(minutes=1)) == {"failed": 1} and not mail.outbox
    assert now(letter).trouble == outbox.TOO_LATE


def test_a_letter_taken_back_does_not_go_and_one_that_went_is_not_taken_back(practice: Practice) -> None:
    back, gone = queue(practice, once="a"), queue(practice, once="b")
    with scope(practice=practice):
        outbox.take_back(letter=back)
        assert send_due(clock=lambda: NOON) == {"sent": 1}
        for act in (outbox.take_back, outbox.send_again):
            with pytest.raises(outbox.Settled, match="sent"):
                act(letter=gone)


def test_the_log_names_nobody(practice: Practice, server: Any, caplog: pytest.LogCaptureFixture) -> None:
    for number in range(3):
        queue(practice, once=str(number))
    server.answers[:] = [
        smtplib.SMTPDataError(554, b"ada@example.org is unknown"),
        OSError("ada@example.org"),
    ]
    with caplog.at_level(logging.INFO):
        send_due(clock=lambda: NOON)
    assert len(caplog.records) == 3
    assert not [word for word in ("ada", "Kestrel", "proposal") if word in caplog.text]


def test_the_command_says_how_many_went(practice: Practice, capsys: pytest.CaptureFixture[str]) -> None:
    queue(practice)
    call_command("send_mail")
    call_command("send_mail")
    assert capsys.readouterr().out.splitlines() == ["1 sent", "Nothing is due."]


@pytest.mark.skipif(connection.vendor != "postgresql", reason="SQLite lets one write at a time")
@pytest.mark.django_db(transaction=True)
def test_senders_at_once_share_the_letters(monkeypatch: pytest.MonkeyPatch) -> None:
    practice = make_practice("Kestrel Cover Company", slug="kestrel")
    letters = [queue(practice, once=str(number)) for number in range(20)]
    handed: list[int] = []
    monkeypatch.setattr(outbox, "hand_over", lambda letter: handed.append(letter.pk))
    begin = Barrier(4)

    def send() -> int:
        try:
            begin.wait()
            return send_due(clock=lambda: NOON)["sent"]
        finally:
            connections.close_all()

    with ThreadPoolExecutor(4) as pool:
        sent = [pool.submit(send) for _ in range(4)]
    assert sum(one.result() for one in sent) == 20
    assert sorted(handed) == sorted(letter.pk for letter in letters)


@pytest.mark.skipif(connection.vendor != "postgresql", reason="SQLite lets one write at a time")
@pytest.mark.django_db(transaction=True)
def test_queued_by_several_at_once_it_is_one_letter() -> None:
    practice = make_practice("Kestrel Cover Company", slug="kestrel")
    begin = Barrier(4)

    def put_it() -> int:
        try:
            begin.wait()
            return queue(practice).pk
        finally:
            connections.close_all()

    with ThreadPoolExecutor(4) as pool:
        made = [pool.submit(put_it) for _ in range(4)]
    assert len({one.result() for one in made}) == 1
