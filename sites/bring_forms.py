"""Forms of bringing in a map file: the file, what it leaves in doubt, and what goes where."""

from __future__ import annotations

from typing import Any

from django import forms
from django.core.exceptions import ValidationError
from django.core.files.uploadedfile import UploadedFile
from django.utils.translation import gettext, gettext_lazy

from consulting.formkit import HouseForm
from sites.bringing import Goes, readable
from sites.ground.found import MOST_BYTES, Feature, Found
from sites.models import Farm, Field, Landmark
from sites.pictures import size_in_words

LEAVE, NEW = "leave", "new"


class BringInForm(HouseForm, forms.Form):
    file = forms.FileField(
        label=gettext_lazy("Map file"),
        help_text=gettext_lazy("GeoJSON, KML, KMZ, GPX, or a shapefile packed as zip; up to 10 MB."),
        widget=forms.FileInput({"accept": ".geojson,.json,.kml,.kmz,.gpx,.zip"}),
    )
    field: forms.ModelChoiceField[Field] = forms.ModelChoiceField(
        queryset=None, required=False, widget=forms.HiddenInput
    )

    def __init__(self, *args: Any, farm: Farm, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["field"].queryset = farm.fields.all()  # type: ignore[attr-defined]
        self.fields["file"].error_messages["empty"] = gettext("The file is empty. Export it again.")
        self.fields["file"].error_messages["required"] = gettext("Map file is missing. Choose one.")

    def clean_file(self) -> UploadedFile:
        file = self.cleaned_data["file"]
        if file.size > MOST_BYTES:
            raise ValidationError(
                gettext("The file is {size} MB. Bring in 10 MB at most: export only this farm.").format(
                    size=f"{file.size / 1000000.0:.1f}"
                )
            )
        return file


class DoubtForm(HouseForm, forms.Form):
    """What only a person can say of a file; asked by address, so that nothing is kept of it."""

    projection = forms.CharField(
        label=gettext_lazy("Projection"),
        max_length=40,
        required=False,
        help_text=gettext_lazy(
            "Its code, such as EPSG:26915 for UTM zone 15 north. Whoever made the file knows it."
        ),
    )
    order = forms.ChoiceField(
        label=gettext_lazy("Order of the two numbers"),
        choices=[
            ("longitude", gettext_lazy("Longitude first, as the format has it")),
            ("latitude", gettext_lazy("Latitude first")),
        ],
        widget=forms.RadioSelect,
        required=False,
        initial="longitude",
    )

    def answers(self) -> dict[str, Any]:
        """Arguments of `bring_in`."""
        said = self.cleaned_data if self.is_valid() else {}
        return {
            "projection": said.get("projection", ""),
            "latitude_first": said.get("order") == "latitude",
        }


class SortForm(HouseForm, forms.Form):
    """Where each part of a file goes."""

    cover = forms.ChoiceField(
        label=gettext_lazy("What grows on the new fields"),
        choices=[("", gettext_lazy("Choose one")), *Field.COVER],
        required=False,
    )
    sure = forms.BooleanField(label=gettext_lazy("It lies where it is meant to"), required=False)
    seen = forms.CharField(required=False, widget=forms.HiddenInput)

    def __init__(
        self, *args: Any, found: Found, fields: list[Field], wanted: Field | None, **kwargs: Any
    ) -> None:
        super().__init__(*args, **kwargs)
        self.found, self.of_farm = found, {f"outline-{row.pk}": row for row in fields}
        if not found.questions:
            del self.fields["sure"]
        if not found.outlines:
            del self.fields["cover"]
        for number, feature in enumerate(found.features):
            self._add(number, feature, wanted)

    def _add(self, number: int, feature: Feature, wanted: Field | None) -> None:
        name = readable(feature.name)
        choices: list[Any] = [(LEAVE, gettext("Leave it out"))]
        first = LEAVE
        if feature.outline:
            choices += [
                (key, gettext("The outline of {name}").format(name=row.name))
                for key, row in self.of_farm.items()
            ]
            choices.append((NEW, gettext("A new field")))
            same = next((key for key, row in self.of_farm.items() if row.name == name), NEW)
            alone = wanted is not None and len(self.found.outlines) == 1
            first = f"outline-{wanted.pk}" if alone and wanted else same
        choices.append((gettext("A landmark"), [(f"landmark-{kind}", said) for kind, said in Landmark.KIND]))
        where = forms.ChoiceField(
            label=gettext("Part {number} goes to").format(number=number + 1), choices=choices, initial=first
        )
        called = forms.CharField(
            label=gettext("Name of part {number}").format(number=number + 1),
            max_length=200,
            required=False,
            initial=name or (f"Field {number + 1}" if feature.outline else ""),
        )
        self.fields[f"where_{number}"], self.fields[f"name_{number}"] = where, called
        self.dress(f"where_{number}", where)
        self.dress(f"name_{number}", called)

    @property
    def rows(self) -> list[dict[str, Any]]:
        return [
            {
                "number": number + 1,
                "kind": feature.kind,
                "called": readable(feature.name),
                "size": size_in_words(feature),
                "repairs": [readable(said) for said in feature.repairs],
                "where": self[f"where_{number}"],
                "name": self[f"name_{number}"],
            }
            for number, feature in enumerate(self.found.features)
        ]

    def clean(self) -> dict[str, Any]:
        data = super().clean() or self.cleaned_data
        if "sure" in self.fields and not data.get("sure"):
            self.add_error(
                "sure", gettext("Answer the question above, or say that it lies where it is meant to.")
            )
        chosen = [data.get(f"where_{number}", "") for number in range(len(self.found.features))]
        if not self.errors and set(chosen) == {LEAVE}:
            raise ValidationError(gettext("Every part is left out. Choose where at least one goes."))
        if NEW in chosen and not data.get("cover"):
            self.add_error("cover", gettext("What grows on the new fields is missing. Choose one."))
        taken: set[str] = set()
        for number, where in enumerate(chosen):
            if where in self.of_farm and where in taken:
                name = self.of_farm[where].name
                self.add_error(
                    f"where_{number}",
                    gettext("{name} has an outline from another part. Choose one of them.").format(name=name),
                )
            taken.add(where)
            if where == NEW and not data.get(f"name_{number}"):
                self.add_error(
                    f"name_{number}",
                    gettext("Part {number} becomes a field and needs a name.").format(number=number + 1),
                )
        return data

    def goes(self) -> list[Goes]:
        found = []
        for number, feature in enumerate(self.found.features):
            where = self.cleaned_data[f"where_{number}"]
            if where != LEAVE:
                kind = where.removeprefix("landmark-") if where.startswith("landmark-") else ""
                name = self.cleaned_data[f"name_{number}"]
                found.append(Goes(feature, name, self.of_farm.get(where), kind))
        return found
