"""A practice's language, paper and measures, and readers with a language of their own."""

from __future__ import annotations

import re
from datetime import date
from html import unescape
from unittest.mock import patch

import pytest
from django.test import Client as Browser
from django_scopes import scope

from consulting.models import Client, Membership
from plans.manners import manner_of
from plans.models import Proposal
from plans.planning.wire import read_job_file
from plans.services import plan_offer
from plans.views import client_page
from plans.visits import visit_book
from tests.conftest import Cast
from tests.documents.conftest import pages
from tests.documents.test_spanish import english
from tests.factories import DETAILS
from tests.plan_factories import TODAY, make_agreed, make_ready_plan, make_shown


def member(cast: Cast) -> Membership:
    with scope(practice=cast.practice):
        return Membership.objects.get(user=cast.crew)


def test_an_owner_chooses_language_paper_and_measures(cast: Cast) -> None:
    browser = cast.browser(cast.owner)
    html = browser.get(cast.url("practice/")).content.decode()
    assert "What clients and crews read" in html and "A4, 210 × 297 mm" in html
    chosen = {"locale": "es_MX", "paper": "A4", "measures": "metric"}
    assert browser.post(cast.url("practice/"), {**DETAILS, **chosen}).status_code == 302
    cast.practice.refresh_from_db()
    manner = manner_of(cast.practice)
    assert (manner.locale, manner.paper, manner.measures) == ("es_MX", "A4", "metric")


@pytest.mark.parametrize(
    "wrong", [{"locale": "xx_YY"}, {"paper": "napkin"}, {"measures": "cubits"}, {"locale": ""}]
)
def test_what_no_print_can_be_made_in_is_refused(cast: Cast, wrong: dict[str, str]) -> None:
    response = cast.browser(cast.owner).post(cast.url("practice/"), {**DETAILS, **wrong})
    assert response.status_code == 422 and "There is something to mend" in response.content.decode()


def test_a_member_reads_another_language_by_the_owners_word(cast: Cast) -> None:
    address = cast.url(f"practice/people/{member(cast).pk}/role/")
    owner = cast.browser(cast.owner, proven=True)
    owner.post(address, {"role": "crew", "own_locale": "es_US"})
    assert member(cast).own_locale == "es_US"
    owner.post(address, {"role": "crew", "own_locale": "tlh"})
    assert member(cast).own_locale == "es_US"


def test_a_crew_works_in_its_own_language_and_the_office_in_english(cast: Cast) -> None:
    with scope(practice=cast.practice):
        plan = make_agreed(make_ready_plan(cast.practice), cast.owner)
        visit = plan.visits.order_by("pk").first()
        visit_book(
            visit=visit, version=visit.version, on=date(2027, 9, 20), people=[member(cast)], user=cast.owner
        )
        Membership.objects.filter(user=cast.crew).update(own_locale="es_MX")
    cast.practice.measures = "metric"
    cast.practice.save()
    crew, office = cast.browser(cast.crew), cast.browser(cast.owner)
    html = crew.get(cast.url(f"work/{visit.pk}/")).content.decode()
    for said in (
        '<html lang="es-mx">',
        "Qué y por qué",
        "Decir que está hecho",
        "Hecho el",
        " ha",
        "septiembre",
    ):
        assert said in html
    for said in ("What and why", "Say it is done", visit.why, visit.label):
        assert said not in html
    assert '<html lang="es' in crew.get(cast.url("work/day/2027-09-20/")).content.decode()
    english = office.get(cast.url(f"work/{visit.pk}/")).content.decode()
    assert '<html lang="en' in english and visit.label in english
    sheet = "".join(pages(office.get(cast.url(f"work/{visit.pk}/sheet.pdf")).content))
    assert "Hoja de cuadrilla" in sheet


def test_a_record_refused_says_why_in_the_crews_language(cast: Cast) -> None:
    with scope(practice=cast.practice):
        visit = make_agreed(make_ready_plan(cast.practice), cast.owner).visits.order_by("pk").first()
        Membership.objects.filter(user=cast.crew).update(own_locale="es_US")
    typed = {"on": "", "acres": "many"}
    response = cast.browser(cast.crew).post(cast.url(f"work/{visit.pk}/do/"), typed)
    html = response.content.decode()
    assert response.status_code == 422
    assert "Falta: Hecho el. Llénelo." in html and "debe ser un número, como 12.5." in html


def test_a_proposal_keeps_the_language_it_was_offered_in(cast: Cast) -> None:
    with scope(practice=cast.practice):
        plan = make_ready_plan(cast.practice)
        Client.objects.filter(pk=plan.farm.client_id).update(own_locale="es_US")
        plan = type(plan).objects.get(pk=plan.pk)
        offered = plan_offer(plan=plan, user=cast.owner, today=TODAY)
        Client.objects.update(own_locale="")
        kept = Proposal.objects.get(pk=offered.pk)
        assert read_job_file(kept.inputs).job.manner.locale == "es_US"
        assert "Propuesta 1, revisión 1" in "".join(pages(bytes(kept.pdf)))


def test_a_client_reads_their_page_in_their_own_language(cast: Cast) -> None:
    with scope(practice=cast.practice):
        plan = make_ready_plan(cast.practice)
        Client.objects.filter(pk=plan.farm.client_id).update(own_locale="es_MX")
        plan = type(plan).objects.get(pk=plan.pk)
    cast.practice.measures = "metric"
    cast.practice.save()
    _link, key = make_shown(plan, cast.owner)
    with patch.object(client_page, "today_for", lambda practice: TODAY):
        html = Browser().get(f"/client/{key}/").content.decode()
    text = unescape(" ".join(re.sub(r"<[^>]+>", " ", html).split()))
    assert '<html lang="es' in html and "Lo que cuesta" in text and " ha" in text
    assert [piece for piece in english() if piece in text] == []
