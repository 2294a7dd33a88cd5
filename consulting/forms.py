"""The forms of the business: the practice, its terms and people, and its clients."""

from __future__ import annotations

from typing import Any

from django import forms
from django.core.exceptions import ValidationError
from django.utils.translation import gettext, gettext_lazy

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
    "America/New_York": gettext_lazy("Eastern"),
    "America/Chicago": gettext_lazy("Central"),
    "America/Denver": gettext_lazy("Mountain"),
    "America/Phoenix": gettext_lazy("Arizona"),
    "America/Los_Angeles": gettext_lazy("Pacific"),
    "America/Anchorage": gettext_lazy("Alaska"),
    "Pacific/Honolulu": gettext_lazy("Hawaii"),
}


def time_zones() -> list[tuple[str, Any]]:
    elsewhere = sorted(zone for zone in time_zone_names() if "/" in zone and zone not in US_ZONES)
    return [
        (gettext("United States"), list(US_ZONES.items())),
        (gettext("Elsewhere"), [(zone, zone.replace("_", " ")) for zone in elsewhere]),
    ]


class FoundForm(HouseForm, forms.ModelForm):
    class Meta:
        model = Practice
        fields = ["name", "slug", "time_zone"]
        labels = {
            "time_zone": gettext_lazy("Time zone"),
            "name": gettext_lazy("Name of the practice"),
            "slug": gettext_lazy("Web address"),
        }
        help_texts = {
            "name": gettext_lazy("As it should stand at the head of a proposal."),
            "slug": gettext_lazy(
                "Small letters, digits and hyphens. Leave it empty to have it made from the name."
            ),
        }

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["slug"].required = False
        self.fields["time_zone"].widget = forms.Select(choices=time_zones())


class DetailsForm(HouseForm, forms.ModelForm):
    logo = forms.FileField(
        label=gettext_lazy("Logo"),
        required=False,
        help_text=gettext_lazy("PNG, JPEG, WebP or GIF up to 2 MB. It is printed at the head of proposals."),
        widget=forms.FileInput({"accept": "image/png,image/jpeg,image/webp,image/gif"}),
    )

    class Meta:
        model = Practice
        fields = [
            "name", "address", "phone", "email", "applicator_licence", "emergency_contacts", "time_zone",
            "locale", "paper", "measures", "tile_address", "tile_attribution",
        ]  # fmt: skip
        labels = {
            "name": gettext_lazy("Name"),
            "phone": gettext_lazy("Phone"),
            "emergency_contacts": gettext_lazy("Emergency contacts"),
            "time_zone": gettext_lazy("Time zone"),
            "paper": gettext_lazy("Paper"),
        }
        widgets = {"paper": forms.RadioSelect, "measures": forms.RadioSelect}
        help_texts = {
            "locale": gettext_lazy(
                "Of what clients and crews read, with its way of writing numbers and dates. A client "
                "or a member may have another. Your own pages stay in English, and all prices in US dollars."
            ),
            "measures": gettext_lazy(
                "Of what clients and crews read. You go on entering acres, pounds and gallons."
            ),
            "tile_address": gettext_lazy(
                "Of a service that you may use, such as an own server of air photographs: "
                "https://…/{z}/{x}/{y}.png. Browsers then fetch its pictures on drawing pages, and it sees "
                "where you look. Leave it empty to draw on a plain grid."
            ),
            "tile_attribution": gettext_lazy("As the service asks to be named; it is printed under the map."),
            "emergency_contacts": gettext_lazy(
                "Printed on the crew sheet, one a line: who, a colon, the number."
            ),
            "address": gettext_lazy("As it should be printed, line by line."),
            "applicator_licence": gettext_lazy(
                "The line to print, such as the category, number and state. "
                "Leave it empty when no license is on file."
            ),
        }

    leads = {
        "locale": gettext_lazy("What clients and crews read"),
        "tile_address": gettext_lazy("Under the drawings of fields"),
    }

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
                said = gettext(
                    "The share of payment stage {number} must be a number, such as 25; given “{given}”."
                )
                raise ValidationError(said.format(number=number, given=row["share_pct"])) from None
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
        label=gettext_lazy("Payment stages"),
        help_text=gettext_lazy("The shares must sum to 100 %. Empty rows are left out."),
    )
    units = {
        "years": gettext_lazy("seasons"),
        "overhead_pct": "%",
        "pricing_pct": "%",
        "contingency_pct": "%",
        "discount_pct": "%",
        "tax_work_pct": "%",
        "tax_seed_pct": "%",
        "tax_materials_pct": "%",
        "tax_spray_pct": "%",
        "tax_hauling_pct": "%",
        "cost_share_usd_per_acre": gettext_lazy("$ an acre"),
        "valid_days": gettext_lazy("days"),
        "carrier_gal_per_acre": gettext_lazy("gal an acre"),
        "tank_gal": gettext_lazy("gal"),
    }
    leads = {
        "years": gettext_lazy("How long"),
        "overhead_pct": gettext_lazy("From cost to price"),
        "tax_work_pct": gettext_lazy("Sales tax"),
        "cost_share_label": gettext_lazy("Cost-share"),
        "stages": gettext_lazy("Payment"),
        "carrier_gal_per_acre": gettext_lazy("Sprayer"),
        "terms_text": gettext_lazy("Words"),
    }

    class Meta:
        model = Practice
        fields = TERMS_FIELDS
        labels = {"years": gettext_lazy("Years")}
        widgets = {"pricing": forms.RadioSelect}
        help_texts = {
            "years": gettext_lazy(
                "Growing seasons planned, one to five; the season of seeding is the first."
            ),
            "overhead_pct": gettext_lazy("Added to the direct cost first."),
            "pricing": gettext_lazy(
                "A margin is a share of the price, a markup a share of the cost: "
                "a 25 % margin is a 33.3 % markup."
            ),
            "contingency_pct": gettext_lazy("Of the priced lines, as a line of its own."),
            "cost_share_label": gettext_lazy(
                "Money a program may pay the landowner. It never changes the price."
            ),
            "valid_days": gettext_lazy("How long an offer stands."),
            "terms_text": gettext_lazy("Printed as typed at the end of a proposal."),
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
            "slope_tillage_pct": gettext_lazy(
                "8 % is common practice: up to it free, to 15 % on the contour."
            ),
            "slope_machines_pct": gettext_lazy(
                "15 % (8.5 degrees) is common practice: above it with care, up and down."
            ),
            "slope_across_pct": gettext_lazy(
                "27 % (15 degrees) is common practice: above it no tractor goes across."
            ),
        }

    units = dict.fromkeys(Meta.fields, "%")


