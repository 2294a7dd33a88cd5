"""A change to an agreed plan: a draft of its own, quoted as a change order, taken in when it is agreed."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date
from typing import Any

from django.db import transaction
from django.utils import timezone
from django.utils.translation import gettext as _
from django.utils.translation import override

from consulting.models import User
from consulting.services import save
from plans import services
from plans.ahead import ahead_of
from plans.documents.words import day as day_words
from plans.documents.words import window as days_words
from plans.models import Acceptance, Conversion, Plan, Proposal, State, Visit, VisitChange, VisitState
from plans.planning import tables
from plans.planning.plan import Plan as Outcome
from plans.planning.plan import Task
from plans.selectors import frozen_outcome, latest_proposal
from plans.services import TERMS, Refused, become
from plans.visits import keep, visit_of, windows_move, write_down

What = VisitChange.What
RUNNING = (State.AGREED, State.UNDER_WAY, State.IN_UPKEEP)
OPEN = (State.DRAFT, State.OFFERED)
CHOICES = (
    "mix",
    "kill_program",
    "seeding",
    "purpose",
    "start_on",
    "options",
    "left_out",
    "rates_lb_per_acre",
    "broadcast_factor",
    "trees",
    "soil_test",
)
"""What a change may choose anew for a field; its log is the record's alone."""


def open_change(plan: Plan) -> Plan | None:
    """The change to this plan that is a draft or offered; there is one at a time."""
    return Plan.objects.filter(changes=plan, state__in=OPEN).first()


@transaction.atomic
def change_start(*, plan: Plan, today: date) -> Plan:
    """A draft that begins as the agreed work stands now; one that is open already is given back.

    Raises Refused where nothing is agreed, or where the signed proposal cannot be read any more.
    """
    held = services.locked(plan)
    found = ahead_of(held) if held.state in RUNNING else None
    if found is None:
        raise Refused(_("A change order changes an agreed plan that the site can read. This plan is none."))
    if known := open_change(held):
        return known
    draft = Plan(
        practice_id=held.practice_id, farm_id=held.farm_id, title=held.title, changes=held, state_on=today
    )
    for name in TERMS:
        setattr(draft, name, getattr(held, name))
    save(draft)
    skipped: dict[str, list[str]] = {}
    for visit in found.visits:
        if visit.state == VisitState.SKIPPED:
            skipped.setdefault(visit.field.name, []).append(visit.step)
    signed = {one.field for one in found.file.job.conversions}
    for row in held.conversions.select_related("field", "mix").order_by("pk"):
        name = row.field.name
        if name in signed:
            row.pk, row._state.adding, row.plan = None, True, draft
            row.left_out = list(dict.fromkeys((*row.left_out, *skipped.get(name, ()))))
            save(row)
    for accepted in Acceptance.objects.filter(plan=held):
        accepted.pk, accepted._state.adding, accepted.plan = None, True, draft
        accepted.save()
    return draft


@dataclass(frozen=True, slots=True)
class Said:
    """Who said yes to which change order; its lines in the visits' records."""

    proposal: Proposal
    user: User | None
    by_name: str

    @property
    def because(self) -> str:
        """As it is kept: in English."""
        with override("en"):
            return f"{self.proposal} was agreed"

    def of(self, visit: Visit, what: str, before: str = "", after: str = "") -> None:
        write_down(visit, what, self.user, before, after, self.because, self.by_name)


@transaction.atomic
def change_agree(*, change: Plan, user: User | None, today: date, by_name: str = "") -> list[Visit]:
    """The client has said yes to a change order: the agreed plan's open visits follow it.

    What was done stays as it is. Without a user the client said it, `by_name`. Gives back the visits that are
    new. Raises Refused.
    """
    change = services.locked(change)
    if change.changes is None:
        raise ValueError("this plan changes no other")
    plan = services.locked(change.changes)
    proposal = latest_proposal(change)
    outcome = frozen_outcome(proposal) if proposal else None
    if not change.may_become(State.TAKEN_IN):
        raise Refused(services.cannot_become(change, State.TAKEN_IN))
    if plan.state not in RUNNING:
        state = plan.get_state_display().lower()
        raise Refused(_("The plan that it changes is {state}.").format(state=state))
    if proposal is None or outcome is None:
        raise Refused(_("This change order was made by an earlier version of the site. Offer it again."))
    become(change, State.TAKEN_IN, today)
    fields = choices_follow(plan, change, outcome)
    for name in TERMS:
        setattr(plan, name, getattr(change, name))
    plan.save()
    said = Said(proposal, user, by_name)
    tasks = {
        (fields[task.field], task.step): task
        for task in outcome.tasks
        if task.done_on is None and task.field in fields
    }
    rows = Visit.objects.select_for_update(of=("self",)).filter(plan=plan).order_by("field", "order", "pk")
    visits = {(visit.field_id, visit.step): visit for visit in rows}
    for key, visit in visits.items():
        if key in tasks:
            follow(visit, tasks[key], said, proposal.offered_on)
        elif visit.is_open and not stands_alone(visit, fields.values()):
            drop(visit, said)
    made = [
        make(task, Visit(practice_id=plan.practice_id, plan=plan, field_id=key[0]), said)
        for key, task in tasks.items()
        if key not in visits
    ]
    fields_go(plan, change)
    windows_move(plan, because=said.because, user=user)
    return made


