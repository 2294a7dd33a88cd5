"""A plan: one job on one farm, first a quote and then the work, with a conversion for each field."""

from __future__ import annotations

from django.conf import settings
from django.db import models
from django.db.models import Q
from django.utils.translation import gettext_lazy as _

from consulting.columns import between
from consulting.followed import Editable
from consulting.models import TermsFields
from plans.models.mixes import Mix
from sites.models import Farm, Field


class State(models.TextChoices):
    DRAFT = "draft", "Draft"
    OFFERED = "offered", "Offered"
    AGREED = "agreed", "Agreed"
    UNDER_WAY = "under way", "Under way"
    IN_UPKEEP = "in upkeep", "In upkeep"
    CLOSED = "closed", "Closed"
    DECLINED = "declined", "Declined"
    WITHDRAWN = "withdrawn", "Withdrawn"
    TAKEN_IN = "taken in", "Agreed and taken in"
    """A change to an agreed plan: its work is that plan's work now."""


NEXT_STATES: dict[str, frozenset[str]] = {
    State.DRAFT: frozenset({State.OFFERED, State.WITHDRAWN}),
    State.OFFERED: frozenset({State.DRAFT, State.AGREED, State.TAKEN_IN, State.DECLINED, State.WITHDRAWN}),
    State.AGREED: frozenset({State.UNDER_WAY, State.WITHDRAWN}),
    State.UNDER_WAY: frozenset({State.IN_UPKEEP, State.CLOSED}),
    State.IN_UPKEEP: frozenset({State.CLOSED}),
    State.CLOSED: frozenset(),
    State.DECLINED: frozenset({State.DRAFT}),
    State.WITHDRAWN: frozenset({State.DRAFT}),
    State.TAKEN_IN: frozenset(),
}


class Purpose(models.TextChoices):
    BEDDING = "winter bedding and screening cover", "Winter bedding and screening cover"
    NESTING = "nesting and brood cover", "Nesting and brood cover"
    POLLINATORS = "pollinators", "Pollinators"
    EROSION = "erosion control", "Erosion control"
    FORAGE = "forage", "Forage"
    PLOT = "food plot", "Food plot"
    TREES = "tree and shrub planting", "Tree and shrub planting"


class Plan(TermsFields, Editable):
    farm = models.ForeignKey(Farm, on_delete=models.PROTECT, related_name="+")
    title = models.CharField(max_length=200)
    state = models.CharField(max_length=12, choices=State, default=State.DRAFT, db_index=True)
    state_on = models.DateField(editable=False)
    agreed_on = models.DateField(null=True, editable=False)
    letter = models.TextField(blank=True, max_length=20_000)
    changes = models.ForeignKey(
        "self", on_delete=models.PROTECT, null=True, blank=True, related_name="changed_by", editable=False
    )
    """The agreed plan that this one changes: quoted and agreed to by itself, then taken in there."""
    why = models.TextField(blank=True, max_length=2000)
    """Why the next revision differs from what was offered or agreed before."""
    changed_at = models.DateTimeField(auto_now=True)

    not_followed = frozenset({"state_on", "agreed_on"})

    class Meta:
        ordering = ["-changed_at", "-pk"]
        indexes = [models.Index(fields=["practice", "state", "-changed_at"], name="plan_list_order")]

    def __str__(self) -> str:
        return self.title

    @property
    def is_draft(self) -> bool:
        return self.state == State.DRAFT

    @property
    def is_change(self) -> bool:
        return self.changes_id is not None

    def may_become(self, state: str) -> bool:
        """Whether the way there is open. A change that is agreed to ends as taken in."""
        if state == State.TAKEN_IN and not self.is_change:
            return False
        return state in NEXT_STATES[self.state]


class Conversion(Editable):
    plan = models.ForeignKey(Plan, on_delete=models.CASCADE, related_name="conversions")
    field = models.ForeignKey(Field, on_delete=models.PROTECT, related_name="+")
    mix = models.ForeignKey(Mix, on_delete=models.PROTECT, null=True, blank=True, related_name="conversions")
    """None for a planting of trees and shrubs alone."""
    kill_program = models.CharField(max_length=200)
    seeding = models.CharField(max_length=200)
    purpose = models.CharField(max_length=40, choices=Purpose, default=Purpose.BEDDING)
    start_on = models.DateField()
    options = models.JSONField(default=list, blank=True)
    """Keys of optional steps taken."""
    left_out = models.JSONField(default=list, blank=True)
    """Keys of usual steps left out."""
    rates_lb_per_acre = models.JSONField(default=dict, blank=True)
    """Own rate of active ingredient by step key [lb/acre]."""
    broadcast_factor = models.FloatField(default=1.5, validators=between(1, 2.5))
    log = models.JSONField(default=list, blank=True)
    """Steps already done: [{"step": key, "on": "YYYY-MM-DD"}]."""
    trees = models.JSONField(null=True, blank=True)
    """The planting, as `plans.planning.job.Trees` has it."""
    soil_test = models.JSONField(null=True, blank=True)
    """A plot's soil test, as `plans.planning.job.SoilTest` has it."""

    part_of = "plan"

    class Meta:
        ordering = ["pk"]
        constraints = [
            models.UniqueConstraint(
                fields=["plan", "field"],
                name="conversion_field_once",
                violation_error_message=_("This field is already in the plan."),
            ),
            models.CheckConstraint(
                condition=(
                    Q(purpose=Purpose.TREES, mix__isnull=True, trees__isnull=False)
                    | (~Q(purpose=Purpose.TREES) & Q(mix__isnull=False, trees__isnull=True))
                ),
                name="conversion_mix_or_trees",
                violation_error_message=_("A planting has trees and shrubs; any other field has a mix."),
            ),
        ]

    def __str__(self) -> str:
        return f"{self.field} in {self.plan}"

    @property
    def called(self) -> str:
        return str(self.field)


class PlanOption(Editable):
    """Another way of doing the job that the proposal shows beside the plan."""

    plan = models.ForeignKey(Plan, on_delete=models.CASCADE, related_name="options")
    key = models.CharField(max_length=40)
    """A key of reference/other_ways.csv."""
    reason = models.CharField(_("in one line"), max_length=300, blank=True)
    """In the consultant's words; empty for the usual ones."""

    part_of = "plan"

    class Meta:
        ordering = ["pk"]
        constraints = [models.UniqueConstraint(fields=["plan", "key"], name="plan_option_once")]

    def __str__(self) -> str:
        return self.key


class Acceptance(Editable):
    """A caution that a named person accepted, and why."""

    plan = models.ForeignKey(Plan, on_delete=models.CASCADE, related_name="acceptances")
    finding_key = models.CharField(max_length=2500)
    reason = models.CharField(max_length=2000)
    accepted_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.SET_NULL, null=True, related_name="+"
    )
    accepted_by_name = models.CharField(max_length=200)
    at = models.DateTimeField(auto_now_add=True)

    part_of = "plan"
    not_followed = frozenset({"accepted_by", "accepted_by_name"})

    class Meta:
        ordering = ["pk"]
        constraints = [models.UniqueConstraint(fields=["plan", "finding_key"], name="caution_accepted_once")]

    def __str__(self) -> str:
        return f"{self.finding_key}: {self.reason}"
