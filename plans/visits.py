"""What may be done to visits. Each is one transaction and writes down who changed what, and from what."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping, Sequence
from datetime import date
from typing import Any
from uuid import UUID

from django.core.exceptions import ValidationError
from django.db import transaction
from django.utils.translation import gettext

from consulting.followed import as_read
from consulting.history import told_elsewhere
from consulting.models import Machine, Membership, User
from consulting.services import save
from plans.ahead import ahead_of
from plans.documents import words
from plans.documents.manner import USUAL, using
from plans.documents.told import told
from plans.lots_drawn import Draw, draw, give_back
from plans.models import Conversion, Plan, State, Visit, VisitChange, VisitState
from plans.planning import tables
from plans.planning.plan import Task
from plans.records import record_write, records_take_back, written
from plans.selectors import frozen_outcome, latest_proposal
from plans.services import Refused, plan_move
from plans.taken import check_free
from sites.models import Farm

What = VisitChange.What
ACRES_ROUNDING = 0.005


def day_words(on: date) -> str:
    """As a visit's history keeps it: in plain English, and told anew to whoever reads it."""
    with using(USUAL):
        return words.day(on)


def days_words(first: date, last: date) -> str:
    with using(USUAL):
        return words.window(first, last)


def write_down(
    visit: Visit,
    what: str,
    user: User | None,
    before: str = "",
    after: str = "",
    reason: str = "",
    by_name: str = "",
) -> VisitChange:
    """Add a line to the visit's record. Without a user or a name the practice's own reckoning did it."""
    change = change_of(visit, what, user, before, after, reason, by_name)
    change.save()
    return change


def change_of(
    visit: Visit,
    what: str,
    user: User | None,
    before: str = "",
    after: str = "",
    reason: str = "",
    by_name: str = "",
) -> VisitChange:
    """A line for the visit's record, made before the visit is written. `by_name` is of one who is no user."""
    return VisitChange(
        practice_id=visit.practice_id,
        visit=visit,
        version=visit.version if what == What.MADE else visit.version + 1,
        what=what,
        before=before[:1000],
        after=after[:1000],
        reason=reason[:1000],
        by=user,
        by_name=str(user) if user else by_name or "Reckoned anew",
    )


def held(visit: Visit, version: int) -> Visit:
    """The visit, locked, as the person saw it. Raises ChangedMeanwhile when it is another by now."""
    now: Visit = as_read(visit, locked(visit), version)
    return now


def locked(visit: Visit) -> Visit:
    """The visit, locked with all of its field in one order: what it moves is locked before it is needed."""
    rows = Visit.objects.select_for_update(of=("self",)).select_related("field", "plan")
    of_field = rows.filter(plan=visit.plan_id, field=visit.field_id).order_by("order", "pk")
    return next(row for row in of_field if row.pk == visit.pk)


def keep(visit: Visit) -> Visit:
    return save(visit)


def only_open(visit: Visit) -> None:
    if not visit.is_open:
        settled = gettext("This visit is {state}. Open it again first.")
        raise Refused(settled.format(state=told(visit.get_state_display()).lower()))


# From plan to visits


@transaction.atomic
def plan_agree(*, plan: Plan, user: User | None, today: date, by_name: str = "") -> list[Visit]:
    """The client has said yes: the plan is agreed, and its tasks become visits.

    Without a user the client did it, `by_name`. None are made of a proposal that an earlier version of the
    site wrote. A change to an agreed plan is taken in there. Raises Refused as `plan_move` does.
    """
    if plan.is_change:
        from plans.changing import change_agree  # which builds on this module

        return change_agree(change=plan, user=user, today=today, by_name=by_name)
    agreed = plan_move(plan=plan, state=State.AGREED, today=today)
    proposal = latest_proposal(agreed)
    if proposal is None or frozen_outcome(proposal) is None:
        return []
    return visits_make(plan=agreed, user=user, by_name=by_name)


