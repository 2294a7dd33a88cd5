"""A practice's own rates: what its done work suggests beside its price list, and taking that over."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime, time
from typing import Any, NamedTuple

from django.db import transaction
from django.utils.translation import gettext

from consulting.models import Practice, User, WorkRate
from consulting.services import save
from plans import facts
from plans.lines import in_unit
from plans.models import RateTaken, RecordLine
from plans.planning import price_list, tables
from plans.planning.figures import Figure, plain
from plans.planning.own_rates import (
    Done,
    Meaning,
    Suggestion,
    Used,
    allowance_means,
    apart,
    as_allowance,
    as_pace,
    beyond_plan,
    pace_means,
    pace_of,
    suggest,
)
from plans.planning.work import capacity
from plans.records import by_people, standing
from plans.services import Refused

SEASONS = 3
"""This calendar year and the ones before it that are looked at."""
SHOWN_TAKEN = 12
What = RateTaken.What


class Line(NamedTuple):
    """Something used, beside what was planned of it."""

    what: str
    name: str
    amount: float
    unit: str
    planned_amount: float | None
    reason: str


class Told(NamedTuple):
    """What a record says of how the work went. A model of each takes longer than all the sums."""

    visit: int
    operation: str
    on: date
    acres: float
    start_time: time | None
    end_time: time | None
    hours: float | None
    person_hours: float | None
    hours_reason: str
    notes: str
    field_name: str
    farm_name: str
    lines: list[Line]


def told_since(day: date) -> list[Told]:
    """Of every record that stands, by day, in two queries."""
    records = standing().filter(on__gte=day)
    lines: dict[int, list[Line]] = defaultdict(list)
    used = RecordLine.objects.filter(record__in=records.order_by().values("pk"))
    for record, *values in used.values_list("record", *Line._fields):
        lines[record].append(Line(*values))
    named = ("visit__operation" if name == "operation" else name for name in Told._fields[:-1])
    rows = records.order_by("on", "number").values_list("pk", *named)
    return [Told._make((*values, lines[pk])) for pk, *values in rows]


class RatesChanged(Refused):
    """The price list or the records are not what the person saw."""

    def __init__(self) -> None:
        super().__init__(
            gettext(
                "The price list or the records have changed since you looked, so nothing was taken over. "
                "Look at the page as it is now, and choose again."
            )
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class OwnRate:
    """One rate of the price list beside what done work suggests for it."""

    what: str
    operation: str
    label: str
    present: Figure
    suggestion: Suggestion
    suggested: Figure | None
    difference: Figure | None
    meaning: Meaning | None
    """None where there is nothing to suggest, or no rate to reckon with."""
    listed: bool
    """Whether the price list has the work, so that the rate can be taken over."""

    @property
    def key(self) -> str:
        return f"{self.what}-{self.operation}"

    @property
    def differs(self) -> bool:
        return bool(self.difference and abs(float(self.difference.value)) > 5e-4)

    @property
    def takes(self) -> bool:
        return self.listed and self.differs

    @property
    def seen(self) -> str:
        """What a person saw before they chose it."""
        return f"{self.present.shown} → {self.suggested.shown if self.suggested else ''}"


@dataclass(frozen=True, slots=True, kw_only=True)
class OwnRates:
    first: int
    """Calendar years, both included."""
    last: int
    paces: tuple[OwnRate, ...]
    seed: tuple[OwnRate, ...]
    spray: tuple[OwnRate, ...]
    products: tuple[tuple[str, Suggestion], ...]
    """What each product was used beyond its plan, by name; it is information alone."""
    without_hours: int
    """Visits by the acre that say nothing of their hours."""

    @property
    def every(self) -> tuple[OwnRate, ...]:
        return (*self.paces, *self.seed, *self.spray)

    @property
    def can_take(self) -> bool:
        return any(rate.takes for rate in self.every)


def own_rates(practice: Practice, today: date) -> OwnRates:
    """What the records of the last seasons suggest, in three queries."""
    first = today.year - SEASONS + 1
    by_visit: dict[int, list[Told]] = defaultdict(list)
    for record in told_since(date(first, 1, 1)):
        by_visit[record.visit].append(record)
    paces: dict[str, list[Done]] = defaultdict(list)
    used: dict[tuple[str, str], list[Done]] = defaultdict(list)
    products: dict[str, list[Done]] = defaultdict(list)
    without_hours = 0
    for own in by_visit.values():
        operation = own[0].operation
        if by_the_acre(operation):
            pace = paced(own)
            without_hours += pace is None
            paces[operation] += [pace] if pace else []
        for what in (RecordLine.What.SEED, RecordLine.What.PRODUCT):
            parts = used_on(own, what)
            if parts:
                used[what, operation].append(done_of(own, beyond_plan(parts), reasons(own, what)))
            if what == RecordLine.What.PRODUCT:
                for part in parts:
                    products[part.name].append(done_of(own, beyond_plan([part]), reasons(own, what)))
    rates = {row.operation: facts.work_rate_of(row) for row in WorkRate.objects.all()}

    def allowances(what: str) -> tuple[OwnRate, ...]:
        found = {operation: visits for (kind, operation), visits in used.items() if kind == what}
        return tuple(allowance_rate(key, found[key], rates.get(key), practice) for key in in_order(found))

    return OwnRates(
        first=first,
        last=today.year,
        paces=tuple(pace_rate(key, paces[key], rates.get(key), practice) for key in in_order(paces)),
        seed=allowances(RecordLine.What.SEED),
        spray=allowances(RecordLine.What.PRODUCT),
        products=tuple((name, suggest(products[name])) for name in sorted(products)),
        without_hours=without_hours,
    )


def in_order(found: Mapping[str, Sequence[Done]]) -> list[str]:
    """Operations that have visits, as the table has them."""
    order = {key: place for place, key in enumerate(tables.operations())}
    return sorted((key for key, visits in found.items() if visits), key=lambda key: order.get(key, 999))


def by_the_acre(operation: str) -> bool:
    row = tables.operations().get(operation)
    return row is not None and not row.plants_per_hour


# What a visit shows


def done_of(own: Sequence[Told], value: Figure, said: Iterable[str], **more: Any) -> Done:
    last = own[-1]
    return Done(
        visit=last.visit,
        on=last.on,
        where=f"{last.field_name}, {last.farm_name}",
        acres=more.pop("acres", sum(record.acres for record in own)),
        value=value,
        said=tuple(dict.fromkeys(text for text in said if text)),
        **more,
    )


def paced(own: Sequence[Told]) -> Done | None:
    """The pace of a visit over its records that say hours; None where none does."""
    told = [(record, *found) for record in own if (found := hours_told(record))]
    if not told:
        return None
    acres = sum(record.acres for record, _, _ in told)
    hours = sum(hours for _, hours, _ in told)
    pace = pace_of(acres, hours, from_times=any(timed for _, _, timed in told))
    said = [text for record, _, _ in told for text in (record.hours_reason, record.notes)]
    return done_of([record for record, _, _ in told], pace, said, acres=acres, hours=hours)


def hours_told(record: Told) -> tuple[float, bool] | None:
    """Hours as the price list keeps them for the work, and whether they are only from start to end."""
    if by_people(record.operation):
        return (record.person_hours, False) if record.person_hours else None
    if record.hours:
        return record.hours, False
    if record.start_time and record.end_time and record.start_time < record.end_time:
        started, ended = (datetime.combine(record.on, at) for at in (record.start_time, record.end_time))
        return (ended - started).total_seconds() / 3600, True
    return None


def lines_of(own: Sequence[Told], what: str) -> Iterator[Line]:
    return (line for record in own for line in record.lines if line.what == what and line.planned_amount)


def used_on(own: Sequence[Told], what: str) -> list[Used]:
    """Seed or products of a visit that were planned; the same one of several records is added up."""
    found: dict[str, Used] = {}
    for line in lines_of(own, what):
        before = found.get(line.name)
        unit = before.unit if before else line.unit
        amounts = [in_unit(amount, line.unit, unit) for amount in (line.amount, line.planned_amount or 0.0)]
        if amounts[0] is None or amounts[1] is None:
            continue
        found[line.name] = Used(
            name=line.name,
            used=amounts[0] + (before.used if before else 0.0),
            planned=amounts[1] + (before.planned if before else 0.0),
            unit=unit,
        )
    return list(found.values())


def reasons(own: Sequence[Told], what: str) -> list[str]:
    return [line.reason for line in lines_of(own, what)]


# Beside the price list


def pace_rate(
    operation: str, visits: Sequence[Done], rate: price_list.WorkRate | None, practice: Practice
) -> OwnRate:
    suggestion, present = suggest(visits), capacity(operation, rate)
    suggested = as_pace(suggestion)
    meaning = pace_means(rate, present, suggested, facts.terms_of(practice)) if rate and suggested else None
    return beside(What.PACE, operation, present, suggestion, suggested, meaning, rate)


def allowance_rate(
    operation: str, visits: Sequence[Done], rate: price_list.WorkRate | None, practice: Practice
) -> OwnRate:
    suggestion, suggested = suggest(visits), as_allowance(suggest(visits))
    present = Figure(
        rate.allowance_pct if rate else 0.0, "%", gettext("allowance of the work"), (), gettext("price list")
    )
    meaning = allowance_means(present, suggested, facts.terms_of(practice)) if suggested else None
    return beside(What.ALLOWANCE, operation, present, suggestion, suggested, meaning, rate)


def beside(
    what: str,
    operation: str,
    present: Figure,
    suggestion: Suggestion,
    suggested: Figure | None,
    meaning: Meaning | None,
    rate: price_list.WorkRate | None,
) -> OwnRate:
    return OwnRate(
        what=what,
        operation=operation,
        label=label_of(operation),
        present=present,
        suggestion=suggestion,
        suggested=suggested,
        difference=apart(suggested, present) if suggested else None,
        meaning=meaning,
        listed=rate is not None,
    )


def label_of(operation: str) -> str:
    row = tables.operations().get(operation)
    return row.label if row else operation


# Taking over


COLUMNS = {What.PACE: "acres_per_hour", What.ALLOWANCE: "allowance_pct"}


@transaction.atomic
def rates_take(*, practice: Practice, user: User, today: date, seen: Mapping[str, str]) -> list[RateTaken]:
    """Write chosen suggestions into the price list. `seen` is what the person saw of each, by its key.

    Offered proposals hold their own prices and stay as they are. Raises RatesChanged, Refused or
    ValidationError, and then takes none.
    """
    if not seen:
        raise Refused(gettext("Nothing was chosen. Tick what is to be taken over."))
    rows = {row.operation: row for row in WorkRate.objects.select_for_update(of=("self",)).order_by("pk")}
    found = {rate.key: rate for rate in own_rates(practice, today).every}
    taken = []
    for key, shown in seen.items():
        rate = found.get(key)
        if rate is None or rate.suggested is None or not rate.takes or rate.seen != shown:
            raise RatesChanged
        save(rows[rate.operation], **{COLUMNS[What(rate.what)]: float(rate.suggested.value)})
        taken.append(
            RateTaken.objects.create(
                practice=practice,
                what=rate.what,
                operation=rate.operation,
                before=float(rate.present.value),
                after=float(rate.suggested.value),
                visits=rate.suggestion.count,
                acres=float(rate.suggestion.acres.value),
                by=user,
                by_name=str(user),
            )
        )
    return taken


def taken_lately() -> list[tuple[str, RateTaken]]:
    """What was taken over, the latest first, each in words."""
    return [(in_words(row), row) for row in RateTaken.objects.all()[:SHOWN_TAKEN]]


def in_words(row: RateTaken) -> str:
    said = (
        gettext("{work}, pace: {before} to {after} acres an hour")
        if row.what == What.PACE
        else gettext("{work}, allowance: {before} to {after} %")
    )
    return said.format(work=label_of(row.operation), before=plain(row.before), after=plain(row.after))
