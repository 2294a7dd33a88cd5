"""What was done on a visit, as it must be kept, and how the stand was counted. Rows are only ever added."""

from __future__ import annotations

from typing import Any

from django.conf import settings
from django.core.exceptions import ValidationError
from django.db import models
from django.utils import timezone
from django.utils.translation import gettext

from consulting.append_only import Added
from consulting.columns import ABOVE_ZERO, at_least, between
from consulting.followed import Editable
from consulting.models import Practice
from plans.models.visits import Visit

MOST_LABELS = 12
LEAST_KEEP_YEARS = 2
"""What 40 CFR 171.303(b)(7) asks for records of commercial applications of restricted-use products."""


class WorkRecord(Added):
    """Work done on a day, with what the rules ask of it. `sha256` chains it to the practice's record before.

    What was true on the day (customer, place, names) is kept as text, so that later changes alter nothing.
    """

    class Kind(models.TextChoices):
        APPLICATION = "application", "Application"
        SEEDING = "seeding", "Seeding"
        MOWING = "mowing", "Mowing"
        BURN = "burn", "Burn"
        PLANTING = "planting", "Planting"
        OTHER = "other", "Other work"

    WIND_FROM = [(point, point) for point in ("N", "NE", "E", "SE", "S", "SW", "W", "NW")] + [
        ("variable", "Variable"),
        ("calm", "Calm"),
    ]
    SKY = [("clear", "Clear"), ("partly cloudy", "Partly cloudy"), ("overcast", "Overcast")]

    number = models.PositiveIntegerField()
    """Place in the practice's chain, from 1 without a gap."""
    uid = models.UUIDField()
    """Made where the record is written, so that sending it twice writes it once."""
    visit = models.ForeignKey(Visit, on_delete=models.PROTECT, related_name="records")
    corrects = models.OneToOneField(
        "self", on_delete=models.PROTECT, null=True, blank=True, related_name="corrected_by"
    )
    because = models.CharField(max_length=1000, blank=True)
    """Why it corrects the one before."""
    taken_back = models.BooleanField(default=False)
    """Says that the work it corrects was not done after all."""
    kind = models.CharField(max_length=12, choices=Kind)
    work = models.CharField(max_length=200)
    """What was done, in the visit's words."""
    on = models.DateField()
    start_time = models.TimeField(null=True, blank=True)
    end_time = models.TimeField(null=True, blank=True)
    acres = models.FloatField(validators=between(0.001, 100_000))
    hours = models.FloatField(null=True, blank=True, validators=between(0.01, 1000))
    """In the field, of the machine or the crew as one; without the road."""
    person_hours = models.FloatField(null=True, blank=True, validators=between(0.01, 10_000))
    """In the field, of all people added up."""
    planned_hours = models.FloatField(null=True, blank=True)
    """For the acres of the record, in the hours that the price list keeps for the work."""
    hours_reason = models.CharField(max_length=1000, blank=True)
    """Why the hours are far from what was planned."""
    field_name = models.CharField(max_length=200)
    farm_name = models.CharField(max_length=200)
    place = models.CharField(max_length=200, blank=True)
    customer_name = models.CharField(max_length=200)
    customer_address = models.TextField(max_length=1000, blank=True)
    people = models.CharField(max_length=400, blank=True)
    applicator = models.CharField(max_length=200, blank=True)
    certificate = models.CharField(max_length=200, blank=True)
    supervised = models.CharField(max_length=200, blank=True)
    """Who applied under the applicator's supervision without a certificate."""
    site = models.CharField(max_length=200, blank=True)
    target = models.CharField(max_length=200, blank=True)
    wind_mph = models.FloatField(null=True, blank=True, validators=between(0, 150))
    wind_from = models.CharField(max_length=10, choices=WIND_FROM, blank=True)
    temp_f = models.FloatField(null=True, blank=True, validators=between(-60, 130))
    humidity_pct = models.FloatField(null=True, blank=True, validators=between(0, 100))
    sky = models.CharField(max_length=20, choices=SKY, blank=True)
    extra = models.JSONField(default=list, blank=True)
    """[[label, text]] of what the practice's state asks besides."""
    notes = models.CharField(max_length=1000, blank=True)
    entered_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.SET_NULL, null=True, related_name="+"
    )
    entered_by_name = models.CharField(max_length=200)
    at = models.DateTimeField(default=timezone.now)
    sha256 = models.CharField(max_length=64)

    class Meta:
        ordering = ["-on", "-number"]
        indexes = [
            models.Index(fields=["practice", "-on", "-number"], name="records_by_day"),
            models.Index(fields=["practice", "kind", "-on"], name="records_by_kind"),
        ]
        constraints = [
            models.UniqueConstraint(fields=["practice", "number"], name="record_number_once"),
            models.UniqueConstraint(fields=["practice", "uid"], name="record_uid_once"),
        ]

    def __str__(self) -> str:
        return f"Record {self.number}: {self.work}, {self.field_name}"