@transaction.atomic
def visits_make(*, plan: Plan, user: User | None, by_name: str = "") -> list[Visit]:
    """A visit for each task of the agreed proposal that is not done. Makes none twice.

    Raises Refused where nothing was agreed, or the proposal cannot be read any more.
    """
    proposal = latest_proposal(plan)
    if proposal is None or plan.state in ("draft", "offered", "declined", "withdrawn"):
        raise Refused(gettext("Visits come from an agreed proposal; this plan has none."))
    outcome = frozen_outcome(proposal)
    if outcome is None:
        raise Refused(
            gettext("This proposal was made by an earlier version of the site. Offer its next revision.")
        )
    known = set(Visit.objects.filter(plan=plan).values_list("field_id", "step"))
    fields = {
        conversion.field.name: conversion.field for conversion in plan.conversions.select_related("field")
    }
    made = []
    for task in outcome.tasks:
        field = fields.get(task.field)
        if task.done_on is not None or field is None or (field.pk, task.step) in known:
            continue
        visit = visit_of(task, Visit(practice=plan.practice, plan=plan, field=field))
        visit.clean_fields(exclude=["practice", "plan", "field"])
        visit.clean()
        made.append(visit)
    # At once: a plan of many fields has hundreds.
    Visit.objects.bulk_create(made)
    VisitChange.objects.bulk_create(
        change_of(
            visit, What.MADE, user, after=days_words(visit.window_opens, visit.window_shuts), by_name=by_name
        )
        for visit in made
    )
    return made


def visit_of(task: Task, visit: Visit) -> Visit:
    """The visit with what the task says."""
    step = tables.steps().get(task.step)
    visit.step, visit.label, visit.why = task.step, task.label, task.why
    visit.operation, visit.phase, visit.season = task.operation, task.phase, task.season
    visit.order = step.order if step else 0
    visit.conditions, visit.cautions = task.conditions, list(task.cautions)
    visit.acres, visit.plants = task.acres, task.plants
    visit.hours = float(task.hours.value) if task.hours else 0.0
    visit.after, visit.wait_days = task.after, task.wait_days
    visit.window_opens, visit.window_shuts = task.earliest, task.latest
    return visit


# Booking


@transaction.atomic
def visit_book(
    *,
    visit: Visit,
    version: int,
    user: User,
    on: date,
    people: Collection[Membership] = (),
    machines: Collection[Machine] | None = None,
    tractor_rides: bool = False,
    hours: float | None = None,
    reason: str = "",
) -> Visit:
    """Put an open visit on a day, with who goes and, unless None, with which machines; `hours` on that day.

    Asked twice, it is booked once. Raises Refused or ChangedMeanwhile, and ValidationError by field for
    who or what cannot go.
    """
    now = locked(visit)
    if is_booked_so(now, on, people, machines, tractor_rides, hours):
        return now
    visit = as_read(visit, now, version)
    only_open(visit)
    check_free(visit, on, visit.machines.all() if machines is None else machines, people, hours)
    visit.booked_hours = hours
    if on != visit.booked_on:
        before = day_words(visit.booked_on) if visit.booked_on else ""
        write_down(visit, What.BOOKED, user, before, day_words(on), reason)
        visit.booked_on = on
    had, have = names_of(visit.people.all()), names_of(people)
    if had != have:
        write_down(visit, What.PEOPLE, user, had, have, reason)
        visit.people.set(people)
    if machines is not None:
        set_machines(visit, machines, tractor_rides, user, reason)
    return keep(visit)


def is_booked_so(
    visit: Visit,
    on: date,
    people: Collection[Membership],
    machines: Collection[Machine] | None,
    tractor_rides: bool,
    hours: float | None,
) -> bool:
    """Whether an open visit stands as `visit_book` is asked to put it."""
    if (visit.state, visit.booked_on, visit.booked_hours) != (VisitState.OPEN, on, hours):
        return False
    if set(visit.people.all()) != set(people):
        return False
    return machines is None or (
        set(visit.machines.all()) == set(machines) and visit.tractor_rides == tractor_rides
    )


