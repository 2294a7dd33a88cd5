"""Records found by what an address asks for, and arranged for a page, for print and for a spreadsheet."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from datetime import date, datetime
from typing import Any
from urllib.parse import urlencode
from zoneinfo import ZoneInfo

from django.db.models import QuerySet
from django.utils import timezone
from django.utils.translation import gettext

from consulting.formkit import whole_number
from consulting.models import Client, Practice
from plans.documents.records import PrintedLine, PrintedRecord, apart_words
from plans.documents.words import day
from plans.models import WorkRecord
from plans.planning.figures import plain
from plans.records import Kind, apart_pct, by_people, lines_of, with_lines
from plans.records import standing as standing_records
from sites.models import Farm, Field

PER_PAGE = 40
MOST_PRINTED = 300
"""More records than this are not printed in one file."""
MOST_IN_A_WORKBOOK = 5000
LONG = tuple(f"visit__{name}" for name in ("why", "conditions", "cautions", "skipped_because", "waits_for"))
"""Of the visit, which a record does not tell."""


@dataclass(frozen=True, slots=True)
class RecordsAsked:
    """What the address of the records asks for."""

    client: int | None = None
    farm: int | None = None
    field: int | None = None
    season: int | None = None
    """A calendar year."""
    kind: str = ""
    page: int = 1

    @classmethod
    def of(cls, query: Mapping[str, str]) -> RecordsAsked:
        """From a query string; what it does not understand is left out."""

        def number(name: str, most: int = 10**9) -> int | None:
            found = whole_number(query.get(name, ""))
            return found if found and found <= most else None

        kind = query.get("kind", "")
        return cls(
            client=number("client"),
            farm=number("farm"),
            field=number("field"),
            season=number("season", 9999),
            kind=kind if kind in Kind.values else "",
            page=number("page", 10**6) or 1,
        )

    @property
    def query(self) -> str:
        """As a query string; what is not asked is left out."""
        given = {name: getattr(self, name) for name in ("client", "farm", "field", "season", "kind")}
        given["page"] = self.page if self.page > 1 else ""
        return "?" + urlencode({name: value for name, value in given.items() if value})

    @property
    def whole(self) -> str:
        """The same for all pages at once."""
        return replace(self, page=1).query

    def standing(self) -> QuerySet[Any]:
        """Records that stand and fit, the latest first."""
        wanted = {
            "visit__field__farm__client": self.client,
            "visit__field__farm": self.farm,
            "visit__field": self.field,
            "on__year": self.season,
            "kind": self.kind,
        }
        found: QuerySet[Any] = standing_records()
        return found.filter(**{name: value for name, value in wanted.items() if value})

    def rows(self) -> QuerySet[Any]:
        """The same with what an arranged record reads."""
        rows: QuerySet[Any] = with_lines(self.standing()).select_related("corrects", "visit").defer(*LONG)
        return rows

    def title(self) -> str:
        """What is asked for, in words."""
        said = []
        for model, pk in ((Field, self.field), (Farm, self.farm), (Client, self.client)):
            row = model.objects.filter(pk=pk).first() if pk else None
            said += [str(row)] if row else []
        said += [str(self.season)] if self.season else []
        said += [gettext(Kind(self.kind).label)] if self.kind else []
        return ", ".join(said) or gettext("All work")


@dataclass(frozen=True, slots=True)
class Choices:
    """What can be asked for: what there are records of."""

    clients: list[tuple[int, str]]
    farms: list[tuple[int, str]]
    fields: list[tuple[int, str, str]]
    """Key, name, and the farm's name."""
    seasons: list[int]
    kinds: list[tuple[str, str]]


