"""Fitting a season: days that people are off, and each attempt with what came of it."""

from __future__ import annotations

from django.conf import settings
from django.db import models
from django.db.models import F, Q
from django.utils.translation import gettext_lazy as _

from consulting.followed import Editable
from consulting.models import Membership
from consulting.tenancy import PracticeRecord


class DayOff(Editable):
    """Days on which a person of the practice does not work."""

    member = models.ForeignKey(Membership, on_delete=models.CASCADE, related_name="days_off")
    first = models.DateField(_("first day"))
    last = models.DateField(_("last day"))

    class Meta:
        ordering = ["first", "pk"]
        constraints = [
            models.CheckConstraint(
                condition=Q(last__gte=F("first")),
                name="days_off_in_order",
                violation_error_code="last",
                violation_error_message=_("The last day comes before the first. Check both."),
            )
        ]

    def __str__(self) -> str:
        return f"{self.member.user}, {self.first} to {self.last}"


class Fitting(PracticeRecord):
    """One attempt to fit a season. It runs outside any request and keeps its best so far."""

    class State(models.TextChoices):
        WAITING = "waiting", _("Waiting to begin")
        RUNNING = "running", _("Looking for a better one")
        DONE = "done", _("Done")
        FAILED = "failed", _("Failed")

    first = models.DateField(_("first day"))
    last = models.DateField(_("last day"))
    seconds = models.PositiveIntegerField(_("look for at most"), default=60)
    working_hours = models.FloatField(_("hours worked in a day"), default=9)
    saturdays = models.BooleanField(_("Saturdays are worked"), default=True)
    state = models.CharField(max_length=8, choices=State, default=State.WAITING)
    stop = models.BooleanField(default=False)
    season = models.JSONField()
    """What was asked, as plans.planning.booking.Season."""
    versions = models.JSONField(default=dict)
    """The version of each visit when the attempt began, by its key."""
    booking = models.JSONField(null=True)
    """The best so far, as plans.planning.booking.Booking."""
    steps = models.JSONField(default=list)
    """Each improvement: seconds, days late, dollars, and the proven least of both."""
    problem = models.CharField(max_length=1000, blank=True)
    started_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.SET_NULL, null=True, related_name="+"
    )
    made_at = models.DateTimeField(auto_now_add=True)
    changed_at = models.DateTimeField(auto_now=True)

    class Meta:
        ordering = ["-made_at", "-pk"]

    def __str__(self) -> str:
        return f"{self.first} to {self.last}"

    @property
    def is_over(self) -> bool:
        return self.state in (self.State.DONE, self.State.FAILED)
