"""One record saved from several forms at the same moment: one stands whole. SQLite has one writer."""

from __future__ import annotations

from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from threading import Barrier
from typing import Any

import pytest
from django.db import connection, connections
from django.test import Client as Browser
from django_scopes import scope

from consulting import services
from consulting.changes import Change
from consulting.followed import ChangedMeanwhile
from consulting.models import Client
from plans.models import Mix
from tests.factories import make_client, make_member, make_practice
from tests.plan_factories import make_mix
from tests.web.forms import form_on

pytestmark = [
    pytest.mark.skipif(connection.vendor != "postgresql", reason="SQLite lets one write at a time"),
    pytest.mark.django_db(transaction=True),
]
SAVERS = 4


def at_once(save: Callable[[int], Any]) -> list[Any]:
    """What each of the savers got, each over a connection of its own."""
    together = Barrier(SAVERS)

    def alone(number: int) -> Any:
        try:
            together.wait()
            return save(number)
        finally:
            connections.close_all()

    with ThreadPoolExecutor(SAVERS) as pool:
        return list(pool.map(alone, range(SAVERS)))


def test_of_rows_read_at_one_version_one_is_written() -> None:
    practice = make_practice("Kestrel Cover Company", slug="kestrel")
    client = make_client(practice, name="Ada Ash", phone="555 0100")
    with scope(practice=practice):
        read = [Client.objects.get(pk=client.pk) for _ in range(SAVERS)]

    def save(number: int) -> int | None:
        with scope(practice=practice):
            try:
                services.save(read[number], name=f"Ada {number}", phone=f"555 010{number}")
            except ChangedMeanwhile as late:
                assert late.now is not None and late.now.version == 2
                return None
        return number

    (won,) = [number for number in at_once(save) if number is not None]
    with scope(practice=practice):
        now = Client.objects.get()
        assert (now.name, now.phone, now.version) == (f"Ada {won}", f"555 010{won}", 2)
        assert Change.objects.filter(kind="client", key=now.pk, what=Change.What.CHANGED).count() == 1


def test_of_forms_opened_at_one_version_one_is_kept_with_all_its_lines() -> None:
    practice = make_practice("Kestrel Cover Company", slug="kestrel")
    browsers = [Browser() for _ in range(SAVERS)]
    for browser in browsers:
        browser.force_login(make_member(practice, "planner").user)
    mix = make_mix(practice)
    url = f"/kestrel/mixes/{mix.pk}/"
    forms = [form_on(browser, url, url) for browser in browsers]
    with scope(practice=practice):
        before = [line.amount for line in mix.lines.all()]

    def save(number: int) -> int:
        form = forms[number]
        assert form
        shares = {"lines-0-amount": f"{before[0] + number}", "lines-1-amount": f"{before[1] - number}"}
        status: int = (
            browsers[number].post(url, form.filled(name=f"Mix {number}", save="yes", **shares)).status_code
        )
        return status

    statuses = at_once(save)
    assert sorted(statuses) == [302, *[409] * (SAVERS - 1)]
    won = statuses.index(302)
    with scope(practice=practice):
        kept = Mix.objects.get()
        assert kept.name == f"Mix {won}"
        assert [line.amount for line in kept.lines.all()] == [before[0] + won, before[1] - won, *before[2:]]
