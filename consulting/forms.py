"""The forms of the business: the practice, its terms and people, and its clients."""

from __future__ import annotations

from typing import Any

from django import forms
from django.core.exceptions import ValidationError

from consulting.formkit import HouseForm
from consulting.images import Picture, as_png
from consulting.manner import LOCALES, THE_PRACTICES
from consulting.models import (
    Client,
    Invitation,
    Membership,
    Practice,
    TermsFields,
    check_stages,
    time_zone_names,
)

US_ZONES = {
    "America/New_York": "Eastern",
    "America/Chicago": "Central",
    "America/Denver": "Mountain",
    "America/Phoenix": "Arizona",
    "America/Los_Angeles": "Pacific",
    "America/Anchorage": "Alaska",
    "Pacific/Honolulu": "Hawaii",
}


def time_zones() -> list[tuple[str, Any]]:
    elsewhere = sorted(zone for zone in time_zone_names() if "/" in zone and zone not in US_ZONES)
    return [
        ("United States", list(US_ZONES.items())),
        ("Elsewhere", [(zone, zone.replace("_", " ")) for zone in elsewhere]),
    ]


class FoundForm(HouseForm, forms.ModelForm):
    class Meta:
        model = Practice
        fields = ["name", "slug", "time_zone"]
        labels = {"name": "Name of the practice", "slug": "Web address"}
        help_texts = {
            "name": "As it should stand at the head of a proposal.",
            "slug": "Small letters, digits and hyphens. Leave it empty to have it made from the name.",
        }

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["slug"].required = False
        self.fields["time_zone"].widget = forms.Select(choices=time_zones())


class DetailsForm(HouseForm, forms.ModelForm):
    logo = forms.FileField(
        required=False,
        help_text="PNG, JPEG, WebP or GIF up to 2 MB. It is printed at the head of proposals.",
        widget=forms.FileInput({"accept": "image/png,image/jpeg,image/webp,image/gif"}),
    )

    class Meta:
        model = Practice
        fields = [
            "name", "address", "phone", "email", "applicator_licence", "emergency_contacts", "time_zone",
            "locale", "paper", "measures", "tile_address", "tile_attribution",
        ]  # fmt: skip
        widgets = {"paper": forms.RadioSelect, "measures": forms.RadioSelect}
        help_texts = {
            "locale": "Of what clients and crews read, with its way of writing numbers and dates. A client "
            "or a member may have another. Your own pages stay in English, and all prices in US dollars.",
            "measures": "Of what clients and crews read. You go on entering acres, pounds and gallons.",
            "tile_address": "Of a service that you may use, such as an own server of air photographs: "
            "https://…/{z}/{x}/{y}.png. Browsers then fetch its pictures on drawing pages, and it sees where "
            "you look. Leave it empty to draw on a plain grid.",
            "tile_attribution": "As the service asks to be named; it is printed under the map.",
            "emergency_contacts": "Printed on the crew sheet, one a line: who, a colon, the number.",
            "address": "As it should be printed, line by line.",
            "applicator_licence": "The line to print, such as the category, number and state. "
            "Leave it empty when no license is on file.",
        }

    leads = {"locale": "What clients and crews read", "tile_address": "Under the drawings of fields"}

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["time_zone"].widget = forms.Select(choices=time_zones())

    def clean_logo(self) -> Picture | None:
        upload = self.cleaned_data["logo"]
        return as_png(upload) if upload else None


def offer_the_practices(field: forms.Field) -> None:
    """A reader without a language of their own reads in the practice's."""
    field.choices = [("", THE_PRACTICES), *LOCALES]  # type: ignore[attr-defined]


class StagesInput(forms.Widget):
    """A row of share, name and due for each payment stage, and two empty rows to add with."""

    template_name = "forms/stages.html"
    use_fieldset = True
    spare_rows = 2

    def get_context(self, name: str, value: Any, attrs: dict[str, Any] | None) -> dict[str, Any]:
        context = super().get_context(name, value, attrs)
        empty = {"share_pct": "", "label": "", "due": ""}
        rows = [*(value or []), *([empty] * self.spare_rows)]
        context["widget"]["rows"] = rows
        return context

    def value_from_datadict(self, data: Any, files: Any, name: str) -> list[dict[str, str]]:
        columns = [data.getlist(f"{name}_{part}") for part in ("share_pct", "label", "due")]
        rows = [[cell.strip() for cell in row] for row in zip(*columns, strict=False)]
        return [
            {"share_pct": share, "label": label, "due": due}
            for share, label, due in rows
            if share or label or due
        ]

    def value_omitted_from_data(self, data: Any, files: Any, name: str) -> bool:
        return f"{name}_label" not in data

    def id_for_label(self, id_: str) -> str:
        return f"{id_}_0"