def set_machines(
    visit: Visit, machines: Collection[Machine], tractor_rides: bool, user: User, reason: str
) -> None:
    had = machine_names(visit.machines.all(), visit.tractor_rides)
    have = machine_names(machines, tractor_rides)
    if had != have:
        write_down(visit, What.MACHINES, user, had, have, reason)
        visit.machines.set(machines)
        visit.tractor_rides = tractor_rides


def machine_names(machines: Iterable[Machine], tractor_rides: bool) -> str:
    names = ", ".join(sorted(machine.name for machine in machines))
    return f"{names}; the tractor on the trailer" if names and tractor_rides else names


def names_of(people: Iterable[Membership]) -> str:
    return ", ".join(sorted(str(person.user) for person in people))


@transaction.atomic
def visit_unbook(*, visit: Visit, version: int, user: User, reason: str = "") -> Visit:
    """Take an open visit off the calendar; it stays to be done. Raises Refused or ChangedMeanwhile."""
    visit = held(visit, version)
    only_open(visit)
    if visit.booked_on is None:
        raise Refused(gettext("This visit is on no day."))
    write_down(visit, What.UNBOOKED, user, day_words(visit.booked_on), "", reason)
    visit.booked_on = None
    return keep(visit)


@transaction.atomic
def days_lost(*, first: date, last: date, reason: str, user: User, farm: Farm | None = None) -> list[Visit]:
    """Take the open visits booked on these days off the calendar, each on its record."""
    booked = Visit.objects.filter(state=VisitState.OPEN, booked_on__range=(first, last))
    if farm is not None:
        booked = booked.filter(field__farm=farm)
    return [
        visit_unbook(visit=visit, version=visit.version, user=user, reason=reason)
        for visit in booked.select_for_update(of=("self",)).order_by("booked_on", "pk")
    ]


@transaction.atomic
def visit_hold(*, visit: Visit, version: int, user: User, reason: str) -> Visit:
    """Say that an open visit waits for weather, and for which. Raises Refused or ChangedMeanwhile."""
    visit = held(visit, version)
    only_open(visit)
    write_down(visit, What.HELD, user, visit.waits_for, reason)
    visit.waits_for = reason
    return keep(visit)


@transaction.atomic
def visit_free(*, visit: Visit, version: int, user: User) -> Visit:
    """The weather that a visit waited for has come. Raises Refused or ChangedMeanwhile."""
    visit = held(visit, version)
    only_open(visit)
    write_down(visit, What.FREED, user, visit.waits_for)
    visit.waits_for = ""
    return keep(visit)


# Done, in part, or not at all


@transaction.atomic
def visit_do(
    *,
    visit: Visit,
    version: int,
    user: User,
    on: date,
    acres: float,
    today: date,
    note: str = "",
    uid: UUID | None = None,
    record: Mapping[str, Any] | None = None,
    lines: Sequence[Mapping[str, Any]] = (),
    draws: Sequence[Draw] = (),
) -> Visit:
    """Write down work done, the whole visit or some of its acres, and the record of it.

    `record` and `lines` are what `record_write` takes, `draws` the lots that the lines came from: they are
    taken out of the shed. A `uid` that is written already is written no second
    time. Raises ValidationError or ChangedMeanwhile.
    """
    now = locked(visit)
    first = written(uid)
    if first:
        return first.visit
    visit = as_read(visit, now, version)
    only_open(visit)
    if on > today:
        raise ValidationError(
            {"on": gettext("That day is still to come. Enter the day on which it was done.")}
        )
    if not 0 < acres <= visit.acres_left + ACRES_ROUNDING:
        left = gettext("{acres} acres are left to do. Enter that or less, and more than 0.")
        raise ValidationError({"acres": left.format(acres=f"{visit.acres_left:.4g}")})
    before = f"{visit.acres_done:.4g} of {visit.acres:.4g} acres"
    visit.acres_done = min(visit.acres, visit.acres_done + acres)
    whole = visit.acres_left <= ACRES_ROUNDING
    visit.done_on = max(on, visit.done_on) if visit.done_on else on
    visit.state = VisitState.DONE if whole else VisitState.OPEN
    visit.waits_for = ""
    after = f"{visit.acres_done:.4g} of {visit.acres:.4g} acres on {day_words(on)}"
    write_down(visit, What.DONE if whole else What.PART, user, before, after, note)
    values = {**(record or {}), "on": on, "acres": acres, "notes": note}
    added = record_write(visit=visit, user=user, uid=uid, values=values, lines=lines)
    draw(added, draws, visit=visit, user=user)
    visit = keep(visit)
    if whole:
        log_done(visit)
        windows_move(
            visit.plan, because=f"{visit.label} was done on {day_words(on)}", fields=[visit.field_id]
        )
    return visit


