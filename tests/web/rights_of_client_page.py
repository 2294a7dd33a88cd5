"""Who may open what of the client's page: everybody with a key, and the practice its own side of it."""

from __future__ import annotations

from typing import Any

from django_scopes import scope

from consulting.policy import Right
from consulting.scans import Paper
from plans.agreements import agree_on_paper
from plans.models import AgreementScan, Plan, Question, SentReport
from tests.factories import make
from tests.plan_factories import TODAY, make_agreed, make_ready_plan, make_shown
from tests.web.rights import EVERYONE, FORM, POST, Row, World
from tests.web.rights_of_plans import kept, of_draft


def key(world: World) -> list[Any]:
    def made() -> Any:
        return make_shown(make_ready_plan(world.cast.practice), world.cast.owner)

    return [kept(world, "client link", made)[1]]


def question(world: World) -> list[Any]:
    def made() -> Question:
        key(world)
        link = world.more["client link"][0]
        return make(Question, {}, practice=world.cast.practice, plan=link.plan, link=link, text="When?")

    return [kept(world, "question", made).pk]


def report(world: World) -> list[Any]:
    """Of the link's plan, one whose page an earlier version wrote."""

    def made() -> SentReport:
        plan = world.more["client link"][0].plan
        told = {"year": 2026, "edition": 1, "content": "{}", "sha256": "0" * 64, "pdf": b"%PDF"}
        told |= {"sent_by": world.cast.owner, "sent_by_name": "Otto", "sent_on": TODAY}
        return make(SentReport, told, practice=plan.practice, plan=plan)

    return [*key(world), kept(world, "report behind the link", made).pk]


def scan(world: World) -> AgreementScan:
    def made() -> AgreementScan:
        plan = make_agreed(make_ready_plan(world.cast.practice), world.cast.owner)
        with scope(practice=world.cast.practice):
            signed = agree_on_paper(
                plan=Plan.objects.get(pk=plan.pk),
                user=world.cast.owner,
                name="Lena Landowner",
                signed_on=TODAY,
                paper=Paper("jpg", b"a picture", 1),
                today=TODAY,
            )
            return signed.scans.select_related("agreement").get()

    return kept(world, "scan", made)


def of_agreement(world: World) -> list[Any]:
    return [scan(world).agreement.number]


ROWS: dict[str, Row] = {
    "client_page": Row(EVERYONE, args=key),
    "client_logo": Row(EVERYONE, args=key, missing=True),
    "client_look": Row(EVERYONE, args=key),
    "client_document": Row(EVERYONE, args=lambda w: [*key(w), "proposal-1-revision-1"]),
    "client_report": Row(EVERYONE, args=report),
    "client_report_photo": Row(EVERYONE, args=lambda w: [*report(w), "walk-1"], missing=True),
    "client_ask": Row(EVERYONE, FORM, key),
    "client_agree": Row(EVERYONE, FORM, key),
    "client_decline": Row(EVERYONE, FORM, key),
    "client_side": Row(Right.SEE_PRICES, args=of_draft),
    "client_link": Row(Right.OFFER, FORM, of_draft),
    "client_link_revoke": Row(Right.OFFER, POST, of_draft),
    "question_answer": Row(Right.EDIT_RECORDS, POST, question),
    "plan_signed": Row(Right.OFFER, FORM, of_draft),
    "agreement": Row(Right.SEE_PRICES, args=of_agreement),
    "agreement_scans": Row(Right.OFFER, FORM, of_agreement),
    "agreement_scan": Row(Right.SEE_PRICES, args=lambda w: [scan(w).pk]),
}
