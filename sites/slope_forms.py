"""The ways of finding how steep a field is, each a form that answers with a `Lie`, and the taking of one."""

from __future__ import annotations

from typing import Any, ClassVar

from django import forms
from django.core.exceptions import ValidationError
from django.utils.translation import gettext, gettext_lazy

from consulting.formkit import HouseForm
from sites.drawn import outline_of
from sites.ground import elevation, found
from sites.ground.errors import GroundError
from sites.lie import Lie, by_clinometer, by_grid, by_rise, by_walk
from sites.models import Field
from sites.steep import offers_of


class WayForm(HouseForm, forms.Form):
    """One way of looking at a field. A GroundError becomes an error of the form."""

    way: ClassVar[str]

    def __init__(self, *args: Any, field: Field, limits_pct: tuple[float, ...], **kwargs: Any) -> None:
        super().__init__(*args, prefix=self.way, **kwargs)
        self.ground, self.limits_pct = field, limits_pct

    def lie(self) -> Lie | None:
        """None where the form was refused, and now says why."""
        if not self.is_valid():
            return None
        try:
            return self.look(self.cleaned_data)
        except GroundError as error:
            places = {"run": "run_ft", "degrees": "reading", "projection": "projection"}
            place = places.get(error.asks or error.place, "")
            self.add_error(place if place in self.fields else None, error.words if place else str(error))
            return None

    def look(self, given: dict[str, Any]) -> Lie:
        raise NotImplementedError


class RiseForm(WayForm):
    way = "rise"
    rise_ft = forms.FloatField(label=gettext_lazy("Rise"), min_value=0, max_value=10_000)
    run_ft = forms.FloatField(label=gettext_lazy("Level run"), min_value=0, max_value=100_000)
    units = {"rise_ft": gettext_lazy("ft"), "run_ft": gettext_lazy("ft")}

    def look(self, given: dict[str, Any]) -> Lie:
        return by_rise(given["rise_ft"], given["run_ft"])


class ClinometerForm(WayForm):
    way = "clinometer"
    reading = forms.FloatField(label=gettext_lazy("Reading"), min_value=-200, max_value=200)
    unit = forms.ChoiceField(
        label=gettext_lazy("Read in"),
        choices=[("degrees", gettext_lazy("Degrees")), ("percent", gettext_lazy("Percent"))],
        widget=forms.RadioSelect,
    )
    narrow = ("reading",)

    def look(self, given: dict[str, Any]) -> Lie:
        return by_clinometer(given["reading"], given["unit"])


def _read(upload: Any, most_bytes: int) -> bytes:
    """Raises ValidationError before a file that is too large is read."""
    if upload.size > most_bytes:
        said = gettext("The file is {size} MB. Keep it to {most} MB.")
        raise ValidationError(said.format(size=f"{upload.size / 1e6:,.0f}", most=most_bytes // 1_000_000))
    return bytes(upload.read())


class WalkForm(WayForm):
    way = "walk"
    file = forms.FileField(
        label=gettext_lazy("Track"),
        help_text=gettext_lazy(
            "A GPX file with heights, up and down the steepest part, a point every 50 ft or less. "
            "Up to 10 MB."
        ),
        widget=forms.FileInput({"accept": ".gpx,.kml,.kmz,.geojson,.json"}),
        error_messages={"empty": gettext_lazy("The file is empty. Export the track again.")},
    )

    def look(self, given: dict[str, Any]) -> Lie:
        return by_walk(given["file"].name, given["data"], self.limits_pct)

    def clean(self) -> dict[str, Any]:
        data = super().clean() or self.cleaned_data
        return data | {"data": _read(data["file"], found.MOST_BYTES)} if "file" in data else data


class GridForm(WayForm):
    way = "grid"
    file = forms.FileField(
        label=gettext_lazy("Heights"),
        help_text=gettext_lazy(
            "A GeoTIFF of bare-ground heights that covers the field, north up. Up to 50 MB."
        ),
        widget=forms.FileInput({"accept": ".tif,.tiff"}),
        error_messages={"empty": gettext_lazy("The file is empty. Export the heights again.")},
    )
    projection = forms.CharField(
        label=gettext_lazy("Projection"),
        required=False,
        max_length=200,
        help_text=gettext_lazy("Only where the file does not state one, as EPSG:26915."),
    )
    height_unit = forms.ChoiceField(
        label=gettext_lazy("Heights are in"),
        required=False,
        choices=[
            ("", gettext_lazy("As the file states")),
            ("m", gettext_lazy("Meters")),
            ("ft", gettext_lazy("Feet")),
        ],
    )
    narrow = ("projection", "height_unit")

    def look(self, given: dict[str, Any]) -> Lie:
        outline = outline_of(self.ground)
        if outline is None:
            raise GroundError(
                gettext("The field has no outline to clip the heights to. Draw one, or bring one in.")
            )
        return by_grid(
            given["file"].name,
            given["data"],
            outline,
            self.limits_pct,
            projection=given["projection"],
            height_unit=given["height_unit"],
        )

    def clean(self) -> dict[str, Any]:
        data = super().clean() or self.cleaned_data
        return data | {"data": _read(data["file"], elevation.MOST_BYTES)} if "file" in data else data


WAYS: dict[str, type[WayForm]] = {form.way: form for form in (RiseForm, ClinometerForm, WalkForm, GridForm)}


class SlopeTakeForm(HouseForm, forms.ModelForm):
    """What goes into the field: seen, and changeable, before it is taken."""

    source = forms.CharField(max_length=300, widget=forms.HiddenInput)
    units = {"slope_pct": "%", "slope_length_ft": gettext_lazy("ft")}
    narrow = ("faces",)

    class Meta:
        model = Field
        fields = ["slope_pct", "slope_length_ft", "faces"]
        help_texts = {
            "slope_pct": gettext_lazy("The steepest part decides."),
            "slope_length_ft": gettext_lazy(
                "From the top to where the water slows or gathers; 0 where nobody knows."
            ),
        }


class SteepForm(HouseForm, forms.Form):
    """Which steep part of a field becomes a field of its own, out of those that a grid of heights found."""

    sealed = forms.CharField(widget=forms.HiddenInput)
    limit = forms.TypedChoiceField(label=gettext_lazy("Split off"), coerce=float, widget=forms.RadioSelect)
    name = forms.CharField(label=gettext_lazy("Name of the new field"), max_length=200)

    def __init__(self, *args: Any, field: Field, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.offers = offers_of(field, self["sealed"].value() or "")
        self.parts = {part.limit_pct: part for part in self.offers.parts} if self.offers else {}
        said = gettext(
            "What is steeper than {limit} %: {acres} acres, up to {steepest} %. "
            "The rest: {rest_acres} acres, up to {rest_steepest} %"
        )
        self.fields["limit"].choices = [  # type: ignore[attr-defined]
            (
                f"{limit:g}",
                said.format(
                    limit=f"{limit:g}",
                    acres=f"{part.acres:,.2f}",
                    steepest=f"{part.steepest_pct:g}",
                    rest_acres=f"{part.rest_acres:,.2f}",
                    rest_steepest=f"{part.rest_steepest_pct:g}",
                ),
            )
            for limit, part in self.parts.items()
        ]

    def clean(self) -> dict[str, Any]:
        if self.offers is None:
            self.errors.clear()
            raise ValidationError(
                gettext("What was found is no longer kept. Read the grid of heights again.")
            )
        return super().clean() or self.cleaned_data
