"""Signing in, as a person meets it; and the harness's own teeth."""

from __future__ import annotations

import re
from collections.abc import Callable

import pytest
from allauth.account.models import EmailAddress
from playwright.sync_api import Error, Page, expect

from tests.conftest import Cast

PASSWORD = "wide open prairie"
SIGN_IN = re.compile("^sign in$", re.IGNORECASE)


@pytest.fixture
def confirmed(cast: Cast) -> Cast:
    """The owner's e-mail address is confirmed, so that the log-in form lets her in."""
    EmailAddress.objects.create(user=cast.owner, email=cast.owner.email, verified=True, primary=True)
    return cast


def log_in(page: Page, email: str, password: str) -> None:
    page.goto("/accounts/login/")
    page.get_by_label("Email").fill(email)
    page.get_by_label("Password", exact=True).fill(password)
    page.get_by_role("button", name=SIGN_IN).click()


def test_wrong_then_right_password(screen: Page, confirmed: Cast, axe: Callable[[Page], None]) -> None:
    log_in(screen, confirmed.owner.email, "not the password")
    expect(screen).to_have_title(re.compile("^Error: "))
    axe(screen)
    screen.get_by_label("Password", exact=True).fill(PASSWORD)
    screen.get_by_role("button", name=SIGN_IN).click()
    expect(screen).to_have_url(re.compile(f"/{confirmed.practice.slug}/"))
    axe(screen)


def test_without_scripts(no_script: Page, confirmed: Cast) -> None:
    log_in(no_script, confirmed.owner.email, PASSWORD)
    expect(no_script).to_have_url(re.compile(f"/{confirmed.practice.slug}/"))


def test_a_request_elsewhere_is_refused(laptop: Page, troubles: list[str]) -> None:
    with pytest.raises(Error):
        laptop.goto("http://elsewhere.invalid/")
    assert "elsewhere.invalid" in troubles[0]
    troubles.clear()


def test_what_the_policy_forbids_is_noticed(laptop: Page, troubles: list[str]) -> None:
    laptop.goto("/")
    laptop.evaluate("document.body.setAttribute('style', 'color: red')")
    laptop.evaluate("new Promise(requestAnimationFrame)")
    assert any("Content Security Policy" in trouble for trouble in troubles)
    troubles.clear()
