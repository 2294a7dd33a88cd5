"""Short forms for a visit: book it, say what was done, leave it undone, let it wait for weather."""

from __future__ import annotations

from datetime import date
from typing import Any
from uuid import uuid4

from django import forms
from django.core.exceptions import ValidationError
from django.utils.datastructures import MultiValueDict
from django.utils.translation import gettext, gettext_lazy

from consulting.formkit import HouseForm
from consulting.models import Machine, Membership
from consulting.opened import OPENED
from plans.forms.machines import machine_choices
from plans.forms.records import RecordForm
from plans.models import Visit
from plans.phone import as_it_stands
from plans.planned import Beginning
from plans.records import written
from plans.rigs import usual_machines
from sites.models import Farm

MOST_LOST_DAYS = 60


class VisitForm(HouseForm, forms.Form):
    """An act on a visit, of someone who saw it as it was then."""

    adds = True

    def __init__(self, data: Any = None, *, visit: Visit) -> None:
        self.visit = visit
        kind = type(self).__name__.removesuffix("Form").lower()
        super().__init__(seen(data, visit), initial=self.first(visit), auto_id=f"{kind}-%s")
        self.on_records(visit)

    def first(self, visit: Visit) -> dict[str, Any]:
        return {}

    def stands(self) -> list[tuple[str, str]]:
        return as_it_stands(self.visit)


def seen(data: Any, visit: Visit) -> Any:
    """What was sent; where a device had it waiting since before forms carried `opened`, with that."""
    if not data or data.get(OPENED) or not data.get("version"):
        return data
    return MultiValueDict({**dict(data.lists()), OPENED: [f"visit:{visit.pk}.{data['version']}"]})


class BookForm(VisitForm):
    adds = False

    on = forms.DateField(label=gettext_lazy("Day"))
    people: forms.ModelMultipleChoiceField[Membership] = forms.ModelMultipleChoiceField(
        label=gettext_lazy("Who goes"), queryset=None, required=False, widget=forms.CheckboxSelectMultiple
    )
    tractor = forms.ChoiceField(required=False)
    implement = forms.ChoiceField(required=False)
    truck = forms.ChoiceField(label=gettext_lazy("Tow vehicle"), required=False)
    trailer = forms.ChoiceField(required=False)
    tractor_rides = forms.BooleanField(
        label=gettext_lazy("The tractor goes on the trailer too"), required=False
    )
    reason = forms.CharField(label=gettext_lazy("Why, if it moves"), max_length=1000, required=False)

    narrow = ("on",)
    leads = {"tractor": gettext_lazy("What goes with it")}

    def __init__(self, data: Any = None, *, visit: Visit) -> None:
        self.known = list(Machine.objects.all())
        self.had = list(visit.machines.all())
        super().__init__(data, visit=visit)
        self.choose_machines()
        members = Membership.objects.select_related("user").order_by("user__name", "pk")
        self.fields["people"].queryset = members  # type: ignore[attr-defined]
        self.fields["people"].label_from_instance = lambda member: str(member.user)  # type: ignore[attr-defined]

    def first(self, visit: Visit) -> dict[str, Any]:
        proposed = self.had or usual_machines(visit.operation, self.known)
        return {
            "on": visit.booked_on or visit.window_opens,
            "people": [person.pk for person in visit.people.all()],
            "tractor_rides": visit.tractor_rides,
        } | {machine.kind: machine.pk for machine in proposed}

    def choose_machines(self) -> None:
        """Machines in use and those chosen already; a kind of which there is none is not asked for."""
        there = [row for row in self.known if row.active or row in self.had]
        for kind in Machine.Kind:
            own = [row for row in there if row.kind == kind]
            field = self.fields[kind.value]
            field.choices = [("", "None"), *machine_choices(own, self.visit.operation)]  # type: ignore[attr-defined]
            if not own:
                del self.fields[kind.value]
        if not {"tractor", "trailer"} <= self.fields.keys():
            del self.fields["tractor_rides"]

    def clean(self) -> dict[str, Any]:
        """What `visit_book` takes: machines in one list."""
        data = super().clean() or self.cleaned_data
        keys = [data.pop(kind.value, "") for kind in Machine.Kind]
        truck, trailer = keys[2:]
        rides = data.setdefault("tractor_rides", False)
        if trailer and not truck:
            asked = "truck" if "truck" in self.fields else "trailer"
            self.add_error(asked, gettext("Choose the tow vehicle that pulls the trailer."))
        if rides and not trailer:
            self.add_error("trailer", gettext("Choose the trailer that the tractor goes on."))
        data["machines"] = [row for row in self.known if str(row.pk) in keys]
        return data


