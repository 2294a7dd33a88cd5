"""Work of the demo that is done: visits of an older plan with their records, on any day the demo is made."""

from __future__ import annotations

from datetime import date, time, timedelta
from itertools import cycle
from typing import Any

from consulting.models import Practice, User
from plans.models import Plan, Visit, VisitState
from plans.planned import planned_lines
from plans.records import APART_PCT, HOURS_APART_PCT, Kind, by_people, kind_of
from plans.visits import visit_do

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
