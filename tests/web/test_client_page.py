"""The client's page: what a private link opens, for how long, and what may be sent through it."""

from __future__ import annotations

import logging
import re
from dataclasses import dataclass, replace
from datetime import date, timedelta
from typing import Any
from unittest.mock import patch
from uuid import uuid4

import pytest
from django.test import Client as Browser
from django.utils.html import escape
from django.utils.text import capfirst
from django_scopes import scope

from consulting.clock import today_for
from consulting.letters import Letter
from consulting.limits import Limit
from consulting.logs import JsonLines, PlainLines
from plans import client_links, own_look, services, visits
from plans.models import Agreement, ClientLink, Plan, Proposal, Question, Refusal, State, Visit, VisitChange
from plans.offer_parts import kept_beside, price_moves
from plans.selectors import frozen_outcome
from plans.views import client_page
from tests.conftest import Cast
from tests.factories import make_field, tampered_with
from tests.plan_factories import (
    TODAY,
    UNPRINTED,
    accept_all,
    make_conversion,
    make_offered,
    make_ready_plan,
    make_shown,
)
from tests.web.queries import count


@dataclass
class Shown:
    """An offered plan, and its client's page in a browser that nobody is signed in to."""

    plan: Plan
    link: ClientLink
    url: str
    browser: Browser

    def page(self) -> str:
        answer = self.browser.get(self.url)
        assert answer.status_code == 200
        return answer.content.decode()

    def send(self, what: str, **data: Any) -> Any:
        return self.browser.post(f"{self.url}{what}/", self.seen() | data)

    def seen(self) -> dict[str, Any]:
        proposal = self.proposal
        return {"number": proposal.number, "sha256": proposal.sha256}

    @property
    def proposal(self) -> Proposal:
        return self.plan.proposals.latest("revision")

    def agree(self, **data: Any) -> Any:
        return self.send("agree", **{"name": "Lena Landowner", "terms": "on"} | data)

    @property
    def state(self) -> str:
        return Plan.objects.get(pk=self.plan.pk).state


@pytest.fixture
def shown(cast: Cast) -> Any:
    link, key = make_shown(make_ready_plan(cast.practice), cast.owner)
    with scope(practice=cast.practice):
        client = link.plan.farm.client
        client.email = "lena@example.org"
        client.save()
        # The offer stands on whatever day this runs.
        with patch.object(client_page, "today_for", lambda practice: TODAY + timedelta(days=3)):
            yield Shown(Plan.objects.get(pk=link.plan_id), link, f"/client/{key}/", Browser())


def test_the_page_says_what_was_offered_and_not_what_it_costs_the_practice(shown: Shown) -> None:
    page = shown.page()
    outcome = frozen_outcome(shown.proposal)
    assert outcome
    for year in (*outcome.estimate.years, outcome.estimate.total):
        assert f"${year.total.dollars:,.2f}" in page
    for task in outcome.tasks:
        assert task.label in page
    for line in outcome.seed[0].lines:
        assert capfirst(line.species) in page
    assert "What to expect" in page and "The ugly summer" in page and "What it gives" in page
    beside = kept_beside(shown.proposal.beside)
    assert beside.moves and all(escape(words) in page for words, _ in price_moves(beside))
    assert page.count("<svg") >= 2 and "<desc" in page
    assert f"${outcome.estimate.direct_cost.dollars:,.2f}" not in page
    assert "direct cost" not in page.lower() and "margin" not in page.lower()


def test_the_practices_own_words_stand_as_they_were_offered(cast: Cast) -> None:
    with scope(practice=cast.practice):
        own_look.words_save(practice=cast.practice, place="price", text="Ask {client} <b>twice</b>.")
        own_look.words_save(
            practice=cast.practice, place="program:sod_fall_spring", text="We spray {fields}."
        )
    link, key = make_shown(make_ready_plan(cast.practice, name="Ridge Field"), cast.owner)
    with scope(practice=cast.practice):
        own_look.words_save(practice=cast.practice, place="price", text="")
        client = link.plan.farm.client.name
    page = Browser().get(f"/client/{key}/").content.decode()
    assert f"Ask {client} &lt;b&gt;twice&lt;/b&gt;." in page and "We spray Ridge Field." in page


