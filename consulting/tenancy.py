"""What every record of a practice has in common."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING, Any, TypeVar

from django.apps import apps
from django.core.exceptions import ValidationError
from django.db import models
from django.utils.translation import gettext
from django_scopes import ScopedManager, scope
from django_scopes.manager import DisabledQuerySet

if TYPE_CHECKING:
    Row = TypeVar("Row", bound=models.Model, covariant=True)

    class PracticeManager(models.Manager[Row]):
        """Rows of the practice in scope; without one every query raises ScopeError."""
else:

    class PracticeManager(type(ScopedManager(practice="practice"))):
        """Rows of the practice in scope; without one every query raises ScopeError."""


# django-scopes 2.1 refuses every query outside a scope but these two.
DisabledQuerySet.exists = DisabledQuerySet.contains = DisabledQuerySet.error


class PracticeRecord(models.Model):
    """A row that belongs to one practice. Querying it outside a practice's scope raises ScopeError."""

    practice = models.ForeignKey("consulting.Practice", on_delete=models.CASCADE, editable=False)

    objects = PracticeManager()

    class Meta:
        abstract = True

    def refresh_from_db(self, *args: Any, **kwargs: Any) -> None:
        """A row in hand may be read anew anywhere: in the scope of its own practice."""
        with scope(practice=type(self)._meta.get_field("practice").related_model(pk=self.practice_id)):
            super().refresh_from_db(*args, **kwargs)

    def clean(self) -> None:
        """Refuse links to another practice's rows."""
        super().clean()
        for link in self._meta.concrete_fields:
            related = link.related_model
            if not (isinstance(related, type) and issubclass(related, PracticeRecord)):
                continue
            if getattr(self, link.attname) is None:
                continue
            if getattr(self, link.name).practice_id != self.practice_id:
                raise ValidationError({link.name: gettext("This belongs to another practice.")})


def of_practices() -> Iterator[type[models.Model]]:
    """Every model whose rows each belong to one practice."""
    for model in apps.get_models():
        link = next((field for field in model._meta.concrete_fields if field.name == "practice"), None)
        if link is not None and link.is_relation:
            yield model
