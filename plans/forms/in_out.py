"""Forms of a list that comes in: the file, and which column is which."""

from __future__ import annotations

from typing import Any

from django import forms
from django.core.exceptions import ValidationError
from django.core.files.uploadedfile import UploadedFile

from consulting.formkit import HouseForm
from plans.in_out.kinds import Column
from plans.in_out.reading import MOST_BYTES, Sheet

AS_IT_SEEMS = ""
MARKS = [(AS_IT_SEEMS, "As the file seems to have it"), ("point", "Point: 12.5"), ("comma", "Comma: 12,5")]


class ListForm(HouseForm, forms.Form):
    file = forms.FileField(
        label="List",
        help_text="CSV or a workbook (.xlsx), up to 10 MB and 20,000 rows, column names above.",
        widget=forms.FileInput({"accept": ".csv,.tsv,.txt,.xlsx"}),
    )

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["file"].error_messages["empty"] = "The file is empty. Save the list again."
        self.fields["file"].error_messages["required"] = "List is missing. Choose a file."

    def clean_file(self) -> UploadedFile:
        file = self.cleaned_data["file"]
        if file.size > MOST_BYTES:
            raise ValidationError(
                f"The file has {file.size / 1e6:.1f} MB; 10 MB is the most. Divide the list."
            )
        return file


class MatchForm(HouseForm, forms.Form):
    """Which column of the file is which of ours."""

    mark = forms.ChoiceField(label="Numbers have a", choices=MARKS, required=False)

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
                choices=[("", "Not in this file"), *heads],
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
