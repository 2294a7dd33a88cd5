"""One practice's rows as the pattern of many: by table, the SQL that copies it with keys moved along.

A row that hangs on a client, over however many links, is copied with the client; any other once a practice.
Copy `c` of a client's rows has its keys moved by `c * STRIDE`, and a practice's own rows by `p * STRIDE`,
so that no key has to be looked up: a link points as far along as what it points to.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache

from django.apps import apps
from django.db import models

from consulting.models import Client, Practice, User
from consulting.tenancy import of_practices

STRIDE = 100_000
"""More than the pattern has rows in any table."""
COPY, SHARE = "c.copy", "c.practice"
"""By how many strides a row is moved: with its client, or with its practice."""

SHORT = 4096
"""Bytes that a copy keeps of a print, a photograph or an enclosure: no list reads them."""
FRESH: dict[str, str] = {
    "consulting.practice.slug": "t.slug || '-' || c.practice",
    "consulting.practice.name": "t.name || ' ' || c.practice",
    "consulting.user.email": "'p' || c.practice || '.' || t.email",
    "account.emailaddress.email": "'p' || c.practice || '.' || t.email",
    "consulting.client.name": "t.name || ' ' || c.copy",
    "sites.farm.name": "t.name || ' ' || c.copy",
    "plans.plan.title": "t.title || ' ' || c.copy",
    "plans.workrecord.customer_name": "t.customer_name || ' ' || c.copy",
    "plans.workrecord.farm_name": "t.farm_name || ' ' || c.copy",
    "consulting.letter.once": "t.once || ':' || c.copy",
    "consulting.letter.about": "coalesce(regexp_replace(t.about, '[0-9]+$', '') || "
    f"(substring(t.about from '[0-9]+$')::bigint + c.copy * {STRIDE}), t.about)",
    "plans.proposal.sha256": f"encode(sha256(substring(t.pdf for {SHORT})), 'hex')",
    "plans.agreement.pdf_sha256": f"(SELECT encode(sha256(substring(p.pdf for {SHORT})), 'hex') "
    "FROM plans_proposal p WHERE p.id = t.proposal_id)",
    "plans.clientlink.key_sha256": "encode(sha256((t.key_sha256 || c.copy)::bytea), 'hex')",
    "plans.calendarfeed.key_sha256": "encode(sha256((t.key_sha256 || c.copy)::bytea), 'hex')",
}
"""Values that have to differ from copy to copy."""
HISTORY, ABOUT = "consulting.change", "split_part(t.about, ':', 1)"
NUMBERED = ("plans.proposal.number", "plans.workrecord.number", "plans.agreement.number")
"""Numbers that a practice gives out in turn."""
DAYS = ("window_opens", "window_shuts", "booked_on")
"""Of a visit: moved by some weeks from copy to copy, so that a season is spread as it is."""


@dataclass(frozen=True, slots=True)
class Copied:
    """A table, and the statement that fills it from the pattern and `copies(copy, practice, place)`."""

    table: str
    moved: str
    sql: str


@cache
def with_client(model: type[models.Model]) -> bool:
    """Whether rows of a table hang on a client."""
    if model is Client:
        return True
    return any(target is not model and with_client(target) for target in links(model).values())


def links(model: type[models.Model]) -> dict[str, type[models.Model]]:
    """Columns that point to a row that is copied along, and its model."""
    found = {}
    for field in model._meta.concrete_fields:
        target = field.related_model
        if isinstance(target, type) and target in copied():
            found[field.column] = target
    return found


@cache
def copied() -> frozenset[type[models.Model]]:
    """Every table of which a practice has rows."""
    found = {Practice, User, *of_practices(), apps.get_model("account", "EmailAddress")}
    for model in list(found):
        found.update(
            link.remote_field.through for link in model._meta.local_many_to_many if link.remote_field.through
        )
    return frozenset(model for model in found if model._meta.managed)


def statements() -> list[Copied]:
    """All of them, each after what it points to."""
    order: list[type[models.Model]] = []

    def put(model: type[models.Model]) -> None:
        if model not in order:
            for target in links(model).values():
                if target is not model:
                    put(target)
            order.append(model)

    for model in sorted(copied(), key=lambda model: model._meta.label_lower):
        put(model)
    return [statement(model) for model in order]


def with_a_client(kind: str) -> str:
    """SQL: whether a kind of record, named as the history names it, hangs on a client."""
    kinds = ", ".join(sorted(f"'{model._meta.model_name}'" for model in copied() if with_client(model)))
    return f"{kind} IN ({kinds})"


def of_history() -> dict[str, str]:
    """What tells of a record moves along with that record, which it names without a link."""
    own = f"CASE WHEN {with_a_client('t.kind')} THEN {COPY} ELSE {SHARE} END"
    told = f"CASE WHEN {with_a_client(ABOUT)} THEN {COPY} ELSE {SHARE} END"
    key = f"split_part(t.about, ':', 2)::bigint + {told} * {STRIDE}"
    return {
        "consulting.change.key": f"t.key + {own} * {STRIDE}",
        "consulting.change.about": f"{ABOUT} || ':' || ({key})",
    }


def statement(model: type[models.Model]) -> Copied:
    meta = model._meta
    history = meta.label_lower == HISTORY
    moved = COPY if with_client(model) or history else SHARE
    fresh = FRESH | of_history() if history else FRESH
    pointing = links(model)
    columns, values = [], []
    for field in meta.concrete_fields:
        label = f"{meta.label_lower}.{field.column}"
        own = f't."{field.column}"'
        target = pointing.get(field.column)
        if target is not None:
            value = f"{own} + {COPY if with_client(target) else SHARE} * {STRIDE}"
        elif field.primary_key:
            value = f"{own} + {moved} * {STRIDE}"
        elif label in fresh:
            value = fresh[label]
        elif label in NUMBERED:
            value = (
                f'{own} + c.place * (SELECT max("{field.column}") FROM "{meta.db_table}" WHERE id < {STRIDE})'
            )
        elif isinstance(field, models.BinaryField):
            value = f"substring({own} for {SHORT})"
        elif isinstance(field, models.UUIDField):
            value = f"md5({own}::text || {moved})::uuid"
        elif meta.label_lower == "plans.visit" and field.column in DAYS:
            value = f"{own} + (c.copy * 11 % 57)::int - 28"
        else:
            value = own
        columns.append(f'"{field.column}"')
        values.append(value)
    key = meta.pk.column
    once = "" if moved == COPY else "WHERE c.place = 0"
    if history:
        once = f"WHERE (c.place = 0 OR {with_a_client('t.kind')})"
    sql = (
        f'INSERT INTO "{meta.db_table}" ({", ".join(columns)}) SELECT {", ".join(values)} '  # noqa: S608  our names
        f'FROM "{meta.db_table}" t CROSS JOIN copies c {once} '
        f'{"AND" if once else "WHERE"} c.copy > 0 AND t."{key}" < {STRIDE}'
    )
    return Copied(meta.db_table, moved, sql)
