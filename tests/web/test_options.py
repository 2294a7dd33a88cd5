"""Options shown in a proposal: chosen on a page, reckoned, frozen with what is offered."""

from __future__ import annotations

import re
from decimal import Decimal

import pytest
from django_scopes import scope

from plans.beside import kept_beside
from plans.models import Plan, PlanOption
from plans.reprints import reprinted
from plans.services import Refused, options_choose
from tests.conftest import Cast
from tests.factories import make_field
from tests.plan_factories import make_conversion, make_mix, make_offered, make_ready_plan, price

TYPED = {
    "extra_kill-shown": "on",
    "extra_kill-reason": "More <b>certain</b> & slower.",
    "year_later-shown": "on",
    "year_later-reason": "The same work begun a year from now, at today’s prices.",
    "burn-reason": "typed and not ticked",
}


@pytest.fixture
def plan(cast: Cast) -> Plan:
    return make_ready_plan(cast.practice)


def test_what_is_ticked_stands_on_the_plans_page_with_its_price(cast: Cast, plan: Plan) -> None:
    browser, url = cast.browser(cast.planner), cast.url(f"plans/{plan.pk}/")
    assert "Choose what the proposal shows" in browser.get(url).content.decode()
    page = browser.get(f"{url}options/").content.decode()
    assert "A richer mix" in page and "Not here." in page and page.count("<h1") == 1
    made = browser.post(f"{url}options/", TYPED)
    assert made.headers["Location"] == f"{url}#options"
    with scope(practice=cast.practice):
        kept = {row.key: row.reason for row in PlanOption.objects.all()}
    assert kept == {"extra_kill": "More <b>certain</b> & slower.", "year_later": ""}
    shown = browser.get(url).content.decode().split('id="options"')[1].split("</section>")[0]
    assert "More &lt;b&gt;certain&lt;/b&gt; &amp; slower." in shown and "A year later" in shown
    assert "Burn instead" not in shown
    again = browser.get(f"{url}options/").content.decode()
    assert re.search(r'name="extra_kill-shown"[^>]* checked', again) and "typed and not ticked" not in again


def test_a_line_that_is_too_long_stays_typed_and_nothing_is_kept(cast: Cast, plan: Plan) -> None:
    url = cast.url(f"plans/{plan.pk}/options/")
    page = cast.browser(cast.owner).post(url, TYPED | {"extra_kill-reason": "x" * 301})
    said = page.content.decode()
    assert page.status_code == 422 and "Keep it to 300" in said and "x" * 301 in said
    with scope(practice=cast.practice):
        assert not PlanOption.objects.exists()


def test_options_are_frozen_with_the_offer_and_printed_again_the_same(cast: Cast, plan: Plan) -> None:
    browser, url = cast.browser(cast.owner), cast.url(f"plans/{plan.pk}/")
    browser.post(f"{url}options/", TYPED)
    proposal = make_offered(plan, cast.owner)
    with scope(practice=cast.practice):
        proposal.refresh_from_db()
        options = kept_beside(proposal).options
        assert [one.key for one in options] == ["extra_kill", "year_later"]
        assert reprinted(proposal) == bytes(proposal.pdf)
        with pytest.raises(Refused):
            options_choose(plan=plan, shown={})
    first = options[0]
    assert first.standing and first.difference
    assert first.standing.total.dollars == proposal.total_usd + first.difference.dollars
    for address in (url, cast.url(f"proposals/{proposal.number}/")):
        page = browser.get(address).content.decode()
        assert f"${first.standing.total.dollars:,.2f}" in page and "one thing changed" in page
    assert browser.get(f"{url}options/").status_code == 302


def test_the_price_by_field_adds_up_on_the_page(cast: Cast, plan: Plan) -> None:
    with scope(practice=cast.practice):
        other = make_field(plan.farm, acres=Decimal("4.5"))
        make_conversion(plan, other, make_mix(cast.practice, name="Another"))
    page = cast.browser(cast.owner).get(cast.url(f"plans/{plan.pk}/")).content.decode()
    table = page.split('<table class="sum fields">')[1].split("</table>")[0]
    body, foot = table.split("<tfoot>")
    rows = [
        [price(found) for found in re.findall(r'class="fig">([^<]+)<', row)]
        for row in body.split("<tr>")
        if 'class="fig"' in row
    ]
    totals = [price(found) for found in re.findall(r">(\$[\d,.]+)<", foot)]
    assert len(rows) == 2 and [sum(column) for column in zip(*rows, strict=True)] == totals
    assert all(sum(row[:-1]) == row[-1] for row in [*rows, totals])
