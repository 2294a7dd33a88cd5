"""Work of the demo that is done: visits of an older plan with their records, on any day the demo is made."""

from __future__ import annotations

from datetime import date, time, timedelta
from itertools import cycle
from typing import Any

from consulting.models import Practice, User
from plans.counts import COUNTING, count_write
from plans.demo.pictures import from_the_gate
from plans.models import Plan, Visit, VisitState
from plans.planned import planned_lines
from plans.records import APART_PCT, HOURS_APART_PCT, Kind, by_people, kind_of
from plans.stages import stage_mark
from plans.visits import follow_the_year, visit_do
from sites.models import Observation
from sites.walks import photos_add, walk_write

DAYS_IN = 4
"""After its window opens, a visit is done."""
INVENTED_NUMBER = "INV-0-1"


def agreed_on(today: date) -> date:
    """A summer two years back, so that both kills, the drilling and two summers of mowing are behind."""
    return date(today.year - 2, 7, 10)


def work_done(practice: Practice, plan: Plan, values: dict[str, Any], user: User, today: date) -> None:
    """Do each visit that was due, in order, with hours and amounts a little off their plan."""
    hours, used = cycle(values["hours_of_planned"]), cycle(values["used_of_planned"])
    while visit := next_due(plan, today):
        on = visit.window_opens + timedelta(days=DAYS_IN)
        told = hours_told(visit, next(hours), values["hours_reason"])
        if kind_of(visit.operation) == Kind.APPLICATION:
            told |= values["record"] | {"start_time": time(7, 30)}
        visit_do(
            visit=visit,
            version=visit.version,
            user=user,
            on=on,
            acres=visit.acres,
            today=today,
            record=told,
            lines=lines_used(visit, next(used), values["used_reason"]),
        )
        if visit.operation == COUNTING and str(visit.season) in values["counts"]:
            stand_counted(visit, values["counts"][str(visit.season)], user, on)


def stand_counted(visit: Visit, counts: dict[str, dict[str, Any]], user: User, on: date) -> None:
    """The count of a field in its season; a field that the scenario does not name is not counted."""
    if count := counts.get(visit.field.name):
        usual = {"method": "grid", "aim": "cover", "cells": 25, "frame_sqft": 1.0}
        count_write(visit=visit, user=user, uid=None, on=on, **usual, **count)


def payments_marked(plan: Plan, values: dict[str, Any], user: User, today: date) -> None:
    """Payments invoiced and paid so many days after the yes."""
    for mark in values["payments"]:
        on = plan.state_on + timedelta(days=mark["days"])
        stage_mark(plan=plan, user=user, stage=mark["stage"], what=mark["what"], on=on, today=today)


def season_seen(plan: Plan, values: dict[str, Any], user: User, today: date) -> None:
    """What was seen of this year and the one before on the farm, and its first field from the gate."""
    for moment, month_day in values["seen"].items():
        for year in (today.year - 1, today.year):
            on = date.fromisoformat(f"{year}-{month_day}")
            if on < today:
                # Its day may lie ahead of the clock, where the demo is made for another day.
                Observation.objects.create(practice=plan.practice, farm=plan.farm, moment=moment, on=on)
    follow_the_year(sender=season_seen, farm=plan.farm, by=user, because="What was seen on the farm")
    field = plan.conversions.select_related("field").order_by("pk")[0].field
    for look, months in values["pictures"].items():
        on = plan.state_on + timedelta(days=30 * months)
        if on < today:
            walk = walk_write(field=field, user=user, uid=None, on=on, people="Rowan Achterberg")
            photos_add(walk=walk, photos=[from_the_gate(look)], caption="From the gate, looking north")


def next_due(plan: Plan, today: date) -> Visit | None:
    due = Visit.objects.filter(
        plan=plan, state=VisitState.OPEN, window_opens__lte=today - timedelta(days=2 * DAYS_IN)
    )
    return due.select_related("plan", "field__farm__client").order_by("window_opens", "pk").first()


def hours_told(visit: Visit, factor: float, reason: str) -> dict[str, Any]:
    name = "person_hours" if by_people(visit.operation) else "hours"
    far = abs(factor - 1) * 100 > HOURS_APART_PCT
    return (
        {name: round(visit.hours * factor, 2), "hours_reason": reason if far else ""} if visit.hours else {}
    )


def lines_used(visit: Visit, factor: float, reason: str) -> list[dict[str, Any]]:
    far = abs(factor - 1) * 100 > APART_PCT
    return [
        {
            "order": order,
            "what": line.what,
            "name": line.name,
            "ingredient": line.ingredient,
            "registration_number": line.registration_number or INVENTED_NUMBER * (line.what == "product"),
            "restricted_use": line.restricted_use,
            "lot": line.lot,
            "amount": line.per_acre * visit.acres * factor,
            "unit": line.unit,
            "planned_amount": line.per_acre * visit.acres,
            "reason": reason if far else "",
        }
        for order, line in enumerate(planned_lines(visit))
    ]
