"""What the least-cost mix is asked: purpose, ground, purse, species wished for, and own targets."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from decimal import Decimal
from typing import Any, get_args

from django import forms
from django.forms.boundfield import BoundField, BoundWidget
from django.utils.functional import Promise
from django.utils.translation import gettext, gettext_lazy

from consulting.formkit import HouseForm
from plans.cheapest import Market
from plans.models import Mix
from plans.planning.figures import plain
from plans.planning.job import MixPurpose
from plans.planning.plants import Moisture
from plans.planning.targets import Candidate, Goal, Targets, Way, targets_for

WAYS: dict[Way, str | Promise] = {
    "drilled": gettext_lazy("Drilled in spring"),
    "broadcast": gettext_lazy("Broadcast"),
    "dormant": gettext_lazy("Drilled in winter, while the seed is dormant"),
}
PURPOSES: tuple[str, ...] = get_args(MixPurpose)
SHARE, KINDS, HEIGHT, DENSITY = (0, 100, "%"), (0, 80, "species"), (0.1, 1000, "in"), (0.01, 500, "seeds/ft²")
TARGETS: dict[str, tuple[str | Promise, tuple[float, float, str]]] = {
    "seeds_per_sqft_low": (gettext_lazy("Live seeds, at least"), DENSITY),
    "seeds_per_sqft_high": (gettext_lazy("Live seeds, at most"), DENSITY),
    "grass_share_pct_low": (gettext_lazy("Grass, at least"), SHARE),
    "grass_share_pct_high": (gettext_lazy("Grass, at most"), SHARE),
    "early_species": (gettext_lazy("Early bloomers, at least"), KINDS),
    "mid_species": (gettext_lazy("Mid bloomers, at least"), KINDS),
    "late_species": (gettext_lazy("Late bloomers, at least"), KINDS),
    "flower_species": (gettext_lazy("Kinds of wildflower, at least"), KINDS),
    "one_species_share_pct_high": (gettext_lazy("Any one species, at most"), SHARE),
    "worth_share_pct_low": (gettext_lazy("Species good for the purpose, at least"), SHARE),
    "introduced_legume_share_pct_each": (gettext_lazy("Each introduced legume, at most"), SHARE),
    "introduced_legume_share_pct_together": (gettext_lazy("Introduced legumes together, at most"), SHARE),
    "tall_in": (gettext_lazy("Tall is, from"), HEIGHT),
    "tall_share_pct_low": (gettext_lazy("Tall plants, at least"), SHARE),
    "tall_share_pct_high": (gettext_lazy("Tall plants, at most"), SHARE),
    "height_in_high": (gettext_lazy("Tallest plant, at most"), HEIGHT),
    "species_seeds_per_sqft_low": (gettext_lazy("A species counts from"), DENSITY),
}
PAIRS = ("seeds_per_sqft", "grass_share_pct", "tall_share_pct")


@dataclass(frozen=True, slots=True)
class SpeciesRow:
    item: Candidate
    wanted: BoundWidget
    unwanted: BoundWidget


class CheapestForm(HouseForm, forms.Form):
    purpose = forms.ChoiceField(
        label=gettext_lazy("Purpose"), choices=[(name, name.capitalize()) for name in PURPOSES]
    )
    way = forms.ChoiceField(
        label=gettext_lazy("Sown"), choices=list(WAYS.items()), widget=forms.RadioSelect, initial="drilled"
    )
    moisture = forms.ChoiceField(
        label=gettext_lazy("Soil moisture"),
        required=False,
        choices=[("", gettext_lazy("Any")), *((name, name.capitalize()) for name in get_args(Moisture))],
    )
    ph = forms.FloatField(label=gettext_lazy("Soil pH"), required=False, min_value=3, max_value=10)
    budget_usd_per_acre = forms.DecimalField(
        label=gettext_lazy("Budget for seed"),
        required=False,
        min_value=Decimal(0),
        max_digits=7,
        decimal_places=2,
    )
    wanted = forms.MultipleChoiceField(
        label=gettext_lazy("Wanted"), required=False, widget=forms.CheckboxSelectMultiple
    )
    unwanted = forms.MultipleChoiceField(
        label=gettext_lazy("Not wanted"), required=False, widget=forms.CheckboxSelectMultiple
    )
    beside = forms.ChoiceField(label=gettext_lazy("Stand beside it"), required=False)
    beside_too = forms.ChoiceField(label=gettext_lazy("And"), required=False)

    units = {"budget_usd_per_acre": gettext_lazy("$/acre")}
    narrow = ("moisture", "ph")

    def __init__(self, market: Market, mixes: Sequence[Mix], *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.market = market
        for name, (label, (least, most, unit)) in TARGETS.items():
            kind: Any = forms.IntegerField if unit == "species" else forms.FloatField
            field = kind(label=label, required=False, min_value=least, max_value=most)
            self.fields[name] = field
            self.dress(name, field, unit=unit)
        names = [(item.species, item.species) for item in market.mixable]
        own = [("", gettext("None")), *((str(mix.pk), str(mix)) for mix in mixes)]
        for key, choices in (("wanted", names), ("unwanted", names), ("beside", own), ("beside_too", own)):
            self.fields[key].choices = choices  # type: ignore[attr-defined]
        for key in ("wanted", "unwanted"):
            self.fields[key].error_messages["invalid_choice"] = gettext(
                "%(value)s has no price in your list. Price it, or do without."
            )
        for key in ("beside", "beside_too"):
            self.fields[key].error_messages["invalid_choice"] = gettext(
                "There is no such mix now. Choose another."
            )

    def asked(self) -> tuple[str, str | Promise, Targets]:
        """Purpose, way of seeding in words, and their targets, as chosen now, sound or not."""
        chosen = self["purpose"].value()
        purpose = chosen if chosen in PURPOSES else PURPOSES[0]
        way: Way = next((way for way in WAYS if way == self["way"].value()), "drilled")
        return purpose, WAYS[way], targets_for(purpose, way)

    def targets(self) -> Iterator[tuple[BoundField, str]]:
        """Each target's field and the purpose's figure."""
        aims = self.asked()[2]
        for name, (_, (_, _, unit)) in TARGETS.items():
            figure = getattr(aims, name)
            yield self[name], gettext("none") if figure is None else plain(figure, unit)

    def species(self) -> Iterator[SpeciesRow]:
        for item, wanted, unwanted in zip(self.market.mixable, self["wanted"], self["unwanted"], strict=True):
            yield SpeciesRow(item, wanted, unwanted)

    @property
    def own_targets(self) -> bool:
        """Whether a target of one's own is typed."""
        return any(self[name].value() not in (None, "") for name in TARGETS)

    @property
    def wishes(self) -> bool:
        return bool(self["wanted"].value() or self["unwanted"].value())

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or self.cleaned_data
        for name in sorted(set(cleaned.get("wanted", ())) & set(cleaned.get("unwanted", ()))):
            self.add_error(
                "unwanted",
                gettext("{name} is wanted and not wanted. Choose one.").format(name=name.capitalize()),
            )
        aims = self.asked()[2]
        for stem in PAIRS:
            low, high = f"{stem}_low", f"{stem}_high"
            if low in self.errors or high in self.errors:
                continue
            least, most = (
                getattr(aims, name) if cleaned.get(name) is None else cleaned[name] for name in (low, high)
            )
            if least > most:
                at = low if cleaned.get(low) is not None else high
                self.add_error(
                    at,
                    gettext(
                        "{least_label} {least} is over {most_label} {most}. Lower the one or raise the other."
                    ).format(
                        least_label=TARGETS[low][0],
                        least=f"{least:g}",
                        most_label=str(TARGETS[high][0]).lower(),
                        most=f"{most:g}",
                    ),
                )
        return cleaned

    def goal(self) -> Goal:
        """Of a valid form."""
        cleaned = self.cleaned_data
        own = {name: cleaned[name] for name in TARGETS if cleaned[name] is not None}
        return Goal(
            targets=replace(targets_for(cleaned["purpose"], cleaned["way"]), **own),
            moisture=cleaned["moisture"] or None,
            ph=cleaned["ph"],
            budget_usd_per_acre=cleaned["budget_usd_per_acre"],
            wanted=tuple(cleaned["wanted"]),
            unwanted=tuple(cleaned["unwanted"]),
        )

    def chosen(self) -> dict[str, str]:
        """Primary keys of the mixes to stand beside it, by the field that names them; none twice."""
        found: dict[str, str] = {}
        for name in ("beside", "beside_too"):
            key = self.cleaned_data.get(name)
            if key and key not in found.values():
                found[name] = key
        return found


class KeepForm(HouseForm, forms.Form):
    """The name to keep the mix by, and the cost that was shown."""

    name = forms.CharField(label=gettext_lazy("Name of the mix"), max_length=200)
    shown = forms.DecimalField(widget=forms.HiddenInput, max_digits=12, decimal_places=2)
