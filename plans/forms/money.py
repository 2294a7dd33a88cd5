"""The form that marks a payment as invoiced or paid."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import date
from typing import Any

from django import forms
from django.utils.translation import gettext_lazy as _

from consulting.formkit import HouseForm
from plans.models import StageMark
from plans.stages import StageRow


class StageForm(HouseForm, forms.Form):
    stage = forms.TypedChoiceField(label=_("Payment"), coerce=int)
    what = forms.ChoiceField(label=_("What happened"), choices=StageMark.What.choices)
    on = forms.DateField(label=_("Day"))

    narrow = ("on",)

    def __init__(self, data: Any = None, *, rows: Iterable[StageRow], today: date) -> None:
        super().__init__(data, initial={"on": today})
        choices = [(row.number, f"{row.stage.label}, {row.stage.amount.shown}") for row in rows]
        self.fields["stage"].choices = choices  # type: ignore[attr-defined]