class StagesField(forms.Field):
    """Payment stages as a list of {label, share_pct, due}."""

    widget = StagesInput

    def to_python(self, value: Any) -> list[dict[str, Any]]:
        stages = []
        for number, row in enumerate(value or [], start=1):
            try:
                share = float(row["share_pct"].removesuffix("%"))
            except ValueError:
                raise ValidationError(
                    f"The share of payment stage {number} must be a number, such as 25; "
                    f"given “{row['share_pct']}”."
                ) from None
            stages.append({**row, "share_pct": int(share) if share.is_integer() else share})
        return stages

    def validate(self, value: Any) -> None:
        super().validate(value)
        check_stages(value)


TERMS_FIELDS = [field.name for field in TermsFields._meta.get_fields()]


class TermsForm(HouseForm, forms.ModelForm):
    """Terms of a practice; `plans` builds its own form on this one for a plan's copy."""

    stages = StagesField(
        required=False,
        label="Payment stages",
        help_text="The shares must sum to 100 %. Empty rows are left out.",
    )
    units = {
        "years": "seasons",
        "overhead_pct": "%",
        "pricing_pct": "%",
        "contingency_pct": "%",
        "discount_pct": "%",
        "tax_work_pct": "%",
        "tax_seed_pct": "%",
        "tax_materials_pct": "%",
        "tax_spray_pct": "%",
        "tax_hauling_pct": "%",
        "cost_share_usd_per_acre": "$ an acre",
        "valid_days": "days",
        "carrier_gal_per_acre": "gal an acre",
        "tank_gal": "gal",
    }
    leads = {
        "years": "How long",
        "overhead_pct": "From cost to price",
        "tax_work_pct": "Sales tax",
        "cost_share_label": "Cost-share",
        "stages": "Payment",
        "carrier_gal_per_acre": "Sprayer",
        "terms_text": "Words",
    }

    class Meta:
        model = Practice
        fields = TERMS_FIELDS
        widgets = {"pricing": forms.RadioSelect}
        help_texts = {
            "years": "Growing seasons planned, one to five; the season of seeding is the first.",
            "overhead_pct": "Added to the direct cost first.",
            "pricing": "A margin is a share of the price, a markup a share of the cost: "
            "a 25 % margin is a 33.3 % markup.",
            "contingency_pct": "Of the priced lines, as a line of its own.",
            "cost_share_label": "Money a program may pay the landowner. It never changes the price.",
            "valid_days": "How long an offer stands.",
            "terms_text": "Printed as typed at the end of a proposal.",
        }

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["pricing"].choices = TermsFields.PRICING  # type: ignore[attr-defined]
        self.fields["terms_text"].widget.attrs["rows"] = 10


class SlopesForm(HouseForm, forms.ModelForm):
    """From where on a practice looks at a slope."""

    class Meta:
        model = Practice
        fields = ["slope_tillage_pct", "slope_machines_pct", "slope_across_pct"]
        help_texts = {
            "slope_tillage_pct": "8 % is common practice: up to it free, to 15 % on the contour.",
            "slope_machines_pct": "15 % (8.5 degrees) is common practice: above it with care, up and down.",
            "slope_across_pct": "27 % (15 degrees) is common practice: above it no tractor goes across.",
        }

    units = dict.fromkeys(Meta.fields, "%")


class LettersForm(HouseForm, forms.ModelForm):
    """Which letters go by themselves, and what stands under each."""

    class Meta:
        model = Practice
        fields = ["remind_client", "remind_days", "tell_client", "tell_crew", "tell_days", "letter_signature"]
        help_texts = {
            "remind_client": "Once for each offer that nobody has answered.",
            "tell_client": "Once for each day that is booked, and again when it moves or is called off.",
            "tell_crew": "To each of the people whom a visit is given to, in the same way.",
            "letter_signature": "Empty for the name, phone and e-mail address of the practice.",
        }

    units = {"remind_days": "days", "tell_days": "days"}
    leads = {
        "remind_client": "Offers",
        "tell_client": "Visits",
        "letter_signature": "Under every letter",
    }


class InviteForm(HouseForm, forms.ModelForm):
    class Meta:
        model = Invitation
        fields = ["email", "role"]
        widgets = {"role": forms.RadioSelect}

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["role"].choices = Invitation._meta.get_field("role").choices  # type: ignore[attr-defined]


class RoleForm(HouseForm, forms.ModelForm):
    class Meta:
        model = Membership
        fields = ["role", "own_locale"]


class ClientForm(HouseForm, forms.ModelForm):
    class Meta:
        model = Client
        fields = ["name", "address", "phone", "email", "own_locale", "notes"]
        labels = {"name": "Name of the client"}
        help_texts = {
            "own_locale": "Proposals, plans and reports for this client are written in it.",
            "name": "As it should stand on the proposal: a person, a couple, a family farm.",
            "address": "As it should be printed, line by line.",
            "notes": "For yourselves; never printed.",
        }

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        offer_the_practices(self.fields["own_locale"])
