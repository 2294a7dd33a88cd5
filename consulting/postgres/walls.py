"""Row-level security on every table of a practice, laid whenever migrations have run."""

from __future__ import annotations

from typing import Any

from django.apps import AppConfig
from django.core.checks import Warning
from django.db import DEFAULT_DB_ALIAS, connections, models

from consulting.postgres.base import DatabaseWrapper
from consulting.tenancy import of_practices

POLICY, FORMER = "within_the_practice", "rows_of_the_practice"
ASKED = "coalesce(nullif(current_setting('coverstead.practice', true), '')::bigint, -1)"
ALL = "SELECT array_agg(id) FROM consulting_practice"
MAY_SEE = f"practice_id = ANY ((SELECT CASE {ASKED} WHEN 0 THEN ({ALL}) ELSE ARRAY[{ASKED}] END)::bigint[])"  # noqa: S608
"""Practices as a list, by which an index on `practice_id` finds their rows, also of a table that is joined.
A subquery, so that it is worked out once a statement."""
MAY_WRITE = f"(SELECT {ASKED}) IN (0, practice_id)"
"""Says the same of a row whose practice is still to be written."""


def walled() -> dict[str, tuple[str, str]]:
    """By table, what must hold of a row that a connection may see, and of one that it may write."""
    found: dict[str, tuple[str, str]] = {}
    for model in of_practices():
        found[model._meta.db_table] = MAY_SEE, MAY_WRITE
        found.update({table: (shows, shows) for table, shows in _links(model).items()})
    return found


def _links(model: type[models.Model]) -> dict[str, str]:
    """Tables that join rows to others have no practice: they show what joins a row that shows."""
    found = {}
    for link in model._meta.local_many_to_many:
        through = link.remote_field.through
        if through is not None and through._meta.auto_created:
            own = f'"{through._meta.db_table}"."{link.m2m_column_name()}"'
            found[through._meta.db_table] = (
                f'EXISTS (SELECT 1 FROM "{model._meta.db_table}" AS o WHERE o.id = {own})'  # noqa: S608
            )
    return found


def may_write_all(using: str = DEFAULT_DB_ALIAS, **kwargs: Any) -> None:
    """Before migrations: they move everybody's rows."""
    connection = connections[using]
    if isinstance(connection, DatabaseWrapper):
        connection.everything = True


def build(app_config: AppConfig, using: str = DEFAULT_DB_ALIAS, **kwargs: Any) -> None:
    """After migrations: every table of a practice gets its wall, if it has none."""
    connection = connections[using]
    if not isinstance(connection, DatabaseWrapper):
        return
    connection.everything = False
    tables = walled()
    with connection.cursor() as cursor:
        cursor.execute(
            "SELECT relname FROM pg_class c WHERE relname = ANY(%s) AND pg_table_is_visible(c.oid) AND NOT ("
            "relforcerowsecurity AND relrowsecurity AND EXISTS (SELECT 1 FROM pg_policy p "
            "WHERE p.polrelid = c.oid AND p.polname = %s))",
            [list(tables), POLICY],
        )
        for (table,) in cursor.fetchall():
            cursor.execute(f'ALTER TABLE "{table}" ENABLE ROW LEVEL SECURITY')
            cursor.execute(f'ALTER TABLE "{table}" FORCE ROW LEVEL SECURITY')
            for name in (POLICY, FORMER):
                cursor.execute(f'DROP POLICY IF EXISTS {name} ON "{table}"')
            see, write = tables[table]
            cursor.execute(f'CREATE POLICY {POLICY} ON "{table}" USING ({see}) WITH CHECK ({write})')


def check(app_configs: Any, databases: Any = None, **kwargs: Any) -> list[Warning]:
    """Whether the walls hold for the role that the site connects as; `check --deploy --database` asks."""
    return [problem for alias in databases or [] for problem in _role_passes(alias)]


def _role_passes(alias: str) -> list[Warning]:
    connection = connections[alias]
    if connection.vendor != "postgresql":
        return []
    with connection.cursor() as cursor:
        cursor.execute("SELECT rolsuper OR rolbypassrls FROM pg_roles WHERE rolname = current_user")
        if not cursor.fetchone()[0]:
            return []
    return [
        Warning(
            "DATABASE_URL: the site connects as a role that no row-level security holds back.",
            hint="Make a role with LOGIN alone, let it own the site's database, and connect as that.",
            id="consulting.W001",
        )
    ]
