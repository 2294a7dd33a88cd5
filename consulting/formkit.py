"""Forms in the house style: single column, unit inside the field, errors that say how to mend."""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping
from typing import Any, TypeVar

from django import forms
from django.core.exceptions import NON_FIELD_ERRORS, ValidationError
from django.utils.functional import Promise
from django.utils.text import capfirst
from django.utils.translation import get_language, gettext

from consulting.on_records import OnRecords

T = TypeVar("T")
_GROUPED = re.compile(r"^[+-]?\d{1,3}(,\d{3})+(\.\d*)?$")
_YEAR_FIRST = "%Y-%m-%d"


class NumberInput(forms.TextInput):
    """A typed number: no spinner, a number pad on phones, `1,200` and `$25` understood."""

    def __init__(self, attrs: Mapping[str, Any] | None = None) -> None:
        super().__init__({"inputmode": "decimal", "autocomplete": "off", **(attrs or {})})

    def value_from_datadict(self, data: Any, files: Any, name: str) -> Any:
        value = super().value_from_datadict(data, files, name)
        if isinstance(value, str):
            value = value.strip().removeprefix("$").removesuffix("%").strip()
            if _GROUPED.match(value):
                value = value.replace(",", "")
        return value

    def format_value(self, value: Any) -> str | None:
        if isinstance(value, float) and value == int(value):
            return str(int(value))
        return super().format_value(value)


class HouseForm(OnRecords):
    """Mixin for Form and ModelForm.

    `units` puts a unit inside the named fields, `leads` starts a group before the named field,
    `narrow` names fields that take a short answer.
    """

    units: Mapping[str, str | Promise] = {}
    leads: Mapping[str, str | Promise] = {}
    narrow: tuple[str, ...] = ()

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        for name, field in self.fields.items():
            self.dress(name, field, unit=self.units.get(name, ""))

    def dress(self, name: str, field: forms.Field, unit: str | Promise = "") -> None:
        """House words and widgets for one field; forms that add fields later call it themselves."""
        _dress(name, field)
        field.unit = str(unit)  # type: ignore[attr-defined]
        field.lead = str(self.leads.get(name, ""))  # type: ignore[attr-defined]
        field.short = bool(unit) or name in self.narrow  # type: ignore[attr-defined]


def _dress(name: str, field: forms.Field) -> None:
    """Give a field our widgets, and our words for what can be wrong with it in the language in force."""
    field.label = label = capfirst(gettext(str(field.label or name.replace("_", " "))))
    if field.help_text:
        field.help_text = gettext(str(field.help_text))
    if isinstance(field, forms.ChoiceField) and not isinstance(field, forms.ModelChoiceField):
        if not (get_language() or "en").startswith("en"):
            field.choices = [_choice(choice) for choice in field.choices]  # type: ignore[arg-type, union-attr]
    if isinstance(field, forms.FloatField | forms.DecimalField | forms.IntegerField):
        if isinstance(field.widget, forms.NumberInput):
            field.widget = NumberInput(field.widget.attrs if field.widget.attrs.get("autocomplete") else None)
            field.widget.is_required = field.required
        field.error_messages["invalid"] = gettext("{label} must be a number, such as 12.5.").format(
            label=label
        )
    if isinstance(field, forms.IntegerField) and not isinstance(field, forms.FloatField | forms.DecimalField):
        whole = gettext("{label} must be a whole number, such as 12.")
        field.error_messages["invalid"] = whole.format(label=label)
    if isinstance(field, forms.DateField):
        field.widget = forms.DateInput({"type": "date"}, format=_YEAR_FIRST)
        field.error_messages["invalid"] = gettext("{label} must be a day, such as 2027-04-17.").format(
            label=label
        )
    if isinstance(field, forms.EmailField):
        looks = gettext("{label} must look like name@example.org.")
        field.error_messages["invalid"] = looks.format(label=label)
    missing = (
        gettext("{label} is missing. Choose one.")
        if isinstance(field, forms.ChoiceField)
        else gettext("{label} is missing. Fill it in.")
    )
    field.error_messages["required"] = missing.format(label=label)
    field.error_messages["min_value"] = _limit(gettext("{label} must be {limit} or more."), label)
    field.error_messages["max_value"] = _limit(gettext("{label} must be {limit} or less."), label)
    long = gettext("{label} is {length} characters long. Keep it to {limit}.")
    field.error_messages["max_length"] = _limit(long, label)
    if isinstance(field.widget, forms.Textarea):
        field.widget.attrs["rows"] = 4
        field.widget.attrs.pop("cols", None)


def _limit(text: str, label: str) -> str:
    """As a validator fills it in."""
    label = label.replace("%", "%%")
    return text.format(label=label, limit="%(limit_value)s", length="%(show_value)s")


def _choice(choice: tuple[Any, Any]) -> tuple[Any, Any]:
    """A choice, or a group of choices, in the language in force."""
    value, label = choice
    if isinstance(label, list | tuple):
        return gettext(str(value)) if value else value, [_choice(one) for one in label]
    return value, gettext(label) if isinstance(label, str) and label else label


def attempt(form: forms.BaseForm, service: Callable[..., T], **kwargs: Any) -> T | None:
    """Call a service with the form's cleaned values; what it refuses becomes errors of the form.

    None when it refused.
    """
    try:
        return service(**kwargs, **form.cleaned_data)
    except ValidationError as error:
        show_errors(form, error)
        return None


def show_errors(form: forms.BaseForm, error: ValidationError) -> None:
    """Each message beside its field where the form has one, else at the top.

    A rule over several columns names the field to show it at as its code.
    """
    found = error.error_dict if hasattr(error, "error_dict") else {NON_FIELD_ERRORS: error.error_list}
    for name, messages in found.items():
        for message in messages:
            field = message.code if name == NON_FIELD_ERRORS else name
            form.add_error(field if field in form.fields else None, message)
