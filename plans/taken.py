"""Whether machines and people can be had on a day: away, off, or out already for as long as a day can be."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection, Iterable, Sequence
from datetime import date

from django.core.exceptions import ValidationError
from django.utils.translation import gettext as _

from consulting.machines import Machine, MachineSpan
from consulting.models import Membership
from plans.documents.words import day as day_words
from plans.documents.words import window as days_words
from plans.models import DayOff, Visit, VisitState

LONGEST_DAY_HOURS = 16.0
"""The longest day that anybody may be asked for."""


def spans_of(machines: Iterable[Machine], first: date, last: date) -> dict[int, list[MachineSpan]]:
    """By machine, the spans that count for these days: those away, and all on which it can be had."""
    found: defaultdict[int, list[MachineSpan]] = defaultdict(list)
    rows = MachineSpan.objects.filter(machine__in=[one.pk for one in machines], taken_back=False)
    for row in rows.select_related("machine"):
        if row.kind == MachineSpan.Kind.HAD or (row.first <= last and row.last >= first):
            found[row.machine_id].append(row)
    return found


def away_words(machine: Machine, spans: Sequence[MachineSpan], on: date) -> str:
    """Why a machine cannot be had on a day; empty where it can."""
    for span in spans:
        if span.kind == MachineSpan.Kind.AWAY and span.first <= on <= span.last:
            days = days_words(span.first, span.last)
            return _("{machine} is out {days}: {reason}").format(
                machine=machine, days=days, reason=span.reason
            )
    had = [span for span in spans if span.kind == MachineSpan.Kind.HAD]
    if had and not any(span.first <= on <= span.last for span in had):
        days = ", ".join(days_words(span.first, span.last) for span in had)
        return _("{machine} can be had {days}").format(machine=machine, days=days)
    return ""


def hours_on_first_day(visit: Visit, hours: float | None = None) -> float:
    """Hours of a visit on the day it is booked for, as far as is known [h]."""
    if hours is None:
        hours = visit.booked_hours
    left = visit.hours * (visit.acres_left / visit.acres) if visit.acres else visit.hours
    return min(LONGEST_DAY_HOURS, left if hours is None else hours)


def hold(machines: Collection[int], people: Collection[int]) -> None:
    """Lock machines and people by their keys, in the one order, until the transaction ends."""
    list(Machine.objects.select_for_update(of=("self",)).filter(pk__in=machines).order_by("pk"))
    list(Membership.objects.select_for_update(of=("self",)).filter(pk__in=people).order_by("pk"))


def check_free(
    visit: Visit, on: date, machines: Iterable[Machine], people: Collection[Membership], hours: float | None
) -> None:
    """Raises ValidationError by field for who or what cannot go on a day.

    Inside a transaction: machines and people stay locked, so that two bookings cannot both see one free.
    """
    machines = list(machines)
    machine_keys, people_keys = {one.pk for one in machines}, {one.pk for one in people}
    hold(machine_keys, people_keys)
    wrong: defaultdict[str, list[str]] = defaultdict(list)
    spans = spans_of(machines, on, on)
    for machine in machines:
        if words := away_words(machine, spans.get(machine.pk, ()), on):
            said = _("{reason}. Choose another day or another machine.")
            wrong["machines"].append(said.format(reason=words))
    off = DayOff.objects.filter(member__in=people_keys, first__lte=on, last__gte=on)
    for row in off.select_related("member__user"):
        said = _("{name} is off {days}. Choose another day or somebody else.")
        wrong["people"].append(said.format(name=row.member.user, days=days_words(row.first, row.last)))
    own = hours_on_first_day(visit, hours)
    others = Visit.objects.filter(state=VisitState.OPEN, booked_on=on).exclude(pk=visit.pk)
    for field, chosen in (("machines", machines), ("people", people)):
        for one in chosen:
            out = sum(hours_on_first_day(other) for other in others.filter(**{field: one.pk}))
            if out and out + own > LONGEST_DAY_HOURS:
                name = str(one.user) if isinstance(one, Membership) else str(one)
                said = _(
                    "{name} is out {out} h on {day} already, and this takes {own} h. "
                    "A day has at most {most}. Choose another day, or leave it at home."
                )
                out_h, own_h, most_h = f"{out:.1f}", f"{own:.1f}", f"{LONGEST_DAY_HOURS:.0f}"
                wrong[field].append(
                    said.format(name=name, out=out_h, day=day_words(on), own=own_h, most=most_h)
                )
    if wrong:
        raise ValidationError(dict(wrong))
