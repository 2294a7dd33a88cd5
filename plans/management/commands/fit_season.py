"""Search for a better fitting of a season: begun by the site, runs apart from it."""

from __future__ import annotations

from typing import Any

from django.core.management.base import BaseCommand, CommandError, CommandParser
from django_scopes import scope, scopes_disabled

from plans.fitting import run
from plans.models import Fitting


class Command(BaseCommand):
    help = "Look for a better booking of a season that was asked for on the site."

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("fitting", type=int)

    def handle(self, *args: Any, **options: Any) -> None:
        with scopes_disabled():
            found = Fitting.objects.select_related("practice").filter(pk=options["fitting"]).first()
        if found is None:
            raise CommandError(f"fitting: {options['fitting']} is not there.")
        with scope(practice=found.practice):
            run(found)
