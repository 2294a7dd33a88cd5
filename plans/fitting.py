"""Fitting a season of visits to machines, people and weather: asked of the database, run apart, taken up."""

from __future__ import annotations

import subprocess
import sys
import time
from collections.abc import Collection, Iterable, Mapping
from concurrent.futures import ThreadPoolExecutor, wait
from datetime import date, timedelta
from decimal import Decimal
from queue import SimpleQueue
from threading import Event
from typing import Any

from django.conf import settings
from django.core.exceptions import ValidationError
from django.db import transaction
from django.utils.translation import gettext as _
from pydantic import TypeAdapter

from consulting.followed import ChangedMeanwhile
from consulting.machines import Machine as MachineRow
from consulting.machines import MachineSpan
from consulting.models import Membership, Practice, User
from plans.models import DayOff, Fitting, Visit, VisitState
from plans.planning import tables
from plans.planning.booking import (
    BookedVisit,
    Booking,
    BookVisit,
    DayRange,
    Leg,
    Machine,
    Person,
    Prices,
    Score,
    Season,
    Wait,
)
from plans.planning.booking_fit import fit
from plans.planning.booking_greedy import greedy
from plans.planning.booking_ground import daylight_hours, fit_shares
from plans.taken import away_words, hold, spans_of
from plans.visits import visit_book

Kind = MachineSpan.Kind
ROAD_MPH = 40.0
"""Truck and trailer on country roads; common practice."""
MIDDLE_LATITUDE = 39.0
SHORTEST_HOURS = 0.25
SATURDAY, SUNDAY = 5, 6
PRESSING = frozenset({"kill", "plant"})
PRESSING_PRIORITY = 3
SILENT_SECONDS = 60
LOOK_SECONDS = 0.5
MOST_STEPS = 200

_season = TypeAdapter(Season)
_booking = TypeAdapter(Booking)


def booking_of(fitting: Fitting) -> Booking | None:
    return _booking.validate_python(fitting.booking, strict=False) if fitting.booking else None


def _machines(first: date, last: date) -> tuple[Machine, ...]:
    """Tractors and implements in use, with the days on which they can be had.

    An implement rides along with the tractor that pulls it.
    """
    rows = list(MachineRow.objects.filter(active=True, kind__in=("tractor", "implement")).order_by("pk"))
    spans = spans_of(rows, first, last)
    return tuple(
        Machine(
            id=str(row.pk),
            classes=_classes(row),
            holding=row.holding,  # type: ignore[arg-type]
            had=tuple(DayRange(one.first, one.last) for one in spans.get(row.pk, ()) if one.kind == Kind.HAD),
            booked=tuple(
                on
                for one in spans.get(row.pk, ())
                if one.kind == Kind.AWAY
                for on in _days(max(first, one.first), min(last, one.last))
            ),
            rent_usd_per_day=row.rent_usd_per_day or Decimal("0.00"),
            delivery_usd=row.delivery_usd or Decimal("0.00"),
            towed=row.kind == "implement",
        )
        for row in rows
    )


def _class_for(operation: str) -> str:
    """The class of machines that does an operation, in the words that a person reads of it."""
    row = tables.operations().get(operation)
    return f"machine for {(row.label if row else operation).lower()}"


def _classes(row: MachineRow) -> tuple[str, ...]:
    return ("tractor",) if row.kind == "tractor" else tuple(_class_for(name) for name in row.operations)


def _prices(practice: Practice) -> Prices:
    """The road, and what one more machine of a class would cost: the least that is asked for one rented."""
    rented: dict[str, MachineRow] = {}
    rows = MachineRow.objects.filter(kind__in=("tractor", "implement"), rent_usd_per_day__isnull=False)
    for row in rows.order_by("-rent_usd_per_day"):
        rented.update(dict.fromkeys(_classes(row), row))
    return Prices(
        usd_per_mile=practice.hauling_usd_per_mile,
        rent_usd_per_day_by_class={name: row.rent_usd_per_day for name, row in rented.items()},
        delivery_usd_by_class={name: row.delivery_usd or Decimal(0) for name, row in rented.items()},
    )


def _days(first: date, last: date) -> list[date]:
    return [first + timedelta(days=day) for day in range((last - first).days + 1)]


def _people(first: date, last: date) -> tuple[Person, ...]:
    off: dict[int, list[date]] = {}
    for row in DayOff.objects.filter(first__lte=last, last__gte=first):
        off.setdefault(row.member_id, []).extend(_days(row.first, row.last))
    members = Membership.objects.order_by("pk")
    return tuple(Person(id=str(one.pk), days_off=tuple(off.get(one.pk, ()))) for one in members)


