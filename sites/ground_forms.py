"""Forms of what is drawn: corners as text, which the map's script writes and anyone can type."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from django import forms
from django.core.exceptions import ValidationError
from django.utils.translation import gettext, gettext_lazy

from consulting.columns import between
from consulting.formkit import HouseForm
from sites.ground.bring_in import LARGEST_ACRES
from sites.ground.errors import GroundError
from sites.ground.outline import Outline, Point
from sites.ground.typed import Rings, doubt_of_place, outline_of_rings, read_corners
from sites.mapping import geometry_of_rings, in_one_line
from sites.models import Field, Landmark

ORDER = [
    ("latitude", gettext_lazy("Latitude first: 38.95120, -92.33410")),
    ("longitude", gettext_lazy("Longitude first: -92.33410, 38.95120")),
]
LONGEST_TEXT = 2_000_000
CORNERS_HELP = gettext_lazy(
    "One corner a line, in the order in which they are walked: decimal degrees, or degrees, minutes and "
    "seconds such as 38 57 04.3 N, 92 20 02.8 W. West is negative or has a W."
)


class CornersForm(HouseForm, forms.Form):
    """Corners of something on a farm; `expected` is where the farm lies.

    A place far from it is asked about, and taken once the person says that it does lie there.
    """

    order = forms.ChoiceField(
        label=gettext_lazy("Order of the two numbers"),
        choices=ORDER,
        widget=forms.RadioSelect,
        initial="latitude",
    )
    corners = forms.CharField(
        label=gettext_lazy("Corners"),
        help_text=CORNERS_HELP,
        max_length=LONGEST_TEXT,
        strip=False,
        widget=forms.Textarea({"spellcheck": "false", "autocomplete": "off"}),
    )
    lies_there = forms.BooleanField(
        label=gettext_lazy("It does lie there"), required=False, widget=forms.HiddenInput
    )
    seen = forms.CharField(required=False, widget=forms.HiddenInput)

    def __init__(self, *args: Any, expected: Point | None = None, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.expected = expected
        self.fields["corners"].widget.attrs["rows"] = 8

    def clean(self) -> dict[str, Any]:
        data = super().clean() or self.cleaned_data
        if "corners" not in data or "order" not in data:
            return data
        try:
            rings = read_corners(data["corners"], latitude_first=data["order"] == "latitude")
            doubt = doubt_of_place(rings[0][0], self.expected)
            if doubt:
                self.fields["lies_there"].widget = forms.CheckboxInput()
            if doubt and not data.get("lies_there"):
                self.add_error("corners", doubt)
            else:
                self.take(rings)
        except GroundError as error:
            self.add_error("corners", str(error))
        return data

    def take(self, rings: Rings) -> None:
        """Puts what the corners make into `cleaned_data`. Raises GroundError."""
        self.cleaned_data["rings"] = rings


class OutlineForm(CornersForm):
    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        more = gettext("An empty line begins a hole or another part.")
        self.fields["corners"].help_text = f"{CORNERS_HELP} {more}"

    def take(self, rings: Rings) -> None:
        self.cleaned_data["outline"], self.cleaned_data["mended"] = outline_of_rings(rings)

    @property
    def outline(self) -> Outline:
        return self.cleaned_data["outline"]

    def source(self, by: Any) -> str:
        """Where the outline is from, as it is kept with it."""
        return in_one_line(f"Drawn or typed by {by}", self.cleaned_data["mended"])


class NewOutlineForm(OutlineForm):
    """A new field by its outline; the rest can be told later."""

    name = forms.CharField(label=gettext_lazy("Name of the field"), max_length=200)
    cover = forms.ChoiceField(
        label=gettext_lazy("What grows there"), choices=[("", gettext_lazy("Choose one")), *Field.COVER]
    )

    field_order = ["name", "cover", "order", "corners"]


class LineForm(CornersForm):
    """A line that divides a field."""

    def take(self, rings: Rings) -> None:
        if len(rings) > 1 or len(rings[0]) < 2:
            raise GroundError(gettext("The dividing line is two corners or more, without an empty line."))
        self.cleaned_data["line"] = rings[0]


class PiecesForm(HouseForm, forms.Form):
    """Which pieces of a divided field become a new one, and its name."""

    name = forms.CharField(label=gettext_lazy("Name of the new field"), max_length=200)
    new = forms.TypedMultipleChoiceField(
        label=gettext_lazy("Pieces that become the new field"),
        coerce=int,
        widget=forms.CheckboxSelectMultiple,
    )

    def __init__(self, *args: Any, choices: Sequence[tuple[int, str]], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["new"].choices = choices  # type: ignore[attr-defined]

    def clean_new(self) -> list[int]:
        chosen = self.cleaned_data["new"]
        if len(chosen) == len(self.fields["new"].choices):  # type: ignore[attr-defined]
            raise ValidationError(gettext("Leave at least one piece to the old field."))
        return chosen


class AcresForm(HouseForm, forms.Form):
    """Acres by themselves, in place of an outline."""

    acres = forms.FloatField(label=gettext_lazy("Acres"), validators=between(0.01, LARGEST_ACRES))
    seen = forms.CharField(required=False, widget=forms.HiddenInput)
    units = {"acres": gettext_lazy("acres")}


class LandmarkForm(CornersForm):
    """What is drawn on a farm beside its fields."""

    MADE_OF = [
        ("point", gettext_lazy("A point: one corner")),
        ("line", gettext_lazy("A line")),
        ("area", gettext_lazy("An area")),
    ]
    kind = forms.ChoiceField(
        label=gettext_lazy("What it is"), choices=[("", gettext_lazy("Choose one")), *Landmark.KIND]
    )
    name = forms.CharField(label=gettext_lazy("Name"), max_length=200, required=False)
    made_of = forms.ChoiceField(
        label=gettext_lazy("Drawn as"), choices=MADE_OF, widget=forms.RadioSelect, initial="point"
    )
    notes = forms.CharField(label=gettext_lazy("Notes"), max_length=1000, required=False)

    field_order = ["kind", "name", "notes", "made_of", "order", "corners"]

    def take(self, rings: Rings) -> None:
        if "made_of" in self.cleaned_data:
            self.cleaned_data["shape"] = geometry_of_rings(rings, self.cleaned_data["made_of"])

    def values(self) -> dict[str, Any]:
        return {name: self.cleaned_data[name] for name in ("kind", "name", "notes", "shape", "seen")}
