"""The short forms of a plan: its title, terms and letter, the choices that move its price, an acceptance."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

from django import forms
from django.forms.boundfield import BoundField
from django.utils.translation import gettext, gettext_lazy

from consulting.formkit import HouseForm
from consulting.forms import TermsForm
from consulting.models import TermsFields
from plans.forms import put
from plans.forms.conversions import current_mixes, program_choices, seeding_choices
from plans.models import Conversion, Mix, Plan
from plans.walked import Suggested, suggested_for


class TitleForm(HouseForm, forms.ModelForm):
    class Meta:
        model = Plan
        fields = ["title"]
        labels = {"title": gettext_lazy("Title of the plan")}
        help_texts = {
            "title": gettext_lazy("As it should stand on the proposal, such as: Two fields to nesting cover.")
        }


class LetterForm(HouseForm, forms.ModelForm):
    class Meta:
        model = Plan
        fields = ["letter"]
        labels = {"letter": gettext_lazy("Your own words")}
        help_texts = {
            "letter": gettext_lazy(
                "A few sentences for the cover letter: what was said on the walk, what matters to them."
            )
        }

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["letter"].widget.attrs["rows"] = 10


class WhyForm(HouseForm, forms.ModelForm):
    class Meta:
        model = Plan
        fields = ["why"]
        labels = {"why": gettext_lazy("Why it differs from the revision before")}
        help_texts = {
            "why": gettext_lazy(
                "In a sentence or two, as the client will read it. It is kept with the revision; what the "
                "numbers show by themselves is listed beneath it."
            )
        }


class PlanTermsForm(TermsForm):
    class Meta(TermsForm.Meta):
        model = Plan  # type: ignore[assignment]


class ReasonForm(HouseForm, forms.Form):
    key = forms.CharField(max_length=2500, widget=forms.HiddenInput)
    reason = forms.CharField(label=gettext_lazy("Why it is accepted"), max_length=2000)


@dataclass(frozen=True, slots=True)
class FieldChoice:
    """The choices of one field of the plan."""

    conversion: Conversion
    mix: BoundField | None
    kill_program: BoundField
    seeding: BoundField
    start_on: BoundField
    suggested: Suggested | None
    """What the field's latest walk-over suggests."""


class ChoicesForm(HouseForm, forms.Form):
    """The few choices that move a price most, for all fields at once."""

    sends_itself = True
    units = {"pricing_pct": "%"}
    narrow = ("start_on",)

    def __init__(self, data: Any = None, *, plan: Plan) -> None:
        super().__init__(data)
        self.plan = plan
        self.on_records(plan, *plan.conversions.all())
        kept = {conversion.mix_id for conversion in plan.conversions.all()}
        self.mixes: dict[str, Mix] = {str(mix.pk): mix for mix in current_mixes(kept)}
        for conversion in plan.conversions.all():
            self.add_field_choices(conversion)
        put(self, "pricing", forms.ChoiceField(label=gettext("Way of pricing"), choices=TermsFields.PRICING))
        put(
            self,
            "pricing_pct",
            forms.FloatField(label=gettext("Margin or markup"), min_value=0, max_value=300),
        )
        self.initial["pricing"], self.initial["pricing_pct"] = plan.pricing, plan.pricing_pct

    def add_field_choices(self, conversion: Conversion) -> None:
        ground = conversion.field
        mixes = [(key, str(mix)) for key, mix in self.mixes.items()]
        sown = {
            "mix": forms.ChoiceField(label=gettext("Mix on {name}").format(name=ground.name), choices=mixes)
        }
        fields = (sown if conversion.mix_id else {}) | {
            "kill_program": forms.ChoiceField(
                label=gettext("Kill program on {name}").format(name=ground.name),
                choices=program_choices(ground.cover, conversion.purpose),
            ),
            "seeding": forms.ChoiceField(
                label=gettext("Seeding on {name}").format(name=ground.name),
                choices=seeding_choices(conversion.purpose),
            ),
            "start_on": forms.DateField(
                label=gettext("Work on {name} may begin on").format(name=ground.name)
            ),
        }
        for name, field in fields.items():
            put(self, f"{conversion.pk}-{name}", field)
            kept = getattr(conversion, name)
            self.initial[f"{conversion.pk}-{name}"] = str(kept.pk) if name == "mix" else kept

    def rows(self) -> Iterator[FieldChoice]:
        found = suggested_for(self.plan.conversions.all(), self.plan.farm)
        for conversion in self.plan.conversions.all():
            names = ("kill_program", "seeding", "start_on")
            mix = self[f"{conversion.pk}-mix"] if conversion.mix_id else None
            kill, seeding, start = (self[f"{conversion.pk}-{name}"] for name in names)
            yield FieldChoice(conversion, mix, kill, seeding, start, found.get(conversion.field_id))

    def clean(self) -> dict[str, Any]:
        cleaned = self.cleaned_data
        pct = cleaned.get("pricing_pct")
        if cleaned.get("pricing") == "margin on price" and pct is not None and pct >= 100:
            self.add_error(
                "pricing_pct",
                gettext("A margin on price must be under 100 %. Lower it, or choose markup on cost."),
            )
        return cleaned

    def changed(self) -> list[Conversion]:
        """The conversions with the choices written on them; none saved."""
        for conversion in self.plan.conversions.all():
            values = {
                name: self.cleaned_data[f"{conversion.pk}-{name}"]
                for name in ("kill_program", "seeding", "start_on")
            }
            for name, value in values.items():
                setattr(conversion, name, value)
            if conversion.mix_id:
                conversion.mix = self.mixes[self.cleaned_data[f"{conversion.pk}-mix"]]
        return list(self.plan.conversions.all())

    def pricing(self) -> dict[str, Any]:
        return {name: self.cleaned_data[name] for name in ("pricing", "pricing_pct")}
