"""A form that is sent twice makes one thing, and both are led to it."""

from __future__ import annotations

from concurrent.futures import ThreadPoolExecutor
from datetime import timedelta
from typing import Any

import pytest
from django.core.management import call_command
from django.db import connection, connections
from django.test import Client as Browser
from django.utils import timezone
from django_scopes import scopes_disabled

from consulting.models import Client, Practice, Sending
from tests.conftest import Cast, member
from tests.drawn_factories import square, typed
from tests.factories import make_practice
from tests.web.forms import form_on
from tests.web.rights import World
from tests.web.test_clients_farms_fields import farm_form, field_form
from tests.web.test_who_may_what import TABLE, address, tenant_models

CORNERS = typed(square(west=-92.31))
MEMBER = "the crew"
CREATES: dict[str, tuple[str, dict[str, Any]]] = {
    "practice_new": ("", {"name": "Bluestem Works"}),
    "client_new": ("", {"name": "Ada Ash"}),
    "farm_new": ("", farm_form()),
    "field_new": ("", field_form(name="Long Strip")),
    "exclusion_new": ("", {"kind": "well", "name": "Old well", "drawn": "point", "corners": "38.9, -92.3",
                           "distance_ft": "50", "work": ["spray"], "reason": "the label"}),
    "farm_observe": ("farm", {"moment": "first_freeze", "on": "2025-10-09"}),
    "farm_wind": ("farm", {"season": "spring", "comes_from": "south"}),
    "landmark_new": ("", {"kind": "water", "name": "Pond", "made_of": "area", "corners": CORNERS}),
    "field_draw_new": ("", {"name": "Creek Bottom", "cover": "annual weeds", "corners": CORNERS}),
    "walk_new": ("", {"on": "2026-06-02", "people": "Cass", "bare_pct": "100"}),
    "invite": ("people", {"email": "ida@example.org", "role": "crew"}),
    "price_new": ("", {"active_ingredient": "glyphosate", "form": "liquid", "lb_active_per_gal": "3",
                       "container_size": "2.5", "price_usd_per_container": "60",
                       "label_rate_low_oz_per_acre": "32", "label_rate_high_oz_per_acre": "128",
                       "label_season_max_oz_per_acre": "256"}),
    "mix_new": ("", {"name": "Two", "lines-0-species": "indiangrass", "lines-0-amount": "100", "save": "yes",
                     "seeds_per_sqft": "40", "basis": "share of seed"}),
    "mix_copy": ("mixes", {}),
    "plan_new": ("", {"title": "Two fields"}),
    "machine_new": ("", {"name": "The green one", "holding": "own", "active": "on"}),
    "machine_span_new": ("", {"first": "2027-09-18", "last": "2027-09-22", "reason": "lent"}),
    "shed_new": ("", {"name": "indiangrass", "lot": "T-7", "amount": "12.5", "on": "2026-09-01",
                      "purity_pct": "80", "germination_pct": "75", "tested_on": "2026-03-01"}),
    "day_off": ("", {"first": "2027-09-01", "last": "2027-09-02", "member": MEMBER}),
    "shed_arrive": ("shed_lot", {"amount": "3", "on": "2026-09-01"}),
}  # fmt: skip
"""The page that each stands on where that is another one, and what is typed."""


def rows() -> dict[str, int]:
    with scopes_disabled():
        there = {model.__name__: model._base_manager.count() for model in [*tenant_models(), Practice]}
        return {name: count for name, count in there.items() if count}


@pytest.mark.parametrize("name", CREATES)
def test_a_form_sent_twice_makes_one(cast: Cast, name: str) -> None:
    page, answers = CREATES[name]
    world, browser = World(cast), cast.browser(cast.owner, proven=True)
    to = address(name, TABLE[name], world)
    answers = {name: f"{world.member.pk}" if text is MEMBER else text for name, text in answers.items()}
    form = form_on(browser, address(page, TABLE[page], world) if page else to, to)
    assert form, "no such form on the page"
    sent, before = form.filled(**answers), rows()
    assert sent["once"], "no word of its own"
    first = browser.post(to, sent)
    assert first.status_code == 302, first.context["form"].errors if first.context else first
    after = rows()
    assert after != before
    again = browser.post(to, sent)
    assert (again.status_code, again.headers["Location"]) == (302, first.headers["Location"])
    assert rows() == after


def test_what_was_typed_anew_is_another_thing(cast: Cast) -> None:
    """A page shown again from the browser's memory has the word of before."""
    browser = cast.browser(cast.planner)
    for name in ("Ada Ash", "Bo Birch"):
        browser.post(cast.url("clients/new/"), {"name": name, "once": "a-word"})
    with scopes_disabled():
        assert sorted(Client.objects.values_list("name", flat=True)) == ["Ada Ash", "Bo Birch"]


def test_what_was_refused_can_be_sent_again(cast: Cast) -> None:
    browser, to = cast.browser(cast.planner), cast.url("clients/new/")
    assert browser.post(to, {"name": "", "once": "a-word"}).status_code == 422
    assert not Sending.objects.exists()
    first = browser.post(to, {"name": "Ada Ash", "once": "a-word"})
    assert first.cookies["kept"].value == "a-word"
    assert (
        "sent already"
        in browser.post(to, {"name": "Ada Ash", "once": "a-word"}, follow=True).content.decode()
    )


def test_another_person_with_the_same_word_makes_their_own(cast: Cast) -> None:
    for user in (cast.planner, cast.owner):
        cast.browser(user).post(cast.url("clients/new/"), {"name": "Ada Ash", "once": "a-word"})
    with scopes_disabled():
        assert Client.objects.count() == 2


def test_what_was_sent_is_forgotten_after_two_days(cast: Cast) -> None:
    for days in (1, 3):
        row = Sending.objects.create(key=f"{days}", led_to="/")
        Sending.objects.filter(pk=row.pk).update(at=timezone.now() - timedelta(days=days))
    call_command("forget_uploads")
    assert [row.key for row in Sending.objects.all()] == ["1"]


@pytest.mark.skipif(connection.vendor != "postgresql", reason="SQLite lets one write at a time")
@pytest.mark.django_db(transaction=True)
def test_the_same_form_many_times_at_once_makes_one() -> None:
    practice = make_practice("Kestrel Cover Company", slug="kestrel")
    owner = member(practice, "owner", "Ottilie Owner").user

    def send(browser: Browser) -> str:
        try:
            answer = browser.post("/kestrel/clients/new/", {"name": "Ada Ash", "once": "a-word"})
            return answer.headers["Location"]
        finally:
            connections.close_all()

    browsers = [Browser() for _ in range(6)]
    for browser in browsers:
        browser.force_login(owner)
    with ThreadPoolExecutor(len(browsers)) as pool:
        led_to = set(pool.map(send, browsers))
    with scopes_disabled():
        assert led_to == {f"/kestrel/clients/{Client.objects.get().pk}/"}
