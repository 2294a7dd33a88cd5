"""A letter read over before it goes."""

from __future__ import annotations

from typing import Any
from uuid import uuid4

from django import forms
from django.template.defaultfilters import filesizeformat
from django.utils.text import format_lazy
from django.utils.translation import gettext, gettext_lazy

from consulting.formkit import HouseForm
from consulting.letters import LONGEST_TEXT
from consulting.outbox import Enclosed
from plans.mailing import Draft
from plans.sending import PAGE


class SendForm(HouseForm, forms.Form):
    to = forms.EmailField(label=gettext_lazy("To"), max_length=254)
    subject = forms.CharField(label=gettext_lazy("Subject"), max_length=200)
    text = forms.CharField(label=gettext_lazy("Letter"), max_length=LONGEST_TEXT, widget=forms.Textarea)
    enclose = forms.BooleanField(required=False)
    page = forms.BooleanField(
        label=gettext_lazy("Make the client’s page, and put its address into the letter"),
        required=False,
        help_text=format_lazy(
            gettext_lazy("It comes where {page} stands. A link that was made before stops working."),
            page=PAGE,
        ),
    )
    uid = forms.UUIDField(widget=forms.HiddenInput)

    def __init__(self, data: Any = None, *, draft: Draft, enclosed: Enclosed) -> None:
        first = {
            "to": draft.to,
            "subject": draft.subject,
            "text": draft.text,
            "enclose": True,
            "uid": uuid4(),
        }
        super().__init__(data, initial=first | {"page": PAGE in draft.text})
        size = filesizeformat(len(enclosed.content))
        self.fields["enclose"].label = gettext("Enclose {name} ({size})").format(
            name=enclosed.name, size=size
        )
        self.fields["text"].widget.attrs["rows"] = 18

    def clean(self) -> None:
        """The letter and the choice of a page have to fit each other."""
        asked, written = self.cleaned_data.get("page"), PAGE in self.cleaned_data.get("text", "")
        if asked and not written:
            self.add_error(
                "text",
                gettext("Write {page} where the address of the client’s page is to stand.").format(page=PAGE),
            )
        if written and not asked:
            self.add_error(
                "text",
                gettext("Take {page} out of the letter, or have the client’s page made.").format(page=PAGE),
            )

    def draft(self) -> Draft:
        typed = self.cleaned_data
        return Draft(to=typed["to"], subject=typed["subject"], text=typed["text"])
