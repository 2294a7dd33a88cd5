"""Offering: what is frozen stays, what is in the way blocks, numbers never repeat."""

from __future__ import annotations

import hashlib
import io
import re
import threading
from datetime import date
from decimal import Decimal
from typing import Any

import pytest
from django.db import connection, connections
from django_scopes import scope, scopes_disabled
from pypdf import PdfReader

from consulting.models import Client, SeedPrice
from plans import services
from plans.acts import ACTS
from plans.models import Conversion, Plan, Proposal, ProposalCounter, State
from plans.models.plans import NEXT_STATES
from plans.models.proposals import Frozen
from plans.planning import wire
from plans.planning.planner import plan_job
from tests.conftest import Cast
from tests.factories import make_client, make_farm, make_field, make_member, make_practice
from tests.plan_factories import (
    TODAY,
    accept_all,
    make_conversion,
    make_mix,
    make_offered,
    make_plan,
    make_ready_plan,
)


def text_of(pdf: bytes) -> str:
    return " ".join(page.extract_text() for page in PdfReader(io.BytesIO(pdf)).pages)


def read(proposal: Proposal) -> Proposal:
    """The row as it stands in the database now."""
    with scopes_disabled():
        return Proposal.objects.get(pk=proposal.pk)


def test_an_offer_is_made_from_the_page_and_printed(cast: Cast) -> None:
    plan = make_ready_plan(cast.practice)
    with scope(practice=cast.practice):
        accept_all(plan, cast.owner)
    browser, url = cast.browser(cast.planner), cast.url(f"plans/{plan.pk}/")
    ask = browser.get(f"{url}offer/").content.decode()
    total = re.search(r'name="total" value="([\d.]+)"', ask)
    assert total
    made = browser.post(f"{url}offer/", {"total": total.group(1)})
    assert made.headers["Location"] == cast.url("proposals/1/")
    page = browser.get(made.headers["Location"]).content.decode()
    pdf = browser.get(cast.url("proposals/1/proposal.pdf"))
    assert pdf.headers["Content-Type"] == "application/pdf"
    assert pdf.headers["Content-Disposition"].startswith('attachment; filename="proposal-1-revision-1-')
    assert hashlib.sha256(pdf.content).hexdigest() in page
    assert "Proposal 1" in text_of(pdf.content)
    inline = browser.get(cast.url("proposals/1/proposal.pdf?inline"))
    assert inline.headers["Content-Disposition"].startswith("inline") and inline.content == pdf.content
    plan.refresh_from_db()
    assert plan.state == State.OFFERED


def test_later_changes_alter_nothing_that_was_offered(cast: Cast) -> None:
    plan = make_ready_plan(cast.practice)
    proposal = make_offered(plan, cast.owner)
    before = read(proposal)
    browser = cast.browser(cast.owner)
    shown = browser.get(cast.url(f"proposals/{proposal.number}/")).content
    with scope(practice=cast.practice):
        SeedPrice.objects.update(price_usd_per_lb=Decimal("999"))
        Client.objects.update(name="Somebody Else")
        Conversion.objects.update(start_on=date(2030, 1, 1))
        Plan.objects.update(pricing_pct=1, title="Another title")
    after = read(proposal)
    assert bytes(after.pdf) == bytes(before.pdf)
    assert (after.inputs, after.result, after.sha256) == (before.inputs, before.result, before.sha256)
    assert hashlib.sha256(bytes(after.pdf)).hexdigest() == after.sha256
    page = browser.get(cast.url(f"proposals/{proposal.number}/")).content.decode()
    assert "Somebody Else" not in page.split("</h1>")[1]
    assert figures(page) == figures(shown.decode())
    plan_page = browser.get(cast.url(f"plans/{plan.pk}/")).content.decode()
    assert figures(plan_page) == figures(page)


def figures(page: str) -> list[str]:
    """Every figure that the page lays out, in order; the findings, before the price, are left away."""
    return re.findall(r'<summary class="fig">([^<]+)</summary>', page.split('id="price"', 1)[1])


def test_what_was_frozen_can_be_worked_out_again_to_the_cent(cast: Cast) -> None:
    proposal = make_offered(make_ready_plan(cast.practice), cast.owner)
    given = wire.read_job_file(proposal.inputs)
    again = plan_job(given.job, given.prices, TODAY)
    assert wire.plan_json(again) == proposal.result
    assert again.estimate.total.total.dollars == proposal.total_usd


