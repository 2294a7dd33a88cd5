"""A list between being brought in and being taken, and how each supplier's columns were matched."""

from __future__ import annotations

from datetime import timedelta

from django.conf import settings
from django.db import models
from django.utils import timezone

from consulting.tenancy import PracticeRecord


class ListUpload(PracticeRecord):
    """A file as it came, with what its check has found so far; kept until it is taken or for a day."""

    KEPT = timedelta(days=1)

    kind = models.CharField(max_length=20, editable=False)
    by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.CASCADE, related_name="+", editable=False
    )
    name = models.CharField(max_length=200, editable=False)
    data = models.BinaryField(editable=False)
    at = models.DateTimeField(default=timezone.now, editable=False)
    matched = models.JSONField(default=dict, blank=True)
    """By our column, the place of theirs; empty until it was looked at."""
    decimal_comma = models.BooleanField(null=True, blank=True)
    """None: as the file seems to have it."""

    class Meta:
        ordering = ["-at", "-pk"]

    def __str__(self) -> str:
        return self.name


class ColumnMatch(PracticeRecord):
    """Which column is which in files with these heads, as a person said once."""

    kind = models.CharField(max_length=20)
    heads_sha256 = models.CharField(max_length=64)
    matched = models.JSONField(default=dict)
    """By our column, their head in plain form."""
    decimal_comma = models.BooleanField(null=True, blank=True)

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["practice", "kind", "heads_sha256"], name="columns_matched_once")
        ]

    def __str__(self) -> str:
        return self.kind
