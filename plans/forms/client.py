"""The forms of the client's page, in the client's language, and those by which the practice minds it."""

from __future__ import annotations

from datetime import date
from typing import Any
from uuid import uuid4

from django import forms
from django.utils.translation import gettext_lazy as _

from consulting.formkit import HouseForm
from consulting.scans import SCAN_TYPES, Paper, as_paper
from plans.agreements import Seen, statement
from plans.client_links import plain_text
from plans.models import Proposal
from plans.models.client_page import LONGEST_QUESTION

TOO_LONG = _("This is %(show_value)s characters long. Keep it to %(limit_value)s.")


class PlainText(forms.CharField):
    """What can be seen of a text, as it is kept: one of nothing else is missing."""

    def to_python(self, value: Any) -> str:
        return plain_text(super().to_python(value) or "")


def long_text(
    label: Any, missing: Any = "", *, longest: int = LONGEST_QUESTION, rows: int = 4
) -> forms.CharField:
    """A text of several lines; optional where nothing is said of its missing."""
    return PlainText(
        label=label,
        max_length=longest,
        required=bool(missing),
        widget=forms.Textarea({"rows": rows}),
        error_messages={"required": missing, "max_length": TOO_LONG},
    )


def short_text(label: Any, missing: Any = "") -> forms.CharField:
    return PlainText(
        label=label,
        max_length=200,
        required=bool(missing),
        widget=forms.TextInput({"autocomplete": "name"}),
        error_messages={"required": missing, "max_length": TOO_LONG},
    )


class AnswerOfClient(HouseForm, forms.Form):
    """What a yes and a no have in common: the revision that the client had before them, and their name."""

    number = forms.IntegerField(widget=forms.HiddenInput)
    sha256 = forms.CharField(max_length=64, widget=forms.HiddenInput)
    name = short_text(
        _("Your name, as you would sign"), _("Your name is missing. Type it as you would sign.")
    )

    def __init__(self, data: Any = None, *, proposal: Proposal, name: str = "") -> None:
        initial = {"number": proposal.number, "sha256": proposal.sha256, "name": name}
        super().__init__(data, auto_id=f"{type(self).__name__.lower()}-%s", initial=initial)

    @property
    def seen(self) -> Seen:
        return Seen(self.cleaned_data["number"], self.cleaned_data["sha256"])

    @property
    def said(self) -> dict[str, str]:
        """What was typed."""
        return {name: self.cleaned_data[name] for name in ("name", "reason") if name in self.cleaned_data}


class Agree(AnswerOfClient):
    terms = forms.BooleanField(
        error_messages={
            "required": _("Tick the box to say that you have read the proposal and its terms, and agree.")
        }
    )
    field_order = ("terms", "name")

    def __init__(self, data: Any = None, *, proposal: Proposal, name: str = "") -> None:
        super().__init__(data, proposal=proposal, name=name)
        self.fields["terms"].label = statement(proposal)


class Decline(AnswerOfClient):
    reason = long_text(_("Why, if you would like to tell us"), rows=3)
    field_order = ("reason", "name")


class Ask(HouseForm, forms.Form):
    uid = forms.UUIDField(widget=forms.HiddenInput)
    text = long_text(_("Your question"), _("There is no question yet. Type it here."))
    name = short_text(_("Your name"))

    def __init__(self, data: Any = None) -> None:
        super().__init__(data, auto_id="ask-%s", initial={"uid": uuid4()})


class AnswerForm(HouseForm, forms.Form):
    text = PlainText(label=_("Your answer"), max_length=LONGEST_QUESTION, widget=forms.Textarea)

    def __init__(self, data: Any = None, *, pk: int) -> None:
        super().__init__(data, auto_id=f"answer-{pk}-%s")


class LinkForm(HouseForm, forms.Form):
    expires_on = forms.DateField(label=_("Works until"))

    narrow = ("expires_on",)

    def __init__(self, data: Any = None, *, until: date) -> None:
        super().__init__(data, initial={"expires_on": until})


class ScanForm(HouseForm, forms.Form):
    paper = forms.FileField(
        label=_("Scan or photograph of what was signed"),
        widget=forms.ClearableFileInput({"accept": SCAN_TYPES}),
        help_text=_("A PDF of at most 8 MB, or a picture."),
    )

    def clean_paper(self) -> Paper | None:
        given = self.cleaned_data["paper"]
        return as_paper(given) if given else None


class SignedForm(ScanForm):
    name = forms.CharField(label=_("Who signed"), max_length=200)
    signed_on = forms.DateField(label=_("Date beside the signature"))

    narrow = ("signed_on",)
    field_order = ("name", "signed_on", "paper")

    def __init__(self, data: Any = None, files: Any = None, *, initial: dict[str, Any] | None = None) -> None:
        super().__init__(data, files, initial=initial)
        self.fields["paper"].required = False
