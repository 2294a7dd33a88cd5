"""Rows that are added once and never changed: what was done, moved and marked."""

from __future__ import annotations

from typing import Any, ClassVar, NoReturn

from django.db import models

from consulting.tenancy import PracticeManager, PracticeRecord


class Recorded(Exception):
    """What was written down stays as it is; it is neither changed nor deleted."""


class AddedQuerySet(models.QuerySet[Any]):
    def update(self, **kwargs: Any) -> NoReturn:
        raise Recorded

    def delete(self) -> NoReturn:
        raise Recorded

    def bulk_update(self, *args: Any, **kwargs: Any) -> NoReturn:
        raise Recorded


class AddedManager(PracticeManager[Any]):
    _queryset_class = AddedQuerySet


class Added(PracticeRecord):
    """A row that is added once and never changes, and that outlives whoever entered it."""

    practice = models.ForeignKey(
        "consulting.Practice", on_delete=models.PROTECT, related_name="+", editable=False
    )

    objects: ClassVar[AddedManager] = AddedManager()

    class Meta:
        abstract = True

    def save(self, *args: Any, **kwargs: Any) -> None:
        if not self._state.adding:
            raise Recorded
        super().save(*args, **kwargs)

    def delete(self, *args: Any, **kwargs: Any) -> NoReturn:
        raise Recorded