def test_nobody_may_keep_or_list_it_and_no_script_runs_on_it(shown: Shown) -> None:
    answer = shown.browser.get(shown.url)
    assert "no-store" in answer.headers["Cache-Control"] and "private" in answer.headers["Cache-Control"]
    assert "noindex" in answer.headers["X-Robots-Tag"]
    assert answer.headers["Referrer-Policy"] == "same-origin"
    assert set(answer.cookies) == {"csrftoken"}
    assert "<script" not in answer.content.decode()
    pdf = shown.browser.get(f"{shown.url}documents/proposal-1-revision-1.pdf")
    assert pdf.content == UNPRINTED and pdf.headers["Content-Disposition"].startswith("attachment")
    assert pdf.headers["Referrer-Policy"] == "no-referrer" and "no-store" in pdf.headers["Cache-Control"]
    assert pdf.headers["X-Content-Type-Options"] == "nosniff"
    assert shown.browser.get(f"{shown.url}documents/another.pdf").status_code == 404


def test_only_a_hash_of_the_key_is_kept(shown: Shown) -> None:
    key = shown.url.split("/")[2]
    assert len(key) >= 43  # 32 random bytes
    kept = ClientLink.objects.filter(pk=shown.link.pk).values_list()[0]
    assert key not in map(str, kept)


def test_a_link_ends_with_its_day_with_a_new_one_and_when_it_is_revoked(shown: Shown, cast: Cast) -> None:
    last_day = shown.link.expires_on
    for day, status in ((last_day, 200), (last_day + timedelta(days=1), 410)):
        with patch.object(client_page, "today_for", lambda practice, day=day: day):
            assert shown.browser.get(shown.url).status_code == status
    owner, url = cast.browser(cast.owner), cast.url(f"plans/{shown.plan.pk}/client/")
    until = today_for(cast.practice) + timedelta(days=30)
    made = owner.post(f"{url}link/", {"expires_on": until}).content.decode()
    found = re.search(r"http://testserver(/client/[^/]+/)", made)
    assert found and found[1] not in owner.get(url).content.decode()
    assert shown.browser.get(shown.url).status_code == 410
    assert shown.browser.get(found[1]).status_code == 200
    owner.post(f"{url}link/revoke/")
    assert shown.browser.get(found[1]).status_code == 410
    assert shown.browser.post(f"{found[1]}ask/", {"text": "?", "uid": uuid4()}).status_code == 410
    assert not Question.objects.exists()


@pytest.mark.parametrize("days", [0, -1, client_links.MOST_DAYS + 1])
def test_a_link_ends_after_today_and_within_ten_years(shown: Shown, cast: Cast, days: int) -> None:
    until = today_for(cast.practice) + timedelta(days=days)
    url = cast.url(f"plans/{shown.plan.pk}/client/link/")
    answer = cast.browser(cast.owner).post(url, {"expires_on": until})
    assert answer.status_code == 422 and "within ten years" in answer.content.decode()
    assert shown.browser.get(shown.url).status_code == 200


def test_keys_cannot_be_guessed_for_long(shown: Shown) -> None:
    with patch.object(client_page, "GUESSES", replace(client_page.GUESSES, most=3)):
        found = [shown.browser.get(f"/client/{number:043}/").status_code for number in range(4)]
        assert found == [404, 404, 404, 429]
        # Who shares the guesser's address still comes to their own page.
        assert shown.browser.get(shown.url).status_code == 200
        assert Browser(REMOTE_ADDR="192.0.2.7").get("/client/no-key/").status_code == 404


def test_a_link_is_not_read_without_end(shown: Shown) -> None:
    with patch.object(client_page, "READINGS", Limit("few", most=2, seconds=600)):
        assert [shown.browser.get(shown.url).status_code for _ in range(3)] == [200, 200, 429]


def test_looks_of_the_client_are_counted_and_not_those_of_the_practice(shown: Shown, cast: Cast) -> None:
    cast.browser(cast.crew).get(shown.url)
    shown.page()
    shown.page()
    shown.browser.head(shown.url)
    cast.browser(cast.stranger).get(shown.url)
    link = ClientLink.objects.get(pk=shown.link.pk)
    assert link.opened == 3 and link.first_opened_at < link.last_opened_at  # type: ignore[operator]


