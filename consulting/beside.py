"""What was typed into a form beside what stands there now, field by field."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from datetime import date
from typing import Any

from django import forms
from django.forms.boundfield import BoundField
from django.utils.dateparse import parse_date
from django.utils.formats import date_format
from django.utils.translation import gettext as _


@dataclass(frozen=True, slots=True)
class Beside:
    """A field in words; empty where nothing stands in it."""

    name: str
    label: str
    now: str
    typed: str
    value: str = ""
    """What was sent."""


def beside(typed: Any) -> list[Beside]:
    """The fields in which a bound form differs from its records as they are; no hidden ones and no files."""
    stands = typed.as_it_stands()
    names = [*typed.fields, *(name for name in stands.fields if name not in typed.fields)]
    found = [row for name in names if (row := _field_beside(typed, stands, name))]
    return [*found, *typed.also_beside()]


def typed_into(form: Any) -> list[tuple[str, str]]:
    """Labels and texts of what stands in the visible fields of a bound form, with units; no files."""
    bound = [one for one in form.visible_fields() if not isinstance(one.field, forms.FileField)]
    told = [
        (form.told_as(one.name), in_words(one, one.data), getattr(one.field, "unit", ""))
        for one in bound
        if one.data
    ]
    return [(label, f"{text} {unit}".strip()) for label, text, unit in told if text]


def _field_beside(typed: Any, stands: Any, name: str) -> Beside | None:
    mine = typed[name] if name in typed.fields else None
    now = stands[name] if name in stands.fields else None
    either: Any = mine or now
    if either.is_hidden or isinstance(either.field, forms.FileField):
        return None
    stood = in_words(now, now.initial) if now else ""
    wrote = in_words(mine, mine.data) if mine else ""
    if stood == wrote or (mine and now and not mine.field.has_changed(now.initial, mine.data)):
        return None
    return Beside(name, str(either.label), stood, wrote, str(mine.data) if mine else "")


def in_words(bound: BoundField, value: Any) -> str:
    """A value as a reader would see it in its field."""
    field: Any = bound.field
    if hasattr(field, "in_words"):
        return str(field.in_words(value))
    if isinstance(value, bool) or isinstance(field, forms.BooleanField):
        return _("yes") if value else _("no")
    if isinstance(field, forms.DateField):
        return _day(value)
    values = value if isinstance(value, list | tuple | set) else [value]
    if isinstance(field, forms.ModelChoiceField | forms.ModelMultipleChoiceField):
        values = [field.prepare_value(one) for one in values]
    if hasattr(field, "choices"):
        labels = dict(_flat(field.choices))
        texts = [labels.get(str(one), "" if one is None else str(one)) for one in values]
        return ", ".join(text for text in texts if text)
    texts = [str(field.widget.format_value(one) or "") for one in values]
    return "\n".join(", ".join(text for text in texts if text).split("\r\n")).strip()


def _day(value: Any) -> str:
    """A day in words; what is none stays as it was typed."""
    try:
        day = value if isinstance(value, date) else parse_date(str(value or ""))
    except ValueError:
        day = None
    return date_format(day, "DATE_FORMAT") if day else str(value or "")


def _flat(choices: Iterable[Any]) -> Iterator[tuple[str, str]]:
    for value, label in choices:
        if isinstance(label, list | tuple):
            yield from _flat(label)
        else:
            yield str(value), str(label) if str(value) else ""


def typed_in_words(data: Mapping[str, Any]) -> list[tuple[str, str]]:
    """Names and texts of what a form held whose record is gone, as far as a person typed it."""
    rows = [
        (_as_label(name), ", ".join(texts))
        for name, texts in data.lists()  # type: ignore[attr-defined]
        if name not in ("csrfmiddlewaretoken", "once", "opened", "came_from", "uid")
    ]
    return [(name, text) for name, text in rows if text.strip()]


def _as_label(name: str) -> str:
    """The name of a field as a label, in the language in force where that is known."""
    label = name.rpartition("-")[2].replace("_", " ").capitalize()
    return _(label) if label else label
