"""Fields as they are today, and what lies on a farm beside them."""

from __future__ import annotations

from typing import Any

from django.core.exceptions import ValidationError
from django.db import models
from shapely import GEOSException
from shapely.geometry import shape

from consulting.columns import at_least, between
from consulting.followed import Editable
from sites.ground.slope import WINDS
from sites.models.farms import Farm

NO_SIDE = "no side"
"""As level ground faces."""


def check_geometry(value: Any) -> None:
    """A GeoJSON geometry in longitude and latitude that is not empty and does not cross itself."""
    try:
        drawn = shape(value)
        sound = drawn.is_valid and not drawn.is_empty
    except (AttributeError, GEOSException, KeyError, TypeError, ValueError):
        sound = False
    if not sound:
        raise ValidationError("This is no shape that can be drawn. Draw it once more.")


class Field(Editable):
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
    FACES = [(side, side.capitalize()) for side in (*WINDS, NO_SIDE)]
    THATCH = [("none", "None"), ("light", "Light"), ("heavy", "Heavy")]

    farm = models.ForeignKey(Farm, on_delete=models.PROTECT, related_name="fields", editable=False)
    name = models.CharField(max_length=200)
    acres = models.FloatField(validators=between(0.01, 100_000))
    """Those of the outline where there is one, to two decimals."""
    outline = models.JSONField(null=True, blank=True, editable=False, validators=[check_geometry])
    """A GeoJSON MultiPolygon in WGS 84."""
    outline_from = models.CharField(max_length=300, blank=True, editable=False)
    """Where the outline is from and what was mended of it."""
    outline_on = models.DateField(null=True, blank=True, editable=False)
    slope_pct = models.FloatField("steepest slope", default=0, validators=between(0, 200))
    slope_from = models.CharField(max_length=300, blank=True, editable=False)
    """How the slope was found; empty where it was typed."""
    slope_on = models.DateField(null=True, blank=True, editable=False)
    faces = models.CharField("side it faces", max_length=10, choices=FACES, blank=True)
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

    forgotten = True

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
            found.append("neighbors")
        if self.power_lines:
            found.append("power lines")
        if self.thatch == "heavy":
            found.append("heavy thatch")
        return found


class Landmark(Editable):
    """What is drawn on a farm beside its fields: what to keep away from, and what is laid out there."""

    KIND = [
        ("water", "Pond, creek or ditch"),
        ("well", "Well"),
        ("lane", "Lane or road"),
        ("power line", "Power line"),
        ("crop", "Neighbor’s crop, garden or bees"),
        ("building", "House or barn"),
        ("gate", "Gate or access point"),
        ("plot", "Food plot"),
        ("trees", "Tree or shrub block"),
        ("orchard", "Orchard"),
        ("bedding", "Bedding cover"),
        ("travel", "Travel lane of wildlife"),
        ("stand", "Hunting stand"),
        ("route", "Way to a stand"),
        ("other", "Something else"),
    ]
    LAID_OUT = ("plot", "trees", "orchard", "bedding", "travel", "stand", "route")
    """Kinds that are made for wildlife, not found there."""

    farm = models.ForeignKey(Farm, on_delete=models.CASCADE, related_name="landmarks", editable=False)
    kind = models.CharField("what it is", max_length=12, choices=KIND)
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
        ("spray", "Spraying"),
        ("drill", "Drilling and seeding"),
        ("burn", "Burning"),
        ("mow", "Mowing and haying"),
    ]

    field = models.ForeignKey(Field, on_delete=models.CASCADE, related_name="exclusions", editable=False)
    landmark = models.ForeignKey(Landmark, on_delete=models.CASCADE, related_name="exclusions")
    distance_ft = models.FloatField("distance kept", default=0, validators=between(0, 26_400))
    work = models.JSONField("kinds of work", default=list)
    reason = models.CharField(max_length=300)

    part_of = "field"

    class Meta:
        ordering = ["pk"]
        constraints = [
            models.UniqueConstraint(
                fields=["field", "landmark"],
                name="one_exclusion_per_landmark",
                violation_error_code="landmark",
                violation_error_message="This field keeps away from it already. Change that distance.",
            )
        ]

    def __str__(self) -> str:
        return f"{self.distance_ft:g} ft from {self.landmark}"

    @property
    def kinds(self) -> list[str]:
        """The kinds of work in words."""
        return [label for name, label in self.WORK if name in self.work]

    def clean(self) -> None:
        super().clean()
        known = {name for name, _ in self.WORK}
        if not isinstance(self.work, list) or not self.work or not set(self.work) <= known:
            raise ValidationError({"work": "Choose at least one kind of work that stays away."})
        if self.field_id and self.landmark_id and self.field.farm_id != self.landmark.farm_id:
            raise ValidationError({"landmark": "This lies on another farm."})
