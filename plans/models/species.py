"""Species that a practice adds to the table."""

from __future__ import annotations

from typing import Any

from django.core.exceptions import ValidationError
from django.core.validators import MaxValueValidator, MinLengthValidator
from django.db import models
from django.utils.translation import gettext_lazy as _

from consulting.columns import ABOVE_ZERO, at_least, between
from consulting.followed import Editable
from plans.planning import tables

ACIDITY = between(3, 10)


def worth(label: Any) -> models.PositiveSmallIntegerField:
    return models.PositiveSmallIntegerField(label, default=0, validators=[MaxValueValidator(3)])


class OwnSpecies(Editable):
    """A plant that the table of species lacks, with the same columns as the table's."""

    class Group(models.TextChoices):
        GRASS = "grass", _("Grass")
        LEGUME = "legume", _("Legume")
        FORB = "forb", _("Wildflower")
        NURSE = "nurse", _("Nurse crop")

    SEASONS = [("", _("Neither")), ("warm", _("Warm season")), ("cool", _("Cool season"))]
    BOXES = [("chaffy", _("Chaffy")), ("small", _("Small seed")), ("large", _("Large seed"))]
    LIVES = [
        ("perennial", _("Perennial")),
        ("short-lived perennial", _("Short-lived perennial")),
        ("annual", _("Annual")),
    ]
    SHADES = [("sun", _("Full sun")), ("part", _("Part shade")), ("shade", _("Shade"))]
    STATUSES = [
        ("seen", _("Seen in print")),
        ("mixed", _("Partly from memory")),
        ("memory", _("From memory")),
    ]

    common_name = models.CharField(max_length=200)
    scientific_name = models.CharField(max_length=200)
    group = models.CharField(max_length=6, choices=Group)
    family = models.CharField(max_length=100)
    season = models.CharField(max_length=4, choices=SEASONS, blank=True)
    life = models.CharField(max_length=21, choices=LIVES, default="perennial")
    native_range = models.CharField(max_length=200)
    seeds_per_lb = models.FloatField(_("seeds in a pound"), validators=ABOVE_ZERO)
    seeds_per_lb_low = models.FloatField(_("fewest seeds in a pound"), validators=ABOVE_ZERO)
    seeds_per_lb_high = models.FloatField(_("most seeds in a pound"), validators=ABOVE_ZERO)
    box = models.CharField(_("drill box"), max_length=6, choices=BOXES)
    depth_in_min = models.FloatField(_("least depth"), default=0, validators=between(0, 4))
    depth_in_max = models.FloatField(_("greatest depth"), default=0.25, validators=between(0, 4))
    full_stand_lb_pls_per_acre_low = models.FloatField(
        _("full stand by itself, least"), validators=ABOVE_ZERO
    )
    full_stand_lb_pls_per_acre_high = models.FloatField(
        _("full stand by itself, most"), validators=ABOVE_ZERO
    )
    height_in = models.FloatField(_("height"), validators=between(0.5, 300))
    bloom_months = models.CharField(max_length=60, blank=True)
    bloom_colour = models.CharField(_("bloom color"), max_length=60, blank=True)
    moisture = models.CharField(max_length=40, default="mesic")
    ph_low = models.FloatField(_("lowest pH"), default=6, validators=ACIDITY)
    ph_high = models.FloatField(_("highest pH"), default=7.5, validators=ACIDITY)
    shade = models.CharField(_("stands"), max_length=5, choices=SHADES, default="sun")
    stratification_days = models.PositiveSmallIntegerField(
        _("cold, moist days that help"), default=0, validators=[MaxValueValidator(365)]
    )
    value_bedding_cover = worth(_("for bedding cover"))
    value_nesting_brood = worth(_("for nesting and brood"))
    value_pollinators = worth(_("for pollinators"))
    value_erosion = worth(_("against erosion"))
    value_forage = worth(_("as forage"))
    flower_mix_max_per_sqft = models.FloatField(
        _("most in a flower mix"), null=True, blank=True, validators=at_least(0.01)
    )
    gives = models.CharField(_("what it gives"), max_length=300, blank=True)
    status = models.CharField(_("these figures are"), max_length=6, choices=STATUSES, default="memory")
    source = models.CharField(_("where they come from"), max_length=500, validators=[MinLengthValidator(4)])

    class Meta:
        ordering = ["common_name"]
        verbose_name_plural = "own species"
        constraints = [
            models.UniqueConstraint(
                fields=["practice", "common_name"],
                name="own_species_once",
                violation_error_message=_("A species of that name is there already. Change that one."),
                violation_error_code="common_name",
            )
        ]

    def __str__(self) -> str:
        return self.common_name

    def clean(self) -> None:
        super().clean()
        self.common_name = " ".join(self.common_name.split())
        listed = {name.casefold() for name in (*tables.listed_species(), *tables.woody())}
        if self.common_name.casefold() in listed:
            said = _("The table has {name} already. Use that one, or give yours another name.")
            raise ValidationError({"common_name": str(said).format(name=self.common_name)})
