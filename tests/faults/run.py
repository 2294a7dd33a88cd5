"""Kills the site and its database in the middle of each act, and says what it found: `make faults`."""

from __future__ import annotations

import argparse
import os
import sys
import tempfile
import traceback
from collections.abc import Sequence
from pathlib import Path

from tests.faults.databases import DATABASES
from tests.faults.sink import Sink

HOUSE = {
    "DJANGO_SETTINGS_MODULE": "tests.faults.settings",
    "DEBUG": "false",
    "BEHIND_PROXY": "false",
    "COVERSTEAD_DEMO": "false",
    "SLOW_QUERY_MS": "0",
}
SEED = 7


def parser() -> argparse.ArgumentParser:
    said = argparse.ArgumentParser(prog="tests.faults.run", description=__doc__)
    said.add_argument("--on", nargs="+", choices=sorted(DATABASES), default=sorted(DATABASES, reverse=True))
    said.add_argument("--acts", default="", help="only those whose name has this in it")
    said.add_argument("--seed", type=int, default=SEED)
    said.add_argument("--some", action="store_true", help="about a fifth of the kills")
    return said


def main(arguments: Sequence[str]) -> int:
    asked = parser().parse_args(arguments)
    failed = False
    for name in asked.on:
        # Each in a process of its own: settings are read once.
        child = os.fork()
        if child == 0:
            os._exit(on(name, asked))
        failed |= os.waitpid(child, 0)[1] != 0
    return int(failed)


def on(name: str, asked: argparse.Namespace) -> int:
    """The course on one database, made for it and thrown away: 0 when nothing was wrong."""
    with tempfile.TemporaryDirectory(prefix="coverstead-faults-") as given:
        folder, sink = Path(given), Sink()
        database = DATABASES[name](folder)
        os.environ.update(HOUSE, VAR_DIR=given, EMAIL_URL=sink.url, DATABASE_URL=database.url)
        try:
            database.start()
            import django

            django.setup()
            from tests.faults.course import Course

            return Course(database, folder, sink, seed=asked.seed, some=asked.some).run(asked.acts)
        except BaseException:  # noqa: BLE001  a process that was forked returns nowhere
            traceback.print_exc()
            return 2
        finally:
            database.stop()


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
