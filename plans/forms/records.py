"""The form of a record: what its kind asks, a line for each thing used, and what the state asks besides."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any
from uuid import uuid4

from django import forms
from django.forms.boundfield import BoundField
from django.utils.functional import Promise
from django.utils.translation import gettext, gettext_lazy

from consulting.formkit import HouseForm
from plans.documents.told import told
from plans.lines import SHED_KINDS, UNITS, in_unit, line_key
from plans.lots_drawn import ELSEWHERE, FOUND, Draw, LotHere, lots_here, lots_of
from plans.models import LotUse, RecordLabels, RecordLine, WorkRecord
from plans.models.records import MOST_LABELS
from plans.planned import SPARE, Beginning, PlannedLine, kinds_in_the_shed
from plans.planning.figures import plain
from plans.records import LABELS, REQUIRED, Kind, by_people
from plans.shed import named

WORKED = ("Hours in the field", ("hours", "person_hours", "hours_reason"))
AIR = ("wind_mph", "wind_from", "temp_f", "humidity_pct", "sky")
GROUPS: dict[str, tuple[tuple[str | Promise, tuple[str, ...]], ...]] = {
    Kind.APPLICATION: (
        (gettext_lazy("When"), ("on", "start_time", "end_time", "acres")),
        WORKED,
        (gettext_lazy("Who"), ("applicator", "certificate", "supervised", "people")),
        (
            gettext_lazy("Where and for whom"),
            ("place", "site", "target", "customer_name", "customer_address"),
        ),
        (gettext_lazy("The air"), AIR),
    ),
    Kind.BURN: (
        (gettext_lazy("When"), ("on", "start_time", "end_time", "acres", "people")),
        WORKED,
        (gettext_lazy("The air"), AIR),
    ),
}
PLAIN = (("", ("on", "acres", "people")), WORKED)
HELP = {
    "supervised": "Name of who sprayed without a certificate; empty where the applicator did.",
    "wind_mph": "At the boom, as measured. Many states ask for it.",
    "certificate": "As it stands on the card.",
    "hours": "Of the machine or the crew as one, with turning and filling, without the road.",
    "person_hours": "Of all people added up.",
}
NAMES = {
    "product": "Product, as its label names it",
    "adjuvant": "Adjuvant",
    "seed": "Species",
    "plants": "Plants",
    "material": "Material",
}
AMOUNTS = {"seed": "Bulk seed used", "plants": "Plants set", "": "Amount used"}
SHORT = [
    (FOUND, "There was more of it: put the shed’s count right"),
    (ELSEWHERE, "Take what the shed has; the rest was not from it"),
]
"""What can be true where more was used than the shed has."""


class TimeInput(forms.TimeInput):
    input_type = "time"

    def __init__(self) -> None:
        super().__init__(format="%H:%M")


def record_field(name: str, required: bool) -> forms.Field:
    """The form's field for a column of the record."""
    if name in ("start_time", "end_time"):
        wrong = gettext("{label} must be a time of day, such as 07:40.").format(label=gettext(LABELS[name]))
        return forms.TimeField(
            label=LABELS[name], required=required, widget=TimeInput(), error_messages={"invalid": wrong}
        )
    column: Any = WorkRecord._meta.get_field(name)
    made: forms.Field = column.formfield(label=LABELS[name], required=required)
    made.help_text = HELP.get(name, "")
    return made


@dataclass(frozen=True, slots=True)
class Line:
    """One line of the form: its heading, what was planned of it, and its fields."""

    title: str
    planned: str
    fields: tuple[BoundField, ...]
    spare: bool = False


@dataclass(frozen=True, slots=True)
class Group:
    title: str
    fields: tuple[BoundField, ...]
    planned: str = ""


