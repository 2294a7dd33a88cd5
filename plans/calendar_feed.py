"""Booked visits as an iCalendar feed (RFC 5545): whole days, stable ids, no prices."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import UTC, date, datetime, timedelta

from icalendar import Calendar, Event

from plans.models import Visit


def visits_calendar(visits: Iterable[Visit], *, name: str, host: str, now: datetime) -> bytes:
    """The feed of these booked visits. `host` makes the ids unique, `now` is the time of writing.

    An event ends on the day after, exclusive, as RFC 5545 says of whole days; SEQUENCE rises with changes.
    """
    feed = Calendar()
    feed.add("prodid", "-//Coverstead//visits//EN")
    feed.add("version", "2.0")
    feed.add("x-wr-calname", name)
    for visit in visits:
        if visit.booked_on is not None:
            feed.add_component(_event(visit, visit.booked_on, host, now))
    return feed.to_ical()


def _event(visit: Visit, on: date, host: str, now: datetime) -> Event:
    farm = visit.field.farm
    event = Event()
    event.add("uid", f"visit-{visit.pk}@{host}")
    event.add("sequence", visit.version)
    event.add("dtstamp", now.astimezone(UTC))
    event.add("dtstart", on)
    event.add("dtend", on + timedelta(days=1))
    event.add("summary", f"{visit.label}: {visit.field.name}")
    event.add("location", ", ".join(part for part in (farm.name, farm.place) if part))
    people = ", ".join(sorted(str(person.user) for person in visit.people.all()))
    said = [people, visit.conditions, *visit.cautions]
    event.add("description", "\n".join(part for part in said if part))
    event.add("status", "CONFIRMED")
    event.add("transp", "TRANSPARENT")
    return event
