"""Signing up, signing in, the limit on tries, resetting, a second step, and settings that must be right."""

from __future__ import annotations

import os
import re
import subprocess
import sys
import time
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import pytest
from allauth.account.models import EmailAddress
from allauth.mfa.totp.internal.auth import hotp_value
from django.core.cache import cache
from django.test import Client as Browser
from django.urls import reverse

from consulting.models import User
from tests.factories import make_user

ROOT = Path(__file__).parents[2]
PASSWORD = "wide open prairie"
pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def no_tries_yet() -> None:
    cache.clear()


def person(email: str = "ada@example.org", **values: Any) -> User:
    user = make_user(email, password=PASSWORD, **values)
    EmailAddress.objects.create(user=user, email=user.email, verified=True, primary=True)
    return user


def prove(browser: Browser) -> None:
    """Types the password once more, as the pages that change how one signs in ask."""
    browser.post(reverse("account_reauthenticate"), {"password": PASSWORD})


def sign_in(browser: Browser, password: str = PASSWORD, email: str = "ada@example.org") -> Any:
    return browser.post(reverse("account_login"), {"login": email, "password": password})


def test_signing_up_confirms_the_address_by_a_code(client: Browser, mailoutbox: list[Any]) -> None:
    link = "/invitation/some-token/"
    login = client.get(reverse("account_login"), {"next": link})
    assert login.context["signup_url"] == f"{reverse('account_signup')}?next=%2Finvitation%2Fsome-token%2F"
    typed = {"email": "New@Example.org", "name": "Nan Newcomer", "password1": PASSWORD, "next": link}
    response = client.post(reverse("account_signup"), typed)
    assert response.headers["Location"] == reverse("account_email_verification_sent")
    assert "_auth_user_id" not in client.session
    code = re.search(r"^([A-Z0-9]{4}-[A-Z0-9]{4})$", mailoutbox[0].body, re.MULTILINE)
    assert code, mailoutbox[0].body
    response = client.post(reverse("account_email_verification_sent"), {"code": code[1]})
    assert response.headers["Location"] == link, "an invited newcomer comes back to the invitation"
    user = User.objects.get(pk=client.session["_auth_user_id"])
    assert (user.email, user.name) == ("new@example.org", "Nan Newcomer")
    assert user.password.startswith("md5") and PASSWORD not in user.password
    assert client.get("/").headers["Location"] == reverse("practice_new")


def test_an_address_is_taken_in_any_case(client: Browser, mailoutbox: list[Any]) -> None:
    person()
    typed = {"email": "ADA@example.org", "name": "Another", "password1": PASSWORD}
    client.post(reverse("account_signup"), typed)
    assert User.objects.count() == 1
    assert "already exists" in mailoutbox[0].body


@pytest.mark.parametrize("address", ["http://[::1", "//elsewhere.example", "javascript:alert(1)"])
def test_logging_out_leads_nowhere_else(client: Browser, address: str) -> None:
    client.force_login(person())
    answer = client.post(reverse("account_logout"), {"next": address})
    assert answer.headers["Location"] == reverse("account_login")


def test_a_short_password_is_refused_beside_its_field(client: Browser) -> None:
    response = client.post(
        reverse("account_signup"), {"email": "a@example.org", "name": "A", "password1": "short"}
    )
    html = response.content.decode()
    assert "at least 10 characters" in html
    assert 'href="#id_password1"' in html and "Error:" in html
    assert 'value="a@example.org"' in html
    assert not User.objects.exists()


def test_signing_in_by_address_in_any_case(client: Browser) -> None:
    user = person()
    assert sign_in(client, email="Ada@Example.ORG").status_code == 302
    assert client.session["_auth_user_id"] == str(user.pk)


def test_the_sixth_try_after_five_failed_ones_is_refused(client: Browser) -> None:
    person()
    for _ in range(5):
        assert "not correct" in sign_in(client, "a wrong password").content.decode()
    response = sign_in(client)
    assert "Too many failed login attempts" in response.content.decode()
    assert "_auth_user_id" not in client.session