class RecordForm(HouseForm, forms.Form):
    """Lays out the fields of a `Beginning` after the form's own; `groups` and `used` are for the template."""

    units = {
        "acres": "acres",
        "hours": "h",
        "person_hours": "h",
        "wind_mph": "mph",
        "temp_f": "°F",
        "humidity_pct": "%",
    }
    narrow = ("on", "start_time", "end_time", "wind_from", "sky")
    beginning: Beginning

    def lay_out(self, beginning: Beginning) -> None:
        self.beginning = beginning
        self.shown = GROUPS.get(beginning.kind, PLAIN)
        asked = [name for _, names in self.shown for name in names if name not in self.fields]
        for name in asked:
            self.put(name, record_field(name, name in REQUIRED.get(beginning.kind, ())))
        for order, label in enumerate(beginning.labels[:MOST_LABELS]):
            self.put(f"extra{order}", forms.CharField(label=label, max_length=200, required=False))
        self.count = len(beginning.lines) + beginning.spare[1]
        self.lots = {str(here.lot.pk): here for here in beginning.lots}
        for order in range(self.count):
            self.put_line(order)
        self.initial.update({name: value for name, value in beginning.first.items() if name in self.fields})

    def told_as(self, name: str) -> str:
        planned = next(
            (self.planned(order) for order in range(self.count) if name.startswith(line_key(order, ""))), None
        )
        label = super().told_as(name)
        return f"{told(planned.name, convert=False)}: {label}" if planned else label

    def put(self, name: str, field: forms.Field, unit: str = "") -> None:
        self.fields[name] = field
        self.dress(name, field, unit or self.units.get(name, ""))

    def planned(self, order: int) -> PlannedLine | None:
        lines = self.beginning.lines
        return lines[order] if order < len(lines) else None

    def what(self, order: int) -> str:
        planned = self.planned(order)
        return planned.what if planned else self.beginning.spare[0]

    def put_line(self, order: int) -> None:
        planned, what = self.planned(order), self.what(order)
        chosen = what in ("product", "adjuvant")
        own: dict[str, forms.Field] = {}
        if planned is None or what == "product":
            own["name"] = forms.CharField(label=NAMES[what], max_length=200)
        if what == "product":
            own["registration_number"] = forms.CharField(label=gettext("EPA Reg. No."), max_length=200)
        lots = self.lots_for(order)
        if lots:
            choices = [
                ("", gettext("Not out of the shed")),
                *((str(one.lot.pk), one.brief if planned else one.says) for one in lots),
            ]
            own["stock"] = forms.ChoiceField(label=gettext("Out of the shed"), choices=choices)
        if what == "seed":
            own["lot"] = forms.CharField(
                label=gettext("Other lot") if lots else gettext("Lot"), max_length=200
            )
        label = AMOUNTS.get(what, "Amount used")
        own["amount"] = forms.FloatField(label=label, min_value=0, max_value=1e6)
        if chosen:
            units = [(unit, unit) for unit in UNITS]
            own["unit"] = forms.ChoiceField(label=gettext("Unit"), choices=units)
        if lots:
            own["short"] = forms.ChoiceField(
                label=gettext("The shed has less"), choices=SHORT, widget=forms.RadioSelect
            )
        own["reason"] = forms.CharField(label=gettext("Why so far from the plan"), max_length=1000)
        for name, field in own.items():
            field.required = bool(planned) and name in ("name", "registration_number", "amount", "unit")
            unit = self.unit_of(order) if name == "amount" and not chosen else ""
            self.put(line_key(order, name), field, unit)
            field.short = name in ("amount", "unit", "lot", "registration_number")  # type: ignore[attr-defined]
        if planned:
            first = {
                "name": planned.name,
                "registration_number": planned.registration_number,
                "stock": str(planned.stock or ""),
                "lot": "" if planned.stock else planned.lot,
                "amount": float(f"{planned.per_acre * float(self.initial.get('acres') or 0):.4g}"),
                "unit": planned.unit,
            }
            self.initial.update({line_key(order, name): first[name] for name in own if name in first})
            self.fields[line_key(order, "amount")].widget.attrs["data-per-acre"] = f"{planned.per_acre:.6g}"

    def lots_for(self, order: int) -> list[LotHere]:
        """Lots that the line may have come from: of the thing planned, or of its kind."""
        planned, kind = self.planned(order), SHED_KINDS.get(self.what(order))
        unit = self.unit_of(order)
        return [
            here
            for here in self.lots.values()
            if here.lot.kind == kind
            and in_unit(1.0, unit or here.lot.unit, here.lot.unit) is not None
            and (planned is None or planned.stock == here.lot.pk or here.lot.name == planned.name)
        ]

    def stock_of(self, order: int) -> LotHere | None:
        """The lot chosen."""
        return self.lots.get(self.cleaned_data.get(line_key(order, "stock")) or "")

    def unit_of(self, order: int) -> str:
        planned = self.planned(order)
        return planned.unit if planned else {"seed": "lb", "plants": "plants"}.get(self.what(order), "")

    # What was typed

    def clean(self) -> dict[str, Any]:
        typed = super().clean() or self.cleaned_data
        for order in range(self.count):
            self.clean_line(order, typed)
        return typed

    def clean_line(self, order: int, typed: dict[str, Any]) -> None:
        """A line that was not planned is whole or empty."""
        amount = typed.get(line_key(order, "amount"))
        name = typed.get(line_key(order, "name")) or self.stock_of(order)
        if self.planned(order) is None and bool(name) != (amount is not None):
            missing = "amount" if name else "name"
            if not self.has_error(line_key(order, missing)):
                self.add_error(
                    line_key(order, missing), gettext("Fill in both the name and the amount, or neither.")
                )

    def values(self) -> dict[str, Any]:
        """Columns of the record."""
        names = [name for _, names in self.shown for name in names]
        found = {name: self.cleaned_data[name] for name in names}
        found["extra"] = [
            [label, self.cleaned_data[f"extra{order}"]]
            for order, label in enumerate(self.beginning.labels)
            if self.cleaned_data[f"extra{order}"]
        ]
        return found

    def lines(self) -> list[dict[str, Any]]:
        """Rows of the record's lines; spare ones that stayed empty are none."""
        acres, found = self.cleaned_data["acres"], []
        for order in range(self.count):
            planned = self.planned(order)

            def typed(name: str, order: int = order) -> Any:
                return self.cleaned_data.get(line_key(order, name))

            here = self.stock_of(order)
            name = typed("name") or (planned.name if planned else here.lot.name if here else "")
            if not name:
                continue
            unit = typed("unit") or self.unit_of(order)
            due = (
                in_unit(planned.per_acre * acres, planned.unit, unit)
                if planned and planned.per_acre
                else None
            )
            found.append(
                {
                    "order": order,
                    "what": self.what(order),
                    "name": name,
                    "ingredient": planned.ingredient if planned else "",
                    "registration_number": typed("registration_number") or "",
                    "restricted_use": bool(planned and planned.restricted_use),
                    "lot": named(here.lot) if here else typed("lot") or "",
                    "amount": typed("amount"),
                    "unit": unit,
                    "planned_amount": due,
                    "reason": typed("reason") or "",
                }
            )
        return found

    def draws(self) -> list[Draw]:
        """The lots of the shed that the lines came from."""
        return [
            Draw(order=order, lot=here.lot.pk, short=self.cleaned_data[line_key(order, "short")])
            for order in range(self.count)
            if (here := self.stock_of(order)) and self.cleaned_data.get(line_key(order, "amount"))
        ]

    # For the template

    @property
    def groups(self) -> list[Group]:
        # Where a reason is wanting, its label must not call it optional.
        self.fields["hours_reason"].required = self.has_error("hours_reason")
        shown = [
            Group(
                str(title),
                tuple(self[name] for name in names if name != "hours_reason" or self.asks(name)),
                self.planned_hours if title == WORKED[0] else "",
            )
            for title, names in self.shown
        ]
        if self.beginning.labels:
            asked = tuple(self[f"extra{order}"] for order in range(len(self.beginning.labels)))
            shown.append(Group("What the state asks besides", asked))
        return shown

    @property
    def planned_hours(self) -> str:
        planned = self.beginning.planned_hours_per_acre * float(self.initial.get("acres") or 0)
        unit = "person-hours" if self.beginning.by_people else "h"
        if not planned:
            return ""
        return gettext("Planned: {amount}.").format(amount=plain(float(f"{planned:.3g}"), unit))

    @property
    def used(self) -> list[Line]:
        """Lines that were planned or typed in; `spare` are the empty ones."""
        return [line for line in self.every_line() if not line.spare]

    @property
    def spare(self) -> list[Line]:
        return [line for line in self.every_line() if line.spare]

    def every_line(self) -> list[Line]:
        found = []
        for order in range(self.count):
            planned = self.planned(order)
            title, said = gettext("Something that was not planned"), ""
            if planned:
                title = told(planned.name, convert=False)
                if planned.restricted_use:
                    title = gettext("{name}, restricted use").format(name=title)
                rate = plain(planned.per_acre, planned.unit)
                due = plain(planned.per_acre * float(self.initial.get("acres") or 0), planned.unit)
                text = gettext("Planned: {amount}, {rate} an acre.")
                said = text.format(amount=due, rate=rate) if planned.per_acre else ""
            names = ("name", "registration_number", "stock", "lot", "amount", "unit", "short", "reason")
            fields = tuple(
                self[line_key(order, name)]
                for name in names
                if line_key(order, name) in self.fields
                and (name not in ("reason", "short") or self.asks(line_key(order, name)))
            )
            # Where an answer is wanting, its label must not call it optional.
            for key in (line_key(order, "reason"), line_key(order, "short")):
                if key in self.fields:
                    self.fields[key].required = self.has_error(key)
            found.append(Line(title, said, fields, planned is None and not self.typed_in(order)))
        return found

    def asks(self, key: str) -> bool:
        """A reason is asked for where one is wanting, and kept in sight once it is given."""
        return bool(self.is_bound and (self[key].value() or self.has_error(key))) or bool(
            self.initial.get(key)
        )

    def typed_in(self, order: int) -> bool:
        return any(
            self[line_key(order, name)].value() or self.has_error(line_key(order, name))
            for name in ("name", "stock", "amount")
            if line_key(order, name) in self.fields
        )