def test_a_frozen_proposal_is_neither_changed_nor_deleted(cast: Cast) -> None:
    proposal = make_offered(make_ready_plan(cast.practice), cast.owner)
    proposal.total_usd = Decimal("1.00")
    with scope(practice=cast.practice):
        for act in (
            proposal.save,
            proposal.delete,
            lambda: Proposal.objects.update(number=9),
            lambda: Proposal.objects.all().delete(),
            lambda: Proposal.objects.bulk_update([proposal], ["number"]),
        ):
            with pytest.raises(Frozen):
                act()
    assert read(proposal).total_usd != Decimal("1.00")


def test_a_stop_blocks_and_says_why(cast: Cast) -> None:
    farm = make_farm(make_client(cast.practice))
    plan = make_plan(farm)
    make_conversion(plan, make_field(farm), make_mix(cast.practice))
    browser, url = cast.browser(cast.planner), cast.url(f"plans/{plan.pk}/offer/")
    assert "Stop: " in browser.get(url).content.decode()
    response = browser.post(url)
    assert response.status_code == 409 and "Stop: " in response.content.decode()
    with scope(practice=cast.practice):
        assert not Proposal.objects.exists()
    plan.refresh_from_db()
    assert plan.state == State.DRAFT


def test_a_caution_needs_a_name_and_a_reason_that_are_kept_and_printed(cast: Cast) -> None:
    plan = make_ready_plan(cast.practice, sensitive_neighbours="hives along the fence")
    browser, url = cast.browser(cast.planner), cast.url(f"plans/{plan.pk}/offer/")
    refused = browser.post(url)
    assert refused.status_code == 409 and "Caution not yet accepted" in refused.content.decode()
    with scope(practice=cast.practice):
        accept_all(plan, cast.planner, "The beekeeper moves them in April.")
        proposal = services.plan_offer(plan=plan, user=cast.owner, today=TODAY)
    kept = [caution for caution in proposal.accepted_cautions if "neighb" in caution["key"]]
    assert [(one["accepted_by"], one["reason"]) for one in kept] == [
        ("Perrin Planner", "The beekeeper moves them in April.")
    ]
    assert "The beekeeper moves them in April." in text_of(bytes(proposal.pdf)).replace("\n", " ")


def test_a_plan_without_a_field_is_not_offered(cast: Cast) -> None:
    plan = make_plan(make_farm(make_client(cast.practice)))
    with scope(practice=cast.practice), pytest.raises(services.Refused, match="no field"):
        services.plan_offer(plan=plan, user=cast.owner, today=TODAY)


def test_a_price_that_moved_since_it_was_looked_at_is_not_offered(cast: Cast) -> None:
    plan = make_ready_plan(cast.practice)
    with scope(practice=cast.practice):
        accept_all(plan, cast.owner)
    response = cast.browser(cast.owner).post(cast.url(f"plans/{plan.pk}/offer/"), {"total": "1.00"})
    assert response.status_code == 409 and "price has changed" in response.content.decode()
    plan.refresh_from_db()
    assert plan.state == State.DRAFT


def test_the_next_revision_leaves_the_first_as_it_was(cast: Cast) -> None:
    plan = make_ready_plan(cast.practice)
    first = make_offered(plan, cast.owner)
    browser = cast.browser(cast.owner)
    assert b"Start the next revision?" in browser.get(cast.url(f"plans/{plan.pk}/move/revise/")).content
    browser.post(cast.url(f"plans/{plan.pk}/move/revise/"))
    plan.refresh_from_db()
    assert plan.is_draft
    browser.post(cast.url(f"plans/{plan.pk}/title/"), {"title": "Second thoughts"})
    second = make_offered(plan, cast.owner)
    assert (first.revision, second.revision) == (1, 2)
    assert second.number == first.number + 1
    assert bytes(read(first).pdf) == bytes(first.pdf)
    listed = browser.get(cast.url(f"plans/{plan.pk}/proposals/")).content.decode()
    assert "Superseded" in listed
    page = browser.get(cast.url(f"proposals/{first.number}/")).content.decode()
    assert "Superseded by" in page and "A field to cover" in page


def test_an_offered_plan_is_not_edited(cast: Cast) -> None:
    plan = make_ready_plan(cast.practice)
    make_offered(plan, cast.owner)
    with scope(practice=cast.practice):
        conversion = plan.conversions.get()
    browser, url = cast.browser(cast.owner), cast.url(f"plans/{plan.pk}/")
    posts: list[tuple[str, dict[str, Any]]] = [
        ("title/", {"title": "Changed"}),
        (f"fields/{conversion.field_id}/", {}),
        (f"fields/{conversion.field_id}/remove/", {}),
        ("accept/", {"key": "a||b", "reason": "x"}),
        ("unaccept/", {"key": "a||b"}),
        ("offer/", {}),
    ]
    for path, data in posts:
        assert browser.post(url + path, data).status_code == 302, path
    plan.refresh_from_db()
    assert plan.title == "A field to cover"
    with scope(practice=cast.practice):
        assert plan.conversions.count() == 1 and plan.proposals.count() == 1


