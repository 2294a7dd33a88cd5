"""Farms, the normals of the place they lie in, and what was seen there."""

from __future__ import annotations

from datetime import date, timedelta
from typing import Any

from django.core.exceptions import ValidationError
from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models
from django.utils.translation import gettext, gettext_lazy

from consulting.clock import today_for
from consulting.columns import at_least, between
from consulting.followed import Editable
from consulting.models import Client


def check_monthly_means(values: Any) -> None:
    """Twelve numbers, January first, each -60 to 120 °F."""
    if not isinstance(values, list) or len(values) != 12:
        raise ValidationError(gettext("Give twelve monthly means, January first."))
    for month, value in enumerate(values, start=1):
        if isinstance(value, bool) or not isinstance(value, int | float) or not -60 <= value <= 120:
            raise ValidationError(
                gettext("The mean of month {month} must be a number from -60 to 120 °F.").format(month=month)
            )


def check_month_day(text: str) -> None:
    """A day of the year as MM-DD."""
    try:
        month, day = text.split("-")
        if (len(month), len(day)) != (2, 2):
            raise ValueError
        date(2024, int(month), int(day))
    except ValueError:
        raise ValidationError(gettext("Give a month and a day, such as 04-17.")) from None


def in_words(month_day: str) -> str:
    """`04-17` as `April 17`."""
    month, day = month_day.split("-")
    return f"{date(2024, int(month), int(day)):%B} {int(day)}"


class Farm(Editable):
    """A client's farm and the normals of the place it lies in."""

    client = models.ForeignKey(Client, on_delete=models.PROTECT, related_name="farms", editable=False)
    name = models.CharField(max_length=200)
    place = models.CharField(max_length=200, blank=True)
    round_trip_miles = models.FloatField(
        gettext_lazy("round trip from your yard"), default=0, validators=at_least(0)
    )
    latitude = models.FloatField(
        null=True, blank=True, validators=[MinValueValidator(-90), MaxValueValidator(90)]
    )
    longitude = models.FloatField(
        null=True, blank=True, validators=[MinValueValidator(-180), MaxValueValidator(180)]
    )
    elevation_ft = models.FloatField(
        gettext_lazy("height above the sea"), null=True, blank=True, validators=between(-300, 15_000)
    )
    nearest_hospital = models.CharField(max_length=300, blank=True)
    directions = models.TextField(gettext_lazy("way there"), max_length=1000, blank=True)
    climate_place = models.CharField(gettext_lazy("climate of"), max_length=200)
    monthly_mean_f = models.JSONField(
        gettext_lazy("monthly mean temperatures"), validators=[check_monthly_means]
    )
    last_spring_freeze = models.CharField(max_length=5, validators=[check_month_day])
    first_fall_freeze = models.CharField(max_length=5, validators=[check_month_day])
    climate_source = models.CharField(
        gettext_lazy("source of the climate figures"), max_length=500, blank=True
    )

    forgotten = True

    class Meta:
        ordering = ["name", "pk"]
        indexes = [models.Index(fields=["practice", "client"])]

    def __str__(self) -> str:
        return self.name

    def clean(self) -> None:
        super().clean()
        if (self.latitude is None) != (self.longitude is None):
            if self.latitude is None:
                raise ValidationError({"latitude": gettext("Give the latitude too, or leave both empty.")})
            raise ValidationError({"longitude": gettext("Give the longitude too, or leave both empty.")})
        spring, fall = self.last_spring_freeze, self.first_fall_freeze
        if spring and fall and spring >= fall:
            raise ValidationError(
                {
                    "first_fall_freeze": gettext(
                        "The first fall freeze must come after the last spring freeze."
                    )
                }
            )


class Observation(Editable):
    """A moment of the year as it was seen on a farm; plans take it in place of the normal of that year."""

    MOMENT = [
        ("sod_wakes", gettext_lazy("Cool-season sod starts to grow")),
        ("sod_at_height", gettext_lazy("Sod stands at spray height")),
        ("sod_boots", gettext_lazy("Sod comes into boot")),
        ("last_freeze", gettext_lazy("Last spring freeze")),
        ("natives_green_up", gettext_lazy("Native grass greens up")),
        ("soil_50", gettext_lazy("Soil at 50 °F, 2 in deep")),
        ("soil_60", gettext_lazy("Soil at 60 °F, 2 in deep")),
        ("fall_regrowth", gettext_lazy("Sod grows again in fall")),
        ("first_freeze", gettext_lazy("First fall freeze")),
        ("hard_freeze", gettext_lazy("First hard freeze")),
        ("leaf_fall", gettext_lazy("Leaves are down")),
    ]
    APART_DAYS = 180
    """The same moment of two years lies farther apart than this."""
    FIRST = date(1990, 1, 1)

    farm = models.ForeignKey(Farm, on_delete=models.CASCADE, related_name="observations", editable=False)
    moment = models.CharField(gettext_lazy("what was seen"), max_length=30, choices=MOMENT)
    on = models.DateField(gettext_lazy("seen on"), validators=[MinValueValidator(FIRST)])

    part_of = "farm"

    class Meta:
        ordering = ["-on", "pk"]

    def __str__(self) -> str:
        return f"{self.get_moment_display()}, {self.on:%B} {self.on.day}, {self.on.year}"

    def clean(self) -> None:
        super().clean()
        # Asked even where a column by itself was refused, and some days have none so long before them.
        if self.on is None or self.farm_id is None or self.on < self.FIRST:
            return
        if self.on > today_for(self.practice):
            raise ValidationError(
                {"on": gettext("That day is still to come. Enter what was seen, when it was seen.")}
            )
        near = Observation.objects.filter(
            farm=self.farm,
            moment=self.moment,
            on__range=(self.on - timedelta(days=self.APART_DAYS), self.on + timedelta(days=self.APART_DAYS)),
        ).exclude(pk=self.pk)
        if near.exists():
            raise ValidationError(
                {"moment": gettext("This is entered for that season already. Take the other one back first.")}
            )