class CorrectForm(RecordForm):
    """A record's own values, to be corrected."""

    uid = forms.UUIDField(widget=forms.HiddenInput, required=False)
    on = forms.DateField(label=gettext_lazy("Done on"))
    acres = forms.FloatField(label=gettext_lazy("Acres done"), min_value=0.001, max_value=100_000)
    notes = forms.CharField(label=gettext_lazy("What to remember"), max_length=1000, required=False)
    because = forms.CharField(label=gettext_lazy("Why it is corrected"), max_length=1000)

    def __init__(self, data: Any = None, *, record: WorkRecord, labels: Sequence[str] = ()) -> None:
        shown = [name for _, names in GROUPS.get(record.kind, PLAIN) for name in names]
        first = {name: getattr(record, name) for name in (*shown, "notes")} | {"uid": uuid4()}
        super().__init__(data, initial=first, auto_id="correct-%s")
        rows = list(record.lines.all())
        uses, spare = lots_of(record), SPARE.get(record.kind, ("", 0))
        lines = tuple(planned_of(row, record.acres, uses.get(row.order)) for row in rows)
        chosen = [use.lot_id for use in uses.values()]
        extra = dict(record.extra)
        every = tuple(dict.fromkeys([*extra, *labels]))
        self.lay_out(
            Beginning(
                kind=record.kind,
                lines=lines,
                spare=spare,
                labels=every,
                planned_hours_per_acre=(record.planned_hours or 0.0) / record.acres,
                by_people=by_people(record.visit.operation),
                lots=tuple(lots_here(kinds_in_the_shed(lines, spare), record.visit, chosen)),
            )
        )
        for place, row in enumerate(rows):
            for name in ("amount", "unit", "lot", "registration_number", "reason"):
                if line_key(place, name) in self.fields and not (name == "lot" and lines[place].stock):
                    self.initial[line_key(place, name)] = getattr(row, name)
        self.initial.update({f"extra{order}": extra.get(label, "") for order, label in enumerate(every)})

    def values(self) -> dict[str, Any]:
        return super().values() | {"notes": self.cleaned_data["notes"]}


