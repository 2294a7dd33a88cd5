"""Which payments of an agreed plan went out as invoices, and which came in. Rows are only ever added."""

from __future__ import annotations

from django.conf import settings
from django.db import models
from django.utils.translation import gettext_lazy as _

from consulting.append_only import Added
from plans.models.plans import Plan


class StageMark(Added):
    """A payment stage was invoiced or paid on a day, with its amount as it was then."""

    class What(models.TextChoices):
        INVOICED = "invoiced", _("Invoiced")
        PAID = "paid", _("Paid")

    plan = models.ForeignKey(Plan, on_delete=models.PROTECT, related_name="stage_marks")
    stage = models.PositiveSmallIntegerField()
    """Its place among the stages of the terms, from 1."""
    label = models.CharField(max_length=200)
    what = models.CharField(max_length=8, choices=What)
    amount_usd = models.DecimalField(max_digits=12, decimal_places=2)
    on = models.DateField()
    by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.SET_NULL, null=True, related_name="+")
    by_name = models.CharField(max_length=200)
    at = models.DateTimeField(auto_now_add=True)

    class Meta:
        ordering = ["-on", "-pk"]
        constraints = [models.UniqueConstraint(fields=["plan", "stage", "what"], name="stage_marked_once")]

    def __str__(self) -> str:
        return f"{self.label}: {self.get_what_display()}"
