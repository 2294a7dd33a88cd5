"""The ways of finding how steep a field is, each a form that answers with a `Lie`, and the taking of one."""

from __future__ import annotations

from typing import Any, ClassVar

from django import forms
from django.core.exceptions import ValidationError

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
    rise_ft = forms.FloatField(label="Rise", min_value=0, max_value=10_000)
    run_ft = forms.FloatField(label="Level run", min_value=0, max_value=100_000)
    units = {"rise_ft": "ft", "run_ft": "ft"}

    def look(self, given: dict[str, Any]) -> Lie:
        return by_rise(given["rise_ft"], given["run_ft"])


class ClinometerForm(WayForm):
    way = "clinometer"
    reading = forms.FloatField(label="Reading", min_value=-200, max_value=200)
    unit = forms.ChoiceField(
        label="Read in",
        choices=[("degrees", "Degrees"), ("percent", "Percent")],
        widget=forms.RadioSelect,
    )
    narrow = ("reading",)

    def look(self, given: dict[str, Any]) -> Lie:
        return by_clinometer(given["reading"], given["unit"])


def _read(upload: Any, most_bytes: int) -> bytes:
    """Raises ValidationError before a file that is too large is read."""
    if upload.size > most_bytes:
        raise ValidationError(
            f"The file is {upload.size / 1e6:,.0f} MB. Keep it to {most_bytes // 1_000_000} MB."
        )
    return bytes(upload.read())


class WalkForm(WayForm):
    way = "walk"
    file = forms.FileField(
        label="Track",
        help_text="A GPX file with heights, up and down the steepest part, a point every 50 ft or less. "
        "Up to 10 MB.",
        widget=forms.FileInput({"accept": ".gpx,.kml,.kmz,.geojson,.json"}),
        error_messages={"empty": "The file is empty. Export the track again."},
    )

    def look(self, given: dict[str, Any]) -> Lie:
        return by_walk(given["file"].name, given["data"], self.limits_pct)

    def clean(self) -> dict[str, Any]:
        data = super().clean() or self.cleaned_data
        return data | {"data": _read(data["file"], found.MOST_BYTES)} if "file" in data else data


class GridForm(WayForm):
    way = "grid"
    file = forms.FileField(
        label="Heights",
        help_text="A GeoTIFF of bare-ground heights that covers the field, north up. Up to 50 MB.",
        widget=forms.FileInput({"accept": ".tif,.tiff"}),
        error_messages={"empty": "The file is empty. Export the heights again."},
    )
    projection = forms.CharField(
        required=False, max_length=200, help_text="Only where the file does not state one, as EPSG:26915."
    )
    height_unit = forms.ChoiceField(
        label="Heights are in",
        required=False,
        choices=[("", "As the file states"), ("m", "Meters"), ("ft", "Feet")],
    )
    narrow = ("projection", "height_unit")

    def look(self, given: dict[str, Any]) -> Lie:
        outline = outline_of(self.ground)
        if outline is None:
            raise GroundError("The field has no outline to clip the heights to. Draw one, or bring one in.")
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
    units = {"slope_pct": "%", "slope_length_ft": "ft"}
    narrow = ("faces",)

    class Meta:
        model = Field
        fields = ["slope_pct", "slope_length_ft", "faces"]
        help_texts = {
            "slope_pct": "The steepest part decides.",
            "slope_length_ft": "From the top to where the water slows or gathers; 0 where nobody knows.",
        }


class SteepForm(HouseForm, forms.Form):
    """Which steep part of a field becomes a field of its own, out of those that a grid of heights found."""

    sealed = forms.CharField(widget=forms.HiddenInput)
    limit = forms.TypedChoiceField(label="Split off", coerce=float, widget=forms.RadioSelect)
    name = forms.CharField(label="Name of the new field", max_length=200)

    def __init__(self, *args: Any, field: Field, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.offers = offers_of(field, self["sealed"].value() or "")
        self.parts = {part.limit_pct: part for part in self.offers.parts} if self.offers else {}
        self.fields["limit"].choices = [  # type: ignore[attr-defined]
            (
                f"{limit:g}",
                f"What is steeper than {limit:g} %: {part.acres:,.2f} acres, up to {part.steepest_pct:g} %. "
                f"The rest: {part.rest_acres:,.2f} acres, up to {part.rest_steepest_pct:g} %",
            )
            for limit, part in self.parts.items()
        ]

    def clean(self) -> dict[str, Any]:
        if self.offers is None:
            self.errors.clear()
            raise ValidationError("What was found is no longer kept. Read the grid of heights again.")
        return super().clean() or self.cleaned_data
