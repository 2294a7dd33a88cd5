"""`manage.py forget_records`: records of erased practices go when the law's time has run out. For cron."""

from __future__ import annotations

from typing import Any

from django.core.management.base import BaseCommand
from django.utils import timezone

from plans.leaving import records_forget


class Command(BaseCommand):
    help = "Remove the records of erased practices that need not be kept any longer."

    def handle(self, *args: Any, **options: Any) -> None:
        self.stdout.write(f"{records_forget(timezone.localdate())} records forgotten.")
