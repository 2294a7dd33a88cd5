"""What was found on a field when somebody walked over it. Rows are only added; photographs may go."""

from __future__ import annotations

from typing import Any

from django.conf import settings
from django.core.exceptions import ValidationError
from django.db import models
from django.utils import timezone
from django.utils.translation import gettext

from consulting.append_only import Added
from consulting.columns import PERCENT, between
from consulting.followed import Editable
from sites.models.fields import Field

MOST_ROWS = 20


class WalkOver(Added):
    """One walk over a field. A correction is another row, which stands in its place."""

    STAGE = [
        ("seedling", "Seedling or rosette"),
        ("leaf", "Growing leaf"),
        ("boot", "In boot or bud"),
        ("flower", "In head or flower"),
        ("seed", "Seed set"),
        ("brown", "Brown or at rest"),
    ]
    ABUNDANCE = [("few", "A few"), ("patches", "In patches"), ("throughout", "Throughout")]
    SIZE = [
        ("sprout", "Under 3 ft"),
        ("brush", "3 to 6 ft"),
        ("sapling", "Over 6 ft, under 4 in thick"),
        ("tree", "4 in thick and more"),
    ]

    uid = models.UUIDField()
    """Made where the form is filled in, so that sending it twice writes it once."""
    field = models.ForeignKey(Field, on_delete=models.PROTECT, related_name="walks")
    replaces = models.OneToOneField(
        "self", on_delete=models.PROTECT, null=True, blank=True, related_name="replaced_by"
    )
    on = models.DateField("walked on")
    people = models.CharField("who walked", max_length=200)
    covers = models.JSONField(default=list, blank=True)
    """[{what, share_pct, height_in, stage}]: of the ground; height and stage may be None."""
    weeds = models.JSONField(default=list, blank=True)
    """[{what, abundance}]."""
    plots = models.PositiveSmallIntegerField("plots counted", default=0, validators=between(0, 200))
    """Circles of 1/100 acre in which woody stems were counted."""
    stems = models.JSONField(default=list, blank=True)
    """[{what, size, stems}]: stems counted in all plots together."""
    thatch_in = models.FloatField("thatch depth", null=True, blank=True, validators=between(0, 36))
    bare_pct = models.FloatField("bare ground", default=0, validators=PERCENT)
    slope_pct = models.FloatField("slope by eye", null=True, blank=True, validators=between(0, 200))
    notes = models.TextField(max_length=5000, blank=True)
    entered_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.SET_NULL, null=True, related_name="+"
    )
    entered_by_name = models.CharField(max_length=200)
    at = models.DateTimeField(default=timezone.now)

    class Meta:
        ordering = ["-on", "-pk"]
        constraints = [models.UniqueConstraint(fields=["practice", "uid"], name="walk_uid_once")]

    def __str__(self) -> str:
        return f"Walk-over of {self.field}, {self.on:%B} {self.on.day}, {self.on.year}"

    def clean(self) -> None:
        super().clean()
        for name in ("covers", "weeds", "stems"):
            rows: Any = getattr(self, name)
            if not isinstance(rows, list) or len(rows) > MOST_ROWS:
                raise ValidationError({name: gettext("Give at most {most} rows.").format(most=MOST_ROWS)})
        if self.stems and not self.plots:
            raise ValidationError({"plots": gettext("Stems are counted. Say in how many plots.")})


class WalkPhoto(Editable):
    """A photograph of a walk-over as we re-encoded it. It can be taken away: somebody may be on it."""

    walk = models.ForeignKey(WalkOver, on_delete=models.PROTECT, related_name="photos", editable=False)
    caption = models.CharField(max_length=200, blank=True)
    jpeg = models.BinaryField(editable=False)
    width_px = models.PositiveIntegerField(editable=False)
    height_px = models.PositiveIntegerField(editable=False)
    longitude = models.FloatField(null=True, editable=False)
    latitude = models.FloatField(null=True, editable=False)
    """Where it was taken; only where that was agreed to."""

    not_followed = frozenset({"walk", "width_px", "height_px", "longitude", "latitude"})

    class Meta:
        ordering = ["pk"]

    def __str__(self) -> str:
        return self.caption or "Without a caption"

    @property
    def about(self) -> str:
        return f"field:{self.walk.field_id}"

    @property
    def within(self) -> str:
        return str(self.walk.field)
