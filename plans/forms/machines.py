"""A machine's form, made from the facts that the rig check takes; and the form that asks about a rig."""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Any

from django import forms
from django.forms.boundfield import BoundField
from django.utils.translation import gettext, gettext_lazy

from consulting.formkit import HouseForm, NumberInput
from consulting.images import PHOTO_TYPES, Photo, as_jpeg
from consulting.models import Machine
from plans import machine_facts
from plans.forms import put
from plans.machine_facts import NONE, NONE_THERE, Asked, BadFacts, every_fact, read_facts
from plans.models import Visit
from plans.planning import tables
from plans.planning.rig import RigCheck, Road, rig_check

FACT = "fact"
NOT_LOOKED = gettext_lazy("Nobody has looked")
ANSWERS = [("", NOT_LOOKED), ("yes", gettext_lazy("Yes")), ("no", gettext_lazy("No"))]
FRACTION = re.compile(r"(?:(\d{1,4})[\s-]+)?(\d{1,3})/(\d{1,3})")


class InchesField(forms.FloatField):
    """A length that may be typed as a rule shows it: 1 1/8."""

    def to_python(self, value: Any) -> Any:
        parts = FRACTION.fullmatch(str(value).strip().removesuffix("in").strip()) if value else None
        if parts and int(parts[3]):
            value = int(parts[1] or 0) + int(parts[2]) / int(parts[3])
        return super().to_python(value)


def fact_field(fact: Asked) -> forms.Field:
    common: dict[str, Any] = {"label": fact.label, "required": False, "help_text": fact.help}
    if fact.form == "answer":
        return forms.ChoiceField(choices=ANSWERS, **common)
    if fact.form == "choice":
        return forms.ChoiceField(choices=[("", NOT_LOOKED), *fact.choices], **common)
    if fact.form == "several":
        choices = [*fact.choices, (NONE, NONE_THERE)]
        return forms.MultipleChoiceField(choices=choices, widget=forms.CheckboxSelectMultiple, **common)
    if fact.form == "whole":
        return forms.IntegerField(widget=NumberInput, **common)
    kind = InchesField if fact.unit == "in" else forms.FloatField
    return kind(widget=NumberInput, **common)


def to_form(value: Any) -> Any:
    """A fact as its field shows it."""
    if isinstance(value, bool):
        return "yes" if value else "no"
    return [NONE] if value == [] else value


def from_form(fact: Asked, value: Any) -> Any:
    """A field's value as the fact; None where nobody has looked."""
    if value in (None, "", []):
        return None
    if fact.form == "answer":
        return value == "yes"
    return [] if value == [NONE] else value


@dataclass(frozen=True, slots=True)
class Group:
    title: str
    boxes: tuple[BoundField, ...]
    says: str
    open: bool


