"""Rows of the price list. Models check each value; the planning service's dataclasses have the last word."""

from __future__ import annotations

from datetime import date
from typing import Any

from django import forms
from django.core.exceptions import ValidationError
from django.utils.translation import gettext, gettext_lazy

from consulting.clock import today_for
from consulting.formkit import HouseForm
from consulting.models import AdjuvantPrice, PlantPrice, Practice, Product, SeedPrice, SupplyPrice, WorkRate
from plans import facts
from plans.forms import put
from plans.planning import tables

PLANT_GROUPS = {
    "grass": gettext_lazy("Grasses"),
    "legume": gettext_lazy("Legumes"),
    "forb": gettext_lazy("Wildflowers"),
    "nurse": gettext_lazy("Nurse crops"),
    "plot": gettext_lazy("Plots"),
}


def species_choices() -> list[tuple[Any, Any]]:
    """Species by group, an empty choice first."""
    groups = [
        (label, [(name, name) for name, row in sorted(tables.species().items()) if row.group == group])
        for group, label in PLANT_GROUPS.items()
    ]
    return [("", gettext("Choose a species")), *((label, names) for label, names in groups if names)]


def tree_choices() -> list[tuple[str, Any]]:
    """Trees and shrubs of the table, an empty choice first."""
    kinds = {"tree": gettext("Trees"), "shrub": gettext("Shrubs")}
    return [
        ("", gettext("Choose a tree or shrub")),
        *(
            (label, [(name, name) for name, row in sorted(tables.woody().items()) if row.kind == kind])
            for kind, label in kinds.items()
        ),
    ]


class PriceForm(HouseForm, forms.ModelForm):
    """A row that the planning service can take. Saving one marks it as checked."""

    fact: staticmethod[[Any], Any]
    """Makes of a row what the planning service takes; raises ValueError."""

    def _post_clean(self) -> None:
        super()._post_clean()  # type: ignore[misc]
        if self.errors:
            return
        try:
            type(self).fact(self.instance)
        except ValueError as refused:
            named = next((name for name in self.fields if str(refused).startswith(name)), None)
            self.add_error(named, f"{refused}.")

    def choose(self, name: str, choices: list[tuple[str, Any]]) -> None:
        """Make a text field a choice, keeping a value that is no longer in the table."""
        kept = self.initial.get(name)
        known = {value for choice in choices for value in flat(choice)}
        extra = (
            [(kept, gettext("{kept} (not in the table)").format(kept=kept))]
            if kept and kept not in known
            else []
        )
        old = self.fields[name]
        put(
            self,
            name,
            forms.ChoiceField(label=old.label, help_text=old.help_text, choices=[*extra, *choices]),
        )


def flat(choice: tuple[str, Any]) -> list[str]:
    value, label = choice
    return [inner for inner, _ in label] if isinstance(label, list) else [value]


class SeedPriceForm(PriceForm):
    fact = staticmethod(facts.seed_price_of)

    class Meta:
        model = SeedPrice
        fields = [
            "species", "price_usd_per_lb", "basis", "purity_pct", "germination_pct", "dormant_pct",
            "tested_on", "lot", "seeds_per_lb", "supplier", "source",
        ]  # fmt: skip
        labels = {
            "species": gettext_lazy("Species"),
            "lot": gettext_lazy("Lot"),
            "supplier": gettext_lazy("Supplier"),
        }
        help_texts = {
            "germination_pct": gettext_lazy("From the tag. A tetrazolium result goes here alone."),
            "dormant_pct": gettext_lazy("Dormant or hard seed from the tag; it counts as alive."),
            "seeds_per_lb": gettext_lazy(
                "This lot's own count. Left empty, the species table's count is used."
            ),
        }
        widgets = {"basis": forms.RadioSelect}

    units = {
        "price_usd_per_lb": gettext_lazy("$ a lb"),
        "purity_pct": "%",
        "germination_pct": "%",
        "dormant_pct": "%",
        "seeds_per_lb": gettext_lazy("seeds"),
    }
    leads = {"purity_pct": gettext_lazy("From the tag"), "supplier": gettext_lazy("Where it came from")}
    narrow = ("tested_on", "lot")

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.choose("species", species_choices())
        self.fields["basis"].choices = SeedPrice.BASIS  # type: ignore[attr-defined]

    def clean_tested_on(self) -> date | None:
        day: date | None = self.cleaned_data["tested_on"]
        if day and day > today_for(self.instance.practice):
            raise ValidationError(
                gettext("That day is still to come. Copy the test date from the seed tag, or leave it empty.")
            )
        return day


