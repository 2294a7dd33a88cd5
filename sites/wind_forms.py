"""The form of the wind that prevails on a farm."""

from __future__ import annotations

from django import forms
from django.utils.translation import gettext_lazy

from consulting.formkit import HouseForm
from sites.models import PrevailingWind


class WindForm(HouseForm, forms.Form):
    season = forms.ChoiceField(label=gettext_lazy("Season"), choices=[("", "Choose"), *PrevailingWind.SEASON])
    comes_from = forms.ChoiceField(
        label=gettext_lazy("The wind mostly comes from the"),
        choices=[("", "Choose"), *PrevailingWind.COMES_FROM],
        help_text=gettext_lazy("As you know it on this farm; what was there for the season is replaced."),
    )
    narrow = ("season", "comes_from")