def planned_of(row: RecordLine, acres: float, use: LotUse | None = None) -> PlannedLine:
    """The line as it was planned; what was not planned is measured against nothing."""
    return PlannedLine(
        what=row.what,
        name=row.name,
        unit=row.unit,
        per_acre=(row.planned_amount or 0.0) / acres,
        ingredient=row.ingredient,
        registration_number=row.registration_number,
        restricted_use=row.restricted_use,
        lot=row.lot,
        stock=use.lot_id if use else None,
    )


class AskedForm(HouseForm, forms.ModelForm):
    """What the state asks besides."""

    class Meta:
        model = RecordLabels
        fields = ["keep_years"]
        labels = {"keep_years": "Keep records for"}
        help_texts = {
            "keep_years": "Federal rules ask for two years after an application of a restricted-use product; "
            "many states ask for more. Every record and print says until when; none is ever deleted here."
        }

    labels = forms.CharField(
        label=gettext_lazy("What an application must say besides"),
        widget=forms.Textarea,
        required=False,
        max_length=2000,
        help_text=gettext_lazy(
            "One label a line, such as: Who was warned. Each application then has a field for it."
        ),
    )

    units = {"keep_years": gettext_lazy("years")}
    field_order = ("labels", "keep_years")

    def __init__(self, data: Any = None, *, asked: RecordLabels) -> None:
        super().__init__(data, instance=asked, initial={"labels": "\n".join(asked.labels)})
        self.on_records(asked)

    def clean_labels(self) -> list[str]:
        lines = (line.strip() for line in self.cleaned_data["labels"].splitlines())
        return [line for line in lines if line]