def test_no_key_gets_into_the_log() -> None:
    record = logging.LogRecord(
        "x", logging.WARNING, "", 0, "%s: %s", ("Not Found", "/client/se-cret/ask/"), None
    )
    assert PlainLines().format(record) == "Not Found: /client/[key]/ask/"
    assert "se-cret" not in JsonLines().format(record)


@pytest.mark.parametrize("what", ["ask", "agree", "decline"])
def test_forms_are_taken_from_the_page_alone(shown: Shown, what: str) -> None:
    shown.browser = Browser(enforce_csrf_checks=True)
    data = {"name": "Lena", "terms": "on", "text": "Who is this?", "uid": uuid4()}
    assert shown.send(what, **data).status_code == 403
    assert shown.state == State.OFFERED and not Question.objects.exists()


# Questions


def test_a_question_is_asked_once_and_its_answer_seen(shown: Shown, cast: Cast) -> None:
    asked = {"text": "Fence it?\n<b>When</b>?", "uid": uuid4(), "name": ""}
    for _ in range(2):
        assert shown.send("ask", **asked).headers["Location"].endswith("#questions")
    question = Question.objects.get()
    planner = cast.browser(cast.planner)
    for place in (f"plans/{shown.plan.pk}/", ""):
        page = planner.get(cast.url(place)).content.decode()
        assert "&lt;b&gt;When" in page and f"#question-{question.pk}" in page
    url = cast.url(f"plans/questions/{question.pk}/answer/")
    assert planner.post(url, {"text": " "}).status_code == 422
    planner.post(url, {"text": "In July, <i>please</i>."})
    page = shown.page()
    assert "In July, &lt;i&gt;please&lt;/i&gt;." in page and "&lt;b&gt;When&lt;/b&gt;?" in page
    assert "Answer it" not in planner.get(cast.url(f"plans/{shown.plan.pk}/")).content.decode()
    to = set(Letter.objects.values_list("to", "once"))
    answer = question.answers.get()
    assert ("lena@example.org", f"answer:{answer.pk}") in to and len(to) == 2


def test_a_question_that_cannot_be_taken_keeps_what_was_typed(shown: Shown) -> None:
    empty = shown.send("ask", text="", name="Lena & Co", uid=uuid4())
    assert empty.status_code == 422 and "Lena &amp; Co" in empty.content.decode()
    assert shown.send("ask", text="x" * 4001, uid=uuid4()).status_code == 422
    with patch.object(client_page, "SENDINGS", Limit("one", most=1, seconds=3600)):
        shown.send("ask", text="The first", uid=uuid4())
        more = shown.send("ask", text="The second", uid=uuid4())
    assert more.status_code == 429 and "The second" in more.content.decode()
    with patch.object(client_links, "MOST_WAITING", 1):
        waits = shown.send("ask", text="The third", uid=uuid4())
    assert waits.status_code == 409 and "The third" in waits.content.decode()
    assert Question.objects.get().text == "The first"


# Yes


def test_agreeing_does_what_a_signature_does_and_keeps_how_it_was_given(shown: Shown) -> None:
    shown.browser = Browser(REMOTE_ADDR="192.0.2.7")
    headers = {"user-agent": "A phone\x07", "x-forwarded-for": "198.51.100.1"}
    data = shown.seen() | {"name": " Lena  Landowner\n", "terms": "on"}
    answer = shown.browser.post(f"{shown.url}agree/", data, headers=headers)
    assert answer.headers["Location"] == f"{shown.url}#agreed"
    made = Agreement.objects.get()
    proposal = shown.proposal
    assert (made.proposal_id, made.pdf_sha256, made.total_usd) == (
        proposal.pk,
        proposal.sha256,
        proposal.total_usd,
    )
    assert (made.name, made.how, made.link_id) == ("Lena Landowner", "page", shown.link.pk)
    # No proxy is set, so what one would say of the address is not believed.
    assert (made.address, made.user_agent) == ("192.0.2.7", "A phone")
    assert f"${proposal.total_usd:,.2f}" in made.statement and "revision 1" in made.statement
    assert shown.state == State.AGREED
    assert {change.by_name for change in VisitChange.objects.all()} == {"Lena Landowner"}
    tasks = frozen_outcome(proposal).tasks  # type: ignore[union-attr]
    assert Visit.objects.filter(plan=shown.plan).count() == len(tasks)
    page = shown.page()
    assert "Agreed by Lena Landowner" in page and proposal.sha256 in page and tasks[0].label in page
    letters = {letter.to: letter for letter in Letter.objects.all()}
    assert len(letters) == 2 and "lena@example.org" in letters
    for letter in letters.values():
        assert made.pdf_sha256 in letter.text and made.sha256 in letter.text
        assert bytes(letter.enclosures.get().content) == UNPRINTED


