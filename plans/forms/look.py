"""Forms for a practice's look and its own words."""

from __future__ import annotations

from typing import Any

from django import forms
from django.utils.translation import gettext_lazy as _

from consulting.formkit import HouseForm
from plans.models import PracticeLook
from plans.models.look import MOST_WORDS, check_words

COLOURS = ("main", "accent")


class LookForm(HouseForm, forms.ModelForm):
    class Meta:
        model = PracticeLook
        fields = ["main", "accent", "beside", "below", "foot"]
        widgets = {name: forms.TextInput({"type": "color"}) for name in COLOURS}
        help_texts = {
            "main": _("Headings, rules, and what is planted in the drawings."),
            "accent": _("Words that stand out; a lighter shade of it draws the old cover."),
            "beside": _(
                "Line by line, at the right of the letterhead. Leave it empty for your address, "
                "telephone, e-mail and license."
            ),
            "below": _("A line or two in small print, such as what you do."),
            "foot": _("Leave it empty for your name."),
        }

    leads = {"main": _("Colors"), "beside": _("Letterhead and foot")}
    narrow = COLOURS

    def __init__(self, data: Any = None, **kwargs: Any) -> None:
        super().__init__(data, **kwargs)
        self.on_records(self.instance)
        self.shades: dict[str, str] = {}
        """By color, the nearest shade that can be read."""

    def _update_errors(self, errors: Any) -> None:
        for name, found in getattr(errors, "error_dict", {}).items():
            for error in found:
                if nearest := (error.params or {}).get("nearest"):
                    self.shades[name] = nearest
        super()._update_errors(errors)  # type: ignore[misc]


def with_shades(data: Any) -> Any:
    """What was typed, with the shades that were taken in place of colors that cannot be read."""
    data = data.copy()
    for name in COLOURS:
        if shade := data.get(f"take_{name}"):
            data[name] = shade
    return data


class WordsForm(HouseForm, forms.Form):
    text = forms.CharField(
        label=_("Your words"),
        required=False,
        max_length=MOST_WORDS,
        strip=True,
        widget=forms.Textarea,
        validators=[check_words],
    )

    def __init__(self, *args: Any, look: PracticeLook, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.on_records(look)
        self.fields["text"].widget.attrs["rows"] = 10