def choices_follow(plan: Plan, change: Plan, outcome: Outcome) -> dict[str, int]:
    """The plan's own choices become those of the change; its fields by the names they were offered under."""
    own = {row.field_id: row for row in plan.conversions.select_for_update(of=("self",))}
    fields = {}
    rows = change.conversions.select_related("field").order_by("pk")
    for row, offered in zip(rows, outcome.job.conversions, strict=True):
        fields[offered.field] = row.field_id
        target = own.get(row.field_id)
        if target is None:
            target = Conversion(practice_id=plan.practice_id, plan=plan, field_id=row.field_id, log=[])
        for name in CHOICES:
            setattr(target, name, getattr(row, name))
        save(target)
    return fields


def fields_go(plan: Plan, change: Plan) -> None:
    """Fields that the change leaves out leave the plan, but for those where work was done."""
    kept = change.conversions.values_list("field", flat=True)
    worked = Visit.objects.filter(plan=plan, acres_done__gt=0).values_list("field", flat=True)
    plan.conversions.exclude(field__in=kept).exclude(field__in=worked).delete()


def stands_alone(visit: Visit, fields: Iterable[int]) -> bool:
    """Whether a visit was added to the agreed work by itself, on a field that stays: a change keeps it."""
    step = tables.steps().get(visit.step)
    return bool(visit.added_on and visit.field_id in fields and step and not step.option)


def skipped_after(visit: Visit, offered_on: date) -> bool:
    last = visit.changes.filter(what=What.SKIPPED).first()
    return last is not None and timezone.localdate(last.at) > offered_on


def follow(visit: Visit, task: Task, said: Said, offered_on: date) -> None:
    """An open visit becomes what the task says, and one skipped before the offer is open again.

    One that is done stays, and so does one that was skipped since.
    """
    if visit.state == VisitState.DONE:
        return
    if visit.state == VisitState.SKIPPED:
        if skipped_after(visit, offered_on):
            return
        said.of(visit, What.REOPENED, visit.get_state_display(), VisitState.OPEN.label)
        visit.state, visit.skipped_because, visit.taken_out_by = VisitState.OPEN, "", None
    before, was, acres = window_of(visit), as_told(visit), visit.acres
    visit_of(task, visit)
    visit.acres = max(visit.acres, visit.acres_done)
    if before != window_of(visit):
        said.of(visit, What.WINDOW, before, window_of(visit))
    if visit.acres != acres:
        said.of(visit, What.CHANGED, f"{acres:.4g} acres", f"{visit.acres:.4g} acres")
    booked = visit.booked_on
    if booked is not None and not visit.window_opens <= booked <= visit.window_shuts:
        said.of(visit, What.UNBOOKED, day_words(booked))
        visit.booked_on = None
    if was != as_told(visit) or booked != visit.booked_on:
        keep(visit)


def window_of(visit: Visit) -> str:
    return days_words(visit.window_opens, visit.window_shuts)


def as_told(visit: Visit) -> tuple[Any, ...]:
    """What a task says of a visit."""
    names = "label why acres plants hours conditions cautions after wait_days window_opens window_shuts state"
    return tuple(getattr(visit, name) for name in names.split())


def drop(visit: Visit, said: Said) -> None:
    said.of(visit, What.SKIPPED, visit.get_state_display(), VisitState.SKIPPED.label)
    visit.state, visit.skipped_because = VisitState.SKIPPED, said.because
    visit.taken_out_by = said.proposal
    keep(visit)


def make(task: Task, visit: Visit, said: Said) -> Visit:
    made = save(visit_of(task, visit))
    said.of(made, What.MADE, after=window_of(made))
    return made