def test_agreeing_twice_gives_the_same_answer_and_nothing_more(shown: Shown) -> None:
    answers = [shown.agree(), shown.agree(name="Somebody Else")]
    assert len({(answer.status_code, answer.headers["Location"]) for answer in answers}) == 1
    assert Agreement.objects.get().name == "Lena Landowner" and Letter.objects.count() == 2


@pytest.mark.parametrize(
    ("missing", "said"), [({"name": " \n"}, "Your name is missing"), ({"terms": ""}, "Tick the box")]
)
def test_a_yes_needs_a_name_and_the_tick(shown: Shown, missing: dict[str, str], said: str) -> None:
    answer = shown.agree(**missing)
    page = answer.content.decode()
    assert answer.status_code == 422 and said in page
    assert ("Lena Landowner" in page) == ("name" not in missing)
    assert shown.state == State.OFFERED and not Agreement.objects.exists()


def revise(shown: Shown, cast: Cast) -> None:
    """Offer the next revision."""
    services.plan_move(plan=shown.plan, state=State.DRAFT, today=TODAY)
    accept_all(shown.plan, cast.owner)
    with patch("plans.services.proposal_pdf", return_value=UNPRINTED + b"2"):
        services.plan_offer(plan=shown.plan, user=cast.owner, today=TODAY)


MOVES = {State.DRAFT: "next revision", State.WITHDRAWN: "was withdrawn", State.DECLINED: "was declined"}


@pytest.mark.parametrize("what", ["agree", "decline"])
@pytest.mark.parametrize("state", MOVES)
def test_what_is_not_offered_any_more_is_refused_gently(shown: Shown, state: State, what: str) -> None:
    assert 'id="agree-name"' in shown.page()
    services.plan_move(plan=shown.plan, state=state, today=TODAY)
    answer = shown.send(what, name="Lena", terms="on")
    assert answer.status_code == 409 and MOVES[state] in answer.content.decode()
    assert shown.state == state and not Agreement.objects.exists() and not Refusal.objects.exists()
    assert 'id="agree-name"' not in shown.page()


def test_a_revision_that_was_superseded_is_refused_and_the_new_one_shown(shown: Shown, cast: Cast) -> None:
    old = shown.seen()
    revise(shown, cast)
    answer = shown.agree(**old)
    page = answer.content.decode()
    assert answer.status_code == 409 and "newer revision" in page
    assert 'value="Lena Landowner"' in page and shown.proposal.sha256 in page
    assert shown.agree(sha256=old["sha256"]).status_code == 409  # of another document
    assert shown.state == State.OFFERED and not Agreement.objects.exists()
    assert shown.agree().status_code == 302
    assert shown.agree(**old).status_code == 409
    assert Agreement.objects.get().proposal.revision == 2


def test_an_offer_can_be_agreed_to_through_its_last_day(shown: Shown) -> None:
    until = shown.proposal.valid_until
    with patch.object(client_page, "today_for", lambda practice: until + timedelta(days=1)):
        late = shown.agree()
        assert late.status_code == 409 and "price no longer holds" in late.content.decode()
    with patch.object(client_page, "today_for", lambda practice: until):
        assert shown.agree().status_code == 302


def test_nothing_is_agreed_to_when_the_stored_document_is_another(shown: Shown) -> None:
    tampered_with(shown.proposal, pdf=b"%PDF-1.7 another")
    answer = shown.agree()
    assert answer.status_code == 409 and "not the one that was offered" in answer.content.decode()
    assert shown.state == State.OFFERED


