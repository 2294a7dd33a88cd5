"""A job file to a plan, without a database: `plan_job JOB.json [--today DAY] [--pdf OUT.pdf] [--schema]`."""

import json
import sys
from datetime import date
from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand, CommandParser

from plans.documents.proposal import proposal_pdf
from plans.management.commands._output import fail
from plans.planning.planner import plan_job
from plans.planning.wire import BadInput, job_schema, plan_json, read_job_file


class Command(BaseCommand):
    help = "Plan a job file and print the plan as JSON; needs no database."
    requires_system_checks: list[str] = []

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("job", nargs="?", help="a job file, or - for standard input")
        parser.add_argument("--today", metavar="YYYY-MM-DD", help="the day to plan from; today when left out")
        parser.add_argument("--pdf", metavar="OUT.pdf", help="write the proposal there as well")
        parser.add_argument("--schema", action="store_true", help="print the JSON Schema of a job file")

    def handle(self, *args: Any, **options: Any) -> None:
        if options["schema"]:
            self.stdout.write(json.dumps(job_schema(), indent=2))
            return
        if not options["job"]:
            fail(self, ["job: is missing; give the path of a job file"])
        today = self._today(options["today"])
        try:
            source = read_job_file(self._text(options["job"]))
            plan = plan_job(source.job, source.prices, today)
        except BadInput as error:
            fail(self, error.problems)
        except ValueError as error:
            fail(self, [str(error)])
        if options["pdf"]:
            out = Path(options["pdf"])
            try:
                out.write_bytes(proposal_pdf(plan, number="", revision=1, offered_on=today))
            except OSError as error:
                fail(self, [f"--pdf: {out} cannot be written: {error.strerror}"])
        self.stdout.write(plan_json(plan))

    def _today(self, given: str | None) -> date:
        if given is None:
            return date.today()
        try:
            return date.fromisoformat(given)
        except ValueError:
            fail(self, [f"--today: {given!r} is no date; write it as YYYY-MM-DD"])

    def _text(self, given: str) -> str:
        if given == "-":
            return sys.stdin.read()
        try:
            return Path(given).read_text(encoding="utf-8")
        except OSError as error:
            fail(self, [f"job: {given} cannot be read: {error.strerror}"])
        except UnicodeDecodeError:
            fail(self, [f"job: {given} is not UTF-8 text"])
