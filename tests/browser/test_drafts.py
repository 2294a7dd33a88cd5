"""What is half typed is offered again: after a closed tab and a session that ran out, until it is kept."""

from __future__ import annotations

from collections.abc import Callable

from django.conf import settings
from django_scopes import scope
from playwright.sync_api import Page, expect

from consulting.models import Client, User
from tests.conftest import Cast
from tests.factories import make_client

TYPED = "Gate code is with the neighbor."
HELD = "Object.keys(localStorage).filter((key) => key.startsWith('draft:')).length"


def test_what_is_half_typed_stays_on_the_device_until_it_is_kept(
    laptop: Page, cast: Cast, sign_in: Callable[[Page, User], None], axe: Callable[[Page], None]
) -> None:
    client = make_client(cast.practice)
    address = cast.url(f"clients/{client.pk}/edit/")
    sign_in(laptop, cast.planner)
    notes, offer = laptop.get_by_label("Notes"), laptop.locator(".draft")
    laptop.goto(address)
    notes.fill(TYPED)
    laptop.goto(cast.url("clients/"))
    laptop.goto(address)
    expect(offer).to_contain_text("You had typed something here on")
    axe(laptop)
    laptop.get_by_role("button", name="Bring it back").click()
    expect(notes).to_have_value(TYPED)
    expect(offer).to_have_count(0)

    laptop.context.clear_cookies(name=settings.SESSION_COOKIE_NAME)
    laptop.get_by_role("button", name="Save").click()
    expect(laptop.get_by_text("You were signed out meanwhile")).to_be_visible()
    sign_in(laptop, cast.planner)
    laptop.goto(address)
    laptop.get_by_role("button", name="Bring it back").click()
    laptop.get_by_role("button", name="Save").click()
    expect(laptop.get_by_text("Saved.")).to_be_visible()
    with scope(practice=cast.practice):
        assert Client.objects.get(pk=client.pk).notes == TYPED
    assert laptop.evaluate(HELD) == 0

    laptop.goto(address)
    expect(offer).to_have_count(0)
    notes.fill("Half a thought")
    assert laptop.evaluate(HELD) == 1
    laptop.locator(".who summary").click()
    laptop.get_by_role("button", name="Sign out").click()
    expect(laptop.locator(".who")).to_have_count(0)
    assert laptop.evaluate(HELD) == 0
