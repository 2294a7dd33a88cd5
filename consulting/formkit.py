"""Forms in the house style: single column, unit inside the field, errors that say how to mend."""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping
from functools import lru_cache
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


def whole_number(text: str) -> int | None:
    """A key or a count as an address or a tick sends it along; None for anything else, however it looks."""
    return int(text) if text.isascii() and text.isdigit() and len(text) < 10 else None


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
    if isinstance(field, forms.DateField):
        field.widget = forms.DateInput({"type": "date"}, format=_YEAR_FIRST)
    if isinstance(field.widget, forms.Textarea):
        field.widget.attrs["rows"] = 4
        field.widget.attrs.pop("cols", None)
    _speak(field, label)


def _speak(field: forms.Field, label: str) -> None:
    """Our words wherever the field has Django's own, which do not say of which field they speak."""
    kind: Any = type(field)
    usual = _usual(kind)
    for code, text in _words(kind, field.widget.is_hidden, label, get_language() or "").items():
        if field.error_messages.get(code) is usual.get(code):
            field.error_messages[code] = text


@lru_cache
def _usual(kind: Any) -> dict[str, Any]:
    found: dict[str, Any] = {}
    for one in reversed(kind.__mro__):
        found |= getattr(one, "default_error_messages", {})
    return found


FILLED_IN = frozenset(
    "invalid_choice invalid_pk_value null_characters_not_allowed min_value max_value min_length max_length "
    "max_digits max_whole_digits max_decimal_places".split()
)
"""Codes whose text Django fills values into, so that a percent sign of the label must be doubled."""


@lru_cache(maxsize=4096)
def _words(kind: Any, hidden: bool, label: str, language: str) -> dict[str, str]:
    """By code, in the language in force; kept, since a list that comes in makes a form for each row."""
    said = _texts(kind)
    if hidden:
        again = gettext("{label} did not come back as the page had it. Load the page again.")
        said = dict.fromkeys(said, again)
    named = {"limit": "%(limit_value)s", "length": "%(show_value)s", "most": "%(max)s", "given": "%(value)s"}
    by_validator = issubclass(kind, forms.EmailField | forms.URLField | forms.SlugField)
    filled_in = FILLED_IN | ({"invalid"} if by_validator else set())
    return {
        code: text.format(label=label.replace("%", "%%") if code in filled_in else label, **named)
        for code, text in said.items()
        if text
    }


def _texts(kind: Any) -> dict[str, str]:
    choose = gettext("{label} is missing. Choose one.")
    other = gettext("{label} cannot be that. Choose from what is offered.")
    long = gettext("{label} is {length} characters long. Keep it to {limit}.")
    if issubclass(kind, forms.FileField):
        long = gettext("{label}: the name of the file is too long. Give it a shorter one.")
    return {
        "required": choose
        if issubclass(kind, forms.ChoiceField)
        else gettext("{label} is missing. Fill it in."),
        "missing": choose,
        "empty": gettext("{label}: the file is empty. Choose another."),
        "contradiction": gettext("{label}: choose a file or remove it, not both."),
        "invalid": _invalid(kind),
        "invalid_choice": gettext("{label} cannot be “{given}”. Choose from what is offered."),
        **dict.fromkeys(("invalid_list", "invalid_pk_value"), other),
        "null_characters_not_allowed": gettext(
            "{label} holds a character that cannot be kept. Type it again."
        ),
        "min_value": gettext("{label} must be {limit} or more."),
        "max_value": gettext("{label} must be {limit} or less."),
        "min_length": gettext("{label} is {length} characters long. It needs {limit}."),
        "max_length": long,
        "max_digits": gettext("{label} has too many digits. Keep it to {most}."),
        "max_whole_digits": gettext("{label} is too large. Keep it to {most} digits before the point."),
        "max_decimal_places": gettext("{label} has too many decimals. Round it to {most}."),
    }


def _invalid(kind: Any) -> str:
    if issubclass(kind, forms.FloatField | forms.DecimalField):
        return gettext("{label} must be a number, such as 12.5.")
    if issubclass(kind, forms.IntegerField):
        return gettext("{label} must be a whole number, such as 12.")
    if issubclass(kind, forms.DateField):
        return gettext("{label} must be a day, such as 2027-04-17.")
    if issubclass(kind, forms.TimeField):
        return gettext("{label} must be a time of day, such as 14:30.")
    if issubclass(kind, forms.EmailField):
        return gettext("{label} must look like name@example.org.")
    if issubclass(kind, forms.URLField):
        return gettext("{label} must be an address, such as https://example.org.")
    if issubclass(kind, forms.SlugField):
        return gettext("{label} may hold letters, digits, hyphens and underscores, and nothing else.")
    if issubclass(kind, forms.FileField):
        return gettext("{label} did not come as a file. Choose it again.")
    # A text that nothing of Django's reads: what is wrong with it, a validator of ours says.
    return gettext("{label} cannot be read. Write it another way.") if "invalid" in _usual(kind) else ""


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


def refusal(said: str) -> forms.Form:
    """A form that holds nothing but why it was refused, for the summary at the head of a page."""
    form = forms.Form({})
    form.add_error(None, said)
    return form


def show_errors(form: forms.BaseForm, error: ValidationError) -> None:
    """Each message beside its field where the form has one, else at the top.

    A rule over several columns names the field to show it at as its code.
    """
    found = error.error_dict if hasattr(error, "error_dict") else {NON_FIELD_ERRORS: error.error_list}
    for name, messages in found.items():
        for message in messages:
            field = message.code if name == NON_FIELD_ERRORS else name
            said: Any = message
            if field in form.fields and message.code in ("blank", "null"):
                said = form.fields[field].error_messages["required"]
            form.add_error(field if field in form.fields else None, said)
