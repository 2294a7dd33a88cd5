"""Rows that people change: each counts its versions, and every change to one is written down."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Sequence
from copy import copy
from datetime import datetime
from typing import TYPE_CHECKING, Any, ClassVar, NamedTuple, TypeVar

from django.db import models, transaction
from django.db.models.signals import class_prepared, pre_delete

from consulting import history
from consulting.tenancy import PracticeManager, PracticeRecord

Row = TypeVar("Row", bound="Followed", covariant=True)


class ChangedMeanwhile(Exception):
    """Somebody changed or removed the row since it was read; `now` is the row as it is, None once removed."""

    def __init__(self, row: Followed, now: Followed | None):
        super().__init__(f"{row._meta.model_name} {row.pk} is not at version {row.version} any more")
        self.row, self.now = row, now


class OwnChange(NamedTuple):
    """A change that a record tells by itself, as it is read."""

    at: datetime
    sentence: str
    parts: tuple[str, ...]
    by: str
    fields: dict[str, list[Any]]
    """What it touched, by the name of its field in a form: [before], or [] where that is not kept."""


class FollowedQuerySet(models.QuerySet[Any]):
    """Writes of many rows at once are written down like those of one."""

    def bulk_create(self, objs: Iterable[Any], *args: Any, **kwargs: Any) -> list[Any]:
        rows = list(objs)
        for row in rows:
            row.version = 1
        with transaction.atomic(using=self.db):
            made = super().bulk_create(rows, *args, **kwargs)
            history.added(made)
        return made

    def update(self, **values: Any) -> int:
        """As Django's. Columns that nobody follows are written as they are, and raise no version."""
        followed = {field.name for field in self.model.followed()}
        if followed.isdisjoint(self.model._meta.get_field(name).name for name in values):
            return super().update(**values)
        raised = {"version": models.F("version") + 1, **values}
        if self.model.keeps_own_history:
            return super().update(**raised)
        with transaction.atomic(using=self.db):
            locked = self.select_related(None).order_by().select_for_update(of=("self",), no_key=True)
            before = {row.pk: row for row in locked}
            count = super().update(**raised)
            after = self.model._base_manager.using(self.db).in_bulk(list(before))
            history.changed((before[pk], row) for pk, row in after.items())
        return count


if TYPE_CHECKING:

    class EditableManager(PracticeManager[Row]):
        """Rows of the practice in scope, whose changes are written down."""
else:

    class EditableManager(PracticeManager):
        """Rows of the practice in scope, whose changes are written down."""

        _queryset_class = FollowedQuerySet


class Followed(models.Model):
    """A row that writes down what becomes of it, and is never written over unseen.

    A row that was read at version 3 is written only while it stands at 3: then it stands at 4.
    """

    version = models.PositiveIntegerField(default=1, editable=False)

    not_followed: ClassVar[frozenset[str]] = frozenset()
    """Columns that are told nowhere: counters, days of the machinery, keys that open something."""
    without_values: ClassVar[frozenset[str]] = frozenset()
    """Columns of which it is told that they changed, never from what to what: how to reach a person."""
    part_of: ClassVar[str] = ""
    """The link to the record on whose page changes of this one are told."""
    forgotten: ClassVar[bool] = False
    """Whether what was written down of it goes when it is removed: it is about a person or their ground."""
    keeps_own_history: ClassVar[bool] = False
    """Whether its services write down what they change, with their reasons."""

    class Meta:
        abstract = True

    def save(self, **kwargs: Any) -> None:
        """Raises ChangedMeanwhile where the row does not stand as it was read."""
        if not self._state.adding and self.pk is not None:
            save_all([(self, kwargs.pop("update_fields", None))], **kwargs)
            return
        self.version = 1
        with transaction.atomic(using=kwargs.get("using")):
            super().save(**kwargs | {"force_insert": True})
            history.added([self])

    @classmethod
    def followed(cls) -> list[models.Field[Any, Any]]:
        return [field for field in cls._meta.concrete_fields if _is_followed(cls, field)]

    @property
    def called(self) -> str:
        """Its name for who reads what was changed."""
        return str(self)

    @property
    def about(self) -> str:
        """The record on whose page its changes are told, `plan:12`."""
        if not self.part_of:
            return f"{self._meta.model_name}:{self.pk}"
        link: Any = self._meta.get_field(self.part_of)
        return f"{link.related_model._meta.model_name}:{getattr(self, link.attname)}"

    @property
    def within(self) -> str:
        """What that record is called; empty where it is this one."""
        return getattr(self, self.part_of).called if self.part_of else ""

    def own_changes(self, since: int) -> list[OwnChange]:
        """What a history of its own tells of it after that version, the latest first."""
        return []

    def _write(self, **kwargs: Any) -> None:
        super().save(**kwargs)


def _is_followed(model: type[Followed], field: models.Field[Any, Any]) -> bool:
    by_itself = getattr(field, "auto_now", False) or getattr(field, "auto_now_add", False)
    aside = field.name in ("version", "practice", model.part_of) or field.name in model.not_followed
    return not (field.primary_key or by_itself or aside)


def as_read(row: Any, now: Any, version: int) -> Any:
    """`now`, the row as it was locked, where it still stands as it was read. Raises ChangedMeanwhile."""
    if now.version != version:
        read = copy(row)
        read.version = version
        raise ChangedMeanwhile(read, now)
    return now


def save_all(rows: Sequence[tuple[Followed, Collection[str] | None]], **kwargs: Any) -> None:
    """Save rows of one model, of each the columns named or all, with one look at how they stand.

    A row in which nothing differs keeps its version. Raises ChangedMeanwhile at the first that is not as it
    was read.
    """
    if not rows:
        return
    model = type(rows[0][0])
    manager = model._base_manager.using(kwargs.get("using") or rows[0][0]._state.db)
    with transaction.atomic(using=manager.db):
        stored = manager.select_for_update(no_key=True).in_bulk([row.pk for row, _ in rows])
        written = []
        for row, names in rows:
            now = stored.get(row.pk)
            if now is None or now.version != row.version:
                raise ChangedMeanwhile(row, now)
            loaded = {field.name for field in row._meta.concrete_fields} - _deferred(row)
            only = loaded if names is None else loaded.intersection(names)
            seen = row.version
            if model.keeps_own_history or history.differ(now, row, only):
                row.version += 1
                written.append((now, row, only))
            try:
                row._write(update_fields={*names, "version"} if names is not None else None, **kwargs)
            except Exception:
                row.version = seen
                raise
        history.changed_of(written)


def _deferred(row: models.Model) -> set[str]:
    by_attname = {field.attname: field.name for field in row._meta.concrete_fields}
    return {by_attname[attname] for attname in row.get_deferred_fields()}


class Editable(Followed, PracticeRecord):
    """A row of one practice that people change."""

    objects = EditableManager()  # type: ignore[misc]

    class Meta:
        abstract = True


def _follow(sender: type[models.Model], **kwargs: Any) -> None:
    if issubclass(sender, Followed):
        pre_delete.connect(_goes, sender=sender)


def _goes(sender: type[Followed], instance: Followed, origin: Any = None, **kwargs: Any) -> None:
    with_its_whole = (
        isinstance(origin, Followed) and origin is not instance and origin.about == instance.about
    )
    if not with_its_whole:
        history.removed(instance)


class_prepared.connect(_follow)
