"""The facts of a season report, from records, observations, counts, photographs and what was agreed."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping
from datetime import date
from zoneinfo import ZoneInfo

from django.utils import timezone

from plans import facts, fixed_points
from plans.contract import signed_years
from plans.counts import counts_of_fields
from plans.documents.manner import _, marked
from plans.documents.season_facts import (
    ComingPayment,
    ComingStep,
    ComingYear,
    CountPoint,
    DoneWork,
    FieldCounts,
    LeftOut,
    LostDay,
    PlannedUsed,
    SeasonReport,
    SeenMoment,
    UsedLine,
)
from plans.documents.words import listed, quantity
from plans.models import Plan, Visit, VisitChange, VisitState, WorkRecord
from plans.money_done import money_done
from plans.planning import season, tables
from plans.planning.job import Client, Climate, Manner
from plans.records import standing
from plans.selectors import chain_in_force
from plans.stages import amount
from sites.models import Observation

SKIES = {
    "clear": marked("clear"),
    "partly cloudy": marked("partly cloudy"),
    "overcast": marked("overcast"),
}
AIMS = {"cover": marked("cover for wildlife or soil"), "forage": marked("forage or biomass")}


def season_report(plan: Plan, year: int, words: str, today: date, manner: Manner) -> SeasonReport:
    """All that is known of a year of a plan, told in that manner. `plan` comes with its farm and client."""
    visits = list(plan.visits.select_related("field").order_by("window_opens", "order", "pk"))
    fields = {visit.field_id: visit.field.name for visit in visits}
    records = list(
        standing()
        .filter(visit__plan=plan, on__year=year)
        .select_related("visit")
        .prefetch_related("lines")
        .order_by("on", "number")
    )
    climate = facts.climate_of(plan.farm)
    money = money_done(plan)
    signed = signed_years(chain_in_force(plan)[-1]) if money else None
    return SeasonReport(
        title=plan.title,
        year=year,
        reported_on=today,
        manner=manner,
        practice=facts.practice_of(plan.practice),
        client=Client(name=plan.farm.client.name, address=plan.farm.client.address),
        farm=plan.farm.name,
        fields=tuple(fields.values()),
        place=plan.farm.climate_place,
        words=words,
        done=tuple(done(records)),
        left_out=tuple(left_out(visits, plan, year)),
        seen=tuple(seen(plan.farm.observations.all(), climate, year)),
        lost=tuple(lost(plan, year)),
        counts=tuple(counted(fields, year)),
        photos=tuple(fixed_points.points(fields, year)),
        used=tuple(planned_and_used(records)),
        coming=tuple(coming(visits, year)),
        years=tuple(
            ComingYear(year=one, price=price) for one, price in sorted((signed or {}).items()) if one > year
        ),
        payments=tuple(
            ComingPayment(label=row.stage.label, due=row.stage.due, amount=amount(row), stands=row.standing)
            for row in (money.payments.rows if money else ())
            if not row.paid
        ),
    )


def done(records: Iterable[WorkRecord]) -> Iterable[DoneWork]:
    """The same work on one day told once, its acres and amounts added up."""
    together: dict[tuple[date, str], list[WorkRecord]] = defaultdict(list)
    for record in records:
        together[record.on, record.work].append(record)
    for (on, work), some in together.items():
        amounts: dict[tuple[str, str, str], float] = defaultdict(float)
        for line in (line for record in some for line in record.lines.all()):
            amounts[line.name, line.lot, line.unit] += line.amount
        yield DoneWork(
            on=on,
            work=work,
            fields=once(record.field_name for record in some),
            acres=sum(record.acres for record in some),
            records=tuple(record.number for record in some),
            used=tuple(
                UsedLine(name=name, lot=lot, amount=amount, unit=unit)
                for (name, lot, unit), amount in amounts.items()
            ),
            weather=once(weather_of(record) for record in some),
            notes=once(record.notes for record in some),
        )


def once(texts: Iterable[str]) -> tuple[str, ...]:
    return tuple(dict.fromkeys(text for text in texts if text))


def weather_of(record: WorkRecord) -> str:
    """`wind 6 mph from SW, 61 °F, 54 % humidity, clear`; empty where nothing was written down."""
    said = []
    if record.wind_mph is not None:
        text = _("wind {speed} from {point}") if record.wind_from else _("wind {speed}")
        said.append(text.format(speed=quantity(record.wind_mph, "mph", 0), point=record.wind_from))
    if record.temp_f is not None:
        said.append(quantity(record.temp_f, "°F", 0))
    if record.humidity_pct is not None:
        said.append(_("{percent} % humidity").format(percent=f"{record.humidity_pct:g}"))
    if record.sky:
        said.append(_(SKIES[record.sky]))
    return listed(said)


def left_out(visits: Iterable[Visit], plan: Plan, year: int) -> Iterable[LeftOut]:
    """Visits skipped whose window lay in the year."""
    for visit in visits:
        if visit.state == VisitState.SKIPPED and visit.window_shuts.year == year:
            yield LeftOut(work=visit.label, field=visit.field.name, why=visit.skipped_because)


def seen(rows: Iterable[Observation], climate: Climate, year: int) -> Iterable[SeenMoment]:
    """What was seen on the farm in the year, each beside its normal day, in order."""
    days = season.moment_days(climate)
    for row in sorted(rows, key=lambda row: row.on):
        if row.on.year == year and row.moment in days:
            near = (season.on(around, days[row.moment]) for around in (year - 1, year, year + 1))
            normal = min(near, key=lambda day: abs((day - row.on).days))
            label = tables.moment_rules()[row.moment].label
            yield SeenMoment(label=label, on=row.on, normal=normal)


def lost(plan: Plan, year: int) -> Iterable[LostDay]:
    """Work taken off the calendar for a reason, or waiting for weather; not what a change order moved."""
    zone = ZoneInfo(plan.practice.time_zone)
    rows = VisitChange.objects.filter(
        visit__plan=plan, what__in=(VisitChange.What.UNBOOKED, VisitChange.What.HELD), by__isnull=False
    ).exclude(reason="")
    for row in rows.select_related("visit__field").order_by("at", "pk"):
        on = timezone.localdate(row.at, timezone=zone)
        if on.year == year:
            yield LostDay(on=on, work=row.visit.label, field=row.visit.field.name, why=row.reason)


def counted(fields: Mapping[int, str], year: int) -> Iterable[FieldCounts]:
    counts = counts_of_fields(fields)
    for field, name in fields.items():
        found = [one for one in reversed(counts.get(field, [])) if one.count.on.year <= year]
        if not found:
            continue
        last = found[-1]
        yield FieldCounts(
            field=name,
            aim=AIMS[last.count.aim],
            target=float(last.stand.mark_per_sqft.value),
            target_source=last.stand.mark_per_sqft.source,
            points=tuple(
                CountPoint(
                    on=one.count.on,
                    season=one.count.season,
                    frames=one.stand.frames,
                    density=float(one.stand.plants_per_sqft.value),
                    low=float(one.stand.low_per_sqft.value),
                    high=float(one.stand.high_per_sqft.value),
                    verdict=one.stand.verdict,
                    sure=one.stand.sure,
                )
                for one in found
            ),
            next_label=last.stand.next_step.label,
            next_words=last.stand.next_step.words,
            because=last.stand.because,
        )


# Amounts, and what comes


def planned_and_used(records: Iterable[WorkRecord]) -> list[PlannedUsed]:
    """Sums over the year of each thing in its unit, in the order in which it was first used."""
    used: dict[tuple[str, str], float] = defaultdict(float)
    planned: dict[tuple[str, str], float | None] = {}
    for record in records:
        for line in record.lines.all():
            key = (line.name, line.unit)
            used[key] += line.amount
            if line.planned_amount is not None:
                planned[key] = (planned.get(key) or 0.0) + line.planned_amount
    return [
        PlannedUsed(name=name, unit=unit, planned=planned.get((name, unit)), used=total)
        for (name, unit), total in used.items()
    ]


def coming(visits: Iterable[Visit], year: int) -> list[ComingStep]:
    """Open work that may begin by the end of the year after, the same step in one window told once."""
    together: dict[tuple[str, date, date], list[Visit]] = defaultdict(list)
    for visit in visits:
        if visit.is_open and visit.window_opens.year <= year + 1:
            together[visit.label, visit.window_opens, visit.window_shuts].append(visit)
    return [
        ComingStep(
            label=label,
            why=some[0].why,
            fields=tuple(visit.field.name for visit in some),
            opens=opens,
            shuts=shuts,
            booked_on=min((visit.booked_on for visit in some if visit.booked_on), default=None),
        )
        for (label, opens, shuts), some in sorted(together.items(), key=lambda item: item[0][1:])
    ]
