"""Forms of the shed: a lot's facts, and what comes in, goes out or is counted anew."""

from __future__ import annotations

from datetime import date, timedelta
from decimal import Decimal
from typing import Any

from django import forms
from django.core.exceptions import ValidationError
from django.utils.functional import Promise
from django.utils.text import format_lazy
from django.utils.translation import gettext, gettext_lazy

from consulting.clock import today_for
from consulting.formkit import HouseForm
from plans.forms import put
from plans.forms.prices import flat, species_choices
from plans.models import StockLot, Visit
from plans.models.shed import MOST
from plans.planning.needs import Offer, PackOffer
from plans.shed import visit_choices

SMALLEST = Decimal("0.0001")
FARTHEST = timedelta(days=5 * 366)
STILL_TO_COME = gettext_lazy("That day is still to come. Enter the day on which it was.")


def amount_field(label: str | Promise, least: Decimal = SMALLEST) -> forms.DecimalField:
    field = forms.DecimalField(
        label=str(label), min_value=least, max_value=MOST, max_digits=12, decimal_places=4
    )
    field.error_messages["max_decimal_places"] = format_lazy(
        gettext_lazy("{label} counts to four decimals. Round it to that."), label=label
    )
    return field


class LotForm(HouseForm, forms.ModelForm):
    """Facts of a lot; a new one is asked for what came in, too."""

    class Meta:
        model = StockLot
        fields = ["name", "lot", "purity_pct", "germination_pct", "dormant_pct", "tested_on", "notes"]
        labels = {"lot": gettext_lazy("Lot or batch number")}
        help_texts = {
            "germination_pct": gettext_lazy("From the tag. A tetrazolium result goes here alone."),
            "dormant_pct": gettext_lazy("Dormant or hard seed from the tag; it counts as alive."),
        }

    units = {"purity_pct": "%", "germination_pct": "%", "dormant_pct": "%"}
    leads = {"purity_pct": gettext_lazy("From the tag")}
    narrow = ("lot", "tested_on", "on")

    def __init__(self, data: Any = None, *, instance: StockLot, offers: tuple[Offer, ...]) -> None:
        super().__init__(data, instance=instance)
        self.lot: StockLot = instance
        self.measures = {
            offer.name: offer.unit
            for offer in offers
            if isinstance(offer, PackOffer) and offer.kind == instance.kind
        }
        seed = instance.kind == StockLot.Kind.SEED
        for name in ("purity_pct", "germination_pct"):
            self.fields[name].required = seed
        if not seed:
            for name in ("purity_pct", "germination_pct", "dormant_pct", "tested_on"):
                del self.fields[name]
        self._choose(seed, instance.name)
        if instance.pk is None:
            self._ask_what_came_in(seed)

    def _choose(self, seed: bool, kept: str) -> None:
        listed: list[tuple[str, Any]] = species_choices()
        if not seed:
            listed = [
                ("", gettext("Choose from the price list")),
                *((name, f"{name}, in {unit}") for name, unit in sorted(self.measures.items())),
            ]
        known = {value for choice in listed for value in flat(choice)}
        extra = [(kept, f"{kept} (no longer listed)")] if kept and kept not in known else []
        label = gettext("Species") if seed else gettext("What it is")
        as_listed = gettext("As the price list has it. Enter its price first where it is missing here.")
        told = "" if seed else as_listed
        put(self, "name", forms.ChoiceField(label=label, choices=[*extra, *listed], help_text=told))

    def _ask_what_came_in(self, seed: bool) -> None:
        amount = amount_field(gettext("How much there is"))
        amount.help_text = (
            gettext("As it weighs, in bulk pounds.")
            if seed
            else gettext("In the unit that stands behind the name.")
        )
        self.fields["amount"] = amount
        self.fields["on"] = forms.DateField(
            label=gettext("Came in on"), initial=today_for(self.instance.practice)
        )
        self.dress("amount", amount, unit="lb bulk" if seed else "")
        self.dress("on", self.fields["on"])
        self.order_fields(["name", "lot", "amount", "on"])

    def clean_tested_on(self) -> date | None:
        day: date | None = self.cleaned_data["tested_on"]
        if day and day > today_for(self.instance.practice):
            raise ValidationError(
                gettext("That day is still to come. Copy the test date from the seed tag, or leave it empty.")
            )
        return day

    def clean_on(self) -> date:
        return not_to_come(self.cleaned_data["on"], today_for(self.instance.practice))

    def clean_name(self) -> str:
        name: str = self.cleaned_data["name"]
        if self.instance.kind == StockLot.Kind.SEED:
            self.instance.unit = "lb"
            return name
        unit = self.measures.get(name, self.instance.unit)
        if self.instance.pk and unit != self.instance.unit:
            raise ValidationError(
                gettext("This lot is counted in {unit}, that in {other}. Add it as a lot of its own.").format(
                    unit=self.instance.unit, other=unit
                )
            )
        self.instance.unit = unit
        return name


def not_to_come(day: date, today: date) -> date:
    if day > today:
        raise ValidationError(STILL_TO_COME)
    return day


class MoveForm(HouseForm, forms.Form):
    """What all changes of a lot ask for."""

    amount = amount_field(gettext_lazy("How much"))
    on = forms.DateField(label=gettext_lazy("On"))
    note = forms.CharField(label=gettext_lazy("What to remember"), max_length=1000, required=False)

    narrow = ("on",)
    adds = True

    def __init__(self, data: Any = None, *, lot: StockLot, visits: list[Visit], **first: Any) -> None:
        self.lot, self.today, self.visits = lot, today_for(lot.practice), visits
        kind = type(self).__name__.removesuffix("Form").lower()
        super().__init__(data, initial={"on": self.today} | first, auto_id=f"{kind}-%s")
        self.on_records(lot)
        self.dress("amount", self.fields["amount"], unit=lot.measure)

    def choose_visit(self, label: str, required: bool) -> None:
        choices = [
            ("", gettext("Choose a field and its work") if required else gettext("No field")),
            *visit_choices(self.visits),
        ]
        self.fields["visit"] = forms.ChoiceField(label=label, choices=choices, required=required)
        self.dress("visit", self.fields["visit"])
        self.order_fields(["amount", "visit", "on", "note"])

    def stands(self) -> list[tuple[str, str]]:
        return [(gettext("On hand"), self.lot.holds)]

    def clean_visit(self) -> Visit | None:
        chosen = self.cleaned_data["visit"]
        return next((visit for visit in self.visits if str(visit.pk) == chosen), None)

    def clean_on(self) -> date:
        return not_to_come(self.cleaned_data["on"], self.today)


class UseForm(MoveForm):
    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.choose_visit(gettext("Where it goes"), required=True)


class ArriveForm(MoveForm):
    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.choose_visit(gettext("Brought back from"), required=False)


class CountForm(MoveForm):
    amount = amount_field(gettext_lazy("Found on hand"), least=Decimal(0))


class ByForm(HouseForm, forms.Form):
    """Up to which day to buy."""

    by = forms.DateField(label=gettext_lazy("For work that begins by"))
    narrow = ("by",)

    def __init__(self, data: Any = None, *, today: date, **kwargs: Any) -> None:
        self.today = today
        super().__init__(data, **kwargs)

    def clean_by(self) -> date:
        day: date = self.cleaned_data["by"]
        if not self.today <= day <= self.today + FARTHEST:
            raise ValidationError(gettext("Choose a day from today on, at most five years ahead."))
        return day