def _needs(operation: str, machines: Iterable[Machine]) -> tuple[str, ...]:
    """Classes that go together for this work, of those that the practice has."""
    had = {name for machine in machines for name in machine.classes}
    own = _class_for(operation)
    return tuple(name for name in (own, "tractor") if own in had and name in had)


def _visits(first: date, last: date) -> list[Visit]:
    """Open visits that can be done in these days, without those that wait for one that cannot."""
    found = list(
        Visit.objects.filter(state=VisitState.OPEN, window_opens__lte=last)
        .select_related("field__farm")
        .order_by("window_shuts", "pk")
    )
    still_open = {(one.plan_id, one.field_id, one.step) for one in found}
    elsewhere = (
        set(Visit.objects.filter(state=VisitState.OPEN).values_list("plan_id", "field_id", "step"))
        - still_open
    )
    return [one for one in found if (one.plan_id, one.field_id, one.after) not in elsewhere]


def season_of(
    practice: Practice, first: date, last: date, *, working_hours: float, saturdays: bool
) -> tuple[Season, dict[str, int]]:
    """What is asked of the solver, and the version of each visit. Raises ValueError for nothing to fit."""
    machines, visits = _machines(first, last), _visits(first, last)
    if not visits:
        raise ValueError(_("No open visit can be done in those days."))
    keys = {(one.plan_id, one.field_id, one.step): str(one.pk) for one in visits}
    asked = []
    for one in visits:
        before = keys.get((one.plan_id, one.field_id, one.after))
        opens = max(one.window_opens, first)
        asked.append(
            BookVisit(
                id=str(one.pk),
                farm=str(one.field.farm_id),
                field=str(one.field_id),
                operation=one.operation,
                hours=max(SHORTEST_HOURS, one.hours * (one.acres_left / one.acres)),
                earliest=opens,
                latest=max(opens, one.window_shuts),
                after=(Wait(before, one.wait_days),) if before else (),
                needs=_needs(one.operation, machines),
                priority=PRESSING_PRIORITY if one.phase in PRESSING else 1,
                promised=one.booked_on,
            )
        )
    farms = {one.field.farm_id: one.field.farm for one in visits}
    latitudes = [float(farm.latitude) for farm in farms.values() if farm.latitude is not None]
    season = Season(
        first=first,
        last=last,
        visits=tuple(asked),
        machines=machines,
        people=_people(first, last),
        travel={
            str(key): Leg(float(farm.round_trip_miles) / 2, float(farm.round_trip_miles) / 2 / ROAD_MPH)
            for key, farm in farms.items()
        },
        fit_share_by_month=fit_shares(),
        daylight_hours_by_month=daylight_hours(
            sum(latitudes) / len(latitudes) if latitudes else MIDDLE_LATITUDE
        ),
        working_hours=working_hours,
        weekdays_off=(SUNDAY,) if saturdays else (SATURDAY, SUNDAY),
        prices=_prices(practice),
    )
    return season, {str(one.pk): one.version for one in visits}


@transaction.atomic
def fitting_start(*, practice: Practice, user: User, **asked: Any) -> Fitting:
    """An attempt with a first booking at once; the better ones follow from `launch`. Raises ValueError."""
    first, last = asked["first"], asked["last"]
    season, versions = season_of(
        practice, first, last, working_hours=asked["working_hours"], saturdays=asked["saturdays"]
    )
    booking = greedy(season)
    return Fitting.objects.create(
        practice=practice,
        started_by=user,
        season=_season.dump_python(season, mode="json"),
        versions=versions,
        booking=_booking.dump_python(booking, mode="json"),
        steps=[_step(0.0, booking, None)],
        **asked,
    )


def _step(seconds: float, booking: Booking, bound: Score | None) -> dict[str, Any]:
    return {
        "seconds": round(seconds, 1),
        "late": booking.score.late,
        "usd": str(booking.score.cost_usd),
        "least_late": bound.late if bound else None,
        "least_usd": str(bound.cost_usd) if bound else None,
    }


def launch(fitting: Fitting) -> None:
    """Begin the search in a process of its own, which outlives the request."""
    subprocess.Popen(  # noqa: S603 - our own command with a number
        [sys.executable, str(settings.BASE_DIR / "manage.py"), "fit_season", str(fitting.pk)],
        stdin=subprocess.DEVNULL,
        stdout=subprocess.DEVNULL,
        stderr=subprocess.DEVNULL,
        start_new_session=True,
    )


