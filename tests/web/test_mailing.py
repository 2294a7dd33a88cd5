"""Letters about plans: an offer sent by a person, a reminder and word of visits by themselves, each once."""

from __future__ import annotations

import re
from datetime import date, timedelta
from typing import Any
from unittest.mock import patch
from uuid import uuid4

import pytest
from django.core import mail
from django.core.management import call_command
from django.test import Client as Browser
from django_scopes import scope

from consulting.letters import Enclosure, Letter, LetterState
from consulting.models import Client, Machine, Membership, Practice, User
from consulting.outbox import send_due
from plans.models import Plan, Proposal, State, Visit, VisitState
from plans.notices import notices_queue, what_to_tell
from plans.reminding import reminders_queue
from plans.services import plan_move
from tests.conftest import Cast
from tests.factories import make
from tests.plan_factories import TODAY, UNPRINTED, make_agreed, make_offered, make_ready_plan

ADA = "ada@example.org"


def day(number: int) -> date:
    """A day of May 2027."""
    return date(2027, 5, number)


def with_address(plan: Plan) -> Plan:
    with scope(practice=plan.practice):
        Client.objects.filter(pk=plan.farm.client_id).update(email=ADA, name="Ada <Quillen> & Sons")
        return Plan.objects.get(pk=plan.pk)


@pytest.fixture
def offered(cast: Cast) -> Proposal:
    cast.practice.email, cast.practice.phone = "office@kestrel.example.org", "555 0100"
    cast.practice.save()
    plan = with_address(make_ready_plan(cast.practice))
    with patch("plans.services.proposal_pdf", return_value=UNPRINTED):
        return make_offered(plan, cast.owner)


def queued(practice: Practice, **asked: Any) -> list[Letter]:
    with scope(practice=practice):
        return list(Letter.objects.filter(**asked).order_by("pk"))


# The offer, sent by a person


def typed(**values: Any) -> dict[str, Any]:
    usual = {"to": ADA, "subject": "Our proposal", "text": "Dear Ada", "enclose": "on", "uid": uuid4()}
    return usual | values


def test_an_offer_is_read_over_changed_and_queued_once_with_its_print(cast: Cast, offered: Proposal) -> None:
    browser, url = cast.browser(cast.planner), cast.url(f"proposals/{offered.number}/send/")
    page = browser.get(url).content.decode()
    assert "Dear Ada &lt;Quillen&gt; &amp; Sons," in page and "Kestrel Cover Company\n555 0100" in page
    assert f"${offered.total_usd:,.2f}" in page and "December 25, 2026" in page and not queued(cast.practice)
    sent = typed(text="Dear Ada,\nas we said on the phone.")
    for _ in range(2):
        assert browser.post(url, sent).status_code == 302
    [letter] = queued(cast.practice)
    assert (letter.to, letter.by_name, letter.about) == (ADA, "Perrin Planner", f"plan:{offered.plan_id}")
    assert letter.text == "Dear Ada,\nas we said on the phone."
    with scope(practice=cast.practice):
        assert Enclosure.objects.get(letter=letter).sha256 == offered.sha256
    assert letter.subject in browser.get(cast.url(f"plans/{offered.plan_id}/letters/")).content.decode()


def test_the_address_of_the_clients_page_goes_with_it(cast: Cast, offered: Proposal) -> None:
    browser, url = cast.browser(cast.planner), cast.url(f"proposals/{offered.number}/send/")
    assert "on a page of your own; its address is private:\n{page}" in browser.get(url).content.decode()
    sent = typed(text="Your page: {page}\nYours", page="on")
    for _ in range(2):
        assert browser.post(url, sent).status_code == 302
    [letter] = queued(cast.practice)
    found = re.fullmatch(r"Your page: http://testserver(/client/[^/]+/)\nYours", letter.text)
    assert found and Browser().get(found[1]).status_code == 200, "sent twice, it is still the one that works"
    assert send_due() == {"sent": 1} and found[1] in mail.outbox[0].body
    [kept] = queued(cast.practice)
    assert kept.text == "Your page: http://testserver/client/…/\nYours"
    assert "on a page of your own" not in browser.get(url).content.decode(), (
        "one that works is not made anew unasked"
    )


