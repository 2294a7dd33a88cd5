"""The form of the wind that prevails on a farm."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

from django import forms
from django.utils.translation import gettext_lazy as _

from consulting.formkit import HouseForm
from sites.models import PrevailingWind


class WindForm(HouseForm, forms.Form):
    season = forms.ChoiceField(label=_("Season"), choices=[("", _("Choose")), *PrevailingWind.SEASON])
    comes_from = forms.ChoiceField(
        label=_("The wind mostly comes from the"),
        choices=[("", _("Choose")), *PrevailingWind.COMES_FROM],
        help_text=_("As you know it on this farm; what was there for the season is replaced."),
    )
    narrow = ("season", "comes_from")

    def __init__(self, *args: Any, winds: Iterable[PrevailingWind], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.winds = list(winds)
        self.on_records(*self.winds)

    def as_it_stands(self) -> WindForm:
        """With what stands for the season that was chosen."""
        season = self["season"].value()
        stands = next((wind.comes_from for wind in self.winds if wind.season == season), "")
        return WindForm(winds=self.winds, initial={"season": season, "comes_from": stands})