class RecordLine(Added):
    """A product, seed lot, plant or material of a record, with what was planned of it for those acres."""

    class What(models.TextChoices):
        PRODUCT = "product", "Product"
        ADJUVANT = "adjuvant", "Adjuvant"
        SEED = "seed", "Seed"
        PLANTS = "plants", "Plants"
        MATERIAL = "material", "Material"

    record = models.ForeignKey(WorkRecord, on_delete=models.PROTECT, related_name="lines")
    order = models.PositiveSmallIntegerField()
    what = models.CharField(max_length=10, choices=What)
    name = models.CharField(max_length=200)
    """The product as its label names it, the species, the material."""
    ingredient = models.CharField(max_length=200, blank=True)
    registration_number = models.CharField(max_length=200, blank=True)
    restricted_use = models.BooleanField(default=False)
    lot = models.CharField(max_length=200, blank=True)
    amount = models.FloatField(validators=at_least(0))
    unit = models.CharField(max_length=10)
    rate_per_acre = models.FloatField()
    planned_amount = models.FloatField(null=True, blank=True)
    """In the same unit, for the acres of the record; empty for what was not planned."""
    reason = models.CharField(max_length=1000, blank=True)
    """Why it is far from what was planned."""

    class Meta:
        ordering = ["record", "order"]
        constraints = [models.UniqueConstraint(fields=["record", "order"], name="record_line_once")]

    def __str__(self) -> str:
        return f"{self.name}: {self.amount:g} {self.unit}"


def check_labels(labels: Any) -> None:
    """A list of at most twelve different short labels."""
    if not isinstance(labels, list) or not all(isinstance(label, str) and label for label in labels):
        raise ValidationError(gettext("Give a list of labels."))
    if len(labels) > MOST_LABELS:
        raise ValidationError(gettext("Give at most {most} labels.").format(most=MOST_LABELS))
    if any(len(label) > 80 for label in labels):
        raise ValidationError(gettext("Keep each label to 80 characters."))
    if len({label.lower() for label in labels}) < len(labels):
        raise ValidationError(gettext("Two labels are the same. Take one away."))


class RecordLabels(Editable):
    """What the practice's state asks besides: of an application by label, and how long records are kept."""

    practice = models.OneToOneField(Practice, on_delete=models.CASCADE, related_name="+", editable=False)
    labels = models.JSONField(default=list, blank=True, validators=[check_labels])
    keep_years = models.PositiveSmallIntegerField(
        "keep records", default=LEAST_KEEP_YEARS, validators=between(LEAST_KEEP_YEARS, 99)
    )

    part_of = "practice"

    def __str__(self) -> str:
        return ", ".join(self.labels)


class StandCount(Added):
    """One count of a stand on a visit, frame by frame. What it means is reckoned from it."""

    class Method(models.TextChoices):
        GRID = "grid", "Frequency grid: cells that hold a seeded plant"
        QUADRAT = "quadrat", "Quadrats: seeded plants in each frame"

    AIM = [("cover", "Cover for wildlife or soil"), ("forage", "Forage or biomass")]
    GROWTH = [
        ("clean", "Little besides the seeded plants"),
        ("annuals", "Annual weeds stand over the seedlings"),
        ("patches", "Patches of perennial weeds or brush"),
        ("sod", "The old sod comes back through the stand"),
    ]

    uid = models.UUIDField()
    visit = models.ForeignKey(Visit, on_delete=models.PROTECT, related_name="counts")
    replaces = models.OneToOneField(
        "self", on_delete=models.PROTECT, null=True, blank=True, related_name="replaced_by"
    )
    on = models.DateField()
    season = models.PositiveSmallIntegerField()
    method = models.CharField(max_length=8, choices=Method)
    aim = models.CharField(max_length=8, choices=AIM)
    cells = models.PositiveSmallIntegerField(default=25, validators=between(1, 400))
    """Cells of the grid in each throw."""
    frame_sqft = models.FloatField(default=1.0, validators=ABOVE_ZERO)
    """Area of a quadrat."""
    throws = models.JSONField()
    """Cells hit, or plants, in each frame."""
    growth = models.CharField(max_length=8, choices=GROWTH)
    notes = models.CharField(max_length=1000, blank=True)
    counted_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.SET_NULL, null=True, related_name="+"
    )
    counted_by_name = models.CharField(max_length=200)
    at = models.DateTimeField(default=timezone.now)

    class Meta:
        ordering = ["-on", "-pk"]
        constraints = [models.UniqueConstraint(fields=["practice", "uid"], name="count_uid_once")]

    def __str__(self) -> str:
        return f"{self.get_method_display()}, {self.on}"


class CountPhoto(Editable):
    """The stand from a fixed point, as we re-encoded it. It can be taken away: somebody may be on it."""

    count = models.ForeignKey(StandCount, on_delete=models.PROTECT, related_name="photos", editable=False)
    point = models.CharField(max_length=200)
    """The fixed point by its name; the same name through the years is the same point."""
    jpeg = models.BinaryField(editable=False)
    width_px = models.PositiveIntegerField(editable=False)
    height_px = models.PositiveIntegerField(editable=False)
    longitude = models.FloatField(null=True, editable=False)
    latitude = models.FloatField(null=True, editable=False)
    """Where it was taken; only where that was agreed to."""

    not_followed = frozenset({"count", "width_px", "height_px", "longitude", "latitude"})

    class Meta:
        ordering = ["pk"]

    def __str__(self) -> str:
        return self.point

    @property
    def about(self) -> str:
        return f"visit:{self.count.visit_id}"

    @property
    def within(self) -> str:
        return str(self.count.visit)
