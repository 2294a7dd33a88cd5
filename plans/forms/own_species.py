"""The form of a species that a practice adds; its fields are the columns of the list too."""

from __future__ import annotations

from typing import Any

from django import forms
from django.utils.translation import gettext
from django.utils.translation import gettext_lazy as _

from consulting.formkit import HouseForm
from plans.models import OwnSpecies
from plans.own_species import fact_of

WORTH = _("0 nothing, 1 some, 2 good, 3 among the best.")


class OwnSpeciesForm(HouseForm, forms.ModelForm):
    fact = staticmethod(fact_of)

    class Meta:
        model = OwnSpecies
        fields = [
            "common_name", "scientific_name", "group", "family", "season", "life", "native_range",
            "seeds_per_lb", "seeds_per_lb_low", "seeds_per_lb_high", "box", "depth_in_min", "depth_in_max",
            "full_stand_lb_pls_per_acre_low", "full_stand_lb_pls_per_acre_high", "height_in",
            "bloom_months", "bloom_colour", "moisture", "ph_low", "ph_high", "shade", "stratification_days",
            "value_bedding_cover", "value_nesting_brood", "value_pollinators", "value_erosion",
            "value_forage", "flower_mix_max_per_sqft", "gives", "status", "source",
        ]  # fmt: skip
        labels = {
            "common_name": _("Common name"),
            "scientific_name": _("Scientific name"),
            "group": _("Group"),
            "family": _("Family"),
            "season": _("Season"),
            "life": _("Life"),
            "native_range": _("Native range"),
            "bloom_months": _("Bloom months"),
            "moisture": _("Moisture"),
        }
        help_texts = {
            "common_name": _("As it is to stand in mixes, prices and proposals."),
            "family": _("Fabaceae makes it one that wants its own inoculant."),
            "season": _("When a grass grows."),
            "native_range": _("In a few words; “introduced” for a plant not native to North America."),
            "seeds_per_lb_low": _("Sources differ. The planning count lies between these two."),
            "bloom_months": _("Numbers with semicolons, such as 6;7;8. Empty for a grass."),
            "moisture": _("Any of dry, mesic and wet, with semicolons."),
            "value_bedding_cover": WORTH,
            "flower_mix_max_per_sqft": _("For one that crowds others out. Else empty."),
            "gives": _("What it gives and to whom, as the proposal is to say it."),
            "source": _("A bulletin, a seed tag, a person, a day."),
        }

    units = {
        "depth_in_min": _("in"),
        "depth_in_max": _("in"),
        "height_in": _("in"),
        "full_stand_lb_pls_per_acre_low": _("lb PLS/acre"),
        "full_stand_lb_pls_per_acre_high": _("lb PLS/acre"),
        "stratification_days": _("days"),
        "flower_mix_max_per_sqft": _("seeds/ft²"),
        "seeds_per_lb": _("seeds"),
        "seeds_per_lb_low": _("seeds"),
        "seeds_per_lb_high": _("seeds"),
    }
    leads = {
        "seeds_per_lb": _("Its seed"),
        "height_in": _("How it grows"),
        "value_bedding_cover": _("What it is worth"),
        "status": _("Where this comes from"),
    }

    narrow = (
        "ph_low", "ph_high", "value_bedding_cover", "value_nesting_brood", "value_pollinators",
        "value_erosion", "value_forage",
    )  # fmt: skip

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        for name in ("group", "box"):
            empty, *choices = self.fields[name].choices  # type: ignore[attr-defined]
            self.fields[name].choices = [(empty[0], gettext("Choose")), *choices]  # type: ignore[attr-defined]

    def _post_clean(self) -> None:
        super()._post_clean()  # type: ignore[misc]
        if self.errors:
            return
        try:
            fact_of(self.instance)
        except ValueError as refused:
            column, colon, said = str(refused).partition(": ")
            named = column if colon and column in self.fields else None
            self.add_error(named, f"{said if named else refused}.")
