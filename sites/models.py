"""The ground: farms with their climate, and the fields on them as they are today."""

from __future__ import annotations

from datetime import date, timedelta
from typing import Any

from django.core.exceptions import ValidationError
from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models

from consulting.clock import today_for
from consulting.columns import at_least, between
from consulting.models import Client
from consulting.tenancy import PracticeRecord


def check_monthly_means(values: Any) -> None:
    """Twelve numbers, January first, each -60 to 120 °F."""
    if not isinstance(values, list) or len(values) != 12:
        raise ValidationError("Give twelve monthly means, January first.")
    for month, value in enumerate(values, start=1):
        if isinstance(value, bool) or not isinstance(value, int | float) or not -60 <= value <= 120:
            raise ValidationError(f"The mean of month {month} must be a number from -60 to 120 °F.")


def check_month_day(text: str) -> None:
    """A day of the year as MM-DD."""
    try:
        month, day = text.split("-")
        if (len(month), len(day)) != (2, 2):
            raise ValueError
        date(2024, int(month), int(day))
    except ValueError:
        raise ValidationError("Give a month and a day, such as 04-17.") from None


def in_words(month_day: str) -> str:
    """`04-17` as `April 17`."""
    month, day = month_day.split("-")
    return f"{date(2024, int(month), int(day)):%B} {int(day)}"


class Farm(PracticeRecord):
    """A client's farm and the normals of the place it lies in."""

    client = models.ForeignKey(Client, on_delete=models.PROTECT, related_name="farms", editable=False)
    name = models.CharField(max_length=200)
    place = models.CharField(max_length=200, blank=True)
    round_trip_miles = models.FloatField("round trip from your yard", default=0, validators=at_least(0))
    latitude = models.FloatField(
        null=True, blank=True, validators=[MinValueValidator(-90), MaxValueValidator(90)]
    )
    longitude = models.FloatField(
        null=True, blank=True, validators=[MinValueValidator(-180), MaxValueValidator(180)]
    )
    nearest_hospital = models.CharField(max_length=300, blank=True)
    directions = models.TextField("way there", max_length=1000, blank=True)
    climate_place = models.CharField("climate of", max_length=200)
    monthly_mean_f = models.JSONField("monthly mean temperatures", validators=[check_monthly_means])
    last_spring_freeze = models.CharField(max_length=5, validators=[check_month_day])
    first_fall_freeze = models.CharField(max_length=5, validators=[check_month_day])
    climate_source = models.CharField("source of the climate figures", max_length=500, blank=True)

    class Meta:
        ordering = ["name", "pk"]
        indexes = [models.Index(fields=["practice", "client"])]

    def __str__(self) -> str:
        return self.name

    def clean(self) -> None:
        super().clean()
        if (self.latitude is None) != (self.longitude is None):
            missing = "latitude" if self.latitude is None else "longitude"
            raise ValidationError({missing: f"Give the {missing} too, or leave both empty."})
        spring, fall = self.last_spring_freeze, self.first_fall_freeze
        if spring and fall and spring >= fall:
            raise ValidationError(
                {"first_fall_freeze": "The first fall freeze must come after the last spring freeze."}
            )


