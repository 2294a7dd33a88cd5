"""One field of a plan: mix, kill program, seeding, and each of the steps that follow from them."""

from __future__ import annotations

from collections.abc import Collection, Iterator
from dataclasses import dataclass
from typing import Any

from django import forms
from django.db.models import Q, QuerySet
from django.forms.boundfield import BoundField
from django.utils.translation import gettext, gettext_lazy

from consulting.clock import today_for
from consulting.formkit import HouseForm, whole_number
from plans.forms import put
from plans.forms.plantings import (
    add_soil_test,
    add_trees,
    check_soil_day,
    soil_typed,
    tree_lines,
    trees_typed,
)
from plans.models import Conversion, Mix, MixLine
from plans.models.plans import Purpose
from plans.planning import tables
from plans.planning.programs import belongs, conditions, useful_options
from plans.planning.tables import Step
from sites.models import Field

LEFT, RATE, DONE = "left", "rate", "done"


def current_mixes(kept: Collection[int | None]) -> QuerySet[Mix]:
    """Mixes to choose from: the latest versions, and those in use already."""
    return Mix.objects.filter(Q(replaced=False) | Q(pk__in=[pk for pk in kept if pk]))


def programs_for(purpose: str) -> dict[str, tables.Program]:
    """Kill programs that go with a way of seeding that serves the purpose, in table order."""
    ways = {key for key, _ in seeding_choices(purpose)}
    return {key: row for key, row in tables.programs().items() if ways & set(row.seedings)}


def program_choices(cover: str, purpose: str) -> list[tuple[str, Any]]:
    """Kill programs for a purpose, those that fit the cover first."""
    rows = programs_for(purpose).items()
    fitting = [(key, row.label) for key, row in rows if cover in row.covers]
    others = [(key, row.label) for key, row in rows if cover not in row.covers]
    groups = ((gettext("Fit this ground"), fitting), (gettext("Meant for other ground"), others))
    return [(label, choices) for label, choices in groups if choices]


def first_program(cover: str, purpose: str) -> str:
    """The first program written for a cover, else the first of the purpose."""
    rows = programs_for(purpose)
    return next((key for key, row in rows.items() if cover in row.covers), next(iter(rows), ""))


def seeding_choices(purpose: str) -> list[tuple[str, str]]:
    """Ways of seeding that serve a purpose."""
    return [(key, row.label) for key, row in tables.seedings().items() if purpose in row.purposes]


def offered_steps(
    program: str, seeding: str, options: Collection[str], years: int, met: Collection[str]
) -> list[Step]:
    """Steps that the plan takes unless they are left out, in order."""
    taken = (step for step in tables.steps().values() if belongs(step, program, seeding, options, years, met))
    return sorted(taken, key=lambda step: step.order)


@dataclass(frozen=True, slots=True)
class RateRow:
    ingredient: str
    usual_lb_per_acre: float
    box: BoundField


@dataclass(frozen=True, slots=True)
class StepRow:
    """A step with the form's fields for it."""

    step: Step
    left: BoundField
    done: BoundField
    rates: tuple[RateRow, ...]