class ProductForm(PriceForm):
    fact = staticmethod(facts.product_of)

    class Meta:
        model = Product
        fields = [
            "active_ingredient", "form", "lb_active_per_gal", "active_pct", "container_size",
            "price_usd_per_container", "label_rate_low_oz_per_acre", "label_rate_high_oz_per_acre",
            "label_season_max_oz_per_acre", "registration_number", "restricted_use",
            "aquatic_label", "source",
        ]  # fmt: skip
        labels = {
            "active_ingredient": gettext_lazy("Active ingredient"),
            "form": gettext_lazy("Form"),
            "registration_number": gettext_lazy("Registration number"),
        }
        help_texts = {
            "lb_active_per_gal": gettext_lazy(
                "Liquids: pounds of acid equivalent in a gallon, "
                "or of active ingredient where the label has no acid."
            ),
            "active_pct": gettext_lazy("Dry products: active ingredient by weight."),
            "container_size": gettext_lazy("Gallons for a liquid, pounds for a dry product."),
            "label_rate_low_oz_per_acre": gettext_lazy(
                "Of product in one application: fluid ounces for a liquid, ounces for a dry product."
            ),
            "label_rate_high_oz_per_acre": gettext_lazy(
                "The most the label allows in one application, same unit. A rate above it cannot be offered."
            ),
            "label_season_max_oz_per_acre": gettext_lazy("The most the label allows in a year, same unit."),
        }
        widgets = {"form": forms.RadioSelect}

    units = {
        "lb_active_per_gal": gettext_lazy("lb a gal"),
        "active_pct": "%",
        "container_size": gettext_lazy("gal or lb"),
        "price_usd_per_container": "$",
        "label_rate_low_oz_per_acre": gettext_lazy("oz an acre"),
        "label_rate_high_oz_per_acre": gettext_lazy("oz an acre"),
        "label_season_max_oz_per_acre": gettext_lazy("oz an acre"),
    }
    leads = {
        "container_size": gettext_lazy("From the invoice"),
        "label_rate_low_oz_per_acre": gettext_lazy("From the label you hold"),
        "source": gettext_lazy("Where it came from"),
    }

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.choose(
            "active_ingredient",
            [("", gettext("Choose an ingredient")), *((name, name) for name in tables.ingredients())],
        )
        self.fields["form"].choices = Product.FORM  # type: ignore[attr-defined]


class AdjuvantForm(PriceForm):
    fact = staticmethod(facts.adjuvant_price_of)

    class Meta:
        model = AdjuvantPrice
        fields = ["kind", "container_size", "price_usd_per_container", "source"]
        labels = {
            "kind": gettext_lazy("Kind"),
        }
        help_texts = {"container_size": gettext_lazy("Gallons; pounds of ammonium sulfate.")}

    units = {"container_size": gettext_lazy("gal or lb"), "price_usd_per_container": "$"}


class PlantForm(PriceForm):
    fact = staticmethod(facts.plant_price_of)

    class Meta:
        model = PlantPrice
        fields = ["species", "stock", "price_usd_each", "supplier", "source"]
        labels = {
            "species": gettext_lazy("Species"),
            "stock": gettext_lazy("Stock"),
            "supplier": gettext_lazy("Supplier"),
        }
        help_texts = {
            "stock": gettext_lazy(
                "Bare-root seedling, container, live stake, balled and burlapped: a plan asks for it "
                "by this name."
            )
        }

    units = {"price_usd_each": gettext_lazy("$ each")}
    leads = {"supplier": gettext_lazy("Where it came from")}

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.choose("species", tree_choices())


