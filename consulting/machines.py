"""The machines that a practice works with, its own and others', and what is known of each."""

from __future__ import annotations

from typing import Any

from django.conf import settings
from django.core.exceptions import ValidationError
from django.db import models
from django.db.models import F, Q
from django.utils.translation import gettext, gettext_lazy

from consulting.columns import money
from consulting.followed import Editable


def check_facts(facts: Any) -> None:
    """Facts by name; what they may be is checked where they are typed."""
    if not isinstance(facts, dict) or len(facts) > 100:
        raise ValidationError(gettext("Facts must be named, and at most 100."))


def check_operations(keys: Any) -> None:
    if not isinstance(keys, list) or len(keys) > 100 or not all(isinstance(key, str) for key in keys):
        raise ValidationError(gettext("The work it does must be a list of names."))


class Machine(Editable):
    """A tractor, implement, tow vehicle or trailer, called as the crew calls it."""

    class Kind(models.TextChoices):
        TRACTOR = "tractor", gettext_lazy("Tractor")
        IMPLEMENT = "implement", gettext_lazy("Implement")
        TRUCK = "truck", gettext_lazy("Tow vehicle")
        TRAILER = "trailer", gettext_lazy("Trailer")

    class Holding(models.TextChoices):
        OWN = "own", gettext_lazy("Our own")
        BORROWED = "borrowed", gettext_lazy("Borrowed")
        RENTED = "rented", gettext_lazy("Rented")

    kind = models.CharField(max_length=10, choices=Kind, editable=False)
    name = models.CharField(gettext_lazy("what the crew calls it"), max_length=200)
    holding = models.CharField(
        gettext_lazy("whose it is"), max_length=10, choices=Holding, default=Holding.OWN
    )
    lender = models.CharField(gettext_lazy("who lends or rents it out"), max_length=200, blank=True)
    rent_usd_per_day = money(verbose_name=gettext_lazy("rent"), null=True, blank=True)
    delivery_usd = money(verbose_name=gettext_lazy("delivery and return"), null=True, blank=True)
    facts = models.JSONField(default=dict, blank=True, validators=[check_facts])
    """What plans.planning.rig_facts takes for its kind; a fact that is missing nobody has looked at."""
    operations = models.JSONField(
        gettext_lazy("work it does"), default=list, blank=True, validators=[check_operations]
    )
    """Keys of the table of operations."""
    notes = models.TextField(max_length=20_000, blank=True)
    active = models.BooleanField(gettext_lazy("in use"), default=True)

    class Meta:
        ordering = ["-active", "name", "pk"]
        indexes = [models.Index(fields=["practice", "kind"], name="machines_by_kind")]
        constraints = [
            models.UniqueConstraint(
                fields=["practice", "kind", "name"],
                name="one_machine_per_name",
                violation_error_code="name",
                violation_error_message=gettext_lazy(
                    "There is one of that kind and name already. Choose another name."
                ),
            )
        ]

    def __str__(self) -> str:
        return self.name

    def clean(self) -> None:
        super().clean()
        rent = self.rent_usd_per_day is not None or self.delivery_usd is not None
        if rent and self.holding == self.Holding.OWN:
            raise ValidationError({"holding": gettext("A rent is entered. Empty it, or say whose it is.")})


class MachinePhoto(Editable):
    """A machine's photograph as we re-encoded it; apart, so that lists of machines do not read it."""

    machine = models.OneToOneField(Machine, on_delete=models.CASCADE, primary_key=True, related_name="photo")
    jpeg = models.BinaryField()
    width_px = models.PositiveIntegerField()
    height_px = models.PositiveIntegerField()

    part_of = "machine"
    not_followed = frozenset({"width_px", "height_px"})

    def __str__(self) -> str:
        return f"{self.width_px} × {self.height_px} pixels"


class MachineSpan(Editable):
    """Days on which a machine cannot be had, or, for one that is not our own, on which it can.

    A machine with days on which it can be had cannot be had on others. A span taken back stays, with who took
    it back and when.
    """

    class Kind(models.TextChoices):
        AWAY = "away", gettext_lazy("Cannot be had")
        HAD = "had", gettext_lazy("Can be had")

    machine = models.ForeignKey(Machine, on_delete=models.CASCADE, related_name="spans", editable=False)
    kind = models.CharField(gettext_lazy("on these days it"), max_length=4, choices=Kind, default=Kind.AWAY)
    first = models.DateField(gettext_lazy("first day"))
    last = models.DateField(gettext_lazy("last day"))
    reason = models.CharField(gettext_lazy("why"), max_length=200, blank=True)
    by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.SET_NULL, null=True, related_name="+", editable=False
    )
    by_name = models.CharField(max_length=200, editable=False)
    """Who entered or last changed it, or took it back."""
    changed_at = models.DateTimeField(auto_now=True)
    taken_back = models.BooleanField(default=False, editable=False)

    part_of = "machine"
    not_followed = frozenset({"by", "by_name"})

    class Meta:
        ordering = ["first", "pk"]
        indexes = [models.Index(fields=["machine", "taken_back", "last"], name="spans_of_a_machine")]
        constraints = [
            models.CheckConstraint(
                condition=Q(last__gte=F("first")),
                name="machine_span_in_order",
                violation_error_code="last",
                violation_error_message=gettext_lazy("The last day comes before the first. Check both."),
            )
        ]

    def __str__(self) -> str:
        return f"{self.machine}, {self.first} to {self.last}"

    def clean(self) -> None:
        super().clean()
        if self.first and self.last and self.last < self.first:
            raise ValidationError({"last": gettext("The last day comes before the first. Check both.")})
        if self.kind == self.Kind.HAD and self.machine.holding == Machine.Holding.OWN:
            raise ValidationError(
                {
                    "kind": gettext(
                        "It is our own and can be had but for the days on which it is away. Enter those."
                    )
                }
            )
        if self.kind == self.Kind.AWAY and not self.reason:
            raise ValidationError({"reason": gettext("Say why: lent out, in repair, rented to another.")})

    @property
    def called(self) -> str:
        return f"{self.first} to {self.last}"