class Observation(PracticeRecord):
    """A moment of the year as it was seen on a farm; plans take it in place of the normal of that year."""

    MOMENT = [
        ("sod_wakes", "Cool-season sod starts to grow"),
        ("sod_at_height", "Sod stands at spray height"),
        ("sod_boots", "Sod comes into boot"),
        ("last_freeze", "Last spring freeze"),
        ("natives_green_up", "Native grass greens up"),
        ("soil_50", "Soil at 50 °F, 2 in deep"),
        ("soil_60", "Soil at 60 °F, 2 in deep"),
        ("fall_regrowth", "Sod grows again in fall"),
        ("first_freeze", "First fall freeze"),
        ("hard_freeze", "First hard freeze"),
        ("leaf_fall", "Leaves are down"),
    ]
    APART_DAYS = 180
    """The same moment of two years lies farther apart than this."""

    farm = models.ForeignKey(Farm, on_delete=models.CASCADE, related_name="observations", editable=False)
    moment = models.CharField("what was seen", max_length=30, choices=MOMENT)
    on = models.DateField("seen on", validators=[MinValueValidator(date(1990, 1, 1))])

    class Meta:
        ordering = ["-on", "pk"]

    def __str__(self) -> str:
        return f"{self.get_moment_display()}, {self.on:%B} {self.on.day}, {self.on.year}"

    def clean(self) -> None:
        super().clean()
        if self.on is None or self.farm_id is None:
            return
        if self.on > today_for(self.practice):
            raise ValidationError({"on": "That day is still to come. Enter what was seen, when it was seen."})
        near = Observation.objects.filter(
            farm=self.farm,
            moment=self.moment,
            on__range=(self.on - timedelta(days=self.APART_DAYS), self.on + timedelta(days=self.APART_DAYS)),
        ).exclude(pk=self.pk)
        if near.exists():
            raise ValidationError(
                {"moment": "This is entered for that season already. Take the other one back first."}
            )


class Field(PracticeRecord):
    """A field as it was found: what grows there, how steep it is, what lies near."""

    COVER = [
        ("cool-season sod", "Cool-season sod: old pasture or hay"),
        ("smooth brome", "Smooth brome"),
        ("bermudagrass", "Bermudagrass"),
        ("johnsongrass", "Johnsongrass"),
        ("sericea lespedeza", "Sericea lespedeza"),
        ("crop stubble", "Crop stubble"),
        ("annual weeds", "Annual weeds on fallow ground"),
        ("brushy old field", "Old field grown up in brush"),
        ("failed native stand", "Native stand gone to cool-season grass"),
    ]
    TEXTURE = [
        (name, name.capitalize())
        for name in (
            "sand",
            "loamy sand",
            "sandy loam",
            "fine sandy loam",
            "loam",
            "silt loam",
            "silt",
            "sandy clay loam",
            "clay loam",
            "silty clay loam",
            "sandy clay",
            "silty clay",
            "clay",
        )
    ]
    THATCH = [("none", "None"), ("light", "Light"), ("heavy", "Heavy")]

    farm = models.ForeignKey(Farm, on_delete=models.PROTECT, related_name="fields", editable=False)
    name = models.CharField(max_length=200)
    acres = models.FloatField(validators=between(0.01, 100_000))
    slope_pct = models.FloatField("steepest slope", default=0, validators=between(0, 200))
    slope_length_ft = models.FloatField("slope length", default=0, validators=at_least(0))
    soil_texture = models.CharField(max_length=20, choices=TEXTURE, blank=True)
    soil_r = models.FloatField("rain and run-off, R", null=True, blank=True, validators=between(1, 1000))
    cover = models.CharField("what grows there", max_length=30, choices=COVER)
    thatch = models.CharField(max_length=10, choices=THATCH, default="none")
    weeds = models.CharField("weeds present", max_length=200, blank=True)
    woody_plants = models.CharField("woody plants present", max_length=200, blank=True)
    water_within_ft = models.FloatField(
        "nearest water or well", null=True, blank=True, validators=at_least(0)
    )
    sensitive_neighbours = models.CharField(max_length=200, blank=True)
    power_lines = models.BooleanField("power lines cross or border the field", default=False)
    notes = models.TextField(max_length=20_000, blank=True)

    class Meta:
        ordering = ["name", "pk"]
        constraints = [
            models.UniqueConstraint(
                fields=["farm", "name"],
                name="one_field_per_name",
                violation_error_code="name",
                violation_error_message="This farm has a field of that name already. Choose another name.",
            )
        ]

    def __str__(self) -> str:
        return self.name

    @property
    def minds(self) -> list[str]:
        """What to mind here, in a word each."""
        found = []
        if self.water_within_ft is not None:
            found.append(f"water {self.water_within_ft:g} ft")
        if self.sensitive_neighbours:
            found.append("neighbours")
        if self.power_lines:
            found.append("power lines")
        if self.thatch == "heavy":
            found.append("heavy thatch")
        return found
