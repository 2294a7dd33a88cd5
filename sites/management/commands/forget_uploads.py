"""Removes map files that were brought in and not sorted out within a day, of all practices: for cron."""

from __future__ import annotations

from typing import Any

from django.core.management.base import BaseCommand
from django_scopes import scopes_disabled

from sites.bringing import uploads_forget


class Command(BaseCommand):
    help = "Removes map files that were brought in and not sorted out within a day, of all practices."

    def handle(self, *args: Any, **options: Any) -> None:
        with scopes_disabled():
            gone = uploads_forget()
        self.stdout.write(f"{gone} map file{'' if gone == 1 else 's'} removed.")
