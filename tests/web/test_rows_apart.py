"""The second wall: where the program forgets whose rows it asks for, PostgreSQL does not."""

from __future__ import annotations

from collections.abc import Iterator

import pytest
from django.core.management import call_command
from django.db import ProgrammingError, connection, transaction
from django.db.models import Model
from django_scopes import scope, scopes_disabled

from consulting.models import Client, Practice
from consulting.postgres import walls
from consulting.tenancy import PracticeRecord
from plans.models import Visit
from tests.conftest import Cast
from tests.factories import make_client
from tests.plan_factories import make_agreed, make_ready_plan

pytestmark = [
    pytest.mark.skipif(connection.vendor != "postgresql", reason="SQLite has no row-level security"),
    pytest.mark.django_db,
]


@pytest.fixture
def two(cast: Cast) -> Iterator[tuple[Practice, Practice]]:
    make_client(cast.practice, name="Ours")
    make_client(cast.other_practice, name="Theirs")
    yield cast.practice, cast.other_practice


def names() -> list[str]:
    """Every client that the database shows, asked past the scopes of the program."""
    with connection.cursor() as cursor:
        cursor.execute("SELECT name FROM consulting_client ORDER BY name")
        return [name for (name,) in cursor.fetchall()]


def test_raw_sql_sees_one_practice(two: tuple[Practice, Practice]) -> None:
    ours, theirs = two
    with scope(practice=ours):
        assert names() == ["Ours"]
        with scope(practice=theirs):
            assert names() == ["Theirs"]
        assert names() == ["Ours"]
        assert list(Client._base_manager.values_list("name", flat=True)) == ["Ours"]
    assert names() == []
    with scopes_disabled():
        assert names() == ["Ours", "Theirs"]


def test_a_rollback_does_not_blind_the_wall(two: tuple[Practice, Practice]) -> None:
    ours, theirs = two
    with scope(practice=ours):
        assert names() == ["Ours"]
    with pytest.raises(ZeroDivisionError), scope(practice=theirs), transaction.atomic():
        assert names() == ["Theirs"]
        raise ZeroDivisionError
    with scope(practice=ours):
        assert names() == ["Ours"]
    with scope(practice=theirs):
        assert names() == ["Theirs"]


def test_no_row_is_written_into_another_practice(two: tuple[Practice, Practice]) -> None:
    ours, theirs = two
    with (
        scope(practice=ours),
        pytest.raises(ProgrammingError, match="row-level security"),
        transaction.atomic(),
    ):
        Client._base_manager.create(practice=theirs, name="Slipped in")
    with scope(practice=ours), connection.cursor() as cursor:
        cursor.execute("UPDATE consulting_client SET name = 'Taken'")
        assert cursor.rowcount == 1
        cursor.execute("DELETE FROM consulting_client WHERE name = 'Theirs'")
        assert cursor.rowcount == 0
    with scope(practice=theirs):
        assert names() == ["Theirs"]


def test_who_goes_on_a_visit_is_apart_too(cast: Cast) -> None:
    plan = make_agreed(make_ready_plan(cast.practice), cast.owner)
    with scope(practice=cast.practice):
        visit = Visit.objects.filter(plan=plan).first()
        assert visit is not None
        visit.people.add(cast.practice.membership_set.get(user=cast.crew))
    table = Visit.people.through._meta.db_table
    for practice, seen in ((cast.practice, 1), (cast.other_practice, 0)):
        with scope(practice=practice), connection.cursor() as cursor:
            cursor.execute(f'SELECT count(*) FROM "{table}"')  # noqa: S608 - a table of ours
            assert cursor.fetchone() == (seen,)


def records(model: type[Model] = PracticeRecord) -> Iterator[type[Model]]:
    for child in model.__subclasses__():
        if not child._meta.abstract and not child._meta.proxy:
            yield child
        yield from records(child)


def test_every_table_of_a_practice_is_walled() -> None:
    tables = {model._meta.db_table for model in records()}
    assert len(tables) > 30 and tables <= walls.walled().keys()
    with connection.cursor() as cursor:
        cursor.execute(
            "SELECT c.relname FROM pg_class c JOIN pg_policy p ON p.polrelid = c.oid "
            "WHERE c.relrowsecurity AND c.relforcerowsecurity AND p.polname = %s",
            [walls.POLICY],
        )
        assert walls.walled().keys() <= {name for (name,) in cursor.fetchall()}


def test_the_role_that_the_site_connects_as_is_looked_at() -> None:
    assert walls.check(None, databases=["default"]) == []


def test_migrations_reach_every_row(two: tuple[Practice, Practice]) -> None:
    walls.may_write_all()
    try:
        assert names() == ["Ours", "Theirs"]
    finally:
        walls.build(None)  # type: ignore[arg-type]
    assert names() == []
    call_command("check", databases=["default"], verbosity=0)
