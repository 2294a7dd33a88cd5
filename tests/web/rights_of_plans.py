"""Who may open what of plans, mixes and prices."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from django_scopes import scope

from consulting.policy import Right
from plans.in_out.kinds import KINDS
from plans.in_out.taking import upload_keep
from plans.models import ListUpload, Mix, Plan, Proposal, SentReport
from tests.factories import make_field, make_seed_price
from tests.plan_factories import (
    TODAY,
    make_conversion,
    make_mix,
    make_offered,
    make_own_species,
    make_plan,
    make_ready_plan,
)
from tests.web.rights import FORM, POST, Row, World


def kept(world: World, name: str, make: Callable[[], Any]) -> Any:
    if name not in world.more:
        world.more[name] = make()
    return world.more[name]


def lot(world: World) -> list[Any]:
    return ["seed", kept(world, "lot", lambda: make_seed_price(world.cast.practice)).pk]


def own_species(world: World) -> list[Any]:
    return [kept(world, "own species", lambda: make_own_species(world.cast.practice)).pk]


def mix(world: World) -> Mix:
    return kept(world, "mix", lambda: make_mix(world.cast.practice))


def draft(world: World) -> Plan:
    """A draft with one field that can be worked out, though not offered: nothing is priced."""

    def made() -> Plan:
        plan = make_plan(world.farm)
        make_conversion(plan, world.field, mix(world))
        return plan

    return kept(world, "draft", made)


def spare_field(world: World) -> list[int]:
    return [draft(world).pk, kept(world, "spare", lambda: make_field(world.farm)).pk]


def proposal(world: World) -> Proposal:
    practice, owner = world.cast.practice, world.cast.owner
    return kept(world, "proposal", lambda: make_offered(make_ready_plan(practice), owner))


def of_draft(world: World) -> list[Any]:
    return [draft(world).pk]


def in_draft(world: World) -> list[Any]:
    return [draft(world).pk, world.field.pk]


def of_report(world: World) -> list[Any]:
    return [draft(world).pk, 2020]


def sent_report(world: World) -> SentReport:
    def made() -> SentReport:
        practice = world.cast.practice
        sent = {"year": 2026, "edition": 1, "content": "{}", "sha256": "0" * 64, "sent_by_name": "Ottilie"}
        with scope(practice=practice):
            return SentReport.objects.create(
                practice=practice, plan=draft(world), pdf=b"%PDF", sent_on=TODAY, **sent
            )

    return kept(world, "sent report", made)


CONFLICT = frozenset({409})


def brought_list(world: World) -> list[int]:
    def made() -> ListUpload:
        practice, owner = world.cast.practice, world.cast.owner
        with scope(practice=practice):
            data = b"Name of the client,Phone\nAda Ash,555 0100\n"
            return upload_keep(
                practice=practice, kind=KINDS["clients"], by=owner, name="clients.csv", data=data
            )

    return [kept(world, "list", made).pk]


def price_words(world: World) -> list[Any]:
    return ["price"]


ROWS: dict[str, Row] = {
    "changes": Row(Right.EDIT_RECORDS),
    "record_changes": Row(Right.SEE_WORK, args=lambda w: ["farm", w.farm.pk]),
    "practice_leave": Row(Right.RUN_PRACTICE, FORM),
    "practice_taken": Row(Right.RUN_PRACTICE),
    "lists": Row(Right.EDIT_RECORDS),
    "list_in": Row(Right.EDIT_RECORDS, FORM, lambda w: ["seed"]),
    "list_out": Row(Right.EDIT_RECORDS, args=lambda w: ["seed", "csv"]),
    "list_brought": Row(Right.EDIT_RECORDS, args=brought_list),
    "list_match": Row(Right.EDIT_RECORDS, FORM, brought_list),
    "list_take": Row(Right.EDIT_RECORDS, POST, brought_list),
    "list_drop": Row(Right.EDIT_RECORDS, POST, brought_list),
    "practice_look": Row(Right.SEE_PRICES),
    "practice_look_save": Row(Right.RUN_PRACTICE, POST),
    "practice_look_css": Row(Right.SEE_WORK),
    "practice_preview": Row(Right.RUN_PRACTICE, ("GET",), lambda w: ["0" * 16], missing=True),
    "practice_preview_page": Row(Right.RUN_PRACTICE, ("GET",), lambda w: ["0" * 16, 1], missing=True),
    "practice_words": Row(Right.SEE_PRICES),
    "practice_words_at": Row(Right.SEE_PRICES, ("GET",), price_words),
    "practice_words_save": Row(Right.RUN_PRACTICE, POST, price_words, data={"text": "By field, {client}."}),
    "overview": Row(Right.SEE_WORK),
    "prices": Row(Right.SEE_PRICES),
    "prices_confirm": Row(Right.EDIT_RECORDS, POST),
    "own_rates": Row(Right.SEE_PRICES),
    "own_rates_take": Row(Right.EDIT_RECORDS, POST),
    "hauling": Row(Right.EDIT_RECORDS, FORM),
    "seed_per_pls_lb": Row(Right.EDIT_RECORDS, POST),
    "price_new": Row(Right.EDIT_RECORDS, FORM, lambda w: ["products"]),
    "price": Row(Right.EDIT_RECORDS, FORM, lot),
    "price_confirm": Row(Right.EDIT_RECORDS, POST, lot),
    "price_remove": Row(Right.EDIT_RECORDS, FORM, lot),
    "own_species": Row(Right.SEE_PRICES),
    "own_species_new": Row(Right.EDIT_RECORDS, FORM),
    "own_species_edit": Row(Right.EDIT_RECORDS, FORM, own_species),
    "own_species_remove": Row(Right.EDIT_RECORDS, FORM, own_species),
    "mixes": Row(Right.SEE_PRICES),
    "mix_new": Row(Right.EDIT_RECORDS, FORM),
    "mix_sums": Row(Right.EDIT_RECORDS, POST),
    "cheapest_mix": Row(Right.EDIT_RECORDS, FORM),
    "mix": Row(Right.EDIT_RECORDS, FORM, lambda w: [mix(w).pk], data={"save": "yes"}),
    "mix_copy": Row(Right.EDIT_RECORDS, POST, lambda w: [mix(w).pk]),
    "mix_remove": Row(Right.EDIT_RECORDS, FORM, lambda w: [mix(w).pk]),
    "reckoner": Row(Right.SEE_WORK),
    "reckoning": Row(Right.SEE_WORK, args=lambda w: ["pls_pct"]),
    "plans": Row(Right.SEE_PRICES),
    "plan_choose_farm": Row(Right.EDIT_RECORDS),
    "plan_new": Row(Right.EDIT_RECORDS, FORM, lambda w: [w.farm.pk]),
    "plan": Row(Right.SEE_PRICES, args=of_draft),
    "plan_money": Row(Right.SEE_PRICES, args=of_draft),
    "plan_money_mark": Row(Right.EDIT_RECORDS, POST, of_draft),
    "plan_choices": Row(Right.EDIT_RECORDS, POST, of_draft),
    "caution_accept": Row(Right.EDIT_RECORDS, POST, of_draft),
    "caution_unaccept": Row(Right.EDIT_RECORDS, POST, of_draft),
    "plan_title": Row(Right.EDIT_RECORDS, FORM, of_draft),
    "plan_terms": Row(Right.EDIT_RECORDS, FORM, of_draft),
    "plan_letter": Row(Right.EDIT_RECORDS, FORM, of_draft),
    "conversion": Row(Right.EDIT_RECORDS, FORM, spare_field),
    "conversion_steps": Row(Right.EDIT_RECORDS, POST, in_draft),
    "conversion_remove": Row(Right.EDIT_RECORDS, FORM, in_draft),
    "plan_options": Row(Right.EDIT_RECORDS, FORM, of_draft),
    "plan_draft_pdf": Row(Right.SEE_PRICES, args=of_draft),
    "plan_estimate_csv": Row(Right.SEE_PRICES, args=of_draft),
    "plan_offer": Row(Right.OFFER, FORM, of_draft, also=CONFLICT),
    "plan_why": Row(Right.EDIT_RECORDS, FORM, of_draft),
    "plan_changes": Row(Right.SEE_PRICES, args=of_draft),
    "plan_changes_pdf": Row(Right.SEE_PRICES, args=of_draft),
    "change_start": Row(Right.OFFER, FORM, of_draft),
    "season_reports": Row(Right.SEE_PRICES, args=of_draft),
    "season_report": Row(Right.SEE_PRICES, args=of_report),
    "season_report_words": Row(Right.EDIT_RECORDS, POST, of_report),
    "season_report_pdf": Row(Right.SEE_PRICES, args=of_report),
    "season_report_send": Row(Right.OFFER, POST, of_report),
    "sent_report": Row(Right.SEE_PRICES, args=lambda w: [sent_report(w).pk]),
    "sent_report_send": Row(Right.OFFER, FORM, lambda w: [sent_report(w).pk]),
    "sent_report_pdf": Row(Right.SEE_PRICES, args=lambda w: [sent_report(w).pk]),
    "plan_move": Row(Right.OFFER, FORM, lambda w: [draft(w).pk, "withdraw"]),
    "plan_letters": Row(Right.SEE_PRICES, args=of_draft),
    "proposal_send": Row(Right.OFFER, FORM, lambda w: [proposal(w).number]),
    "proposals": Row(Right.SEE_PRICES, args=of_draft),
    "proposal": Row(Right.SEE_PRICES, args=lambda w: [proposal(w).number]),
    "proposal_pdf": Row(Right.SEE_PRICES, args=lambda w: [proposal(w).number]),
}