def choices(asked: RecordsAsked) -> Choices:
    """Farms of the client chosen and fields of the farm chosen, as far as there are records."""
    there = WorkRecord.objects.order_by()
    fields = Field.objects.filter(pk__in=there.values("visit__field"))
    farms = Farm.objects.filter(pk__in=there.values("visit__field__farm"))
    clients = Client.objects.filter(pk__in=there.values("visit__field__farm__client"))
    if asked.client:
        farms, fields = farms.filter(client=asked.client), fields.filter(farm__client=asked.client)
    if asked.farm:
        fields = fields.filter(farm=asked.farm)
    years = there.values_list("on__year", flat=True).distinct()
    kinds = set(there.values_list("kind", flat=True).distinct())
    return Choices(
        clients=list(clients.order_by("name", "pk").values_list("pk", "name")),
        farms=list(farms.order_by("name", "pk").values_list("pk", "name")),
        fields=list(fields.order_by("farm__name", "name", "pk").values_list("pk", "name", "farm__name")),
        seasons=sorted(years, reverse=True),
        kinds=[(key, label) for key, label in Kind.choices if key in kinds],
    )


def entered(record: WorkRecord, practice: Practice) -> str:
    """Who entered it, and when by the practice's own clock."""
    return entered_words(record.entered_by_name, record.at, ZoneInfo(practice.time_zone))


def entered_words(person: str, at: datetime, zone: ZoneInfo) -> str:
    here = timezone.localtime(at, zone)
    said = gettext("Entered by {person} on {day} at {time}.")
    return said.format(person=person, day=day(here.date()), time=f"{here:%H:%M}")


def correction_words(number: int | None, taken_back: bool, because: str) -> str:
    """What it corrects and why; empty for a first record."""
    if number is None:
        return ""
    said = (
        gettext("Takes back record {number}: {because}")
        if taken_back
        else gettext("Stands in place of record {number}: {because}")
    )
    return said.format(number=number, because=because)


def after_of(record: WorkRecord) -> WorkRecord | None:
    return WorkRecord.objects.filter(corrects=record).first()


def keep_until(on: date, years: int) -> date:
    """The last day of a keeping time: the same day so many years on, the day after a missing February 29."""
    try:
        return on.replace(year=on.year + years)
    except ValueError:
        return date(on.year + years, 3, 1)


def arranged(
    record: WorkRecord, practice: Practice, keep_years: int, after: WorkRecord | None = None
) -> PrintedRecord:
    """The record for a reader, with what came `after` it. Reads its lines and what it corrects."""
    before = record.corrects.number if record.corrects else None
    followed = gettext("This record no longer stands: record {number} followed it.")
    return PrintedRecord(
        number=record.number,
        kind=record.get_kind_display(),
        work=record.work,
        on=record.on,
        acres=record.acres,
        field=record.field_name,
        farm=record.farm_name,
        place=record.place,
        customer=record.customer_name,
        address=record.customer_address,
        facts=facts_of(record, columns_of(record)),
        lines=tuple(line_of(line) for line in lines_of(record)),
        extra=tuple((label, text) for label, text in record.extra),
        notes=record.notes,
        keep_until=keep_until(record.on, keep_years),
        entered=entered(record, practice),
        superseded=followed.format(number=after.number) if after else "",
        correction=correction_words(before, record.taken_back, record.because),
        sha256=record.sha256,
    )


def columns_of(record: WorkRecord) -> dict[str, str]:
    def shown(value: float | None) -> str:
        return "" if value is None else plain(value)

    return {
        "start_time": f"{record.start_time:%H:%M}" if record.start_time else "",
        "end_time": f"{record.end_time:%H:%M}" if record.end_time else "",
        "applicator": record.applicator,
        "certificate": record.certificate,
        "supervised": record.supervised,
        "people": record.people,
        "site": record.site,
        "target": record.target,
        "wind_mph": shown(record.wind_mph),
        "wind_from": record.wind_from,
        "temp_f": shown(record.temp_f),
        "humidity_pct": shown(record.humidity_pct),
        "sky": record.sky,
        "hours": shown(record.hours),
        "person_hours": shown(record.person_hours),
        "planned_hours": shown(record.planned_hours and float(f"{record.planned_hours:.3g}")),
        "hours_reason": record.hours_reason,
    }


