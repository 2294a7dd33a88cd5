"""Days on which a machine can or cannot be had."""

from __future__ import annotations

from typing import Any

from django import forms
from django.utils.translation import gettext as _

from consulting.formkit import HouseForm
from consulting.models import Machine, MachineSpan


class MachineSpanForm(HouseForm, forms.ModelForm):
    class Meta:
        model = MachineSpan
        fields = ["kind", "first", "last", "reason"]

    narrow = ("first", "last")

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        if self.instance.machine.holding == Machine.Holding.OWN:
            del self.fields["kind"]
            self.fields["reason"].required = True
        self.fields["reason"].help_text = _("Lent out, in repair, rented to another.")
