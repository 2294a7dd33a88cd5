"""Queue the letters that go by themselves: reminders of offers, and word of visits."""

from __future__ import annotations

import logging
from typing import Any

from django.core.management.base import BaseCommand, CommandError
from django_scopes import scope

from consulting.clock import today_for
from consulting.models import Practice
from plans.notices import notices_queue
from plans.reminding import reminders_queue

logger = logging.getLogger(__name__)


class Command(BaseCommand):
    help = "Queue reminders of offers that end and word of visits, each once however often this runs."

    def handle(self, *args: Any, **options: Any) -> None:
        reminders = notices = 0
        failed = []
        for practice in Practice.objects.order_by("pk"):
            today = today_for(practice)
            try:
                with scope(practice=practice):
                    reminders += reminders_queue(practice, today)
                    notices += notices_queue(practice, today)
            except Exception:
                # One practice's trouble is not the next one's.
                logger.exception("letters of practice %s not queued", practice.pk)
                failed.append(practice.slug)
        self.stdout.write(f"Queued: reminders {reminders}, word of visits {notices}.")
        if failed:
            raise CommandError(f"Not for {', '.join(failed)}; the log says why.")
