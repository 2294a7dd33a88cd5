"""The language, the measures, the colors and the clock by which a client is spoken to."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from zoneinfo import ZoneInfo

from django.utils import timezone

from plans.manners import manner_of, speaking
from plans.models import Plan


@contextmanager
def as_client_reads(plan: Plan) -> Iterator[None]:
    """Everything inside, on pages and in letters, is said as this plan's client reads it."""
    zone = ZoneInfo(plan.practice.time_zone)
    with speaking(manner_of(plan.practice, plan.farm.client)), timezone.override(zone):
        yield
