"""The day as it is where a practice works."""

from __future__ import annotations

from datetime import date
from zoneinfo import ZoneInfo

from django.utils import timezone

from consulting.models import Practice


def today_for(practice: Practice) -> date:
    """The date on the wall where the practice is."""
    return timezone.localdate(timezone=ZoneInfo(practice.time_zone))
