"""Whether no record of work was changed since it was written: `prove_records [--practice SLUG]`."""

from __future__ import annotations

import sys
from typing import Any

from django.core.management.base import BaseCommand, CommandParser
from django_scopes import scope

from consulting.models import Practice
from plans.management.commands._output import fail
from plans.records import chain


class Command(BaseCommand):
    help = "Follow each practice's chain of records of work; exit 1 when one does not fit."

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("--practice", metavar="SLUG", help="one practice, as in the site’s addresses")

    def handle(self, *args: Any, **options: Any) -> None:
        practices = Practice.objects.order_by("slug")
        if options["practice"]:
            practices = practices.filter(slug=options["practice"])
            if not practices:
                fail(self, [f"--practice: there is no practice {options['practice']!r}"])
        broken = 0
        for practice in practices:
            with scope(practice=practice):
                found = chain()
            if found.broken_at is None:
                last = f"; the last has the seal {found.last}" if found.last else ""
                self.stdout.write(f"holds    {practice.slug}: {found.length} records{last}")
                continue
            broken += 1
            self.stdout.write(f"differs  {practice.slug}: record {found.broken_at} does not fit: {found.why}")
        if broken:
            self.stderr.write(f"{broken} of {len(practices)} practices have a record that does not fit.")
            sys.exit(1)
