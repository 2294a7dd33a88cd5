"""The form of an exclusion, and a landmark typed as coordinates."""

from __future__ import annotations

import re
from typing import Any

from django import forms
from django.core.exceptions import ValidationError
from django.utils.translation import gettext, gettext_lazy
from shapely.geometry import LineString, Point

from consulting.formkit import HouseForm
from sites.drawn import geometry_json
from sites.ground.errors import GroundError
from sites.ground.mending import mend
from sites.ground.outline import to_geometry
from sites.models import Exclusion, Field, Landmark

MOST_CORNERS = 500
DRAWN = [
    ("point", gettext_lazy("A point")),
    ("line", gettext_lazy("A line")),
    ("polygon", gettext_lazy("An area")),
]
DEGREES = r"([-+−]?\d{1,3}(?:\.\d{1,12})?)°?"
CORNER = re.compile(rf"{DEGREES}(?:\s*[,;]\s*|\s+){DEGREES}", re.ASCII)
LEAST = {"point": 1, "line": 2, "polygon": 3}


class CornersField(forms.CharField):
    """Latitude and longitude, a corner a line; the value is (longitude, latitude) pairs."""

    widget = forms.Textarea

    def to_python(self, value: Any) -> Any:
        typed = super().to_python(value)
        lines = [
            (number, line.strip())
            for number, line in enumerate((typed or "").splitlines(), 1)
            if line.strip()
        ]
        if len(lines) > MOST_CORNERS:
            said = gettext("Give at most {most} corners; these are {count}.")
            raise ValidationError(said.format(most=MOST_CORNERS, count=f"{len(lines):,}"))
        return [_corner(number, line) for number, line in lines]


def _corner(number: int, line: str) -> tuple[float, float]:
    match = CORNER.fullmatch(line)
    if not match:
        raise ValidationError(
            gettext(
                "Line {number}, “{line}”, is no corner. Write latitude, a comma and "
                "longitude in decimal degrees, such as 38.9517, -92.3341."
            ).format(number=number, line=line[:40])
        )
    latitude, longitude = (float(part.replace("−", "-")) for part in match.groups())
    if abs(latitude) > 90 or abs(longitude) > 180:
        raise ValidationError(
            gettext(
                "Line {number}, “{line}”, lies off the earth. Latitude comes first, from -90 to 90."
            ).format(number=number, line=line[:40])
        )
    return longitude, latitude


class ExclusionForm(HouseForm, forms.ModelForm):
    """How far which work stays away from what. Changing one, its landmark stays."""

    work = forms.MultipleChoiceField(
        label=gettext_lazy("Kinds of work that stay away"),
        choices=Exclusion.WORK,
        widget=forms.CheckboxSelectMultiple,
    )
    units = {"distance_ft": gettext_lazy("ft")}

    class Meta:
        model = Exclusion
        fields = ["distance_ft", "work", "reason"]
        labels = {
            "reason": gettext_lazy("Reason"),
        }
        help_texts = {
            "distance_ft": gettext_lazy(
                "From its edge; 0 for the thing itself. The product label’s distance goes first."
            ),
            "reason": gettext_lazy("Such as the label, the owner’s wish, wet ground."),
        }


class NewExclusionForm(ExclusionForm):
    """The same about a landmark of the farm, or about one that is typed here."""

    landmark = forms.ModelChoiceField(
        queryset=Landmark.objects.none(),
        required=False,
        label=gettext_lazy("Stays away from"),
        empty_label=gettext_lazy("Something not drawn yet: typed below"),
    )
    kind = forms.ChoiceField(
        label=gettext_lazy("What it is"),
        choices=[("", gettext_lazy("Choose")), *Landmark.KIND],
        required=False,
    )
    name = forms.CharField(label=gettext_lazy("Its name"), max_length=200, required=False)
    drawn = forms.ChoiceField(
        label=gettext_lazy("Drawn as"),
        choices=DRAWN,
        widget=forms.RadioSelect,
        required=False,
        initial="line",
    )
    corners = CornersField(
        label=gettext_lazy("Corners"),
        required=False,
        help_text=gettext_lazy(
            "Latitude and longitude in decimal degrees, a corner a line: 38.9517, -92.3341. West is negative."
        ),
    )
    leads = {
        "kind": gettext_lazy("If it is not drawn yet"),
        "distance_ft": gettext_lazy("How far, and for what"),
    }
    field_order = ["landmark", "kind", "name", "drawn", "corners", "distance_ft", "work", "reason"]

    def __init__(self, *args: Any, field: Field, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.initial["distance_ft"] = None
        theirs = Landmark.objects.filter(farm=field.farm_id)
        self.fields["landmark"].queryset = theirs  # type: ignore[attr-defined]
        self.fields["landmark"].label_from_instance = said_of  # type: ignore[attr-defined]

    def clean(self) -> dict[str, Any]:
        data = super().clean() or self.cleaned_data
        typed = {name: data.pop(name, None) for name in ("kind", "name", "drawn", "corners")}
        data["drawn"] = None
        if data.get("landmark") or {"landmark", "corners"} & set(self.errors):
            return data
        if not typed["kind"]:
            self.add_error("landmark", gettext("Choose what it stays away from, or say below what it is."))
            return data
        try:
            shape = shape_of(typed["drawn"] or "line", typed["corners"] or [])
        except GroundError as error:
            self.add_error("corners", str(error))
        else:
            data["drawn"] = {"kind": typed["kind"], "name": typed["name"] or "", "shape": shape}
        return data


def said_of(landmark: Landmark) -> str:
    """The name, and what it is where the name does not say."""
    kind = landmark.get_kind_display()
    return f"{landmark.name} ({kind.lower()})" if landmark.name else str(kind)


def shape_of(drawn: str, corners: list[tuple[float, float]]) -> dict[str, Any]:
    """Corners as GeoJSON. Raises GroundError for too few, or for an area whose edge crosses itself."""
    least = LEAST[drawn]
    if len(corners) < least or (drawn == "point" and len(corners) > 1):
        said = {
            "point": gettext("A point takes one corner; there are {count}."),
            "line": gettext("A line takes two corners or more; there are {count}."),
            "polygon": gettext("An area takes three corners or more; there are {count}."),
        }[drawn]
        raise GroundError(said.format(count=len(corners)))
    if drawn == "point":
        return geometry_json(Point(corners[0]))
    if drawn == "line":
        line = LineString(corners)
        if not line.length:
            raise GroundError(gettext("All corners lie at one place. Draw it as a point."))
        return geometry_json(line)
    return geometry_json(to_geometry(mend([[corners]])[0]))
