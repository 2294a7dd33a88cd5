"""A map file between being brought in and being sorted out."""

from __future__ import annotations

from datetime import timedelta

from django.conf import settings
from django.db import models
from django.utils import timezone

from consulting.tenancy import PracticeRecord
from sites.models.farms import Farm
from sites.models.fields import Field


class MapUpload(PracticeRecord):
    """A file as it came, kept until its parts are sorted out or for a day."""

    KEPT = timedelta(days=1)

    farm = models.ForeignKey(Farm, on_delete=models.CASCADE, related_name="+", editable=False)
    field = models.ForeignKey(
        Field, on_delete=models.CASCADE, null=True, blank=True, related_name="+", editable=False
    )
    """The field that it was brought in for, if it was for one."""
    by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.CASCADE, related_name="+", editable=False
    )
    name = models.CharField(max_length=200, editable=False)
    data = models.BinaryField(editable=False)
    at = models.DateTimeField(default=timezone.now, editable=False)

    class Meta:
        ordering = ["-at", "-pk"]

    def __str__(self) -> str:
        return self.name