@pytest.mark.parametrize("values", [{"text": "Your page: {page}"}, {"page": "on"}])
def test_a_page_that_is_asked_for_has_its_place(
    cast: Cast, offered: Proposal, values: dict[str, str]
) -> None:
    url = cast.url(f"proposals/{offered.number}/send/")
    answer = cast.browser(cast.planner).post(url, typed(**values))
    assert answer.status_code == 422 and "{page}" in answer.content.decode() and not queued(cast.practice)


@pytest.mark.parametrize("wrong", [{"to": "ada"}, {"to": ""}, {"subject": ""}, {"text": ""}, {"uid": "x"}])
def test_what_cannot_be_sent_is_said_and_what_was_typed_stays(
    cast: Cast, offered: Proposal, wrong: dict[str, str]
) -> None:
    url = cast.url(f"proposals/{offered.number}/send/")
    answer = cast.browser(cast.planner).post(url, typed(text="As we said") | wrong)
    assert answer.status_code == 422 and not queued(cast.practice)
    assert ("As we said" in answer.content.decode()) == ("text" not in wrong)


def test_a_proposal_that_stands_no_more_is_not_sent(cast: Cast, offered: Proposal) -> None:
    with scope(practice=cast.practice):
        plan_move(plan=offered.plan, state=State.DRAFT, today=TODAY)
    url = cast.url(f"proposals/{offered.number}/send/")
    answer = cast.browser(cast.planner).post(url, typed(), follow=True)
    assert "does not any more" in answer.content.decode() and not queued(cast.practice)


# The reminder


def remind(practice: Practice, on: date) -> int:
    with scope(practice=practice):
        return reminders_queue(practice, on)


def test_an_offer_that_ends_soon_is_called_to_mind_once(cast: Cast, offered: Proposal) -> None:
    soon = offered.valid_until - timedelta(days=7)
    assert remind(cast.practice, soon) == 0, "off by default"
    cast.practice.remind_client = True
    cast.practice.save()
    assert remind(cast.practice, soon - timedelta(days=1)) == 0
    assert [remind(cast.practice, soon + timedelta(days=n)) for n in (0, 0, 1)] == [1, 0, 0]
    [letter] = queued(cast.practice)
    assert letter.to == ADA and letter.by_name == "" and "stands until December 25, 2026" in letter.subject
    # The last day, midnight in Chicago (UTC-6 in winter).
    assert letter.useful_until and letter.useful_until.isoformat() == "2026-12-26T06:00:00+00:00"


def test_nobody_is_pressed(cast: Cast, offered: Proposal) -> None:
    cast.practice.remind_client, cast.practice.remind_days = True, 60
    cast.practice.save()
    assert remind(cast.practice, TODAY + timedelta(days=2)) == 0, "not within days of the offer"
    assert remind(cast.practice, offered.valid_until + timedelta(days=1)) == 0, "not when it is over"
    assert remind(cast.practice, TODAY + timedelta(days=3)) == 1
    with scope(practice=cast.practice):
        plan_move(plan=offered.plan, state=State.DECLINED, today=TODAY)
    assert remind(cast.practice, TODAY + timedelta(days=4)) == 0
    [letter] = queued(cast.practice)
    assert letter.state == LetterState.DROPPED, "one that still waits is taken back"


def test_a_client_is_written_to_in_his_own_language(cast: Cast, offered: Proposal) -> None:
    cast.practice.remind_client = True
    cast.practice.save()
    with scope(practice=cast.practice):
        Client.objects.update(own_locale="es_MX")
    remind(cast.practice, offered.valid_until)
    # CLDR's long date of Spanish in Mexico.
    text = queued(cast.practice)[0].text
    assert "25 de diciembre de 2026" in text and "Dear" not in text


