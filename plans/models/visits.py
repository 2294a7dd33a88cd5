"""What is to be done after the yes: a visit for each step on each field, and every change to one."""

from __future__ import annotations

from django.conf import settings
from django.db import models
from django.db.models import Q
from django.db.models.functions import Coalesce

from consulting.append_only import Added
from consulting.followed import Editable, OwnChange
from consulting.models import Machine, Membership
from plans.models.plans import Plan
from plans.models.proposals import Proposal
from sites.models import Field


class VisitState(models.TextChoices):
    OPEN = "open", "Open"
    DONE = "done", "Done"
    SKIPPED = "skipped", "Skipped"


class Visit(Editable):
    """One step on one field of an agreed plan. Its window, day and state change only through services."""

    plan = models.ForeignKey(Plan, on_delete=models.PROTECT, related_name="visits", editable=False)
    field = models.ForeignKey(Field, on_delete=models.PROTECT, related_name="visits", editable=False)
    step = models.CharField(max_length=200, editable=False)
    """Key of reference/steps.csv."""
    label = models.CharField(max_length=200, editable=False)
    why = models.TextField(editable=False)
    operation = models.CharField(max_length=200, editable=False)
    phase = models.CharField(max_length=10, editable=False)
    season = models.PositiveSmallIntegerField(editable=False)
    order = models.PositiveIntegerField(editable=False)
    """Place among the steps of its field."""
    conditions = models.TextField(blank=True, editable=False)
    cautions = models.JSONField(default=list, blank=True, editable=False)
    acres = models.FloatField(editable=False)
    plants = models.PositiveIntegerField(default=0, editable=False)
    hours = models.FloatField(default=0, editable=False)
    added_on = models.DateField(null=True, blank=True, editable=False)
    """The day a step that may be needed was made a visit; none for the agreed tasks."""
    after = models.CharField(max_length=200, blank=True, editable=False)
    """Key of the step that it waits for on its field, and `wait_days` how long."""
    wait_days = models.PositiveSmallIntegerField(default=0, editable=False)
    window_opens = models.DateField(editable=False)
    window_shuts = models.DateField(editable=False)
    booked_on = models.DateField("booked for", null=True, blank=True)
    booked_hours = models.FloatField(null=True, blank=True, editable=False)
    """Hours of it that fall on the day it is booked for; none: all that a day holds."""
    people = models.ManyToManyField(Membership, blank=True, related_name="+")
    machines = models.ManyToManyField(Machine, blank=True, related_name="+")
    """At most one of each kind."""
    tractor_rides = models.BooleanField("the tractor goes on the trailer too", default=False)
    state = models.CharField(max_length=8, choices=VisitState, default=VisitState.OPEN, editable=False)
    acres_done = models.FloatField(default=0, editable=False)
    done_on = models.DateField("done on", null=True, blank=True, editable=False)
    """The last day on which work was done here; the day of completion once it is done."""
    waits_for = models.CharField("waits for weather", max_length=200, blank=True)
    """The weather that it waits for: drier ground, wind under 8 mph."""
    skipped_because = models.CharField(max_length=1000, blank=True, editable=False)
    taken_out_by = models.ForeignKey(
        Proposal, on_delete=models.PROTECT, null=True, blank=True, related_name="+", editable=False
    )
    """The change order that leaves it out, whose price settles that."""

    keeps_own_history = True
    """Each VisitChange."""

    class Meta:
        ordering = ["window_shuts", "window_opens", "pk"]
        indexes = [
            models.Index(fields=["practice", "state", "window_shuts"], name="visits_by_window"),
            models.Index(fields=["practice", "state", "booked_on"], name="visits_by_day"),
            models.Index(
                "practice", "state", Coalesce("booked_on", "window_shuts"), "id", name="visits_in_board_order"
            ),
        ]
        constraints = [
            models.UniqueConstraint(fields=["plan", "field", "step"], name="visit_once_per_step"),
            models.CheckConstraint(
                condition=Q(window_shuts__gte=models.F("window_opens")), name="visit_window_in_order"
            ),
            models.CheckConstraint(
                condition=~Q(state=VisitState.DONE) | Q(done_on__isnull=False), name="visit_done_has_a_day"
            ),
        ]

    def __str__(self) -> str:
        return f"{self.label}, {self.field}"

    @property
    def is_open(self) -> bool:
        return self.state == VisitState.OPEN

    @property
    def acres_left(self) -> float:
        return max(0.0, self.acres - self.acres_done)

    def own_changes(self, since: int) -> list[OwnChange]:
        from plans.changes_told import own_changes  # which builds on this module

        return own_changes(self.changes.filter(version__gt=since).select_related("visit__field"))


class VisitChange(Added):
    """Who changed a visit, when, from what to what, and why. Rows are only ever added."""

    class What(models.TextChoices):
        MADE = "made", "Made"
        BOOKED = "booked", "Booked"
        UNBOOKED = "unbooked", "Taken off the calendar"
        PEOPLE = "people", "Given to"
        MACHINES = "machines", "Goes with"
        HELD = "held", "Waits for weather"
        FREED = "freed", "Waits no more"
        PART = "part", "Done in part"
        DONE = "done", "Done"
        SKIPPED = "skipped", "Skipped"
        REOPENED = "reopened", "Opened again"
        WINDOW = "window", "Window moved"
        CHANGED = "changed", "Changed by agreement"

    visit = models.ForeignKey(Visit, on_delete=models.PROTECT, related_name="changes")
    version = models.PositiveIntegerField(null=True, editable=False)
    """Of the visit after it; none of lines from before it was kept."""
    what = models.CharField(max_length=10, choices=What)
    before = models.CharField(max_length=1000, blank=True)
    after = models.CharField(max_length=1000, blank=True)
    reason = models.CharField(max_length=1000, blank=True)
    by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.SET_NULL, null=True, related_name="+")
    by_name = models.CharField(max_length=200)
    at = models.DateTimeField(auto_now_add=True)

    class Meta:
        ordering = ["-at", "-pk"]
        indexes = [
            models.Index(fields=["practice", "what", "-at"], name="visit_changes_of_a_kind"),
            models.Index(fields=["practice", "-at", "-id"], name="visit_changes_latest"),
        ]

    def __str__(self) -> str:
        return f"{self.get_what_display()}: {self.before} → {self.after}"
