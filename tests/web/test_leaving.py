"""A practice leaves with all that is its own, and nothing of it stays but what the law wants kept."""

from __future__ import annotations

import json
import zipfile
from datetime import date
from io import BytesIO
from typing import Any
from uuid import uuid4

import pytest
from django.core.management import call_command
from django.db import connection
from django.test import Client as Browser
from django.urls import reverse
from django_scopes import scope

from consulting.models import Practice, User
from plans.demo import demo_found
from plans.leaving import tables
from plans.models import ErasedPractice, LawfulRecord, Proposal, Visit, WorkRecord
from plans.records import record_write
from tests.conftest import Cast
from tests.factories import make_client
from tests.plan_factories import SPRAYED, line, make_agreed, make_ready_plan


def proven(cast: Cast, user: User, password: str = "wide open prairie") -> Browser:
    """A browser in which the person has just given their password again."""
    browser = cast.browser(user)
    browser.post(reverse("account_reauthenticate"), {"password": password})
    return browser


def counts(practice: Practice) -> dict[str, int]:
    with connection.cursor() as cursor, scope(practice=practice):
        found = {}
        for model in tables():
            cursor.execute(
                f'SELECT count(*) FROM "{model._meta.db_table}" WHERE practice_id = %s',  # noqa: S608
                [practice.pk],
            )
            found[model._meta.label_lower] = cursor.fetchone()[0]
        return found


def test_who_has_not_proven_who_they_are_again_is_asked(cast: Cast) -> None:
    browser = cast.browser(cast.owner)
    for address in ("practice/leave/", "practice/leave/all.zip"):
        answer = browser.get(cast.url(address))
        assert answer.status_code == 302 and "reauthenticate" in answer.headers["Location"]
    browser.post(cast.url("practice/leave/"), {"name": cast.practice.name})
    assert Practice.objects.filter(pk=cast.practice.pk).exists()


def test_all_of_it_goes_along_and_then_is_gone(db: None, cast: Cast) -> None:
    demo = demo_found(password="only for this test", today=date(2026, 11, 25))
    owner = User.objects.get(email="owner@kestrel.example")
    before = counts(demo)
    assert sum(bool(count) for count in before.values()) > 25
    make_client(cast.practice, name="Someone else’s")
    browser = proven(cast, owner, "only for this test")
    got = browser.get(f"/{demo.slug}/practice/leave/all.zip")
    archive = zipfile.ZipFile(BytesIO(b"".join(got.streaming_content)))
    assert archive.testzip() is None
    names = archive.namelist()
    for table, count in before.items():
        assert len(json.loads(archive.read(f"rows/{table}.json"))) == count, table
    with scope(practice=demo):
        for proposal in Proposal.objects.all():
            assert archive.read(f"proposals/{proposal.number}.pdf") == bytes(proposal.pdf)
    assert any(name.startswith("maps/") for name in names) and "lists/clients.csv" in names
    told = archive.read("changes.csv").decode()
    assert f"{owner} added the mix “Upland bunchgrass and flowers”." in told and "changed “state” of" in told
    whole = b"".join(archive.read(name) for name in names if name.startswith("rows/"))
    assert b"key_sha256" not in whole and "Someone else’s".encode() not in whole

    wrong = browser.post(f"/{demo.slug}/practice/leave/", {"name": "another"})
    assert wrong.status_code == 422 and counts(demo) == before
    done = browser.post(f"/{demo.slug}/practice/leave/", {"name": demo.name})
    assert done.status_code == 302
    assert not any(counts(demo).values()) and not Practice.objects.filter(pk=demo.pk).exists()
    connection.check_constraints()
    assert counts(cast.practice)["consulting.client"] == 1


def test_records_stay_as_long_as_the_law_asks(cast: Cast) -> None:
    """Two years, 40 CFR 171.303(b)(7)."""
    plan = make_agreed(make_ready_plan(cast.practice), cast.owner)
    values: dict[str, Any] = SPRAYED | {"on": date(2027, 9, 20), "acres": 1.0}
    with scope(practice=cast.practice):
        first, second = Visit.objects.filter(plan=plan).order_by("order")[:2]
        old = values | {"on": date(2020, 9, 20)}
        record_write(visit=first, user=cast.owner, uid=uuid4(), values=old, lines=[line()])
        fresh = record_write(visit=second, user=cast.owner, uid=uuid4(), values=values, lines=[line()])
    proven(cast, cast.owner).post(cast.url("practice/leave/"), {"name": cast.practice.name})
    (kept,) = LawfulRecord.objects.all()
    said = json.loads(kept.content)
    assert (kept.number, kept.sha256, kept.keep_until) == (fresh.number, fresh.sha256, date(2029, 9, 20))
    assert said["customer_name"] == fresh.customer_name and said["lines"][0]["amount"] == line()["amount"]
    assert not WorkRecord._base_manager.filter(practice=cast.practice.pk).exists()


def test_they_go_when_their_day_is_past(db: None, capsys: pytest.CaptureFixture[str]) -> None:
    erased = ErasedPractice.objects.create(name="Gone", slug="gone", erased_at="2020-01-01T00:00Z")
    for number, until in ((1, "2021-01-01"), (2, "2999-01-01")):
        LawfulRecord.objects.create(
            erased=erased, number=number, on="2019-01-01", keep_until=until, content="{}", sha256="0" * 64
        )
    call_command("forget_records")
    assert "1 records forgotten" in capsys.readouterr().out
    assert [record.number for record in LawfulRecord.objects.all()] == [2]