# Word of visits


@pytest.mark.parametrize(
    ("told", "stands", "tell"),
    [
        (None, None, None),
        (None, 3, None),  # booked for today: too late to tell
        (None, 4, "new"),
        (None, 5, None),  # later than tomorrow: not yet
        (4, 4, None),
        (4, 5, "moved"),
        (4, 20, "moved"),
        (4, 3, "moved"),  # brought forward to today
        (4, 2, "off"),  # an empty booking in the past
        (4, None, "off"),
        (3, 5, "moved"),
        (2, 2, None),  # was not done that day, and is not booked anew
        (2, 4, "new"),
        (2, 5, None),
        (2, None, None),
    ],
)
def test_what_somebody_has_to_hear(told: int | None, stands: int | None, tell: str | None) -> None:
    days = [number and day(number) for number in (told, stands)]
    assert what_to_tell(days[0], days[1], today=day(3), last=day(4)) == tell


@pytest.fixture
def visits(cast: Cast) -> list[Visit]:
    cast.practice.tell_client = True
    cast.practice.save()
    plan = make_agreed(with_address(make_ready_plan(cast.practice, name="Barn Hill")), cast.owner)
    with scope(practice=cast.practice):
        return list(Visit.objects.filter(plan=plan).order_by("order"))


def book(visit: Visit, on: date | None, *people: User, **values: Any) -> None:
    with scope(practice=visit.practice):
        Visit.objects.filter(pk=visit.pk).update(booked_on=on, **values)
        visit.people.set(Membership.objects.filter(user__in=people))


def tell(practice: Practice, on: date) -> list[Letter]:
    """What is queued anew."""
    before = {letter.pk for letter in queued(practice)}
    with scope(practice=practice):
        notices_queue(practice, on)
    return [letter for letter in queued(practice) if letter.pk not in before]


def test_client_and_crew_hear_of_a_day_once(cast: Cast, visits: list[Visit]) -> None:
    drill = make(Machine, {}, practice=cast.practice, kind="implement", name="7-ft drill", holding="own")
    for visit in visits[:2]:
        book(visit, day(4), cast.crew)
    with scope(practice=cast.practice):
        visits[0].machines.set([drill])
    assert tell(cast.practice, day(2)) == []
    client, crew = tell(cast.practice, day(3))
    assert (client.to, crew.to) == (ADA, cast.crew.email)
    plan = cast.url(f"plans/{visits[0].plan_id}/letters/")
    assert client.subject in cast.browser(cast.planner).get(plan).content.decode() and not crew.about
    for letter in (client, crew):
        assert "May 4, 2027" in letter.subject and letter.by_name == ""
        assert [letter.text.count(visit.label) for visit in visits[:2]] == [1, 1]
        assert "10 acres" in letter.text and "$" not in letter.text
    assert "With 7-ft drill\n" in crew.text and "7-ft drill" not in client.text
    assert tell(cast.practice, day(3)) == tell(cast.practice, day(4)) == []


def test_a_visit_that_moves_after_the_word_is_told_of_again(cast: Cast, visits: list[Visit]) -> None:
    book(visits[0], day(4))
    tell(cast.practice, day(3))
    book(visits[0], day(11))
    [moved] = tell(cast.practice, day(3))
    assert "A change" in moved.subject and "on May 11, 2027, no longer on May 4, 2027" in moved.text
    assert tell(cast.practice, day(3)) == tell(cast.practice, day(10)) == []
    book(visits[0], day(4))
    [back] = tell(cast.practice, day(3))
    assert "on May 4, 2027, no longer on May 11, 2027" in back.text
    book(visits[0], day(11))
    assert len(tell(cast.practice, day(3))) == 1, "to and fro again is news again"


