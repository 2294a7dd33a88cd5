"""What a device keeps for a day without a signal, and what it is told of work that it sends later."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date, datetime, timedelta

from django.urls import reverse

from consulting.models import Practice
from plans.board import next_working_day
from plans.counts import COUNTING
from plans.documents.manner import _
from plans.documents.told import told
from plans.documents.words import day as day_words
from plans.documents.words import weekday
from plans.documents.words import window as days_words
from plans.models import Visit, VisitState

MOST_VISITS = 40


@dataclass(frozen=True, slots=True)
class KeptPage:
    url: str
    title: str
    """Empty for a page that another one stands for."""
    on: date
    """The day whose work it belongs to."""
    stamp: str
    """Another one: the copy is out of date."""


def kept_pages(practice: Practice, today: date, now: datetime) -> list[KeptPage]:
    """The board, and the visits booked for today, tomorrow and the next working day. Copies last an hour."""
    days = sorted({today, today + timedelta(days=1), next_working_day(today)})
    booked = Visit.objects.filter(state=VisitState.OPEN, booked_on__in=days).select_related("field__farm")
    visits = list(booked.order_by("booked_on", "field__farm__name", "field__name", "order")[:MOST_VISITS])
    hour = f"{now:%Y%m%d%H}"
    changed = f"{hour}-{sum(visit.version for visit in visits)}-{len(visits)}"

    def pages() -> Iterator[KeptPage]:
        yield KeptPage(reverse("work", args=[practice.slug]), _("Work"), today, changed)
        yield KeptPage(reverse("work_today", args=[practice.slug]), _("Today"), today, changed)
        for day in days:
            url = reverse("work_day", args=[practice.slug, day.isoformat()])
            yield KeptPage(url, "" if day == today else weekday(day), day, changed)
        for visit in visits:
            where = f"{visit.field.name}, {visit.field.farm.name}"
            stamp, on = f"{hour}-{visit.version}", visit.booked_on or today
            url = reverse("visit", args=[practice.slug, visit.pk])
            yield KeptPage(url, f"{told(visit.label)}: {where}", on, stamp)
            if visit.operation == COUNTING:
                url = reverse("stand_count", args=[practice.slug, visit.pk])
                yield KeptPage(url, f"{_('Count the stand')}: {where}", on, stamp)

    return list(pages())


def as_it_stands(visit: Visit) -> list[tuple[str, str]]:
    """A visit in labelled words, to be set beside what somebody wrote of it."""
    return [
        (_("State"), str(visit.get_state_display())),
        (_("Booked"), day_words(visit.booked_on) if visit.booked_on else _("on no day")),
        (_("Sound"), days_words(visit.window_opens, visit.window_shuts)),
        (
            _("Done"),
            _("{done} of {acres} acres").format(done=f"{visit.acres_done:.4g}", acres=f"{visit.acres:.4g}"),
        ),
    ]


def last_change(visit: Visit) -> list[tuple[str, str]]:
    """The latest line of its history, in the same way."""
    last = visit.changes.order_by("-at", "-pk").first()
    if last is None:
        return []
    words = ": ".join(part for part in (last.get_what_display(), last.after, last.reason) if part)
    return [(_("Last change"), f"{words} ({last.by_name})")]
