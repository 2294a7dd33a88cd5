"""The consultant's own words in a season report."""

from __future__ import annotations

from typing import Any

from django import forms
from django.utils.translation import gettext_lazy as _

from consulting.formkit import HouseForm
from plans.models.reports import MOST_WORDS, ReportWords


class WordsForm(HouseForm, forms.Form):
    words = forms.CharField(
        label=_("Your own words"),
        required=False,
        max_length=MOST_WORDS,
        widget=forms.Textarea,
        help_text=_("They stand at the head of the report. What the records say is told below by itself."),
    )

    def __init__(self, *args: Any, kept: ReportWords, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.on_records(kept)