def facts_of(record: WorkRecord, told: dict[str, str]) -> tuple[tuple[str, str], ...]:
    start, end = told["start_time"], told["end_time"]
    when = gettext("{start} to {end}").format(start=start, end=end) if start and end else start or end
    applicator = told["applicator"]
    if told["certificate"]:
        certified = gettext("{person}, certificate {number}")
        applicator = certified.format(person=applicator, number=told["certificate"])
    facts = (
        (gettext("Time"), when),
        (gettext("Size of area"), gettext("{acres} acres").format(acres=plain(record.acres))),
        (gettext("Hours"), hours_said(record, told)),
        (gettext("Why those hours"), record.hours_reason),
        (gettext("Crop or site"), told["site"]),
        (gettext("Target"), told["target"]),
        (gettext("Certified applicator"), applicator),
        (gettext("Under supervision"), told["supervised"]),
        (gettext("Who was there"), told["people"]),
        (gettext("The air"), air_said(record, told)),
        *((label, text) for label, text in record.extra),
    )
    return tuple((label, text) for label, text in facts if text)


def air_said(record: WorkRecord, told: dict[str, str]) -> str:
    """Wind, temperature, humidity and sky, as far as they were noted."""
    mph, side = told["wind_mph"], gettext(record.get_wind_from_display())
    wind = ""
    if told["wind_from"] == "calm":
        wind = gettext("wind {mph} mph, calm").format(mph=mph) if mph else gettext("calm")
    elif mph and side:
        wind = gettext("wind {mph} mph from {side}").format(mph=mph, side=side)
    elif mph or side:
        wind = gettext("wind {mph} mph").format(mph=mph) if mph else gettext("from {side}").format(side=side)
    humidity = gettext("humidity {share} %").format(share=told["humidity_pct"])
    parts = (
        wind,
        f"{told['temp_f']} °F" if told["temp_f"] else "",
        humidity if told["humidity_pct"] else "",
        gettext(record.get_sky_display()).lower() if told["sky"] else "",
    )
    return ", ".join(part for part in parts if part)


def hours_said(record: WorkRecord, told: dict[str, str]) -> str:
    """Hours worked beside those planned, with how far they are apart."""
    people = by_people(record.visit.operation)
    worked = [
        gettext("{hours} h in the field").format(hours=told["hours"]) if told["hours"] else "",
        gettext("{hours} person-hours").format(hours=told["person_hours"]) if told["person_hours"] else "",
    ]
    counted = record.person_hours if people else record.hours
    planned = gettext("{hours} person-hours") if people else "{hours} h"
    planned = planned.format(hours=told["planned_hours"]) if told["planned_hours"] else ""
    apart = apart_words(apart_pct(counted, record.planned_hours)) if counted else ""
    said = ", ".join(part for part in worked if part)
    if not said:
        return ""
    if not planned:
        return said
    planned = f"{planned} ({apart})" if apart else planned
    return gettext("{worked}; planned {planned}").format(worked=said, planned=planned)


def line_of(line: Any) -> PrintedLine:
    return PrintedLine(
        name=line.name,
        ingredient=line.ingredient,
        registration_number=line.registration_number,
        restricted_use=line.restricted_use,
        lot=line.lot,
        amount=line.amount,
        unit=line.unit,
        rate_per_acre=line.rate_per_acre,
        planned=line.planned_amount,
        apart_pct=apart_pct(line.amount, line.planned_amount),
        reason=line.reason,
    )


def versions(record: WorkRecord) -> list[WorkRecord]:
    """The record with all that it corrects and all that corrects it, the first first."""
    found = [record]
    while found[0].corrects is not None:
        found.insert(0, found[0].corrects)
    while True:
        after = after_of(found[-1])
        if after is None:
            return found
        found.append(after)
