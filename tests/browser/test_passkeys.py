"""A passkey is added and then used to sign in, by Chromium's own authenticator, under the strict policy."""

from __future__ import annotations

import re
from typing import Any

from allauth.account.models import EmailAddress
from playwright.sync_api import Page, expect

from tests.browser.test_log_in import PASSWORD, log_in
from tests.conftest import Cast


def test_a_passkey_signs_in(laptop: Page, cast: Cast, settings: Any) -> None:
    settings.MFA_WEBAUTHN_ALLOW_INSECURE_ORIGIN = True
    EmailAddress.objects.create(user=cast.owner, email=cast.owner.email, verified=True, primary=True)
    devices = laptop.context.new_cdp_session(laptop)
    devices.send("WebAuthn.enable")
    devices.send(
        "WebAuthn.addVirtualAuthenticator",
        {
            "options": {
                "protocol": "ctap2",
                "transport": "internal",
                "hasResidentKey": True,
                "hasUserVerification": True,
                "isUserVerified": True,
                "automaticPresenceSimulation": True,
            }
        },
    )
    home = re.compile(f"/{cast.practice.slug}/$")
    log_in(laptop, cast.owner.email, PASSWORD)
    expect(laptop).to_have_url(home)
    laptop.goto("/accounts/2fa/webauthn/add/")
    if "reauthenticate" in laptop.url:
        laptop.get_by_label("Password", exact=True).fill(PASSWORD)
        laptop.get_by_role("button", name="Confirm").click()
    laptop.get_by_label("Passwordless").check()
    laptop.get_by_role("button", name="Add").click()
    expect(laptop.get_by_role("heading", name="Recovery codes")).to_be_visible()
    laptop.context.clear_cookies()
    laptop.goto("/accounts/login/")
    laptop.get_by_role("button", name="Sign in with a passkey").click()
    expect(laptop).to_have_url(home)
