"""Single calculations from the command line: `reckon NAME '{"input": value}'`, `reckon --list`."""

import json
from typing import Any

from django.core.management.base import BaseCommand, CommandParser

from plans.ground_reckonings import EVERY
from plans.management.commands._output import fail
from plans.planning.reckoner import listing, reckon
from plans.planning.wire import BadInput


class Command(BaseCommand):
    help = "Do one calculation and print value, unit, working and source as JSON."
    requires_system_checks: list[str] = []

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("name", nargs="?", help="which calculation; see --list")
        parser.add_argument("inputs", nargs="?", default="{}", help="its inputs as a JSON object")
        parser.add_argument("--list", action="store_true", help="print every name with its inputs")

    def handle(self, *args: Any, **options: Any) -> None:
        if options["list"]:
            self.stdout.write(json.dumps(listing(EVERY), indent=2))
            return
        if not options["name"]:
            fail(self, ["name: is missing; give one of those that --list prints"])
        try:
            answer = reckon(options["name"], options["inputs"], EVERY)
            self.stdout.write(json.dumps(answer, indent=2, ensure_ascii=False))
        except BadInput as error:
            fail(self, error.problems)
