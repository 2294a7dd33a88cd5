"""The form of a stand count: throws as rows of small numbers, as many as are needed."""

from __future__ import annotations

from typing import Any
from uuid import uuid4

from django import forms
from django.utils.translation import gettext, gettext_lazy, ngettext

from consulting.formkit import HouseForm
from consulting.images import PHOTO_TYPES, as_jpeg
from plans.models import StandCount, Visit
from plans.planning.stand_count import FEWEST

AT_POINT = "at-point"
"""The list of fixed points that a browser offers."""
FIRST_ROWS, MORE_ROWS, MOST_ROWS = 12, 12, 120


class CountForm(HouseForm, forms.Form):
    uid = forms.UUIDField(widget=forms.HiddenInput, required=False)
    rows = forms.IntegerField(widget=forms.HiddenInput, required=False, min_value=1, max_value=MOST_ROWS)
    on = forms.DateField(label=gettext_lazy("Counted on"))
    method = forms.ChoiceField(
        label=gettext_lazy("How"), choices=StandCount.Method.choices, widget=forms.RadioSelect
    )
    aim = forms.ChoiceField(
        label=gettext_lazy("What the stand is for"), choices=StandCount.AIM, widget=forms.RadioSelect
    )
    cells = forms.IntegerField(
        label=gettext_lazy("Cells in a throw"),
        min_value=1,
        max_value=400,
        help_text=gettext_lazy("For the grid: 25 in a frame of 5 by 5 cells, each 6 inches."),
    )
    frame_sqft = forms.FloatField(
        label=gettext_lazy("Area of a quadrat"),
        min_value=0.01,
        max_value=1000,
        help_text=gettext_lazy("For quadrats."),
    )
    growth = forms.ChoiceField(
        label=gettext_lazy("What else grows there"), choices=StandCount.GROWTH, widget=forms.RadioSelect
    )
    notes = forms.CharField(label=gettext_lazy("What to remember"), max_length=1000, required=False)
    replaces: forms.ModelChoiceField[StandCount] = forms.ModelChoiceField(
        label=gettext_lazy("Put in place of a wrong count"),
        queryset=None,
        required=False,
        empty_label=gettext_lazy("No, this is a count of its own"),
    )

    units = {"frame_sqft": "ft²"}
    narrow = ("on", "cells")

    def __init__(self, data: Any = None, *, visit: Visit, aim: str, today: Any) -> None:
        first = {
            "uid": uuid4(),
            "rows": FIRST_ROWS,
            "on": today,
            "method": "grid",
            "aim": aim,
            "cells": 25,
            "frame_sqft": 1.0,
            "growth": "clean",
        }
        super().__init__(data, initial=first, auto_id="count-%s")
        self.today = today
        standing = StandCount.objects.filter(visit=visit, replaced_by__isnull=True)
        self.fields["replaces"].queryset = standing  # type: ignore[attr-defined]
        if not standing.exists():
            del self.fields["replaces"]
        for place in range(self.row_count):
            field = forms.IntegerField(
                label=gettext("Throw {number}").format(number=place + 1),
                min_value=0,
                max_value=10_000,
                required=False,
            )
            self.fields[f"throw{place}"] = field
            self.dress(f"throw{place}", field)

    @property
    def row_count(self) -> int:
        typed = str(self.data.get("rows", "")) if self.is_bound else ""
        rows = int(typed) if typed.isascii() and typed.isdigit() and len(typed) < 5 else FIRST_ROWS
        return min(max(rows, 1) + (MORE_ROWS if "more" in self.data else 0), MOST_ROWS)

    @property
    def throws(self) -> list[Any]:
        return [self[f"throw{place}"] for place in range(self.row_count)]

    @property
    def before(self) -> list[Any]:
        return [self[name] for name in ("on", "method", "cells", "frame_sqft", "aim")]

    @property
    def after(self) -> list[Any]:
        return [self[name] for name in ("growth", "notes", "replaces") if name in self.fields]

    def clean_on(self) -> Any:
        if self.cleaned_data["on"] > self.today:
            raise forms.ValidationError(gettext("That day is still to come. Enter the day of the count."))
        return self.cleaned_data["on"]

    def clean(self) -> dict[str, Any]:
        typed = super().clean() or self.cleaned_data
        method, cells = typed.get("method"), typed.get("cells")
        counted = []
        for place in range(self.row_count):
            hits = typed.get(f"throw{place}")
            if hits is None:
                continue
            counted.append(hits)
            if method == "grid" and cells and hits > cells:
                self.add_error(
                    f"throw{place}",
                    gettext(
                        "Throw {throw} has {hits} hits in {cells} cells. Correct it, or the cells."
                    ).format(throw=place + 1, hits=hits, cells=cells),
                )
        fewest = FEWEST.get(method or "", 1)
        if len(counted) < fewest and not any(name.startswith("throw") for name in self.errors):
            few = ngettext(
                "Enter the count of at least {number} throw.",
                "Enter the count of at least {number} throws.",
                fewest,
            )
            self.add_error("throw0", few.format(number=fewest))
        return typed

    def values(self) -> dict[str, Any]:
        names = ("on", "method", "aim", "cells", "frame_sqft", "growth", "notes")
        hits = (self.cleaned_data.get(f"throw{place}") for place in range(self.row_count))
        return {
            **{name: self.cleaned_data[name] for name in names},
            "replaces": self.cleaned_data.get("replaces"),
            "throws": [count for count in hits if count is not None],
        }


class PointPhotoForm(HouseForm, forms.Form):
    """A photograph of the stand from a fixed point. `photo` is cleaned to one of ours."""

    point = forms.CharField(
        label=gettext_lazy("Fixed point"),
        max_length=200,
        help_text=gettext_lazy(
            "The same name every year, such as gate post, looking north. It stands beside the "
            "photographs of earlier years."
        ),
        widget=forms.TextInput({"list": AT_POINT, "autocomplete": "off"}),
    )
    photo = forms.FileField(
        label=gettext_lazy("Photograph"),
        help_text=gettext_lazy(
            "PNG, JPEG, WebP, GIF or HEIC up to 12 MB. It is made smaller; what the camera wrote into "
            "it is dropped."
        ),
        widget=forms.FileInput({"accept": PHOTO_TYPES}),
    )
    located = forms.BooleanField(
        label=gettext_lazy("Keep where it was taken"),
        required=False,
        help_text=gettext_lazy("Reads the place that the camera wrote. Left empty, nobody reads it."),
    )

    def clean(self) -> dict[str, Any]:
        typed = super().clean() or self.cleaned_data
        if upload := typed.get("photo"):
            try:
                typed["photo"] = as_jpeg(upload, with_place=bool(typed.get("located")))
            except forms.ValidationError as wrong:
                self.add_error("photo", wrong)
        return typed
