"""What a fitting is asked: which days, how long a day, how long to look. And days off."""

from __future__ import annotations

from datetime import date, timedelta
from typing import Any

from django import forms
from django.utils.translation import gettext, gettext_lazy

from consulting.formkit import HouseForm
from consulting.models import Membership
from plans.models import DayOff
from plans.taken import LONGEST_DAY_HOURS

USUAL_DAYS, MOST_DAYS = 120, 400


class FittingForm(HouseForm, forms.Form):
    first = forms.DateField(label=gettext_lazy("First day"))
    last = forms.DateField(label=gettext_lazy("Last day"))
    working_hours = forms.FloatField(
        label=gettext_lazy("Hours worked in a day"), min_value=1, max_value=LONGEST_DAY_HOURS
    )
    saturdays = forms.BooleanField(label=gettext_lazy("Saturdays are worked"), required=False)
    seconds = forms.IntegerField(label=gettext_lazy("Look for at most"), min_value=1, max_value=600)

    units = {"working_hours": gettext_lazy("hours"), "seconds": gettext_lazy("seconds")}
    narrow = ("first", "last")

    def __init__(self, data: Any = None, *, today: date) -> None:
        usual = {
            "first": today,
            "last": today + timedelta(days=USUAL_DAYS),
            "working_hours": 9.0,
            "saturdays": True,
            "seconds": 60,
        }
        super().__init__(data, initial=usual)

    def clean(self) -> dict[str, Any]:
        cleaned = self.cleaned_data
        first, last = cleaned.get("first"), cleaned.get("last")
        if first and last and not 0 < (last - first).days <= MOST_DAYS:
            self.add_error(
                "last",
                gettext("The last day must come after the first, within {days} days.").format(days=MOST_DAYS),
            )
        return cleaned


class DayOffForm(HouseForm, forms.ModelForm):
    member: forms.ModelChoiceField[Membership] = forms.ModelChoiceField(
        label=gettext_lazy("Who"), queryset=None
    )

    class Meta:
        model = DayOff
        fields = ["first", "last"]

    field_order = ("member",)
    narrow = ("first", "last")

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        members = Membership.objects.select_related("user").order_by("user__name", "pk")
        self.fields["member"].queryset = members  # type: ignore[attr-defined]
        self.fields["member"].label_from_instance = lambda member: str(member.user)  # type: ignore[attr-defined]

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or self.cleaned_data
        self.instance.member = cleaned.get("member")
        return cleaned