@transaction.atomic
def visit_skip(*, visit: Visit, version: int, user: User, reason: str) -> Visit:
    """Leave an open visit undone for good, with the reason. Raises Refused or ChangedMeanwhile."""
    visit = held(visit, version)
    only_open(visit)
    write_down(visit, What.SKIPPED, user, visit.get_state_display(), VisitState.SKIPPED.label, reason)
    visit.state, visit.skipped_because = VisitState.SKIPPED, reason
    visit = keep(visit)
    windows_move(visit.plan, because=f"{visit.label} was skipped", fields=[visit.field_id])
    return visit


@transaction.atomic
def visit_reopen(*, visit: Visit, version: int, user: User, reason: str) -> Visit:
    """Take back that it was done or skipped; the record keeps both. Raises Refused or ChangedMeanwhile."""
    visit = held(visit, version)
    if visit.is_open:
        raise Refused(gettext("This visit is open already."))
    if visit.taken_out_by_id:
        raise Refused(
            gettext("A change order left this out, and its price with it. Bring it back with another one.")
        )
    write_down(visit, What.REOPENED, user, visit.get_state_display(), VisitState.OPEN.label, reason)
    visit.state, visit.skipped_because = VisitState.OPEN, ""
    visit.acres_done, visit.done_on = 0.0, None
    visit = keep(visit)
    records_take_back(visit=visit, user=user, because=reason)
    give_back(visit, user)
    log_done(visit)
    windows_move(visit.plan, because=f"{visit.label} was opened again", fields=[visit.field_id])
    return visit


def log_done(visit: Visit) -> None:
    """Keep the plan's own log true, from which its next revision goes on."""
    conversion = Conversion.objects.select_for_update(of=("self",)).get(
        plan=visit.plan_id, field=visit.field_id
    )
    log = [entry for entry in conversion.log if entry["step"] != visit.step]
    if visit.state == VisitState.DONE and visit.done_on:
        log.append({"step": visit.step, "on": visit.done_on.isoformat()})
    conversion.log = sorted(log, key=lambda entry: (entry["on"], entry["step"]))
    with told_elsewhere():
        conversion.save(update_fields=["log"])


# Windows as they stand now


@transaction.atomic
def windows_move(plan: Plan, *, because: str, user: User | None = None, fields: Collection[int] = ()) -> int:
    """Bring the windows of open visits to where the record and the year have put them; how many moved.

    Each move is written down. A step that finds no window any more keeps the one it had.
    """
    found, moved = ahead_of(plan), 0
    for visit, slot in found.moved(fields) if found else ():
        now = Visit.objects.select_for_update(of=("self",)).select_related("field", "plan").get(pk=visit.pk)
        before, after = (now.window_opens, now.window_shuts), (slot.earliest, slot.latest)
        if now.after != slot.after:
            now.after, now.wait_days = slot.after, slot.step.wait_days if slot.after else 0
        now.window_opens, now.window_shuts = after
        if before == after:
            save(now)
            continue
        write_down(now, What.WINDOW, user, days_words(*before), days_words(*after), because)
        keep(now)
        moved += 1
    return moved


def follow_the_year(sender: object, *, farm: Farm, by: User, because: str, **others: object) -> None:
    """What was seen on a farm moves the windows of its agreed plans, at once and on the record."""
    for plan in Plan.objects.filter(farm=farm, visits__state=VisitState.OPEN).distinct():
        windows_move(plan, because=because, user=by)
