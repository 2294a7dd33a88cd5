"""Removes map files that nobody sorted out, of all practices, and forgets forms that were sent: for cron."""

from __future__ import annotations

from typing import Any

from django.core.management.base import BaseCommand
from django_scopes import scopes_disabled

from consulting.once import sendings_forget
from sites.bringing import uploads_forget


class Command(BaseCommand):
    help = (
        "Removes map files that were brought in and not sorted out within a day, of all practices, and the "
        "marks by which a form that is sent twice is known, after two days."
    )

    def handle(self, *args: Any, **options: Any) -> None:
        with scopes_disabled():
            gone = uploads_forget()
        self.stdout.write(f"{gone} map file{'' if gone == 1 else 's'} removed.")
        sent = sendings_forget()
        self.stdout.write(f"{sent} sent form{'' if sent == 1 else 's'} forgotten.")
