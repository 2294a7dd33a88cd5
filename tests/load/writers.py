"""SQLite with five processes that write at once: nothing is lost, and nobody is told that it is busy."""

from __future__ import annotations

import json
import os
import subprocess
import sys
from pathlib import Path

from tests.load import servers

WRITERS, SECONDS = 5, 20.0


def run(folder: Path, port: int, seconds: float) -> list[str]:
    """In a process of its own, as Django knows one default database a process."""
    database = f"sqlite:///{folder}/writers.sqlite3"
    environment = servers.settings_of(database, folder, ALLOWED_HOSTS="127.0.0.1,testserver")
    environment["DJANGO_SETTINGS_MODULE"] = "consulting.settings"
    command = [sys.executable, "-m", "tests.load.writers", str(folder), str(port), str(seconds)]
    done = subprocess.run(command, cwd=servers.ROOT, env=environment, capture_output=True, text=True)
    if done.returncode:
        return [f"FAILED: {done.stderr[-2000:]}"]
    return list(json.loads(done.stdout.splitlines()[-1]))


def _write(folder: Path, port: int, seconds: float) -> list[str]:
    import django

    django.setup()
    from django.core.management import call_command
    from django.utils import timezone

    from plans.demo import demo_found
    from tests.load import people

    call_command("migrate", verbosity=0)
    call_command("createcachetable", verbosity=0)
    demo_found(password="not used here", today=timezone.localdate())  # noqa: S106
    environment = servers.settings_of(os.environ["DATABASE_URL"], folder)
    log = folder / "writers.log"
    with servers.site(port, environment, log, workers=WRITERS) as group:
        crowd = people.crowd(WRITERS, (group.port,))
        for person in crowd:
            person.role = "owner"
            person.cookies = dict(crowd[0].cookies)
            person.writes_only = True
        day = people.day(crowd, (group,), seconds, think=0.01)
    told = log.read_text(errors="replace")
    locked = told.count("database is locked")
    return [*people.said(day), f"“database is locked” {locked} times in the log"]


if __name__ == "__main__":
    print(json.dumps(_write(Path(sys.argv[1]), int(sys.argv[2]), float(sys.argv[3]))))