def test_a_proposal_of_an_earlier_version_is_agreed_to_by_its_pdf(shown: Shown) -> None:
    tampered_with(shown.proposal, result="{}")
    page = shown.page()
    assert "earlier version" in page and f"{shown.url}documents/proposal-1-revision-1.pdf" in page
    assert shown.agree().status_code == 302 and shown.state == State.AGREED
    assert "Agreed by" in shown.page()


def test_before_anything_is_offered_the_page_says_so_and_takes_questions(cast: Cast) -> None:
    plan = make_ready_plan(cast.practice)
    with scope(practice=cast.practice):
        until = today_for(cast.practice) + timedelta(days=9)
        link, key = client_links.link_make(
            plan=plan, user=cast.owner, expires_on=until, today=today_for(cast.practice)
        )
        shown = Shown(plan, link, f"/client/{key}/", Browser())
        assert "Nothing has been offered yet" in shown.page()
        assert shown.browser.post(f"{shown.url}agree/", {}).status_code == 302
        assert shown.browser.post(f"{shown.url}ask/", {"text": "When?", "uid": uuid4()}).status_code == 302
        assert "When?" in shown.page() and not Agreement.objects.exists()


def test_a_no_is_kept_with_its_reason_and_is_the_end_of_it(shown: Shown) -> None:
    for reason in ("Too dear, <b>sorry</b>.", "Another"):
        assert shown.send("decline", name="Lena", reason=reason).status_code == 302
    refusal = Refusal.objects.get()
    assert refusal.reason == "Too dear, <b>sorry</b>." and shown.state == State.DECLINED
    assert [refusal.reason in letter.text for letter in Letter.objects.all()] == [True]
    assert shown.agree().status_code == 409


# Afterwards


def test_the_page_shows_how_the_work_stands(shown: Shown, cast: Cast) -> None:
    shown.agree()
    visit, second = Visit.objects.filter(plan=shown.plan).order_by("window_opens")[:2]
    Visit.objects.filter(pk=visit.pk).update(state="done", done_on=date(2027, 9, 9))
    visits.visit_skip(visit=second, version=second.version, user=cast.owner, reason="wet")
    page = shown.page()
    assert "Sep 9, 2027" in page and "left out" in page and "not invoiced yet" in page
    assert "wet" not in page


def test_a_page_asks_as_often_for_many_fields_and_questions_as_for_one(shown: Shown, cast: Cast) -> None:
    shown.agree()
    shown.send("ask", text="The first", uid=uuid4())
    few = count(shown.page)
    services.plan_move(plan=shown.plan, state=State.WITHDRAWN, today=TODAY)
    mix = shown.plan.conversions.get().mix
    services.plan_move(plan=shown.plan, state=State.DRAFT, today=TODAY)
    for number in range(3):
        make_conversion(shown.plan, make_field(shown.plan.farm), mix)  # type: ignore[arg-type]
        shown.send("ask", text=f"Another {number}", uid=uuid4())
    accept_all(shown.plan, cast.owner)
    with patch("plans.services.proposal_pdf", return_value=UNPRINTED):
        services.plan_offer(plan=shown.plan, user=cast.owner, today=TODAY)
    shown.agree()
    assert count(shown.page) == few


def test_the_words_that_go_with_a_link_are_in_its_clients_language(cast: Cast) -> None:
    plan = make_ready_plan(cast.practice)
    make_offered(plan, cast.owner)
    with scope(practice=cast.practice):
        plan.farm.client.own_locale = "es_US"
        plan.farm.client.save()
    browser = cast.browser(cast.owner)
    page = browser.post(
        cast.url(f"plans/{plan.pk}/client/link/"), {"expires_on": "2029-12-31"}
    ).content.decode()
    assert "esta es su página de" in page and "Copy the message" in page


def test_a_question_of_what_cannot_be_seen_is_missing(shown: Shown) -> None:
    sent = shown.browser.post(f"{shown.url}ask/", {"text": " \x1b\u200b ", "uid": uuid4()})
    assert sent.status_code == 422 and "There is no question yet." in sent.content.decode()
