"""Who stays logged in, for how long, and what asks for the password once more.

A session's name is not taken from outside, and is new after logging in: OWASP Session Management Cheat Sheet,
"Renew the session ID after any privilege level change".
"""

from __future__ import annotations

from datetime import timedelta
from typing import Any

import pytest
from django.conf import settings
from django.contrib.sessions.models import Session
from django.db import connection, transaction
from django.test import Client as Browser
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from django.utils import timezone
from django_scopes import scope, scopes_disabled

from consulting.models import Invitation, Membership
from plans.models import CalendarFeed
from tests.conftest import Cast
from tests.factories import make
from tests.web.rights import World
from tests.web.test_accounts import PASSWORD, person, sign_in
from tests.web.test_who_may_what import OURS, TABLE, address

pytestmark = pytest.mark.django_db
COOKIE = settings.SESSION_COOKIE_NAME


def test_a_session_that_someone_else_chose_is_not_taken_up(client: Browser) -> None:
    person()
    client.cookies[COOKIE] = "chosenbysomeoneelse0000000000000"
    sign_in(client)
    assert client.cookies[COOKIE].value != "chosenbysomeoneelse0000000000000"
    assert not Session.objects.filter(pk="chosenbysomeoneelse0000000000000").exists()


def test_a_session_gets_another_name_when_someone_logs_in(client: Browser) -> None:
    person()
    session = client.session
    session["found"] = "before"
    session.save()
    before = session.session_key
    client.cookies[COOKIE] = before
    sign_in(client)
    assert client.session["found"] == "before" and client.cookies[COOKIE].value != before
    onlooker = Browser()
    onlooker.cookies[COOKIE] = before
    assert onlooker.get(reverse("account_email")).status_code == 302


def test_logging_out_ends_the_session_for_every_copy_of_its_cookie(cast: Cast) -> None:
    browser, copy = cast.browser(cast.owner), Browser()
    copy.cookies[COOKIE] = browser.cookies[COOKIE].value
    browser.post(reverse("account_logout"))
    assert copy.get(cast.url()).status_code == 302


def test_a_new_password_ends_the_sessions_elsewhere(cast: Cast) -> None:
    here, elsewhere = cast.browser(cast.owner, proven=True), cast.browser(cast.owner)
    new = "a meadow in october"
    here.post(
        reverse("account_change_password"), {"oldpassword": PASSWORD, "password1": new, "password2": new}
    )
    assert elsewhere.get(cast.url()).status_code == 302


def test_a_session_ages_out(cast: Cast, time_machine: Any) -> None:
    time_machine.move_to("2027-04-01T12:00:00Z", tick=False)
    often, seldom = cast.browser(cast.owner), cast.browser(cast.owner)
    for day in ("2027-04-13", "2027-04-26", "2027-05-09", "2027-05-22"):
        time_machine.move_to(f"{day}T12:00:00Z", tick=False)
        assert often.get(cast.url()).status_code == 200, day
    assert seldom.get(cast.url()).status_code == 302, "fourteen days without a visit"
    time_machine.move_to("2027-06-01T12:00:00Z", tick=False)
    assert often.get(cast.url()).status_code == 302, "sixty days, however often one comes by"


def test_a_page_stores_the_session_once_a_day_at_most(cast: Cast, time_machine: Any) -> None:
    browser = cast.browser(cast.owner)
    time_machine.move_to(timezone.now() + timedelta(days=1))
    writes = []
    for _ in range(2):
        with CaptureQueriesContext(connection) as asked:
            browser.get("/no/such/page/")
        writes.append([query["sql"].split()[0] for query in asked if "django_session" in query["sql"]])
    assert writes == [["SELECT", "UPDATE"], ["SELECT"]]


ASKING = {
    "invite": {"email": "newer@example.org", "role": "crew"},
    "member_role": {"role": "planner", "own_locale": ""},
    "member_remove": {},
    "invitation_withdraw": {},
    "calendars": {"whose": "mine"},
    "calendar_revoke": {},
    "practice_leave": {"name": "Kestrel Cover Company"},
}


def standing() -> tuple[Any, ...]:
    with scopes_disabled():
        return (
            list(Membership.objects.order_by("pk").values_list("user", "role")),
            list(Invitation.objects.order_by("pk").values_list("email", flat=True)),
            list(CalendarFeed.objects.values_list("key_sha256", flat=True)),
        )


@pytest.mark.parametrize("name", ASKING)
def test_what_opens_doors_asks_for_the_password_once_more_and_is_then_done(cast: Cast, name: str) -> None:
    world = World(cast)
    with scope(practice=cast.practice):
        own = Membership.objects.get(user=cast.owner)
    made = {"key_sha256": "0" * 64, "made_by": cast.owner}
    make(CalendarFeed, made, practice=cast.practice, member=own)
    url, browser, before = address(name, TABLE[name], world), cast.browser(cast.owner), standing()
    answer = browser.post(url, ASKING[name])
    assert answer.headers["Location"].startswith(reverse("account_reauthenticate"))
    assert standing() == before
    wrong = browser.post(answer.headers["Location"], {"password": "a guess", "next": url})
    assert wrong.status_code == 422 and standing() == before
    browser.post(answer.headers["Location"], {"password": PASSWORD, "next": url})
    assert standing() != before


def test_every_address_of_people_and_keys_asks() -> None:
    opening = ("member", "invitation_w", "invite", "calendar", "practice_leave")
    assert {n for n in OURS if n.startswith(opening) and "POST" in TABLE[n].methods} == set(ASKING)


STUFFED = {"role": "owner", "is_staff": "on", "is_superuser": "on", "is_active": "", "email": "x@example.org"}


@pytest.mark.parametrize("who", ["crew", "planner"])
def test_no_field_in_a_form_raises_a_role(cast: Cast, who: str) -> None:
    """Everything that takes a form, sent by one who is no owner, with more fields than the form has."""
    browser = cast.browser(getattr(cast, who))
    more = STUFFED | {"practice": cast.other_practice.pk, "user": cast.owner.pk}
    for name in [n for n in OURS if "POST" in TABLE[n].methods]:
        # What the last round undid, the row in hand still had.
        cast.practice.refresh_from_db()
        with transaction.atomic():
            url, before = address(name, TABLE[name], World(cast)), people(cast)
            browser.post(url, TABLE[name].data | more)
            assert people(cast) == before, name
            transaction.set_rollback(True)


def people(cast: Cast) -> list[Any]:
    with scopes_disabled():
        own = Membership.objects.filter(practice__in=[cast.practice, cast.other_practice])
        return [*own.order_by("pk").values_list("practice", "user", "role", "user__email", "user__is_active")]
