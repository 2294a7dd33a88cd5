"""Forms of the work, in the house style of `consulting.formkit`."""

from __future__ import annotations

from django import forms
from django.utils.functional import Promise

from consulting.formkit import HouseForm


def put(form: HouseForm, name: str, field: forms.Field, unit: str | Promise = "") -> None:
    """Add or replace a field after the form was made, dressed like the others."""
    form.dress(name, field, unit or form.units.get(name, ""))
    form.fields[name] = field
