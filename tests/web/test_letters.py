"""The pages of a practice's letters."""

from __future__ import annotations

from django.core import mail
from django.utils import timezone
from django_scopes import scope, scopes_disabled

from consulting import outbox
from consulting.letters import Letter, LetterState
from consulting.models import Practice
from consulting.outbox import Enclosed, put, send_due
from tests.conftest import Cast
from tests.web.queries import count


def letter_in(practice: Practice, state: str, once: str = "") -> Letter:
    made = put(
        practice=practice,
        once=once or state,
        to="ada@example.org",
        subject=f"A letter that is {state}",
        text="Dear Ada,\n<b>hello</b>",
        attachments=[Enclosed("proposal.pdf", b"%PDF")],
    )
    with scope(practice=practice):
        Letter.objects.filter(pk=made.pk).update(state=state, trouble="The mail server refused it: 550 no")
    return made


def test_the_list_says_how_each_letter_stands_and_what_to_look_at(cast: Cast) -> None:
    for state in LetterState.values:
        letter_in(cast.practice, state)
    letter_in(cast.other_practice, LetterState.FAILED)
    browser = cast.browser(cast.planner)
    page = browser.get(cast.url("letters/")).content.decode()
    assert (
        "All 6</a>" in page
        and "To look at 2</a>" in page
        and "Waiting 2</a>" in page
        and "Sent 1</a>" in page
    )
    page = browser.get(cast.url("letters/?stands=trouble")).content.decode()
    assert "A letter that is failed" in page and "A letter that is unsure" in page
    assert "A letter that is sent" not in page


def test_the_list_asks_no_more_for_many_letters(cast: Cast) -> None:
    browser = cast.browser(cast.owner)
    letter_in(cast.practice, LetterState.SENT, "a")
    one = count(lambda: browser.get(cast.url("letters/")))
    for number in range(60):
        letter_in(cast.practice, LetterState.SENT, str(number))
    assert count(lambda: browser.get(cast.url("letters/"))) == one
    assert "Page 2 of 2" in browser.get(cast.url("letters/?page=2")).content.decode()


def test_a_letter_is_shown_as_text_with_why_it_did_not_go_and_is_sent_again(cast: Cast) -> None:
    failed, browser = letter_in(cast.practice, LetterState.FAILED), cast.browser(cast.planner)
    page = browser.get(cast.url(f"letters/{failed.pk}/")).content.decode()
    assert "&lt;b&gt;hello&lt;/b&gt;" in page and "550 no" in page and "proposal.pdf" in page
    browser.post(cast.url(f"letters/{failed.pk}/again/"))
    assert send_due() == {"sent": 1} and mail.outbox[0].attachments[0][1] == b"%PDF"
    again = browser.post(cast.url(f"letters/{failed.pk}/again/"), follow=True)
    assert "This letter is sent; nothing was changed." in again.content.decode()
    assert send_due() == {}


def test_a_letter_is_taken_back(cast: Cast) -> None:
    waits = letter_in(cast.practice, LetterState.WAITS)
    cast.browser(cast.planner).post(cast.url(f"letters/{waits.pk}/take-back/"))
    assert send_due() == {}


def test_the_owner_chooses_what_goes_by_itself(cast: Cast) -> None:
    assert not cast.practice.remind_client and not cast.practice.tell_client
    browser, url = cast.browser(cast.owner), cast.url("practice/letters/")
    sent = {
        "remind_client": "on",
        "remind_days": "10",
        "tell_days": "2",
        "letter_signature": "Yours,\nKestrel",
    }
    assert browser.post(url, sent).status_code == 302
    cast.practice.refresh_from_db()
    assert (cast.practice.remind_client, cast.practice.remind_days) == (True, 10)
    assert not cast.practice.tell_crew and cast.practice.letter_signature == "Yours,\nKestrel"
    wrong = browser.post(url, sent | {"remind_days": "-3"})
    assert wrong.status_code == 422 and "Yours," in wrong.content.decode()


def test_after_an_archive_is_brought_back_nothing_goes_by_itself(cast: Cast) -> None:
    waits, sent = letter_in(cast.practice, LetterState.WAITS), letter_in(cast.practice, LetterState.SENT)
    assert outbox.hold_back() == 1
    assert send_due(clock=timezone.now) == {}
    with scopes_disabled():
        states = dict(Letter.objects.values_list("pk", "state"))
    assert states == {waits.pk: LetterState.UNSURE, sent.pk: LetterState.SENT}
