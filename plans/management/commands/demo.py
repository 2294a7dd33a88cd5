"""Fill the demo's database with the invented practice and write one of its proposals."""

from pathlib import Path
from typing import Any

from django.conf import settings
from django.core.management.base import BaseCommand, CommandError, CommandParser
from django.urls import reverse
from django.utils import timezone

from plans.demo import demo_found, first_proposal, offered_page

PASSWORD = "native grass by the mile"  # noqa: S105 - printed on the terminal, for a practice that does not exist


class Command(BaseCommand):
    help = "Found the invented practice, once, and write one real proposal PDF."

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("--pdf-dir", default="out", help="folder for the proposal")
        parser.add_argument("--port", type=int, default=8000, help="where the site will answer")

    def handle(self, *args: Any, **options: Any) -> None:
        if not settings.DEMO:
            raise CommandError("COVERSTEAD_DEMO: is not on; the demo is kept out of a real database")
        practice = demo_found(password=PASSWORD, today=timezone.localdate())
        proposal = first_proposal(practice)
        folder = Path(options["pdf_dir"])
        folder.mkdir(parents=True, exist_ok=True)
        out = folder / f"proposal-{proposal.number}-revision-{proposal.revision}.pdf"
        out.write_bytes(bytes(proposal.pdf))
        self.stdout.write(f"Proposal: {out.resolve()}")
        page = reverse("client_page", args=[offered_page(practice, timezone.localdate())])
        self.stdout.write(f"A client’s page, without logging in: http://localhost:{options['port']}{page}")
        self.stdout.write("Log in as owner@kestrel.example, planner@kestrel.example or crew@kestrel.example,")
        self.stdout.write(f"password: {PASSWORD}")