def test_tries_are_counted_in_the_database_not_in_the_process(client: Browser) -> None:
    from django.db import connection

    person()
    sign_in(client, "a wrong password")
    with connection.cursor() as cursor:
        cursor.execute("SELECT count(*) FROM cache")
        assert cursor.fetchone()[0] > 0


def test_a_flood_of_sign_ins_gets_our_own_page(client: Browser, settings: Any) -> None:
    settings.ACCOUNT_RATE_LIMITS = {"login": "2/m/ip"}
    for _ in range(2):
        sign_in(client, "a wrong password")
    response = sign_in(client, "a wrong password")
    assert response.status_code == 429
    assert "Too many tries" in response.content.decode()


def test_resetting_a_password(client: Browser, mailoutbox: list[Any]) -> None:
    user = person()
    client.post(reverse("account_reset_password"), {"email": "ada@example.org"})
    link = re.search(r"https?://testserver(/\S+)", mailoutbox[0].body)
    assert link
    page = client.get(link[1], follow=True)
    form = page.redirect_chain[-1][0]
    new = "a meadow in october"
    client.post(form, {"password1": new, "password2": new})
    user.refresh_from_db()
    assert user.check_password(new)


def test_resetting_tells_nothing_about_an_unknown_address(client: Browser) -> None:
    person()
    known = client.post(reverse("account_reset_password"), {"email": "ada@example.org"})
    unknown = client.post(reverse("account_reset_password"), {"email": "nobody@example.org"})
    assert known.headers["Location"] == unknown.headers["Location"]


def test_an_authenticator_app_is_asked_for_once_it_is_on(client: Browser) -> None:
    person()
    sign_in(client)
    assert (
        client.get(reverse("mfa_activate_totp"))
        .headers["Location"]
        .startswith(reverse("account_reauthenticate"))
    )
    prove(client)
    page = client.get(reverse("mfa_activate_totp"))
    html = page.content.decode()
    assert "<svg" in html and "data:" not in html
    secret = page.context["form"].secret
    code = f"{hotp_value(secret, int(time.time()) // 30):06}"
    assert client.post(reverse("mfa_activate_totp"), {"code": code}).status_code == 302
    other = Browser()
    assert sign_in(other).headers["Location"] == reverse("mfa_authenticate")
    assert "_auth_user_id" not in other.session
    assert other.get(reverse("mfa_authenticate")).status_code == 200


def test_a_passkey_can_be_added_and_used_to_sign_in_without_inline_script(client: Browser) -> None:
    person()
    login = client.get(reverse("account_login")).content.decode()
    assert 'id="passkey_login"' in login and "mfa/js/webauthn.js" in login
    sign_in(client)
    prove(client)
    add = client.get(reverse("mfa_add_webauthn")).content.decode()
    assert 'id="js_data" type="application/json"' in add and "mfa/js/webauthn-json.js" in add
    offered = Browser().get(reverse("mfa_login_webauthn"), headers={"accept": "application/json"})
    assert offered.json()["request_options"]["publicKey"]["challenge"]


def test_a_stale_form_shows_what_was_typed_but_no_secret(cast: Any) -> None:
    browser = Browser(enforce_csrf_checks=True)
    browser.force_login(cast.owner)
    typed = {"name": "<b>Ada & Co", "notes": "Gate code on the card", "password": "hush hush"}
    response = browser.post(cast.url("clients/new/"), typed)
    html = response.content.decode()
    assert response.status_code == 403
    assert "The form had gone stale" in html and f'href="{cast.url("clients/new/")}"' in html
    assert "Gate code on the card" in html and "&lt;b&gt;Ada &amp; Co" in html
    assert "hush hush" not in html


@pytest.mark.parametrize("path", ["/no/such/page/", "/kestrel/"])
def test_missing_pages_are_our_own(client: Browser, path: str) -> None:
    client.force_login(make_user())
    response = client.get(path)
    assert response.status_code == 404
    assert "There is no such page" in response.content.decode()