class LettersForm(HouseForm, forms.ModelForm):
    """Which letters go by themselves, and what stands under each."""

    class Meta:
        model = Practice
        fields = ["remind_client", "remind_days", "tell_client", "tell_crew", "tell_days", "letter_signature"]
        help_texts = {
            "remind_client": gettext_lazy("Once for each offer that nobody has answered."),
            "tell_client": gettext_lazy(
                "Once for each day that is booked, and again when it moves or is called off."
            ),
            "tell_crew": gettext_lazy("To each of the people whom a visit is given to, in the same way."),
            "letter_signature": gettext_lazy("Empty for the name, phone and e-mail address of the practice."),
        }

    units = {"remind_days": gettext_lazy("days"), "tell_days": gettext_lazy("days")}
    leads = {
        "remind_client": gettext_lazy("Offers"),
        "tell_client": gettext_lazy("Visits"),
        "letter_signature": gettext_lazy("Under every letter"),
    }


class InviteForm(HouseForm, forms.ModelForm):
    class Meta:
        model = Invitation
        fields = ["email", "role"]
        labels = {"role": gettext_lazy("Role")}
        widgets = {"role": forms.RadioSelect}

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["role"].choices = Invitation._meta.get_field("role").choices  # type: ignore[attr-defined]


class RoleForm(HouseForm, forms.ModelForm):
    class Meta:
        model = Membership
        fields = ["role", "own_locale"]
        labels = {"role": gettext_lazy("Role")}


class ClientForm(HouseForm, forms.ModelForm):
    class Meta:
        model = Client
        fields = ["name", "address", "phone", "email", "own_locale", "notes"]
        labels = {
            "phone": gettext_lazy("Phone"),
            "notes": gettext_lazy("Notes"),
            "name": gettext_lazy("Name of the client"),
        }
        help_texts = {
            "own_locale": gettext_lazy("Proposals, plans and reports for this client are written in it."),
            "name": gettext_lazy("As it should stand on the proposal: a person, a couple, a family farm."),
            "address": gettext_lazy("As it should be printed, line by line."),
            "notes": gettext_lazy("For yourselves; never printed."),
        }

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        offer_the_practices(self.fields["own_locale"])