@pytest.mark.parametrize("values", [{"on": None}, {"on": day(4), "state": VisitState.SKIPPED}])
def test_a_visit_that_is_off_after_the_word_is_told_of_once(
    cast: Cast, visits: list[Visit], values: dict[str, Any]
) -> None:
    book(visits[0], day(4))
    tell(cast.practice, day(3))
    book(visits[0], **values)
    [off] = tell(cast.practice, day(3))
    assert "not on May 4, 2027" in off.text
    assert tell(cast.practice, day(3)) == []


def test_who_does_not_go_any_more_hears_it_and_who_goes_instead(cast: Cast, visits: list[Visit]) -> None:
    book(visits[0], day(4), cast.crew)
    tell(cast.practice, day(3))
    book(visits[0], day(4), cast.planner)
    told = {letter.to: letter.text for letter in tell(cast.practice, day(3))}
    assert set(told) == {cast.crew.email, cast.planner.email}
    assert "You do not go" in told[cast.crew.email] and "You are down" in told[cast.planner.email]


def test_nothing_is_said_of_what_is_done_or_waits_for_weather(cast: Cast, visits: list[Visit]) -> None:
    book(visits[0], day(4), state=VisitState.DONE, done_on=day(3))
    book(visits[1], day(4), waits_for="drier ground")
    assert tell(cast.practice, day(3)) == []
    book(visits[1], day(4), waits_for="")
    assert len(tell(cast.practice, day(3))) == 1
    book(visits[1], day(4), state=VisitState.DONE, done_on=day(3))
    assert tell(cast.practice, day(3)) == []


def test_only_who_is_to_hear_it_hears_it(cast: Cast, visits: list[Visit]) -> None:
    book(visits[0], day(4), cast.crew)
    cast.practice.tell_client = cast.practice.tell_crew = False
    assert tell(cast.practice, day(3)) == []
    cast.practice.tell_crew = True
    assert [letter.to for letter in tell(cast.practice, day(3))] == [cast.crew.email]
    cast.practice.tell_crew = False
    book(visits[0], None)
    assert tell(cast.practice, day(3)) == [], "to be silent is not to call off"


def test_spraying_and_burning_come_with_their_cautions(cast: Cast, visits: list[Visit]) -> None:
    spray = next(visit for visit in visits if visit.operation == "boom_spraying")
    book(spray, day(4))
    [letter] = tell(cast.practice, day(3))
    assert "off the field while we spray" in letter.text and "fire and smoke" not in letter.text
    book(spray, day(5), operation="prescribed_burn")
    [letter] = tell(cast.practice, day(3))
    assert "fire and smoke" in letter.text and "while we spray" not in letter.text
    book(spray, day(6), operation="firebreak")
    [letter] = tell(cast.practice, day(3))
    assert "fire and smoke" not in letter.text


def test_the_crew_reads_in_its_own_language_and_measures(cast: Cast, visits: list[Visit]) -> None:
    cast.practice.measures = "metric"
    cast.practice.tell_client = False
    cast.practice.save()
    with scope(practice=cast.practice):
        Membership.objects.filter(user=cast.crew).update(own_locale="es_US")
    book(visits[0], day(4), cast.crew)
    [letter] = tell(cast.practice, day(3))
    assert "4 de mayo de 2027" in letter.text and "You are down" not in letter.text
    # 10 acres × 0.4046873 ha, as the pages round it
    assert "4.05 ha" in letter.text


def test_the_command_goes_by_the_clock_of_each_practice(cast: Cast, visits: list[Visit], capsys: Any) -> None:
    book(visits[0], day(4))
    with patch("plans.management.commands.queue_letters.today_for", return_value=day(3)):
        call_command("queue_letters")
        call_command("queue_letters")
    said = capsys.readouterr().out.splitlines()
    assert said == ["Queued: reminders 0, word of visits 1.", "Queued: reminders 0, word of visits 0."]
