"""What a person types to show that they mean to erase a practice."""

from __future__ import annotations

from django import forms
from django.utils.translation import gettext_lazy as _

from consulting.formkit import HouseForm


class EraseForm(HouseForm, forms.Form):
    name = forms.CharField(
        label=_("Name of the practice"), max_length=200, widget=forms.TextInput({"autocomplete": "off"})
    )
