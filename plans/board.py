"""The season board: open visits over all farms, what stands in their way, and what is due by when."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import date, timedelta
from itertools import groupby
from typing import Any

from django.db.models import BooleanField, Count, DateField, Exists, ExpressionWrapper, OuterRef, Q, QuerySet
from django.db.models.functions import Coalesce
from django.utils.translation import gettext

from plans.documents.words import day
from plans.models import Plan, Visit, VisitState
from plans.planning import tables
from sites.models import Farm, Field

PAGE = 60
STANDINGS = {
    "late": "Late",
    "ready": "Ready",
    "booked": "Booked",
    "weather": "Waits for weather",
    "waiting": "Waits for a step",
    "ahead": "Opens later",
}
"""Every open visit stands in exactly one of these, the first that fits."""


def open_visits() -> QuerySet[Any]:
    """Open visits, each with whether it is `blocked` by an open step before and the `day` it counts for."""
    before = Visit.objects.filter(
        plan=OuterRef("plan"), field=OuterRef("field"), step=OuterRef("after"), state=VisitState.OPEN
    )
    return (
        Visit.objects.filter(state=VisitState.OPEN)
        .annotate(
            blocked=ExpressionWrapper(~Q(after="") & Q(Exists(before)), BooleanField()),
            day=Coalesce("booked_on", "window_shuts", output_field=DateField()),
        )
        .select_related("plan", "field__farm__client")
        .prefetch_related("people__user")
    )


def conditions(today: date) -> dict[str, Q]:
    """What each standing asks of a visit, exclusive of those before it."""
    late = Q(window_shuts__lt=today)
    blocked, held, booked = Q(blocked=True), ~Q(waits_for=""), Q(booked_on__isnull=False)
    opened = Q(window_opens__lte=today)
    return {
        "late": late,
        "weather": ~late & held,
        "waiting": ~late & ~held & blocked,
        "booked": ~late & ~held & ~blocked & booked,
        "ready": ~late & ~held & ~blocked & ~booked & opened,
        "ahead": ~late & ~held & ~blocked & ~booked & ~opened,
    }


def counts(visits: QuerySet[Any], today: date) -> dict[str, int]:
    """How many open visits stand where, in one query that looks up once a visit what it waits for."""
    booked, held = Q(booked_on__isnull=False), ~Q(waits_for="")
    late, opened = Q(window_shuts__lt=today), Q(window_opens__lte=today)
    facts = {"late": late, "held": held, "booked": booked, "opened": opened}
    told = {name: ExpressionWrapper(rule, BooleanField()) for name, rule in facts.items()}
    found = dict.fromkeys(STANDINGS, 0)
    rows = visits.order_by().annotate(**told).values("blocked", *told).annotate(many=Count("pk"))
    for row in rows:
        many = row.pop("many")
        found[standing_by(**row)] += many
    return found


def standing_by(*, late: bool, held: bool, blocked: bool, booked: bool, opened: bool) -> str:
    """The first standing that fits, by the same rules as `conditions`."""
    if late:
        return "late"
    if held:
        return "weather"
    if blocked:
        return "waiting"
    if booked:
        return "booked"
    return "ready" if opened else "ahead"


def standing(visit: Any, today: date) -> str:
    """Where an annotated visit stands."""
    return standing_by(
        late=visit.window_shuts < today,
        held=bool(visit.waits_for),
        blocked=visit.blocked,
        booked=visit.booked_on is not None,
        opened=visit.window_opens <= today,
    )


@dataclass(frozen=True, slots=True)
class Asked:
    """What the address of the board asks for."""

    by: str = "week"
    stands: str = ""
    farm: int | None = None
    operation: str = ""
    person: int | None = None
    page: int = 1

    @classmethod
    def of(cls, query: Mapping[str, str]) -> Asked:
        """From a query string; what it does not understand is left out."""

        def number(name: str) -> int | None:
            text = query.get(name, "")
            return int(text) if text.isdigit() and len(text) < 10 else None

        by, stands = query.get("by", "week"), query.get("stands", "")
        operation = query.get("work", "")
        return cls(
            by=by if by in ("week", "farm", "map") else "week",
            stands=stands if stands in STANDINGS else "",
            farm=number("farm"),
            operation=operation if operation in tables.operations() else "",
            person=number("person"),
            page=max(1, number("page") or 1),
        )

    def filter(self, visits: QuerySet[Any]) -> QuerySet[Any]:
        """The visits on the farm, of the work and of the person asked for."""
        if self.farm:
            visits = visits.filter(field__farm=self.farm)
        if self.operation:
            visits = visits.filter(operation=self.operation)
        if self.person:
            visits = visits.filter(people=self.person)
        return visits


@dataclass(frozen=True, slots=True)
class Row:
    visit: Visit
    stands: str
    waits_for: str
    """Label of the step it waits for."""
    booked_out: bool
    """Booked on a day outside its window."""

    @property
    def says(self) -> str:
        return STANDINGS[self.stands]

    @property
    def operation(self) -> str:
        row = tables.operations().get(self.visit.operation)
        return row.label if row else self.visit.operation


@dataclass(frozen=True, slots=True)
class Group:
    key: date | int
    title: str
    rows: tuple[Row, ...]


def row_of(visit: Any, today: date) -> Row:
    step = tables.steps().get(visit.after)
    booked = visit.booked_on
    return Row(
        visit=visit,
        stands=standing(visit, today),
        waits_for=step.label if step and visit.blocked else "",
        booked_out=bool(booked and not visit.window_opens <= booked <= visit.window_shuts),
    )


@dataclass(frozen=True, slots=True)
class Board:
    asked: Asked
    counts: dict[str, int]
    groups: tuple[Group, ...]
    shown: int
    more: bool


def monday_of(day: date) -> date:
    return day - timedelta(days=day.weekday())


def next_working_day(today: date) -> date:
    """Tomorrow, or Monday where that is a weekend."""
    day = today + timedelta(days=1)
    return day if day.weekday() < 5 else monday_of(day) + timedelta(days=7)


def board(asked: Asked, today: date) -> Board:
    """A page of the board in a fixed number of queries, however many visits there are."""
    visits = asked.filter(open_visits())
    counted = counts(visits, today)
    if asked.stands:
        visits = visits.filter(conditions(today)[asked.stands])
    order = ("field__farm__name", "field__farm_id", "day", "pk") if asked.by != "week" else ("day", "pk")
    first = (asked.page - 1) * PAGE
    found = keys(visits.order_by(*order)[first : first + PAGE + 1])
    rows = [row_of(visit, today) for visit in of_keys(as_rows(open_visits()), found[:PAGE])]
    groups = by_week(rows, today) if asked.by == "week" else by_farm(rows)
    return Board(asked, counted, tuple(groups), len(rows), len(found) > PAGE)


def keys(visits: QuerySet[Any]) -> list[int]:
    """Of visits in their order. To sort whole rows of all that is open would take most of a page's time."""
    return list(visits.values_list("pk", flat=True))


