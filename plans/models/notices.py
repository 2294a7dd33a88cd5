"""What somebody was last told of a visit, so that they are told once, and again only when it changes."""

from __future__ import annotations

from django.db import models

from consulting.models import Letter
from consulting.tenancy import PracticeRecord
from plans.models.visits import Visit


class VisitTold(PracticeRecord):
    visit = models.ForeignKey(Visit, on_delete=models.CASCADE, related_name="told", editable=False)
    reader = models.CharField(max_length=40, editable=False)
    """`client`, or `crew:` with the key of the membership."""
    day = models.DateField(null=True, blank=True, editable=False)
    """None once they were told that it is off."""
    times = models.PositiveIntegerField(default=0, editable=False)
    letter = models.ForeignKey(
        Letter, on_delete=models.SET_NULL, null=True, blank=True, related_name="+", editable=False
    )

    class Meta:
        indexes = [models.Index(fields=["practice", "day"], name="told_by_day")]
        constraints = [models.UniqueConstraint(fields=["visit", "reader"], name="told_once_per_reader")]

    def __str__(self) -> str:
        return f"{self.reader}: {self.day or 'off'}"
