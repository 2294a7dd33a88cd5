"""A form sent after the session ran out: what was typed waits for its writer, and for nobody else."""

from __future__ import annotations

from datetime import timedelta
from typing import Any

import pytest
from django.conf import settings
from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client as Browser
from django_scopes import scope

from consulting import left
from consulting.models import Client
from plans.models import Mix
from tests.conftest import Cast
from tests.factories import make_client
from tests.plan_factories import make_mix
from tests.web.forms import form_on, forms_of


def late(cast: Cast, browser: Browser, url: str, **typed: Any) -> str:
    """Where the log-in leads to, of somebody whose session ran out before they sent what they typed."""
    form = form_on(browser, url, url)
    assert form
    del browser.cookies[settings.SESSION_COOKIE_NAME]
    sent = browser.post(url, form.filled(**typed), headers={"Referer": f"http://testserver{url}"})
    assert sent.status_code == 302 and sent.headers["Location"].startswith("/accounts/login/?next=")
    return sent.headers["Location"].partition("next=")[2]


@pytest.fixture
def client(cast: Cast) -> Client:
    return make_client(cast.practice, name="Ada Ash", notes="A gate.")


def test_what_was_typed_is_shown_in_its_form_after_the_log_in(cast: Cast, client: Client) -> None:
    browser, url = cast.browser(cast.owner), cast.url(f"clients/{client.pk}/edit/")
    to = late(cast, browser, url, notes="Two <dogs>.")
    browser.force_login(cast.owner)
    page = browser.get(to)
    html = page.content.decode()
    assert to == cast.url("left/") and page.status_code == 200 and "Two &lt;dogs&gt;." in html
    (kept,) = [form for form in forms_of(html, to) if form.action == url]
    again = browser.post(url, kept.filled(mend="yes"))
    (form,) = [form for form in forms_of(again.content.decode(), url) if form.action == url]
    assert again.status_code == 200 and form.data["notes"] == ["Two <dogs>."]
    client.refresh_from_db()
    assert client.notes == "A gate."
    assert browser.post(url, kept.data).status_code == 302
    client.refresh_from_db()
    assert client.notes == "Two <dogs>."
    assert browser.get(to).status_code == 302, "it was sent, and waits no more"


def test_nobody_else_sees_it(cast: Cast, client: Client) -> None:
    browser, url = cast.browser(cast.owner), cast.url(f"clients/{client.pk}/edit/")
    to = late(cast, browser, url, notes="Two dogs.")
    browser.force_login(cast.planner)
    assert browser.get(to).status_code == 302
    assert left.KEPT_AS not in browser.session


def test_it_can_be_thrown_away_and_goes_by_itself(cast: Cast, client: Client, monkeypatch: Any) -> None:
    browser, url = cast.browser(cast.owner), cast.url(f"clients/{client.pk}/edit/")
    to = late(cast, browser, url, notes="Two dogs.")
    browser.force_login(cast.owner)
    assert browser.get(to).status_code == 200
    monkeypatch.setattr(left, "FOR", timedelta(0))
    assert browser.get(to).status_code == 302 and left.KEPT_AS not in browser.session
    monkeypatch.undo()
    to = late(cast, browser, url, notes="Two dogs.")
    browser.force_login(cast.owner)
    assert browser.post(to).headers["Location"] == url and left.KEPT_AS not in browser.session


def test_files_secrets_and_what_is_too_much_are_not_kept(cast: Cast, client: Client) -> None:
    browser, url = cast.browser(cast.owner), cast.url(f"clients/{client.pk}/edit/")
    file = SimpleUploadedFile("a.jpg", b"bytes of it")
    late(cast, browser, url, notes="Two dogs.", photo=file, new_password="hush")
    kept = str(browser.session[left.KEPT_AS])
    assert "Two dogs." in kept and "bytes of it" not in kept and "hush" not in kept
    again = cast.browser(cast.owner)
    assert late(cast, again, url, notes="x" * left.MOST_CHARACTERS) == url
    assert left.KEPT_AS not in again.session
    stranger = Browser()
    stranger.post(url, {"once": "made-up", "notes": "x"}, headers={"Referer": f"http://testserver{url}"})
    assert left.KEPT_AS not in stranger.session


def test_what_has_no_form_to_be_shown_in_is_not_done_instead(cast: Cast) -> None:
    mix = make_mix(cast.practice)
    answer = cast.browser(cast.owner).post(
        cast.url(f"mixes/{mix.pk}/copy/"), {"once": "word", "mend": "yes", "title": "x"}
    )
    assert answer.status_code == 302
    with scope(practice=cast.practice):
        assert Mix.objects.count() == 1