def of_keys(visits: QuerySet[Any], wanted: list[int]) -> list[Any]:
    """The visits with these keys, in this order."""
    found = visits.in_bulk(wanted)
    return [found[pk] for pk in wanted if pk in found]


def as_rows(visits: QuerySet[Any]) -> QuerySet[Any]:
    """With no more than a row of the board shows: outlines and notes are long."""
    shown = visits.select_related(None).select_related("field__farm__client")
    farm = ("climate_place", "monthly_mean_f", "climate_source", "directions")
    return shown.defer(
        *("why", "conditions", "cautions", "skipped_because", "field__outline", "field__notes"),
        *("field__farm__client__notes", *(f"field__farm__{name}" for name in farm)),
    )


def by_week(rows: Iterable[Row], today: date) -> list[Group]:
    """Late ones first, then by the week in which a visit is booked or its window shuts."""
    this = monday_of(today)

    def week(row: Row) -> date:
        return max(monday_of(row.visit.booked_on or row.visit.window_shuts), this - timedelta(days=7))

    def title(monday: date) -> str:
        names = {this - timedelta(days=7): gettext("Before this week"), this: gettext("This week")}
        names[this + timedelta(days=7)] = gettext("Next week")
        return names.get(monday) or gettext("Week of {day}").format(day=day(monday))

    ordered = sorted(rows, key=week)
    return [Group(monday, title(monday), tuple(some)) for monday, some in groupby(ordered, key=week)]


def by_farm(rows: Iterable[Row]) -> list[Group]:
    groups = groupby(rows, key=lambda row: row.visit.field.farm)
    return [Group(farm.pk, f"{farm.name}, {farm.client.name}", tuple(some)) for farm, some in groups]


def working_on(day: date, today: date, person: int | None = None) -> tuple[list[Row], list[Row]]:
    """Visits booked on a day, and those that could be done on it and are on no day, closing soonest first."""
    visits = open_visits()
    booked = visits.filter(booked_on=day)
    if person:
        booked = booked.filter(people=person)
    free = visits.filter(
        booked_on__isnull=True, blocked=False, waits_for="", window_opens__lte=day, window_shuts__gte=day
    )
    ordered = booked.order_by("field__farm__name", "field__name", "order")
    soonest = of_keys(visits, keys(free.order_by("window_shuts", "pk")[:PAGE]))
    return [row_of(visit, today) for visit in ordered], [row_of(visit, today) for visit in soonest]


def closing_by(last: date, today: date) -> list[Any]:
    """Ready or booked visits whose window shuts by a day: what is lost when nothing is done until then."""
    found = open_visits().filter(
        window_opens__lte=last, window_shuts__gte=today, window_shuts__lte=last, blocked=False
    )
    return of_keys(open_visits(), keys(found.order_by("window_shuts", "pk")[:PAGE]))


def farms_with_work(today: date) -> list[Any]:
    """Farms with open visits, each with how many are late or could be done now: for the map."""
    visits = Visit.objects.filter(state=VisitState.OPEN).order_by().values_list("field__farm")
    opened = Q(window_opens__lte=today)
    counted = {
        farm: (count, due)
        for farm, count, due in visits.annotate(every=Count("pk"), now=Count("pk", filter=opened))
    }
    farms: list[Any] = list(
        Farm.objects.filter(pk__in=counted).select_related("client").order_by("name", "pk")
    )
    for farm in farms:
        farm.open_count, farm.due_count = counted[farm.pk]
    return farms


def farms_of_visits() -> list[tuple[int, str]]:
    """Key and name of each farm that a visit was ever planned on."""
    visited = Field.objects.filter(Exists(Visit.objects.filter(field=OuterRef("pk")))).order_by()
    farms = Farm.objects.filter(pk__in=visited.values("farm"))
    return list(farms.order_by("name", "pk").values_list("pk", "name"))


def plans_without_visits() -> QuerySet[Plan]:
    """Agreed plans from before there were visits."""
    agreed = ("agreed", "under way", "in upkeep")
    return Plan.objects.filter(state__in=agreed, visits__isnull=True).select_related("farm__client")
