"""The language, the measures and the clock by which a client is spoken to."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from zoneinfo import ZoneInfo

from django.utils import timezone, translation

from plans.documents import manner
from plans.models import Plan


@contextmanager
def as_client_reads(plan: Plan) -> Iterator[None]:
    """Everything inside, on pages and in letters, is said as this plan's client reads it."""
    spoken = manner.now()
    zone = ZoneInfo(plan.practice.time_zone)
    with translation.override(spoken.language), timezone.override(zone), manner.using(spoken):
        yield
