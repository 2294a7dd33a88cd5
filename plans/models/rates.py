"""Which of its own rates a practice took over into its price list. Rows are only ever added."""

from __future__ import annotations

from django.conf import settings
from django.db import models
from django.utils.translation import gettext_lazy as _

from consulting.append_only import Added


class RateTaken(Added):
    """A rate suggested from done work, taken over on a day: what stood before, what stands since, by whom."""

    class What(models.TextChoices):
        PACE = "pace", _("Pace")
        ALLOWANCE = "allowance", _("Allowance")

    what = models.CharField(max_length=10, choices=What)
    operation = models.CharField(max_length=200)
    before = models.FloatField()
    """In acres an hour, or in percent of what is planned."""
    after = models.FloatField()
    visits = models.PositiveIntegerField()
    """How many visits it was suggested from, and their acres."""
    acres = models.FloatField()
    by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.SET_NULL, null=True, related_name="+")
    by_name = models.CharField(max_length=200)
    at = models.DateTimeField(auto_now_add=True)

    class Meta:
        ordering = ["-at", "-pk"]

    def __str__(self) -> str:
        return f"{self.get_what_display()} of {self.operation}: {self.before:g} → {self.after:g}"