def run(fitting: Fitting, *, workers: int = 2) -> Fitting:
    """Search until the time is up, the bound is met or somebody stops it; each better booking is kept.

    Inside the practice's scope. The search has a thread of its own; only this one speaks to the database.
    """
    season = _season.validate_python(fitting.season, strict=False)
    row = Fitting.objects.filter(pk=fitting.pk)
    row.update(state=Fitting.State.RUNNING)
    began, steps = time.monotonic(), list(fitting.steps)
    found: SimpleQueue[tuple[Booking, Score | None]] = SimpleQueue()
    stop = Event()

    def keep(booking: Booking, bound: Score | None) -> None:
        steps.append(_step(time.monotonic() - began, booking, bound))
        row.update(booking=_booking.dump_python(booking, mode="json"), steps=steps[-MOST_STEPS:])

    def tell(booking: Booking, bound: Score | None) -> None:
        found.put((booking, bound))

    with ThreadPoolExecutor(max_workers=1) as pool:
        search = pool.submit(
            fit, season, fitting.seconds, workers=workers, on_better=tell, should_stop=stop.is_set
        )
        while not search.done():
            wait([search], timeout=LOOK_SECONDS)
            latest = None
            while not found.empty():
                latest = found.get()
            if latest:
                keep(*latest)
            if row.filter(stop=True).exists():
                stop.set()
    try:
        booking = search.result()
    except ValueError as unsound:
        row.update(state=Fitting.State.FAILED, problem=str(unsound)[:1000])
    else:
        keep(booking, booking.bound)
        row.update(state=Fitting.State.DONE)
    fitting.refresh_from_db()
    return fitting


def fitting_stop(fitting: Fitting) -> None:
    """Ask the search to end; what it has found stays."""
    Fitting.objects.filter(pk=fitting.pk).update(stop=True)


@transaction.atomic
def fitting_take(
    *, fitting: Fitting, visits: Collection[str], user: User
) -> tuple[int, list[Visit], list[tuple[Visit, str]]]:
    """Book the chosen visits as fitted, in one go; how many stand so now, and those left as they are.

    First those that someone changed since, then those for which somebody or something cannot be had any more,
    with why.
    """
    booking = booking_of(fitting)
    chosen = {one.visit: one for one in booking.visits} if booking else {}
    people = {str(one.pk): one for one in Membership.objects.all()}
    machines = {str(one.pk): one for one in MachineRow.objects.all()}
    taken, changed, refused = 0, [], []
    rows = Visit.objects.select_related("field").in_bulk([int(key) for key in visits if key in chosen])
    hold_all(rows.values(), [chosen[str(pk)] for pk in rows])
    for pk, visit in sorted(rows.items()):
        one = chosen[str(pk)]
        going = [people[key] for key in one.people if key in people]
        try:
            visit_book(
                visit=visit,
                version=fitting.versions[str(pk)],
                user=user,
                on=one.first,
                people=going,
                machines=[machines[key] for key in one.machines if key in machines],
                hours=one.days[0].hours,
                reason=f"season fitted {fitting.first} to {fitting.last}",
            )
        except ChangedMeanwhile:
            changed.append(visit)
        except ValidationError as wrong:
            refused.append((visit, " ".join(wrong.messages)))
        else:
            taken += 1
    return taken, changed, refused


def hold_all(visits: Collection[Visit], booked: Collection[BookedVisit]) -> None:
    """Lock what will be booked before the first is: visits, machines, people, as one booking does."""
    plans, fields = {visit.plan_id for visit in visits}, {visit.field_id for visit in visits}
    rows = Visit.objects.select_for_update(of=("self",)).filter(plan__in=plans, field__in=fields)
    list(rows.order_by("plan", "field", "order", "pk").values_list("pk"))
    machines = {int(key) for one in booked for key in one.machines}
    hold(machines, {int(key) for one in booked for key in one.people})


def away_in_window(classes: Mapping[int, str]) -> dict[int, list[str]]:
    """What keeps machines of a class from a visit during its window, in words, by visit."""
    visits = Visit.objects.in_bulk(list(classes))
    rows = list(MachineRow.objects.filter(active=True))
    if not visits:
        return {}
    first = min(one.window_opens for one in visits.values())
    spans = spans_of(rows, first, max(one.window_shuts for one in visits.values()))
    found: dict[int, list[str]] = {}
    for key, visit in visits.items():
        able = [one for one in rows if classes[key] in _classes(one)]
        days = _days(visit.window_opens, visit.window_shuts)
        said = (away_words(one, spans[one.pk], on) for one in able if one.pk in spans for on in days)
        found[key] = list(dict.fromkeys(words for words in said if words))
    return found