def test_a_broken_page_is_our_own_and_needs_no_database(client: Browser, monkeypatch: Any) -> None:
    def broken(*args: Any, **kwargs: Any) -> None:
        raise RuntimeError("broken on purpose")

    monkeypatch.setattr("consulting.views.home.render", broken)
    client.raise_request_exception = False
    response = client.get("/")
    assert response.status_code == 500
    assert "Something broke on our side" in response.content.decode()


def start(**env: str) -> subprocess.CompletedProcess[str]:
    """Reads the site's settings in a process of its own."""
    clean = {"PATH": os.environ["PATH"], "HOME": os.environ.get("HOME", "/")}
    ask = "import consulting.settings as s; print(s.DEBUG, s.HTTPS, s.DATABASES['default']['ENGINE'])"
    return subprocess.run(
        [sys.executable, "-c", ask], cwd=ROOT, env=clean | env, capture_output=True, text=True, check=False
    )


KEY = "k" * 60


def test_without_anything_but_a_key_it_starts_safely() -> None:
    assert start(SECRET_KEY=KEY).stdout.split() == ["False", "True", "django.db.backends.sqlite3"]


@pytest.mark.parametrize(
    ("env", "named"),
    [
        ({}, "SECRET_KEY: is missing"),
        ({"SECRET_KEY": "short"}, "SECRET_KEY: has 5 characters"),
        ({"SECRET_KEY": KEY, "DEBUG": "perhaps"}, "DEBUG: 'perhaps' is neither yes nor no"),
        ({"SECRET_KEY": KEY, "HTTPS": "2"}, "HTTPS: '2'"),
        ({"SECRET_KEY": KEY, "DATABASE_URL": "mysql://x/y"}, "DATABASE_URL: must begin with"),
        ({"SECRET_KEY": KEY, "DATABASE_URL": "nonsense"}, "DATABASE_URL:"),
        ({"SECRET_KEY": KEY, "EMAIL_URL": "carrier-pigeon://loft"}, "EMAIL_URL:"),
        ({"SECRET_KEY": KEY, "SLOW_QUERY_MS": "soon"}, "SLOW_QUERY_MS: 'soon'"),
        ({"SECRET_KEY": KEY, "LOG_DIR": "/nowhere"}, "LOG_DIR: /nowhere"),
        ({"SECRET_KEY": KEY, "SITE_ADDRESS": "plans.example.org"}, "SITE_ADDRESS: 'plans.example.org'"),
        ({"SECRET_KEY": KEY, "SECRET_KEY_FILE": "/x"}, "SECRET_KEY and SECRET_KEY_FILE: both are given"),
        ({"SECRET_KEY_FILE": "/nowhere/key"}, "SECRET_KEY_FILE: /nowhere/key cannot be read"),
    ],
)
def test_a_bad_setting_stops_the_start_and_is_named(env: dict[str, str], named: str) -> None:
    if (ROOT / ".env").exists():
        pytest.skip("this machine has a .env of its own")
    result = start(**env)
    assert result.returncode != 0
    assert named in result.stderr.splitlines()[-1]


def test_check_deploy_is_clean(tmp_path: Path) -> None:
    (tmp_path / "kept.stamp").write_text(datetime.now(UTC).isoformat())
    clean = {
        "EMAIL_URL": "smtp://mail.example.org",
        "DEFAULT_FROM_EMAIL": "Coverstead <letters@example.org>",
        "VAR_DIR": str(tmp_path),
        "PATH": os.environ["PATH"],
        "HOME": os.environ.get("HOME", "/"),
        "SECRET_KEY": "".join(map(chr, range(40, 110))),
    }
    result = subprocess.run(
        [sys.executable, "manage.py", "check", "--deploy", "--fail-level", "WARNING"],
        cwd=ROOT, env=clean, capture_output=True, text=True, check=False,
    )  # fmt: skip
    assert result.returncode == 0, result.stderr


def test_a_refused_log_in_names_its_fields_and_says_so_by_its_status(client: Browser, db: None) -> None:
    page = client.post(reverse("account_login"), {"login": "ada"})
    text = page.content.decode()
    assert page.status_code == 422
    assert "Email must look like name@example.org." in text and "Password is missing. Fill it in." in text
