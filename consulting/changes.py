"""What was changed on a record of the practice, and by whom. Rows are only ever added."""

from __future__ import annotations

from django.conf import settings
from django.db import models
from django.utils import timezone

from consulting.acting import Way
from consulting.append_only import Added


class Change(Added):
    """A record was added, changed or removed, written in the transaction that did it.

    Visits tell their own: `plans.models.VisitChange`.
    """

    class What(models.TextChoices):
        ADDED = "added", "Added"
        CHANGED = "changed", "Changed"
        REMOVED = "removed", "Removed"

    at = models.DateTimeField(default=timezone.now)
    way = models.CharField(max_length=6, choices=Way)
    by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.SET_NULL, null=True, related_name="+")
    by_name = models.CharField(max_length=200, blank=True)
    """Empty for the client's page and for what happened by itself."""
    kind = models.CharField(max_length=30)
    """The model's name, `seedprice`."""
    key = models.BigIntegerField()
    name = models.CharField(max_length=300, blank=True)
    """What the record was called then."""
    about = models.CharField(max_length=40)
    """The record on whose page it is told, `mix:12`: a line of a mix is told with the mix."""
    within = models.CharField(max_length=300, blank=True)
    """What that one was called then; empty where it is the record itself."""
    what = models.CharField(max_length=7, choices=What)
    version = models.PositiveIntegerField(default=1)
    """Of the record after it."""
    fields = models.JSONField(default=dict, blank=True)
    """By column: [before, after] as consulting.history writes them; [] where the values are not kept."""

    class Meta:
        ordering = ["-at", "-pk"]
        indexes = [
            models.Index(fields=["practice", "-at", "-id"], name="changes_latest"),
            models.Index(fields=["practice", "about", "-at"], name="changes_of_a_record"),
        ]

    def __str__(self) -> str:
        return f"{self.get_what_display()}: {self.name}"