@pytest.mark.parametrize("state", State)
def test_states_follow_their_paths_only(cast: Cast, state: State) -> None:
    plan = make_plan(make_farm(make_client(cast.practice)), state=state)
    browser = cast.browser(cast.owner)
    page = browser.get(cast.url(f"plans/{plan.pk}/")).content.decode()
    for act in ACTS.values():
        url = cast.url(f"plans/{plan.pk}/move/{act.key}/")
        open_way = act.to in NEXT_STATES[state]
        assert (f"/move/{act.key}/" in page) == open_way
        assert browser.get(url).status_code == (200 if open_way else 302)
        browser.post(url)
        plan.refresh_from_db()
        assert plan.state == (act.to if open_way else state)
        with scope(practice=cast.practice):
            Plan.objects.update(state=state)
    with scope(practice=cast.practice), pytest.raises(ValueError, match="plan_offer"):
        services.plan_move(plan=plan, state=State.OFFERED, today=TODAY)


def test_each_practice_counts_for_itself(cast: Cast) -> None:
    numbers = []
    for practice, user in ((cast.practice, cast.owner), (cast.other_practice, cast.stranger)):
        numbers.append(make_offered(make_ready_plan(practice), user).number)
    assert numbers == [1, 1]
    theirs = cast.browser(cast.stranger).get(cast.url("proposals/1/"))
    assert theirs.status_code == 404


AT_ONCE = 8


@pytest.mark.django_db(transaction=True)
def test_numbers_are_unique_when_many_offer_at_once() -> None:
    """Threads on PostgreSQL; SQLite lets one writer in at a time and takes them in turn."""
    practice = make_practice()
    user = make_member(practice).user
    first = make_ready_plan(practice)
    with scope(practice=practice):
        mix = first.conversions.get().mix
        farm = first.farm
        ProposalCounter.objects.all().delete()
    plans = [first]
    for _ in range(AT_ONCE - 1):
        plan = make_plan(farm)
        make_conversion(plan, make_field(farm), mix)
        plans.append(plan)
    troubles: list[BaseException] = []

    def offer(plan: Plan) -> None:
        try:
            make_offered(plan, user)
        except BaseException as trouble:  # noqa: BLE001 - reported below
            troubles.append(trouble)
        finally:
            connections.close_all()

    if connection.vendor == "postgresql":
        threads = [threading.Thread(target=offer, args=[plan]) for plan in plans]
        for thread in threads:
            thread.start()
        for thread in threads:
            thread.join()
    else:
        for plan in plans:
            make_offered(plan, user)
    assert troubles == []
    with scope(practice=practice):
        numbers = sorted(Proposal.objects.values_list("number", flat=True))
    assert numbers == list(range(1, AT_ONCE + 1))


def test_two_offers_of_one_plan_make_one_proposal(cast: Cast) -> None:
    plan = make_ready_plan(cast.practice)
    make_offered(plan, cast.owner)
    with scope(practice=cast.practice):
        with pytest.raises(services.Refused, match="Only a draft"):
            services.plan_offer(plan=plan, user=cast.owner, today=TODAY)
        assert Proposal.objects.count() == 1


def test_an_offer_stored_by_an_earlier_version_keeps_its_pdf(cast: Cast) -> None:
    plan = make_ready_plan(cast.practice)
    proposal = make_offered(plan, cast.owner)
    with scope(practice=cast.practice):
        # Past the guard, as an older release would have left it.
        Proposal._base_manager.filter(pk=proposal.pk).update(result='{"written": "otherwise"}')
    browser = cast.browser(cast.owner)
    page = browser.get(cast.url(f"proposals/{proposal.number}/")).content.decode()
    assert "The PDF is what was offered" in page and proposal.sha256 in page
    assert "Its PDF is on record" in browser.get(cast.url(f"plans/{plan.pk}/")).content.decode()
    assert browser.get(cast.url(f"proposals/{proposal.number}/proposal.pdf")).content == bytes(proposal.pdf)
    assert browser.get(cast.url(f"plans/{plan.pk}/estimate.csv")).status_code == 404
