"""The mix builder: the mix itself, and a line for each species. A line left empty is no line."""

from __future__ import annotations

from collections.abc import Iterator
from difflib import get_close_matches
from typing import Any

from django import forms
from django.forms.formsets import BaseFormSet
from django.utils.translation import gettext, gettext_lazy

from consulting.beside import Beside
from consulting.formkit import HouseForm
from plans.models import Mix
from plans.models.mixes import Basis, RateIsFor
from plans.planning import job, tables

SPARE_LINES = 4
MOST_LINES = 80


class MixForm(HouseForm, forms.ModelForm):
    class Meta:
        model = Mix
        fields = ["name", "basis", "seeds_per_sqft", "rate_is_for"]
        labels = {
            "name": gettext_lazy("Name"),
            "basis": gettext_lazy("The amounts below are"),
            "seeds_per_sqft": gettext_lazy("Live seeds per square foot, the whole mix"),
            "rate_is_for": gettext_lazy("The rate is for seed that is"),
        }
        help_texts = {
            "seeds_per_sqft": gettext_lazy("Needed for both shares; not used when the amounts are pounds."),
            "rate_is_for": gettext_lazy(
                "A drilled rate is raised when the mix is broadcast; a broadcast rate stays."
            ),
        }
        widgets = {"basis": forms.RadioSelect, "rate_is_for": forms.RadioSelect}

    units = {"seeds_per_sqft": "seeds/ft²"}

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        if self.instance.pk:
            self.on_records(self.instance, *self.instance.lines.all())
        self.fields["basis"].choices = Basis.choices  # type: ignore[attr-defined]
        self.fields["rate_is_for"].choices = RateIsFor.choices  # type: ignore[attr-defined]

    def also_beside(self) -> Iterator[Beside]:
        """The lines, one a row of text."""
        stand = {line.species: line.amount for line in self.instance.lines.all()}
        typed = Lines(self.data, prefix="lines")
        mine = {line.species: line.amount for line in typed.facts()}
        rows = [(form["species"].value(), form["amount"].value()) for form in typed.forms]
        if mine != stand or any(species and species not in mine for species, _amount in rows):
            wrote = [f"{species}: {amount}" for species, amount in rows if species or amount]
            stood = [f"{species}: {amount:g}" for species, amount in stand.items()]
            yield Beside("lines", gettext("Species and amounts"), "\n".join(stood), "\n".join(wrote))

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or self.cleaned_data
        density = cleaned.get("seeds_per_sqft")
        if (
            density is None
            and "seeds_per_sqft" not in self.errors
            and cleaned.get("basis") != "lb PLS per acre"
        ):
            self.add_error(
                "seeds_per_sqft", gettext("A mix by share needs its seeds per square foot, for example 40.")
            )
        return cleaned


class LineForm(HouseForm, forms.Form):
    species = forms.CharField(
        label=gettext_lazy("Species"),
        required=False,
        max_length=200,
        widget=forms.TextInput(attrs={"list": "species", "autocomplete": "off", "autocapitalize": "none"}),
    )
    amount = forms.FloatField(label=gettext_lazy("Amount"), required=False)

    def clean_species(self) -> str:
        given = self.cleaned_data["species"]
        known = {name.lower(): name for name in tables.species()}
        if not given or given.lower() in known:
            return known.get(given.lower(), "")
        near = get_close_matches(given.lower(), known, n=1)
        if near:
            said = gettext("“{given}” is not in the species list. Did you mean {near}?")
            raise forms.ValidationError(said.format(given=given, near=known[near[0]]))
        said = gettext("“{given}” is not in the species list. Choose one from the list.")
        raise forms.ValidationError(said.format(given=given))

    def clean(self) -> dict[str, Any]:
        cleaned = self.cleaned_data
        species, amount = cleaned.get("species"), cleaned.get("amount")
        if amount is not None and not 0 < amount <= 1e9:
            self.add_error("amount", gettext("Give an amount over 0."))
        elif species and amount is None and "amount" not in self.errors:
            self.add_error(
                "amount",
                gettext("How much {species}? Give an amount, or clear the line.").format(species=species),
            )
        elif amount is not None and not species and "species" not in self.errors:
            self.add_error("species", gettext("Which species is this? Choose one, or clear the line."))
        return cleaned


class BaseLines(BaseFormSet):
    default_error_messages = {
        "missing_management_form": gettext_lazy(
            "The lines of the mix came incomplete, and nothing was saved. Open the mix again and type them."
        )
    }

    def facts(self) -> list[job.MixLine]:
        """The lines that are filled in and sound."""
        cleaned = [form.cleaned_data for form in self.forms if form.is_valid()]
        return [
            job.MixLine(species=line["species"], amount=line["amount"])
            for line in cleaned
            if line.get("species") and line.get("amount")
        ]

    def clean(self) -> None:
        if any(self.errors):
            return
        if not self.facts():
            raise forms.ValidationError(gettext("A mix needs at least one species."))


Lines: type[BaseLines] = forms.formset_factory(  # type: ignore[assignment]
    LineForm, formset=BaseLines, extra=SPARE_LINES, max_num=MOST_LINES, absolute_max=MOST_LINES + SPARE_LINES
)


def lines_for(mix: Mix) -> BaseLines:
    rows = [{"species": line.species, "amount": line.amount} for line in mix.lines.all()] if mix.pk else []
    return Lines(prefix="lines", initial=rows)


def with_more_lines(data: Any) -> BaseLines:
    """The lines as typed and some spare ones, unchecked."""
    typed = Lines(data, prefix="lines")
    rows = [{"species": form["species"].value(), "amount": form["amount"].value()} for form in typed.forms]
    kept = [row for row in rows if row["species"] or row["amount"]]
    return Lines(prefix="lines", initial=kept)


def whole(form: MixForm, lines: BaseLines) -> job.Mix | None:
    """The mix as the planning service takes it; what it refuses becomes an error of the form."""
    if not (form.is_valid() and lines.is_valid()):
        return None
    cleaned = form.cleaned_data
    try:
        return job.Mix(
            name=cleaned["name"],
            basis=cleaned["basis"],
            seeds_per_sqft=cleaned["seeds_per_sqft"],
            rate_is_for=cleaned["rate_is_for"],
            lines=tuple(lines.facts()),
        )
    except ValueError as refused:
        message = str(refused)
        form.add_error(None, message[0].upper() + message[1:] + ".")
        return None
