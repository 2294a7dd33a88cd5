"""Writes down what becomes of followed rows: who, when, which record, and its columns before and after.

A value is kept as JSON has it: a linked row by its name, a file by its hash, a long text by its beginning,
of named facts those that differ.
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Collection, Iterable, Iterator
from contextlib import contextmanager
from contextvars import ContextVar
from typing import TYPE_CHECKING, Any

from django.apps import apps
from django.core.serializers.json import DjangoJSONEncoder
from django.db import models
from django.utils.translation import override
from django_scopes import scope

from consulting.acting import Way, who_acts

if TYPE_CHECKING:
    from consulting.changes import Change
    from consulting.followed import Followed

LONGEST_TEXT = 300
LONGEST_JSON = 1000
"""Characters; of longer values the hash is kept."""
EMPTY: tuple[Any, ...] = (None, "", [], {})


_told_elsewhere = ContextVar("told_elsewhere", default=False)


@contextmanager
def told_elsewhere() -> Iterator[None]:
    """What is changed inside follows from something that tells of it already, as a done visit does."""
    token = _told_elsewhere.set(True)
    try:
        yield
    finally:
        _told_elsewhere.reset(token)


def added(rows: Iterable[Followed]) -> None:
    """Write down that rows of one practice are new."""
    _write("added", [(row, {}) for row in rows])


def changed(pairs: Iterable[tuple[Followed, Followed]]) -> None:
    """Write down what differs between rows as they were and as they are."""
    changed_of((was, row, None) for was, row in pairs)


def changed_of(rows: Iterable[tuple[Followed, Followed, Collection[str] | None]]) -> None:
    """The same, looking at the named columns alone, all where None."""
    _write("changed", [(row, found) for was, row, only in rows if (found := differences(was, row, only))])


def removed(row: Followed) -> None:
    """Write down that a row goes, with what it said last; or forget what was known of it."""
    if row.forgotten:
        forget(row)
        _write("removed", [(row, {})])
        return
    last = {
        field.name: [kept, None]
        for field in row.followed()
        if field.name not in row.without_values
        and (kept := _kept(field, row)) not in EMPTY
        and getattr(row, field.attname) != field.get_default()
    }
    _write("removed", [(row, last)])


def forget(row: Followed) -> None:
    """Take away what was written down of a record and of its parts."""
    changes: models.QuerySet[Change] = models.QuerySet(_model()).filter(practice_id=_practice_id(row))
    changes.filter(about=row.about).delete()
    changes.filter(kind=row._meta.model_name, key=row.pk).delete()


def differ(was: Followed, row: Followed, only: Collection[str]) -> bool:
    """Whether any column among `only` is another, but for days that Django writes by itself."""
    return any(
        _said(field, was) != _said(field, row)
        for field in row._meta.concrete_fields
        if field.name in only and not getattr(field, "auto_now", False) and field.name != "version"
    )


def differences(was: Followed, row: Followed, only: Collection[str] | None = None) -> dict[str, list[Any]]:
    """By followed column, [before, after]; [] where the values are not kept."""
    found: dict[str, list[Any]] = {}
    for field in row.followed():
        if only is not None and field.name not in only:
            continue
        if _said(field, was) == _said(field, row):
            continue
        values = [] if field.name in row.without_values else [_kept(field, was), _kept(field, row)]
        found[field.name] = _that_differ(*values) if values else []
    return found


def _said(field: models.Field[Any, Any], row: models.Model) -> Any:
    """A column's value so that what the database takes for the same is the same."""
    value = getattr(row, field.attname)
    if isinstance(field, models.BinaryField):
        return None if value is None else bytes(value)
    if isinstance(field, models.JSONField):
        return json.loads(json.dumps(value, cls=DjangoJSONEncoder))
    if field.is_relation or value is None:
        return value
    return field.to_python(value)


def _kept(field: models.Field[Any, Any], row: models.Model) -> Any:
    value = _said(field, row)
    if value is None or isinstance(value, bool | int):
        return None if value is None else _name_of(field, value) if field.is_relation else value
    if isinstance(value, bytes):
        return {"file": hashlib.sha256(value).hexdigest()}
    if isinstance(value, float):
        return value
    if isinstance(field, models.JSONField):
        return value
    text = value if isinstance(value, str) else json.loads(json.dumps(value, cls=DjangoJSONEncoder))
    return text if len(text) <= LONGEST_TEXT else f"{text[:LONGEST_TEXT]}…"


@override("en")
def _name_of(field: models.Field[Any, Any], key: Any) -> str:
    model: Any = field.related_model
    linked = model._base_manager.filter(pk=key).first()
    return (linked.called if hasattr(linked, "called") else str(linked))[:LONGEST_TEXT] if linked else ""


def _that_differ(before: Any, after: Any) -> list[Any]:
    """Of named facts those that differ; of what is too long to keep, its hash."""
    if isinstance(before, dict) and isinstance(after, dict) and "file" not in {*before, *after}:
        names = [name for name in {**before, **after} if before.get(name) != after.get(name)]
        before = {name: before[name] for name in names if name in before}
        after = {name: after[name] for name in names if name in after}
    return [_short(before), _short(after)]


def _short(value: Any) -> Any:
    if not isinstance(value, dict | list):
        return value
    text = json.dumps(value, sort_keys=True)
    return value if len(text) <= LONGEST_JSON else {"file": hashlib.sha256(text.encode()).hexdigest()}


@override("en")
def _write(what: str, rows: list[tuple[Followed, dict[str, list[Any]]]]) -> None:
    """Write down what became of rows of one model and practice; their names in English, whoever acts."""
    rows = [(row, fields) for row, fields in rows if not row.keeps_own_history]
    if not rows or _told_elsewhere.get():
        return
    who, model = who_acts(), _model()
    kind = str(rows[0][0]._meta.model_name)
    practice: Any = model._meta.get_field("practice").related_model
    practice_id = _practice_id(rows[0][0])
    changes = [
        model(
            practice_id=practice_id,
            way=who.way,
            by=who.user,
            by_name=str(who.user)[:200] if who.way == Way.MEMBER else "",
            kind=kind,
            key=row.pk,
            name="" if row.forgotten and what == "removed" else row.called[:LONGEST_TEXT],
            about=row.about,
            within=row.within[:LONGEST_TEXT],
            what=what,
            version=row.version,
            fields=fields,
        )
        for row, fields in rows
    ]
    with scope(practice=practice(pk=practice_id)):
        if len(changes) == 1:
            changes[0].save()
        else:
            model._base_manager.bulk_create(changes, batch_size=1000)


def _practice_id(row: Followed) -> int:
    return row.pk if row._meta.model_name == "practice" else row.practice_id  # type: ignore[attr-defined]


def _model() -> type[Change]:
    return apps.get_model("consulting", "Change")
