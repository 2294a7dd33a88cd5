"""The form of the wind that prevails on a farm."""

from __future__ import annotations

from django import forms
from django.utils.translation import gettext_lazy as _

from consulting.formkit import HouseForm
from sites.models import PrevailingWind


class WindForm(HouseForm, forms.Form):
    season = forms.ChoiceField(label=_("Season"), choices=[("", _("Choose")), *PrevailingWind.SEASON])
    comes_from = forms.ChoiceField(
        label=_("The wind mostly comes from the"),
        choices=[("", _("Choose")), *PrevailingWind.COMES_FROM],
        help_text=_("As you know it on this farm; what was there for the season is replaced."),
    )
    narrow = ("season", "comes_from")