class MachineForm(HouseForm, forms.ModelForm):
    """`instance` carries practice and kind. Groups of facts follow from the kind."""

    operations = forms.MultipleChoiceField(
        label=gettext_lazy("Work it does"), required=False, widget=forms.CheckboxSelectMultiple
    )
    photo = forms.FileField(
        label=gettext_lazy("Photograph"),
        required=False,
        help_text=gettext_lazy(
            "PNG, JPEG, WebP, GIF or HEIC up to 12 MB. It is made smaller; place and day are dropped."
        ),
        widget=forms.FileInput({"accept": PHOTO_TYPES}),
    )

    class Meta:
        model = Machine
        fields = [
            "name", "holding", "lender", "rent_usd_per_day", "delivery_usd", "operations", "notes", "active",
        ]  # fmt: skip
        labels = {
            "notes": gettext_lazy("Notes"),
        }
        help_texts = {
            "name": gettext_lazy("By its class and size, such as 75-hp tractor."),
            "lender": gettext_lazy("For a machine that is borrowed or rented."),
            "delivery_usd": gettext_lazy("For one delivery, with the return."),
            "active": gettext_lazy("A machine that is not in use is left out of the rig check."),
        }
        widgets = {"holding": forms.RadioSelect}

    units = {"rent_usd_per_day": gettext_lazy("$ a day"), "delivery_usd": "$"}

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["holding"].choices = Machine.Holding.choices  # type: ignore[attr-defined]
        if self.instance.kind == Machine.Kind.IMPLEMENT:
            works = [(key, row.label) for key, row in tables.operations().items()]
            self.fields["operations"].choices = works  # type: ignore[attr-defined]
        else:
            del self.fields["operations"]
        for fact in every_fact(self.instance.kind):
            name = f"{FACT}-{fact.name}"
            put(self, name, fact_field(fact), fact.unit)
            if fact.unit == "in":
                said = gettext("{label} must be a length, such as 1 1/8 or 1.125.").format(label=fact.label)
                self.fields[name].error_messages["invalid"] = said
            self.initial[name] = to_form(self.instance.facts.get(fact.name))

    def clean_photo(self) -> Photo | None:
        upload = self.cleaned_data["photo"]
        return as_jpeg(upload) if upload else None

    def _post_clean(self) -> None:
        facts = {}
        for fact in every_fact(self.instance.kind):
            value = from_form(fact, self.cleaned_data.get(f"{FACT}-{fact.name}"))
            if isinstance(value, list) and NONE in value:
                self.add_error(
                    f"{FACT}-{fact.name}",
                    gettext("{label}: tick “{none}” alone, or not.").format(
                        label=fact.label, none=NONE_THERE
                    ),
                )
            elif value is not None:
                facts[fact.name] = value
        self.instance.facts = facts
        try:
            read_facts(self.instance.kind, "", facts)
        except BadFacts as bad:
            for name, said in bad.problems.items():
                field = self.fields.get(f"{FACT}-{name}")
                label = field.label if field else name
                self.add_error(f"{FACT}-{name}" if field else None, f"{label} {said}.")
        super()._post_clean()  # type: ignore[misc]

    def own_boxes(self) -> list[BoundField]:
        """Everything but the facts."""
        return [self[name] for name in self.fields if not name.startswith(f"{FACT}-")]

    def groups(self) -> Iterator[Group]:
        """The facts in their groups; one opens where something is wrong, and the first of a new machine."""
        asked = machine_facts.asked(self.instance.kind)
        typed = {
            fact.name: value
            for group in asked
            for fact in group.facts
            if (value := from_form(fact, self[f"{FACT}-{fact.name}"].value())) is not None
        }
        rest = machine_facts.idle(typed)
        for at, group in enumerate(asked):
            boxes = tuple(self[f"{FACT}-{fact.name}"] for fact in group.facts)
            known = sum(fact.name in typed for fact in group.facts)
            of = sum(fact.name not in rest for fact in group.facts)
            wrong = any(box.errors for box in boxes)
            says = (
                gettext("{known} of {of} known").format(known=known, of=of)
                if of
                else gettext("nothing to look at")
            )
            yield Group(group.title, boxes, says, wrong or (at == 0 and not self.instance.pk))


UNREAD = gettext_lazy("The facts of {name} cannot be read any more. Open it, look at each and save it.")
CHOOSE = {
    Machine.Kind.TRACTOR: gettext_lazy("Choose the tractor"),
    Machine.Kind.IMPLEMENT: gettext_lazy("Choose the implement"),
}


def machine_choices(machines: Sequence[Machine], operation: str) -> list[Any]:
    """Machines as choices; implements that do the work come first."""
    fitting = [(str(one.pk), one.name) for one in machines if operation in one.operations]
    others = [(str(one.pk), one.name) for one in machines if operation not in one.operations]
    return [(gettext("Do this work"), fitting), (gettext("Others"), others)] if fitting else others