class DoForm(RecordForm, VisitForm):
    """What was done, with all that its record must say."""

    uid = forms.UUIDField(widget=forms.HiddenInput, required=False)
    on = forms.DateField(label=gettext_lazy("Done on"))
    acres = forms.FloatField(label=gettext_lazy("Acres done"), min_value=0.001, max_value=100_000)
    note = forms.CharField(label=gettext_lazy("What to remember"), max_length=1000, required=False)

    def __init__(self, data: Any = None, *, visit: Visit, today: date, beginning: Beginning) -> None:
        self.today = today
        super().__init__(data, visit=visit)
        self.fields["acres"].help_text = gettext("Fewer than are left: the rest stays open.")
        self.lay_out(beginning)

    def first(self, visit: Visit) -> dict[str, Any]:
        return {"on": self.today, "acres": float(f"{visit.acres_left:.4g}"), "uid": uuid4()}

    def _is_touched(self, opened: str) -> bool:
        """Not where this very record is written: it changed the visit itself, and is written once."""
        try:
            uid = self.fields["uid"].clean(self.data.get("uid"))
        except ValidationError:
            uid = None
        return written(uid) is None and super()._is_touched(opened)


class ReasonedForm(VisitForm):
    reason = forms.CharField(label=gettext_lazy("Why"), max_length=1000)


class SkipForm(ReasonedForm):
    """Leave it undone for good."""


class ReopenForm(ReasonedForm):
    """Take back that it was done or skipped."""


class FailedForm(HouseForm, forms.Form):
    """What makes one think that a kill did not take; it is only looked at, and written down with a visit."""

    reason = forms.CharField(label=gettext_lazy("What you saw"), max_length=1000)


class WeatherForm(VisitForm):
    reason = forms.CharField(label=gettext_lazy("Weather it waits for"), max_length=200)

    def first(self, visit: Visit) -> dict[str, Any]:
        return {"reason": visit.waits_for}


class LostDaysForm(HouseForm, forms.Form):
    """Days on which nothing could be done, on one farm or on all."""

    first = forms.DateField(label=gettext_lazy("First day"))
    last = forms.DateField(label=gettext_lazy("Last day"))
    farm: forms.ModelChoiceField[Farm] = forms.ModelChoiceField(
        label=gettext_lazy("Farm"), queryset=None, required=False, empty_label=gettext_lazy("All farms")
    )
    reason = forms.CharField(label=gettext_lazy("What kept you off"), max_length=200)

    narrow = ("first", "last")

    def __init__(self, data: Any = None, *, today: date) -> None:
        super().__init__(data, initial={"first": today, "last": today, "reason": "rain"})
        self.fields["farm"].queryset = Farm.objects.order_by("name", "pk")  # type: ignore[attr-defined]

    def clean(self) -> dict[str, Any]:
        cleaned = self.cleaned_data
        first, last = cleaned.get("first"), cleaned.get("last")
        if first and last and not 0 <= (last - first).days <= MOST_LOST_DAYS:
            self.add_error("last", gettext("The last day must be the first or come within 60 days after it."))
        return cleaned
