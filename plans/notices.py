"""Word of a visit to the client and to whoever goes: once, and again when it moves or is off."""

from __future__ import annotations

import hashlib
from collections import defaultdict
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from datetime import date, timedelta
from typing import Literal

from django.conf import settings
from django.db import transaction
from django.db.models import Q, QuerySet
from django.urls import reverse

from consulting import outbox
from consulting.models import Membership, Practice
from plans.mailing import Draft, about, to_client, write
from plans.models import Visit, VisitState, VisitTold
from plans.planning import tables
from plans.reminding import end_of

CLIENT = "client"
Kind = Literal["new", "moved", "off"]


def what_to_tell(told: date | None, stands: date | None, today: date, last: date) -> Kind | None:
    """What somebody has to hear who was told of the day `told`, now that the visit stands on `stands`.

    A visit is first told of when it is at most `last`. A day told that is over binds nobody.
    """
    if told is None or told < today:
        return "new" if stands and today < stands <= last and stands != told else None
    if stands == told:
        return None
    return "moved" if stands and stands >= today else "off"


@dataclass(frozen=True, slots=True)
class Line:
    """One visit as one reader is told of it."""

    visit: Visit
    reader: str
    kind: Kind
    before: date | None
    told: VisitTold

    @property
    def day(self) -> date | None:
        return None if self.kind == "off" else self.visit.booked_on


def crew_reader(person: Membership) -> str:
    return f"crew:{person.pk}"


def readers_of(visit: Visit, practice: Practice) -> set[str]:
    """Who is to be told of it as it stands."""
    client = {CLIENT} if practice.tell_client and visit.plan.farm.client.email else set()
    return client | ({crew_reader(person) for person in visit.people.all()} if practice.tell_crew else set())


def heard(reader: str, practice: Practice, crew: dict[str, Membership]) -> bool:
    """Whether that reader is told anything at all now."""
    return practice.tell_client if reader == CLIENT else practice.tell_crew and reader in crew


def visits_to_tell(today: date, last: date) -> QuerySet[Visit]:
    """Visits that come soon, and those of which somebody was told a day that is not over."""
    soon = Q(state=VisitState.OPEN, booked_on__gt=today, booked_on__lte=last)
    rows = (
        Visit.objects.filter(soon | Q(told__day__gte=today)).distinct().order_by("booked_on", "order", "pk")
    )
    rows = rows.select_related("field", "plan__farm__client", "plan__practice")
    return rows.prefetch_related("people__user", "machines", "told")


def lines_of(
    visits: Iterable[Visit], practice: Practice, today: date, crew: dict[str, Membership]
) -> Iterator[Line]:
    last = today + timedelta(days=practice.tell_days)
    for visit in visits:
        if visit.state == VisitState.DONE:
            continue
        now = readers_of(visit, practice) if visit.is_open else set()
        known = {told.reader: told for told in visit.told.all()}
        for reader in sorted(now | known.keys()):
            if not heard(reader, practice, crew):
                continue
            told = known.get(reader) or VisitTold(practice=practice, visit=visit, reader=reader)
            stands = visit.booked_on if reader in now else None
            kind = what_to_tell(told.day, stands, today, last)
            if kind is None or (kind == "new" and visit.waits_for):
                continue
            yield Line(visit, reader, kind, told.day, told)


@transaction.atomic
def notices_queue(practice: Practice, today: date) -> int:
    """Queue a letter for each reader who has something to hear: how many. Inside the practice's scope.

    A client hears of each farm in a letter of its own, one of the crew of all that concerns them in one.
    """
    # Two of these at once would tell the same: the second waits here and finds it told.
    Practice.objects.select_for_update(of=("self",)).get(pk=practice.pk)
    last = today + timedelta(days=practice.tell_days)
    crew = {crew_reader(person): person for person in Membership.objects.select_related("user")}
    letters: dict[tuple[str, int], list[Line]] = defaultdict(list)
    for line in lines_of(visits_to_tell(today, last), practice, today, crew):
        letters[line.reader, line.visit.plan.farm_id if line.reader == CLIENT else 0].append(line)
    for (reader, _), lines in letters.items():
        tell(practice, reader, lines, crew.get(reader))
    return len(letters)


def tell(practice: Practice, reader: str, lines: list[Line], person: Membership | None) -> None:
    draft = crew_letter(practice, person, lines) if person else client_letter(lines)
    days = [day for line in lines for day in (line.day, line.before) if day]
    counted = "".join(f"{line.visit.pk}.{line.told.times}," for line in lines)
    letter = outbox.put(
        practice=practice,
        once=f"visits:{reader}:{hashlib.sha256(counted.encode()).hexdigest()}",
        to=draft.to,
        subject=draft.subject,
        text=draft.text,
        about="" if person else about(lines[0].visit.plan.farm),
        useful_until=end_of(max(days), practice),
    )
    for line in lines:
        line.told.day, line.told.letter = line.day, letter
        line.told.times += 1
        line.told.save()


BURNING = "prescribed_burn"


def sprays(line: Line) -> bool:
    row = tables.operations().get(line.visit.operation)
    return row is not None and row.work == "spray"


def by_day(lines: Iterable[Line]) -> list[tuple[date, list[Line]]]:
    found: dict[date, list[Line]] = defaultdict(list)
    for line in lines:
        if line.kind == "new" and line.day:
            found[line.day].append(line)
    return sorted(found.items(), key=lambda pair: pair[0])


def sorted_out(lines: list[Line]) -> dict[str, object]:
    """What the templates of both letters need."""
    return {
        "days": by_day(lines),
        "moved": [line for line in lines if line.kind == "moved"],
        "off": [line for line in lines if line.kind == "off"],
        "changed": any(line.kind != "new" for line in lines),
        "sprayed": any(line.day and sprays(line) for line in lines),
        "burned": any(line.day and line.visit.operation == BURNING for line in lines),
    }


def client_letter(lines: list[Line]) -> Draft:
    return to_client("visit_client", lines[0].visit.plan, **sorted_out(lines))


def crew_letter(practice: Practice, person: Membership, lines: list[Line]) -> Draft:
    site = settings.SITE_ADDRESS
    return write(
        "visit_crew",
        practice=practice,
        reader=person,
        to=person.user.email,
        person=person,
        work_url=site and site + reverse("work", args=[practice.slug]),
        **sorted_out(lines),
    )
