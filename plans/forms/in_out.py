"""Forms of a list that comes in: the file, and which column is which."""

from __future__ import annotations

from decimal import Decimal
from typing import TYPE_CHECKING, Any

from django import forms
from django.core.exceptions import ValidationError
from django.core.files.uploadedfile import UploadedFile
from django.utils.translation import gettext, gettext_lazy

from consulting.formkit import HouseForm
from plans.forms.prices import species_choices
from plans.in_out.reading import MOST_BYTES, Sheet
from plans.models import StockLot
from plans.models.mixes import Basis, RateIsFor

if TYPE_CHECKING:
    from plans.in_out.kinds import Column

AS_IT_SEEMS = ""
MARKS = [
    (AS_IT_SEEMS, gettext_lazy("As the file seems to have it")),
    ("point", gettext_lazy("Point: 12.5")),
    ("comma", gettext_lazy("Comma: 12,5")),
]


class ListForm(HouseForm, forms.Form):
    file = forms.FileField(
        label=gettext_lazy("List"),
        help_text=gettext_lazy("CSV or a workbook (.xlsx), up to 10 MB and 20,000 rows, column names above."),
        widget=forms.FileInput({"accept": ".csv,.tsv,.txt,.xlsx"}),
    )

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["file"].error_messages["empty"] = gettext("The file is empty. Save the list again.")
        self.fields["file"].error_messages["required"] = gettext("List is missing. Choose a file.")

    def clean_file(self) -> UploadedFile:
        file = self.cleaned_data["file"]
        if file.size > MOST_BYTES:
            raise ValidationError(
                gettext("The file has {size} MB; 10 MB is the most. Divide the list.").format(
                    size=f"{file.size / 1000000.0:.1f}"
                )
            )
        return file


class MatchForm(HouseForm, forms.Form):
    """Which column of the file is which of ours."""

    mark = forms.ChoiceField(label=gettext_lazy("Numbers have a"), choices=MARKS, required=False)

    def __init__(self, *args: Any, columns: tuple[Column, ...], sheet: Sheet, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.columns = columns
        firsts = sheet.rows[0].cells
        heads = [
            (
                str(at),
                f"{head or f'column {at + 1}'} ({firsts[at][:30]})"
                if firsts[at]
                else head or f"column {at + 1}",
            )
            for at, head in enumerate(sheet.heads)
        ]
        for column in columns:
            self.fields[column.name] = forms.ChoiceField(
                label=column.title,
                choices=[("", gettext("Not in this file")), *heads],
                required=column.required,
                help_text=column.told,
            )
            self.dress(column.name, self.fields[column.name])
        self.order_fields([*(column.name for column in columns), "mark"])

    def matched(self) -> dict[str, int]:
        return {
            column.name: int(self.cleaned_data[column.name])
            for column in self.columns
            if self.cleaned_data.get(column.name)
        }

    def decimal_comma(self) -> bool | None:
        return {"point": False, "comma": True}.get(self.cleaned_data["mark"])


class MixLineForm(HouseForm, forms.Form):
    """A line of a mix, with what the whole mix is."""

    name = forms.CharField(label=gettext_lazy("Mix"), max_length=200)
    basis = forms.ChoiceField(label=gettext_lazy("Amounts are"), choices=Basis.choices)
    seeds_per_sqft = forms.FloatField(label=gettext_lazy("Live seeds per square foot"), required=False)
    rate_is_for = forms.ChoiceField(
        label=gettext_lazy("Rate is for seed that is"), choices=RateIsFor.choices, required=False
    )
    species = forms.ChoiceField(label=gettext_lazy("Species"))
    amount = forms.FloatField(label=gettext_lazy("Amount"), min_value=0.000001, max_value=1e9)

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["species"].choices = species_choices()  # type: ignore[attr-defined]


class StockForm(HouseForm, forms.Form):
    kind = forms.ChoiceField(label=gettext_lazy("Kind"), choices=StockLot.Kind.choices, required=False)
    name = forms.CharField(
        label=gettext_lazy("What it is"), max_length=300, help_text=gettext_lazy("As the price list has it.")
    )
    lot = forms.CharField(label=gettext_lazy("Lot or batch number"), max_length=200, required=False)
    on_hand = forms.DecimalField(
        label=gettext_lazy("On hand"),
        min_value=Decimal(0),
        max_digits=12,
        decimal_places=4,
        help_text=gettext_lazy("Seed as it weighs, in bulk pounds."),
    )
    purity_pct = forms.FloatField(label=gettext_lazy("Purity"), required=False)
    germination_pct = forms.FloatField(label=gettext_lazy("Germination"), required=False)
    dormant_pct = forms.FloatField(label=gettext_lazy("Dormant or hard seed"), required=False)
    tested_on = forms.DateField(label=gettext_lazy("Tested on"), required=False)
    notes = forms.CharField(label=gettext_lazy("Notes"), max_length=2000, required=False)
    units = {"purity_pct": "%", "germination_pct": "%", "dormant_pct": "%"}


class VisitForm(HouseForm, forms.Form):
    """Only the day comes in; the rest of a visit follows from its plan and from what is recorded."""

    visit = forms.IntegerField(
        label=gettext_lazy("Visit"), help_text=gettext_lazy("Its number, from the list that went out.")
    )
    booked_on = forms.DateField(
        label=gettext_lazy("Booked for"),
        required=False,
        help_text=gettext_lazy("Empty takes it off the calendar."),
    )