class RigForm(HouseForm, forms.Form):
    """Which machines, on what ground, and how they get there. A sound one has `found`."""

    tractor = forms.ChoiceField(label=gettext_lazy("Tractor"))
    implement = forms.ChoiceField(label=gettext_lazy("Implement"))
    slope_pct = forms.FloatField(
        label=gettext_lazy("Steepest slope of the field"),
        required=False,
        min_value=0,
        max_value=200,
        widget=NumberInput,
        help_text=gettext_lazy("The steepest part, not the mean."),
    )
    truck = forms.ChoiceField(label=gettext_lazy("Tow vehicle"), required=False)
    trailer = forms.ChoiceField(
        label=gettext_lazy("Trailer"),
        required=False,
        help_text=gettext_lazy("Left empty, the implement goes on its own wheels."),
    )
    tractor_rides = forms.BooleanField(
        label=gettext_lazy("The tractor goes on the trailer too"), required=False
    )
    by_tractor = forms.BooleanField(
        label=gettext_lazy("The tractor takes the implement there by road"), required=False
    )
    brakes_over_lb = forms.FloatField(
        label=gettext_lazy("Brakes are asked for above"),
        required=False,
        min_value=0,
        max_value=200_000,
        widget=NumberInput,
        help_text=gettext_lazy("Gross weight by this state’s law, where you have looked it up."),
    )
    units = {"slope_pct": "%", "brakes_over_lb": gettext_lazy("lb")}
    leads = {"truck": gettext_lazy("The way there")}

    def __init__(self, machines: Sequence[Machine], visit: Visit | None, data: Any = None) -> None:
        slope = (visit.field.slope_pct or None) if visit else None
        super().__init__(data, initial={"slope_pct": slope})
        self.machines = {str(machine.pk): machine for machine in machines}
        self.visit, self.visit_slope = visit, slope
        self.found: RigCheck | None = None
        if slope:
            self.fields["slope_pct"].help_text = gettext("Left empty, the field’s {slope} % count.").format(
                slope=f"{slope:g}"
            )
        operation = visit.operation if visit else ""
        for kind in Machine.Kind:
            named = [machine for machine in machines if machine.kind == kind]
            field = self.fields[kind.value]
            first = CHOOSE[kind] if field.required else gettext("None")
            field.choices = [("", first), *machine_choices(named, operation)]  # type: ignore[attr-defined]
            gone = gettext("{label} is not on the list any more. Choose another.")
            field.error_messages["invalid_choice"] = gone.format(label=field.label or kind.label)

    def chosen(self, name: str) -> Machine | None:
        return self.machines.get(str(self.cleaned_data.get(name) or ""))

    def rig_machines(self) -> list[Machine]:
        """Those chosen, in the order of the form."""
        return [one for kind in Machine.Kind if (one := self.chosen(kind.value))]

    def clean(self) -> dict[str, Any]:
        data = super().clean() or self.cleaned_data
        if self.errors:
            return data
        if data["by_tractor"] and (data["truck"] or data["trailer"]):
            self.add_error(
                "by_tractor",
                gettext("Either the tractor takes it there or the tow vehicle. Empty one of the two."),
            )
        elif data["trailer"] and not data["truck"]:
            self.add_error("truck", gettext("Choose the tow vehicle that pulls the trailer."))
        if data["tractor_rides"] and not data["trailer"]:
            self.add_error("trailer", gettext("Choose the trailer that the tractor goes on."))
        facts = {kind.value: self.facts_of(kind.value) for kind in Machine.Kind}
        if not self.errors:
            slope = data["slope_pct"] if data["slope_pct"] is not None else self.visit_slope
            self.found = rig_check(facts["tractor"], facts["implement"], slope, self.road(facts))
        return data

    def facts_of(self, name: str) -> Any:
        machine = self.chosen(name)
        if machine is None:
            return None
        try:
            return read_facts(machine.kind, machine.name, machine.facts)
        except BadFacts:
            self.add_error(name, UNREAD.format(name=machine.name))
            return None

    def road(self, facts: dict[str, Any]) -> Road | None:
        if not (facts["truck"] or self.cleaned_data["by_tractor"]):
            return None
        return Road(
            vehicle=facts["truck"],
            trailer=facts["trailer"],
            with_tractor=self.cleaned_data["tractor_rides"],
            brakes_over_lb=self.cleaned_data["brakes_over_lb"],
        )
