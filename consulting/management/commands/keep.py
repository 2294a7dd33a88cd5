"""`manage.py keep FILE`: everything that the site holds, in one checked file, while it runs."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand, CommandError, CommandParser
from django.utils import timezone

from consulting import keeping, stamps


class Command(BaseCommand):
    help = "Write the whole database, files included, to a new archive; the site may go on running."

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("file", type=Path, help="a new file, such as coverstead-2027-03-01.zip")

    def handle(self, *args: Any, **options: Any) -> None:
        now = timezone.now()
        try:
            kept = keeping.keep(options["file"], now=now)
            keeping.check(options["file"])
        except keeping.KeepError as error:
            raise CommandError(str(error)) from None
        stamps.mark("kept", now)
        self.stdout.write(
            f"Kept {kept.total} rows of {len(kept.rows)} tables in {options['file']}, read again and sound."
        )