class ConversionForm(HouseForm, forms.ModelForm):
    """`instance` carries plan and field. Which steps are asked about follows from program and seeding."""

    mix: forms.ModelChoiceField[Mix] = forms.ModelChoiceField(
        label=gettext_lazy("Mix"), queryset=None, empty_label=gettext_lazy("Choose a mix")
    )
    purpose = forms.ChoiceField(label=gettext_lazy("What it is to become"), choices=Purpose.choices)
    options = forms.MultipleChoiceField(
        label=gettext_lazy("Steps to add"), required=False, widget=forms.CheckboxSelectMultiple, choices=()
    )

    class Meta:
        model = Conversion
        fields = ["purpose", "kill_program", "seeding", "start_on", "broadcast_factor"]
        labels = {
            "start_on": gettext_lazy("Work may begin on"),
            "kill_program": gettext_lazy("How the old cover is killed"),
            "seeding": gettext_lazy("How the seed goes in"),
            "broadcast_factor": gettext_lazy("Seed raised when broadcast by"),
        }
        help_texts = {
            "start_on": gettext_lazy(
                "The first day on which anything can be done. Windows already shut by then "
                "move to the next sound season."
            ),
            "broadcast_factor": gettext_lazy(
                "Times the drilled rate, where the mix is written for drilling. "
                "Published advice runs from 1 to 2."
            ),
        }

    field_order = ["purpose", "mix"]
    units = {"broadcast_factor": gettext_lazy("times")}
    narrow = ("start_on",)

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.on_records(self.instance)
        ground: Field = self.instance.field
        self.aim = self.chosen("purpose")
        self.fields["mix"].queryset = current_mixes([self.instance.mix_id])  # type: ignore[attr-defined]
        self.initial.setdefault("mix", self.instance.mix_id)
        for name, choices in (
            ("kill_program", program_choices(ground.cover, self.aim)),
            ("seeding", seeding_choices(self.aim)),
        ):
            put(self, name, forms.ChoiceField(label=self.fields[name].label, choices=choices))
        if self.initial.get("kill_program") not in programs_for(self.aim):
            self.initial["kill_program"] = first_program(ground.cover, self.aim)
        ways = [key for key, _ in seeding_choices(self.aim)]
        if ways and self.initial.get("seeding") not in ways:
            self.initial["seeding"] = ways[0]
        self.program, self.seeding = self.chosen("kill_program"), self.chosen("seeding")
        if self.plants_trees:
            del self.fields["mix"]
            add_trees(self, self.instance.trees)
            add_soil_test(self, self.instance.soil_test, "tested_on", "ph")
            self.fields["seeding"].label = gettext("How they are set")
        if self.is_plot:
            add_soil_test(self, self.instance.soil_test)
        met = self.conditions(ground)
        self.fields["options"].choices = [  # type: ignore[attr-defined]
            (row.option, row.label) for row in useful_options(self.program, self.seeding, met)
        ]
        self.initial.setdefault("options", self.instance.options)
        options = self["options"].value() or []
        self.steps = offered_steps(self.program, self.seeding, options, self.instance.plan.years, met)
        self.add_step_fields()

    @property
    def plants_trees(self) -> bool:
        return self.aim == Purpose.TREES

    @property
    def is_plot(self) -> bool:
        return self.aim == Purpose.PLOT

    def conditions(self, ground: Field) -> frozenset[str]:
        """What holds on the field as the form stands now."""
        kept = [name for name in self.fields if name.startswith("soil-")]
        return conditions(
            ground.thatch,
            self.species(),
            soil_tested=any(self[name].value() for name in kept if name != "soil-lime_ecce_pct"),
            limed=self.over_zero("soil-lime_tons_per_acre"),
            tubes=self.over_zero("trees-tubes_pct"),
            replaced=self.over_zero("trees-replaced_pct"),
        )

    def species(self) -> list[str]:
        """Species of the mix chosen now."""
        chosen = str(self["mix"].value() or "") if "mix" in self.fields else ""
        return list(
            MixLine.objects.filter(mix_id=whole_number(chosen) or 0).values_list("species", flat=True)
        )

    def over_zero(self, name: str) -> bool:
        try:
            return name in self.fields and float(self[name].value() or 0) > 0
        except ValueError:
            return False

    def tree_lines(self) -> list[tuple[BoundField, BoundField]]:
        return tree_lines(self)

    def tree_boxes(self) -> list[BoundField]:
        return [self[name] for name in self.fields if name.startswith("trees-")]

    def soil_boxes(self) -> list[BoundField]:
        return [self[name] for name in self.fields if name.startswith("soil-")]

    def chosen(self, name: str) -> str:
        """What stands in a select now: as posted, else as kept."""
        value = self.data.get(self.add_prefix(name)) if self.is_bound else None
        return str(value or self.initial.get(name) or "")

    def add_step_fields(self) -> None:
        done = {entry["step"]: entry["on"] for entry in self.instance.log}
        for step in self.steps:
            key, label = step.step, step.label
            left = forms.BooleanField(label=gettext("Leave out: {label}").format(label=label), required=False)
            put(self, f"{LEFT}-{key}", left)
            put(
                self,
                f"{DONE}-{key}",
                forms.DateField(label=gettext("Done on: {label}").format(label=label), required=False),
            )
            self.initial[f"{LEFT}-{key}"] = key in self.instance.left_out
            self.initial[f"{DONE}-{key}"] = done.get(key)
            for at, (ingredient, _) in enumerate(step.chemicals):
                name = f"{RATE}-{key}-{at}"
                own = forms.FloatField(
                    label=gettext("Own rate of {ingredient}: {label}").format(
                        ingredient=ingredient, label=label
                    ),
                    required=False,
                    min_value=0.0001,
                    max_value=1000,
                )
                put(self, name, own, "lb/acre")
                self.initial[name] = self.instance.rates_lb_per_acre.get(f"{key}/{ingredient}")

    @property
    def program_row(self) -> tables.Program | None:
        return tables.programs().get(self.program)

    @property
    def seeding_row(self) -> tables.Seeding | None:
        return tables.seedings().get(self.seeding)

    @property
    def steps_touched(self) -> bool:
        """Whether any usual step is left out, done or given a rate of its own."""
        names = (name for name in self.fields if name.startswith((f"{LEFT}-", f"{DONE}-", f"{RATE}-")))
        return any(self[name].value() for name in names)

    def step_rows(self) -> Iterator[StepRow]:
        for step in self.steps:
            rates = tuple(
                RateRow(ingredient, usual, self[f"{RATE}-{step.step}-{at}"])
                for at, (ingredient, usual) in enumerate(step.chemicals)
            )
            yield StepRow(step, self[f"{LEFT}-{step.step}"], self[f"{DONE}-{step.step}"], rates)

    def option_rows(self) -> list[tuple[Any, tables.Option]]:
        """Each checkbox with the option it stands for."""
        return [(box, tables.options()[str(box.data["value"])]) for box in self["options"].subwidgets]

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or self.cleaned_data
        today = today_for(self.instance.plan.practice)
        check_soil_day(self, cleaned, today)
        for step in self.steps:
            day = cleaned.get(f"{DONE}-{step.step}")
            if day and day > today:
                self.add_error(
                    f"{DONE}-{step.step}",
                    gettext(
                        "{label}: that day is still to come. Enter the day on which it was done, or "
                        "leave it empty until then."
                    ).format(label=step.label),
                )
            if cleaned.get(f"{LEFT}-{step.step}") and cleaned.get(f"{DONE}-{step.step}"):
                self.add_error(
                    f"{DONE}-{step.step}",
                    gettext("This step is left out and yet done; clear one of the two."),
                )
        return cleaned

    def _post_clean(self) -> None:
        """Write the steps on the row; what is known of another program's steps stays for its return."""
        row, cleaned = self.instance, self.cleaned_data
        shown = {step.step for step in self.steps}
        row.mix = cleaned.get("mix", None if self.plants_trees else row.mix)
        row.trees = trees_typed(self, cleaned) if self.plants_trees else None
        row.soil_test = soil_typed(cleaned)
        row.options = cleaned.get("options", [])
        row.left_out = [key for key in row.left_out if key not in shown]
        row.left_out += [step.step for step in self.steps if cleaned.get(f"{LEFT}-{step.step}")]
        rates = {
            key: rate for key, rate in row.rates_lb_per_acre.items() if key.partition("/")[0] not in shown
        }
        row.rates_lb_per_acre = rates | {
            f"{step.step}/{ingredient}": rate
            for step in self.steps
            for at, (ingredient, _) in enumerate(step.chemicals)
            if (rate := cleaned.get(f"{RATE}-{step.step}-{at}"))
        }
        row.log = [entry for entry in row.log if entry["step"] not in shown]
        row.log += [
            {"step": step.step, "on": day.isoformat()}
            for step in self.steps
            if (day := cleaned.get(f"{DONE}-{step.step}"))
        ]
        super()._post_clean()  # type: ignore[misc]
