"""What is ahead of one agreed plan: its frozen job, with what was done since and what was seen this year."""

from __future__ import annotations

from collections.abc import Collection, Iterator, Mapping
from dataclasses import dataclass, replace
from datetime import date, timedelta

from plans import facts
from plans.models import Plan, Visit, VisitState
from plans.planning import ahead, tables, wire
from plans.planning.ahead import Shift, Window
from plans.planning.calendar import Slot
from plans.planning.fields import start_for
from plans.planning.figures import Figure
from plans.planning.job import Climate, Conversion
from plans.planning.plan import Plan as Outcome
from plans.planning.planner import plan_job
from plans.selectors import proposals_in_force


@dataclass(frozen=True, slots=True)
class Effect:
    """What a day for one visit does to the steps after it on its field, and to the price of what is left."""

    shifts: tuple[Shift, ...]
    price: Figure | None
    """None where no price follows from it."""
    problem: str = ""


@dataclass(frozen=True, slots=True)
class AheadOf:
    """The signed job and the visits of one plan, read once."""

    file: wire.JobFile
    offered_on: date
    climate: Climate
    """As signed, with what has been seen on the farm up to now."""
    visits: tuple[Visit, ...]

    def conversion(self, field: str) -> Conversion | None:
        """A field's signed conversion with its record: what was added, done and left out."""
        signed = next((one for one in self.file.job.conversions if one.field == field), None)
        if signed is None:
            return None
        own = [visit for visit in self.visits if visit.field.name == field]
        added = [visit.step for visit in own if visit.added_on]
        signed = ahead.made_firm(signed, added, self.years)
        done = [
            (visit.step, visit.done_on) for visit in own if visit.state == VisitState.DONE and visit.done_on
        ]
        skipped = tuple(visit.step for visit in own if visit.state == VisitState.SKIPPED)
        return replace(ahead.done_so_far(signed, done), left_out=(*signed.left_out, *skipped))

    @property
    def years(self) -> int:
        return self.file.job.terms.years

    def slots(
        self, conversion: Conversion, start: date | None = None, adding: Mapping[str, date] | None = None
    ) -> dict[str, Slot]:
        """The open steps, from the day the work was signed for or from `start` on.

        Steps that were added, and those of `adding`, wait for the day they were added. Raises ValueError.
        """
        first = start or start_for(conversion, self.offered_on)
        own = [visit for visit in self.visits if visit.field.name == conversion.field]
        added = {visit.step: visit.added_on for visit in own if visit.added_on} | dict(adding or {})
        found = ahead.slots(conversion, self.climate, self.years, first, added)
        over = {entry.step for entry in conversion.log} | {*conversion.left_out}
        for key, day in added.items():
            if key not in over and not tables.steps()[key].option:
                found[key] = ahead.alone(conversion, self.climate, self.years, first, key, day)
        return found

    def windows(self, conversion: Conversion, start: date | None = None) -> dict[str, Window]:
        """Windows of the open steps, from the day the work was signed for or from `start` on."""
        return ahead.windows_of(self.slots(conversion, start))

    def moved(self, fields: Collection[int] = ()) -> Iterator[tuple[Visit, Slot]]:
        """Open visits whose window is another now, or that now wait for an added step or do so no more.

        On these fields, or on all.
        """
        for name in dict.fromkeys(visit.field.name for visit in self.visits):
            own = [visit for visit in self.visits if visit.field.name == name and visit.is_open]
            conversion = self.conversion(name)
            if conversion is None or (fields and not any(visit.field_id in fields for visit in own)):
                continue
            try:
                slots = self.slots(conversion)
            except ValueError:
                continue
            added = {visit.step for visit in self.visits if visit.field.name == name and visit.added_on}
            for visit in own:
                slot = slots.get(visit.step)
                if slot is None:
                    continue
                if not added & {slot.after, visit.after}:
                    slot = replace(slot, after=visit.after)
                now = (visit.window_opens, visit.window_shuts, visit.after)
                if (slot.earliest, slot.latest, slot.after) != now:
                    yield visit, slot

    def effect(self, visit: Visit, on: date, today: date) -> Effect | None:
        """What doing a visit on a day does to what follows; None where that cannot be worked out."""
        conversion = self.conversion(visit.field.name)
        if conversion is None:
            return None
        in_time = min(max(visit.window_opens, today), visit.window_shuts)
        usual = ahead.done_so_far(conversion, [(visit.step, in_time)])
        chosen = ahead.done_so_far(conversion, [(visit.step, on)])
        later = max(on, in_time, today, *(step.on for step in conversion.log), self.offered_on)
        try:
            shifts = ahead.shifts(self.windows(usual), self.windows(chosen))
            job = replace(self.file.job, climate=self.climate)
            price = ahead.price_of_shift(job, self.file.prices, usual, chosen, later)
        except ValueError as unsound:
            return Effect((), None, str(unsound))
        return Effect(shifts, price)

    def left(self, today: date) -> Outcome:
        """All that is left of the plan, worked out as of today at the signed prices; windows as they stand.

        Of a window that is open only the days from today on count.
        Raises ValueError when no sound order of work exists any more.
        """
        fields = [signed.field for signed in self.file.job.conversions]
        now = tuple(one for field in fields if (one := self.conversion(field)))
        job = replace(self.file.job, climate=self.climate, conversions=now)
        outcome = plan_job(job, self.file.prices, today)
        stand = {(visit.field.name, visit.step): visit for visit in self.visits if visit.is_open}
        tasks = (
            replace(task, earliest=from_today(visit, today), latest=visit.window_shuts)
            if task.done_on is None and (visit := stand.get((task.field, task.step)))
            else task
            for task in outcome.tasks
        )
        return replace(outcome, tasks=tuple(tasks))

    def without(self, until: date, visits: Collection[Visit]) -> dict[int, Window | None]:
        """The next window of each of these visits when nothing is done through `until`; None for none."""
        found: dict[int, Window | None] = {}
        for visit in visits:
            conversion = self.conversion(visit.field.name)
            if conversion is None:
                continue
            try:
                window = self.windows(conversion, until + timedelta(days=1)).get(visit.step)
            except ValueError:
                window = None
            found[visit.pk] = window
        return found


def from_today(visit: Visit, today: date) -> date:
    """The first day of a visit's window that is not over; a window that is shut stays as it was."""
    return max(visit.window_opens, today) if today <= visit.window_shuts else visit.window_opens


def ahead_of(plan: Plan) -> AheadOf | None:
    """What is ahead of a plan; None without a proposal that this version of the site can read."""
    proposal = proposals_in_force([plan]).defer("result", "pdf", "before").last()
    if proposal is None:
        return None
    try:
        file = wire.read_job_file(proposal.inputs)
    except wire.BadInput:
        return None
    visits = Visit.objects.filter(plan=plan).select_related("field").order_by("order", "pk")
    climate = replace(file.job.climate, observed=facts.climate_of(plan.farm).observed)
    return AheadOf(file, proposal.offered_on, climate, tuple(visits))
