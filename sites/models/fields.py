"""Fields as they are today, and what lies on a farm beside them."""

from __future__ import annotations

from typing import Any

from django.core.exceptions import ValidationError
from django.db import models
from django.utils.translation import gettext, gettext_lazy
from shapely import GEOSException
from shapely.geometry import shape

from consulting.columns import at_least, between
from consulting.followed import Editable
from sites.ground.slope import WINDS
from sites.models.farms import Farm

NO_SIDE = gettext_lazy("no side")
"""As level ground faces."""


def check_geometry(value: Any) -> None:
    """A GeoJSON geometry in longitude and latitude that is not empty and does not cross itself."""
    try:
        drawn = shape(value)
        sound = drawn.is_valid and not drawn.is_empty
    except (AttributeError, GEOSException, KeyError, TypeError, ValueError):
        sound = False
    if not sound:
        raise ValidationError(gettext("This is no shape that can be drawn. Draw it once more."))


class Field(Editable):
    """A field as it was found: what grows there, how steep it is, what lies near."""

    COVER = [
        ("cool-season sod", gettext_lazy("Cool-season sod: old pasture or hay")),
        ("smooth brome", gettext_lazy("Smooth brome")),
        ("bermudagrass", gettext_lazy("Bermudagrass")),
        ("johnsongrass", gettext_lazy("Johnsongrass")),
        ("sericea lespedeza", gettext_lazy("Sericea lespedeza")),
        ("crop stubble", gettext_lazy("Crop stubble")),
        ("annual weeds", gettext_lazy("Annual weeds on fallow ground")),
        ("brushy old field", gettext_lazy("Old field grown up in brush")),
        ("failed native stand", gettext_lazy("Native stand gone to cool-season grass")),
    ]
    TEXTURE = [
        (name, name.capitalize())
        for name in (
            "sand",
            gettext_lazy("loamy sand"),
            gettext_lazy("sandy loam"),
            gettext_lazy("fine sandy loam"),
            "loam",
            gettext_lazy("silt loam"),
            "silt",
            gettext_lazy("sandy clay loam"),
            gettext_lazy("clay loam"),
            gettext_lazy("silty clay loam"),
            gettext_lazy("sandy clay"),
            gettext_lazy("silty clay"),
            "clay",
        )
    ]
    FACES = [(side, side.capitalize()) for side in (*WINDS, NO_SIDE)]
    THATCH = [
        ("none", gettext_lazy("None")),
        ("light", gettext_lazy("Light")),
        ("heavy", gettext_lazy("Heavy")),
    ]

    farm = models.ForeignKey(Farm, on_delete=models.PROTECT, related_name="fields", editable=False)
    name = models.CharField(max_length=200)
    acres = models.FloatField(validators=between(0.01, 100_000))
    """Those of the outline where there is one, to two decimals."""
    outline = models.JSONField(null=True, blank=True, editable=False, validators=[check_geometry])
    """A GeoJSON MultiPolygon in WGS 84."""
    outline_from = models.CharField(max_length=300, blank=True, editable=False)
    """Where the outline is from and what was mended of it."""
    outline_on = models.DateField(null=True, blank=True, editable=False)
    slope_pct = models.FloatField(gettext_lazy("steepest slope"), default=0, validators=between(0, 200))
    slope_from = models.CharField(max_length=300, blank=True, editable=False)
    """How the slope was found; empty where it was typed."""
    slope_on = models.DateField(null=True, blank=True, editable=False)
    faces = models.CharField(gettext_lazy("side it faces"), max_length=10, choices=FACES, blank=True)
    slope_length_ft = models.FloatField(gettext_lazy("slope length"), default=0, validators=at_least(0))
    soil_texture = models.CharField(max_length=20, choices=TEXTURE, blank=True)
    soil_r = models.FloatField(
        gettext_lazy("rain and run-off, R"), null=True, blank=True, validators=between(1, 1000)
    )
    cover = models.CharField(gettext_lazy("what grows there"), max_length=30, choices=COVER)
    thatch = models.CharField(max_length=10, choices=THATCH, default="none")
    weeds = models.CharField(gettext_lazy("weeds present"), max_length=200, blank=True)
    woody_plants = models.CharField(gettext_lazy("woody plants present"), max_length=200, blank=True)
    water_within_ft = models.FloatField(
        gettext_lazy("nearest water or well"), null=True, blank=True, validators=at_least(0)
    )
    sensitive_neighbours = models.CharField(max_length=200, blank=True)
    power_lines = models.BooleanField(gettext_lazy("power lines cross or border the field"), default=False)
    notes = models.TextField(max_length=20_000, blank=True)

    forgotten = True

    class Meta:
        ordering = ["name", "pk"]
        constraints = [
            models.UniqueConstraint(
                fields=["farm", "name"],
                name="one_field_per_name",
                violation_error_code="name",
                violation_error_message=gettext_lazy(
                    "This farm has a field of that name already. Choose another name."
                ),
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
            found.append("neighbors")
        if self.power_lines:
            found.append("power lines")
        if self.thatch == "heavy":
            found.append("heavy thatch")
        return found


class Landmark(Editable):
    """What is drawn on a farm beside its fields: what to keep away from, and what is laid out there."""

    KIND = [
        ("water", gettext_lazy("Pond, creek or ditch")),
        ("well", gettext_lazy("Well")),
        ("lane", gettext_lazy("Lane or road")),
        ("power line", gettext_lazy("Power line")),
        ("crop", gettext_lazy("Neighbor’s crop, garden or bees")),
        ("building", gettext_lazy("House or barn")),
        ("gate", gettext_lazy("Gate or access point")),
        ("plot", gettext_lazy("Food plot")),
        ("trees", gettext_lazy("Tree or shrub block")),
        ("orchard", gettext_lazy("Orchard")),
        ("bedding", gettext_lazy("Bedding cover")),
        ("travel", gettext_lazy("Travel lane of wildlife")),
        ("stand", gettext_lazy("Hunting stand")),
        ("route", gettext_lazy("Way to a stand")),
        ("other", gettext_lazy("Something else")),
    ]
    LAID_OUT = ("plot", "trees", "orchard", "bedding", "travel", "stand", "route")
    """Kinds that are made for wildlife, not found there."""

    farm = models.ForeignKey(Farm, on_delete=models.CASCADE, related_name="landmarks", editable=False)
    kind = models.CharField(gettext_lazy("what it is"), max_length=12, choices=KIND)
    name = models.CharField(max_length=200, blank=True)
    shape = models.JSONField(editable=False, validators=[check_geometry])
    """A GeoJSON Point, LineString, Polygon or MultiPolygon in WGS 84."""
    notes = models.CharField(max_length=1000, blank=True)

    forgotten = True
    part_of = "farm"

    class Meta:
        ordering = ["kind", "name", "pk"]

    def __str__(self) -> str:
        return self.name or str(self.get_kind_display())


class Exclusion(Editable):
    """How far some kinds of work stay away from a landmark on one field, and why."""

    WORK = [
        ("spray", gettext_lazy("Spraying")),
        ("drill", gettext_lazy("Drilling and seeding")),
        ("burn", gettext_lazy("Burning")),
        ("mow", gettext_lazy("Mowing and haying")),
    ]

    field = models.ForeignKey(Field, on_delete=models.CASCADE, related_name="exclusions", editable=False)
    landmark = models.ForeignKey(Landmark, on_delete=models.CASCADE, related_name="exclusions")
    distance_ft = models.FloatField(gettext_lazy("distance kept"), default=0, validators=between(0, 26_400))
    work = models.JSONField(gettext_lazy("kinds of work"), default=list)
    reason = models.CharField(max_length=300)

    part_of = "field"

    class Meta:
        ordering = ["pk"]
        constraints = [
            models.UniqueConstraint(
                fields=["field", "landmark"],
                name="one_exclusion_per_landmark",
                violation_error_code="landmark",
                violation_error_message=gettext_lazy(
                    "This field keeps away from it already. Change that distance."
                ),
            )
        ]

    def __str__(self) -> str:
        return gettext("{distance_ft} ft from {landmark}").format(
            distance_ft=f"{self.distance_ft:g}", landmark=self.landmark
        )

    @property
    def kinds(self) -> list[str]:
        """The kinds of work in words."""
        return [str(label) for name, label in self.WORK if name in self.work]

    def clean(self) -> None:
        super().clean()
        known = {name for name, _ in self.WORK}
        if not isinstance(self.work, list) or not self.work or not set(self.work) <= known:
            raise ValidationError({"work": gettext("Choose at least one kind of work that stays away.")})
        if self.field_id and self.landmark_id and self.field.farm_id != self.landmark.farm_id:
            raise ValidationError({"landmark": gettext("This lies on another farm.")})
