"""Send the letters that are due: once from cron, or for as long as the process lives."""

from __future__ import annotations

import signal
from argparse import ArgumentTypeError
from threading import Event
from typing import Any

from django.core.management.base import BaseCommand, CommandParser
from django.db import close_old_connections

from consulting.letters import LetterState
from consulting.outbox import send_due

IN_WORDS = {
    LetterState.SENT: "sent",
    LetterState.WAITS: "to be tried again",
    LetterState.FAILED: "given up",
    LetterState.UNSURE: "may have gone",
}


def seconds(text: str) -> int:
    if not text.isdigit() or not 1 <= int(text) <= 3600:
        raise ArgumentTypeError(f"{text!r} is not a number of seconds from 1 to 3600")
    return int(text)


class Command(BaseCommand):
    help = "Send the letters that are due. Any number of these may run at once."

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("--keep-going", action="store_true", help="look again and again until stopped")
        parser.add_argument(
            "--pause", type=seconds, default=20, help="seconds between two looks; 20 if not said"
        )

    def handle(self, *args: Any, **options: Any) -> None:
        stopped = Event()
        if options["keep_going"]:
            for told in (signal.SIGTERM, signal.SIGINT):
                signal.signal(told, lambda *_: stopped.set())
        while True:
            went = send_due(wanted=lambda: not stopped.is_set())
            if went or not options["keep_going"]:
                counted = [f"{went[state]} {word}" for state, word in IN_WORDS.items() if went[state]]
                self.stdout.write(", ".join(counted) or "Nothing is due.")
            if not options["keep_going"] or stopped.wait(options["pause"]):
                return
            close_old_connections()
