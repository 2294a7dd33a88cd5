"""`manage.py bring_back FILE`: an archive into an empty database of either kind; `--check` only reads it."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand, CommandError, CommandParser

from consulting import keeping


class Command(BaseCommand):
    help = "Restore an archive of `keep` into the empty database that DATABASE_URL names."
    requires_system_checks: list[str] = []

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("file", type=Path, help="an archive that `keep` wrote")
        parser.add_argument("--check", action="store_true", help="only read it, and say whether it is whole")

    def handle(self, *args: Any, **options: Any) -> None:
        held = 0
        try:
            if options["check"]:
                kept = keeping.check(options["file"])
            else:
                kept, held = keeping.bring_back(options["file"])
        except keeping.KeepError as error:
            raise CommandError(str(error)) from None
        said = "Sound" if options["check"] else "Brought back"
        self.stdout.write(f"{said}: {kept.total} rows of {len(kept.rows)} tables, kept at {kept.made_at}.")
        if held:
            self.stdout.write(f"Letters that waited and may have gone since, left to a person: {held}.")
