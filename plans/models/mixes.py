"""Seed mixes, reusable over plans. What was offered with one keeps it: a change makes the next version."""

from __future__ import annotations

from django.db import models
from django.db.models import Q
from django.utils.translation import gettext, gettext_lazy

from consulting.columns import ABOVE_ZERO, between
from consulting.followed import Editable


class Basis(models.TextChoices):
    POUNDS = "lb PLS per acre", gettext_lazy("Pounds of pure live seed per acre")
    SHARE_OF_SEED = (
        "share of seed",
        gettext_lazy("Share of the seeds, at a target of seeds per square foot"),
    )
    SHARE_OF_WEIGHT = (
        "share of weight",
        gettext_lazy("Share of the weight, at a target of seeds per square foot"),
    )


class RateIsFor(models.TextChoices):
    DRILLED = "drilled", gettext_lazy("Drilled")
    BROADCAST = "broadcast", gettext_lazy("Broadcast")


class Mix(Editable):
    name = models.CharField(max_length=200)
    edition = models.PositiveIntegerField(default=1)
    basis = models.CharField(max_length=20, choices=Basis, default=Basis.SHARE_OF_SEED)
    seeds_per_sqft = models.FloatField(null=True, blank=True, validators=between(0.000001, 500))
    rate_is_for = models.CharField(max_length=10, choices=RateIsFor, default=RateIsFor.DRILLED)
    copied_from = models.ForeignKey(
        "self", on_delete=models.SET_NULL, null=True, blank=True, related_name="+", editable=False
    )
    replaced = models.BooleanField(default=False, editable=False)
    changed_at = models.DateTimeField(auto_now=True)

    not_followed = frozenset({"copied_from", "edition"})

    class Meta:
        ordering = ["name", "edition"]
        constraints = [
            models.UniqueConstraint(
                fields=["practice", "name", "edition"],
                name="mix_edition_once",
                violation_error_message=gettext_lazy("There is already a mix of this name; choose another."),
            ),
            models.CheckConstraint(
                condition=Q(basis=Basis.POUNDS) | Q(seeds_per_sqft__gt=0),
                name="mix_by_share_has_density",
                violation_error_message=gettext_lazy("A mix by share needs its seeds per square foot."),
            ),
        ]

    def __str__(self) -> str:
        if self.edition == 1:
            return self.name
        return gettext("{name}, version {version}").format(name=self.name, version=self.edition)


class MixLine(Editable):
    mix = models.ForeignKey(Mix, on_delete=models.CASCADE, related_name="lines")
    species = models.CharField(max_length=200)
    amount = models.FloatField(validators=ABOVE_ZERO)
    order = models.PositiveSmallIntegerField(default=0)

    part_of = "mix"
    not_followed = frozenset({"order"})

    class Meta:
        ordering = ["order", "pk"]
        constraints = [
            models.UniqueConstraint(fields=["mix", "species"], name="mix_species_once"),
            models.CheckConstraint(condition=Q(amount__gt=0), name="mix_amount_over_zero"),
        ]

    def __str__(self) -> str:
        return self.species
