"""A letter read over before it goes."""

from __future__ import annotations

from typing import Any
from uuid import uuid4

from django import forms
from django.template.defaultfilters import filesizeformat

from consulting.formkit import HouseForm
from consulting.letters import LONGEST_TEXT
from consulting.outbox import Enclosed
from plans.mailing import Draft


class SendForm(HouseForm, forms.Form):
    to = forms.EmailField(label="To", max_length=254)
    subject = forms.CharField(max_length=200)
    text = forms.CharField(label="Letter", max_length=LONGEST_TEXT, widget=forms.Textarea)
    enclose = forms.BooleanField(required=False)
    uid = forms.UUIDField(widget=forms.HiddenInput)

    def __init__(self, data: Any = None, *, draft: Draft, enclosed: Enclosed) -> None:
        first = {
            "to": draft.to,
            "subject": draft.subject,
            "text": draft.text,
            "enclose": True,
            "uid": uuid4(),
        }
        super().__init__(data, initial=first)
        size = filesizeformat(len(enclosed.content))
        self.fields["enclose"].label = f"Enclose {enclosed.name} ({size})"
        self.fields["text"].widget.attrs["rows"] = 18

    def draft(self) -> Draft:
        typed = self.cleaned_data
        return Draft(to=typed["to"], subject=typed["subject"], text=typed["text"])
