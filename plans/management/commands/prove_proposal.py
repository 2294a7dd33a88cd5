"""Whether an agreed proposal is unchanged: `prove_proposal NUMBER --practice SLUG [--file COPY.pdf]`."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand, CommandParser
from django_scopes import scope

from consulting.models import Practice
from plans.management.commands._output import fail
from plans.models import Proposal
from plans.proofs import proof, sound


class Command(BaseCommand):
    help = "Check that a proposal is what was offered and agreed to; exit 1 when anything differs."

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("number", type=int, help="the proposal’s number, as printed on it")
        parser.add_argument("--practice", required=True, metavar="SLUG", help="as in the site’s addresses")
        parser.add_argument(
            "--file", metavar="COPY.pdf", help="a PDF to hold against it, such as the client’s"
        )

    def handle(self, *args: Any, **options: Any) -> None:
        practice = Practice.objects.filter(slug=options["practice"]).first()
        if practice is None:
            fail(self, [f"--practice: there is no practice {options['practice']!r}"])
        copy = self._copy(options["file"])
        with scope(practice=practice):
            proposal = (
                Proposal.objects.select_related("plan", "practice").filter(number=options["number"]).first()
            )
            if proposal is None:
                fail(self, [f"number: {practice} has no proposal {options['number']}"])
            checks = proof(proposal, copy)
        self.stdout.write(f"{proposal} of {practice}: {proposal.plan.title}")
        for check in checks:
            self.stdout.write(f"{check.word:<15} {check.said}")
        if sound(checks):
            self.stdout.write("Nothing differs.")
            return
        differ = sum(check.holds is False for check in checks)
        self.stderr.write(f"{proposal}: {differ} of {len(checks)} checks differ; it is not proved unchanged.")
        sys.exit(1)

    def _copy(self, given: str | None) -> bytes | None:
        if given is None:
            return None
        try:
            return Path(given).read_bytes()
        except OSError as error:
            fail(self, [f"--file: {given} cannot be read: {error.strerror}"])