class SupplyForm(PriceForm):
    fact = staticmethod(facts.supply_price_of)

    class Meta:
        model = SupplyPrice
        fields = ["kind", "price_usd", "grade", "container_lb", "ecce_pct", "source"]
        labels = {
            "kind": gettext_lazy("Kind"),
            "grade": gettext_lazy("Grade"),
        }
        help_texts = {
            "price_usd": gettext_lazy(
                "Of one tube with its stake, a foot of fence as built, a container of fertilizer, "
                "or a ton of lime as delivered."
            ),
            "grade": gettext_lazy("Fertilizer: N-P2O5-K2O as on the bag, such as 18-46-0."),
            "container_lb": gettext_lazy("Fertilizer: pounds in the bag, or 2,000 for a ton."),
            "ecce_pct": gettext_lazy("Lime: effective calcium carbonate equivalent, from the supplier."),
        }
        widgets = {"kind": forms.RadioSelect}

    units = {"price_usd": "$", "container_lb": gettext_lazy("lb"), "ecce_pct": "%"}
    narrow = ("grade",)

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["kind"].choices = SupplyPrice.KINDS  # type: ignore[attr-defined]


class WorkRateForm(PriceForm):
    fact = staticmethod(facts.work_rate_of)

    class Meta:
        model = WorkRate
        fields = [
            "operation", "basis", "rate_usd", "minimum_usd", "width_ft", "speed_mph",
            "efficiency_pct", "acres_per_hour", "allowance_pct", "source",
        ]  # fmt: skip
        labels = {
            "operation": gettext_lazy("Operation"),
        }
        help_texts = {
            "minimum_usd": gettext_lazy("Charged when a visit to a farm comes to less."),
            "width_ft": gettext_lazy(
                "Width, speed and efficiency give the hours. "
                "Left empty, the usual ones of the table are taken."
            ),
            "efficiency_pct": gettext_lazy(
                "Share of field time that is work: the rest is turning, filling and clearing."
            ),
            "acres_per_hour": gettext_lazy(
                "From your own done work. Where it is given, it stands before width, speed and efficiency."
            ),
            "allowance_pct": gettext_lazy(
                "Seed that a sowing, or product that a spraying takes beyond its plan. "
                "It is priced into the next plan; amounts, loads and label rates stay as planned."
            ),
        }
        widgets = {"basis": forms.RadioSelect}

    units = {
        "rate_usd": "$",
        "minimum_usd": "$",
        "width_ft": gettext_lazy("ft"),
        "speed_mph": gettext_lazy("mph"),
        "efficiency_pct": "%",
        "acres_per_hour": gettext_lazy("acres an hour"),
        "allowance_pct": "%",
    }
    leads = {
        "width_ft": gettext_lazy("How fast it goes"),
        "allowance_pct": gettext_lazy("What it uses"),
        "source": gettext_lazy("Where it came from"),
    }

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        operations = [(key, row.label) for key, row in tables.operations().items()]
        self.choose("operation", [("", gettext("Choose the work")), *operations])
        self.fields["basis"].choices = WorkRate.BASIS  # type: ignore[attr-defined]
        self.fields["allowance_pct"].required = False

    def clean_allowance_pct(self) -> float:
        return self.cleaned_data["allowance_pct"] or 0.0


class HaulingForm(HouseForm, forms.ModelForm):
    class Meta:
        model = Practice
        fields = ["hauling_usd_per_mile"]
        labels = {"hauling_usd_per_mile": gettext_lazy("Hauling")}
        help_texts = {
            "hauling_usd_per_mile": gettext_lazy(
                "Truck and trailer, for each mile of the round trip to a farm."
            )
        }

    units = {"hauling_usd_per_mile": gettext_lazy("$ a mile")}
