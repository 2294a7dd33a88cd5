"""The wind that prevails on a farm in a season, as the practice knows it."""

from __future__ import annotations

from django.db import models
from django.utils.translation import gettext_lazy as _

from consulting.followed import Editable
from sites.ground.slope import WINDS
from sites.models.farms import Farm


class PrevailingWind(Editable):
    """Where the wind of a season comes from, to the nearest of eight points."""

    SEASON = [(name, name.capitalize()) for name in ("spring", "summer", "fall", "winter")]
    COMES_FROM = [(point, point.capitalize()) for point in WINDS]

    farm = models.ForeignKey(Farm, on_delete=models.CASCADE, related_name="winds", editable=False)
    season = models.CharField(max_length=6, choices=SEASON)
    comes_from = models.CharField(_("it comes from the"), max_length=9, choices=COMES_FROM)

    part_of = "farm"

    class Meta:
        ordering = ["pk"]
        constraints = [
            models.UniqueConstraint(
                fields=["farm", "season"],
                name="one_wind_per_season",
                violation_error_message=_("That season has its wind already."),
            )
        ]

    def __str__(self) -> str:
        return f"{self.get_season_display()}: wind from the {self.comes_from}"
