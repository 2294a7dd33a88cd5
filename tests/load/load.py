"""What holds under load, measured on this machine: `make load`, in some twelve minutes.

`--small` does all of it with little, in a minute or two, to see that it works. `--to FILE` writes what is
said there too. The ten heaviest queries are kept beside this module where the size is the whole one.
"""

from __future__ import annotations

import argparse
import os
import platform
import secrets
import signal
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from dataclasses import dataclass
from datetime import date
from pathlib import Path

from tests.load import servers

PARTS = ("pages", "people", "growing", "writers")


@dataclass(frozen=True, slots=True)
class Size:
    practices: int = 50
    plans: int = 10_000
    times: int = 41
    people: int = 50
    seconds: float = 300.0
    growing_seconds: float = 60.0
    writing_seconds: float = 20.0
    think: float = 5.0


SMALL = Size(4, 80, 5, 10, 12.0, 12.0, 6.0, 1.0)


def main() -> None:
    asked = argparse.ArgumentParser(prog="make load", description=__doc__)
    asked.add_argument("--small", action="store_true")
    asked.add_argument("--to", type=Path)
    asked.add_argument("--only", action="append", choices=PARTS)
    asked.add_argument("--port", type=int, default=5480, help="of PostgreSQL; its replica takes the next")
    asked.add_argument("--web-port", type=int, default=8180, help="of the site; the next two are taken too")
    given = asked.parse_args()
    size, parts = SMALL if given.small else Size(), given.only or PARTS
    said: list[str] = []

    def say(*lines: str) -> None:
        said.extend(lines)
        print(*lines, sep="\n", flush=True)

    say(f"{date.today()}, Python {platform.python_version()}, {os.cpu_count()} cores, PostgreSQL 15", "")
    os.environ.setdefault("SECRET_KEY", secrets.token_urlsafe(64))
    with tempfile.TemporaryDirectory(prefix="coverstead-load-") as name:
        folder = Path(name)
        with servers.primary(folder, given.port) as database:
            _configure(database, folder)
            _all(say, size, parts, folder, database, given.port, given.web_port)
        if "writers" in parts:
            say("", f"SQLite, {size.writing_seconds:g} s of five processes that write")
            from tests.load import writers

            say(*writers.run(folder, given.web_port, size.writing_seconds))
    if given.to:
        given.to.write_text("\n".join(said) + "\n", encoding="utf-8")


def _configure(database: str, folder: Path) -> None:
    """This process as a site on that database, with its files collected."""
    os.environ |= servers.settings_of(database, folder, ALLOWED_HOSTS="127.0.0.1,testserver")
    os.environ["DJANGO_SETTINGS_MODULE"] = "consulting.settings"
    collect = [sys.executable, "manage.py", "collectstatic", "--no-input", "--verbosity", "0"]
    subprocess.run(collect, cwd=servers.ROOT, check=True, stdout=sys.stderr)
    import django

    django.setup()


def _all(
    say: Callable[..., None],
    size: Size,
    parts: tuple[str, ...] | list[str],
    folder: Path,
    database: str,
    port: int,
    web_port: int,
) -> None:
    from django.db import connections

    from tests.load import explained, generate, growing, pages, people

    made = generate.fill(size.practices, size.plans)
    say(
        f"{made.plans:,} plans, {made.visits:,} visits of {made.practices} practices, {made.rows:,} rows in "
        f"all, made in {made.seconds:.0f} s"
    )
    if "pages" in parts:
        pages.TIMES = size.times
        looks = pages.look_at_all()
        say("", "Pages of the largest practice, beside a bare response with the same SQL", *pages.said(looks))
        large, _ = pages.largest_and_smallest()
        heaviest = explained.heaviest(large, looks)
        say("", "The heaviest queries", *(f"{one.ms:8.1f} ms  {one.page}" for one in heaviest))
        if size == Size():
            heading = (
                f"{made.plans:,} plans, {made.visits:,} visits, PostgreSQL 15; written by `make load`.\n"
            )
            explained.KEPT.write_text(explained.written(heaviest, heading), encoding="utf-8")
    connections.close_all()
    environment = servers.settings_of(database, folder)
    if "people" in parts:
        say("", f"{size.people} people for {size.seconds:g} s on one group of web processes")
        with servers.site(web_port, environment, folder / "site.log") as group:
            crowd = people.crowd(size.people, (group.port,))
            say(*people.said(people.day(crowd, (group,), size.seconds, size.think)))
    if "growing" in parts:
        say("", f"{size.people} people for {size.growing_seconds:g} s on two groups and a replica")
        seen = growing.run(
            folder, database, port, web_port + 1, size.people, size.growing_seconds, size.think
        )
        say(*growing.said(seen))
    connections.close_all()


def stop(signal_: int, frame: object) -> None:
    """Ended from outside, it stops its servers like one that is done."""
    sys.exit(128 + signal_)


if __name__ == "__main__":
    signal.signal(signal.SIGTERM, stop)
    began = time.monotonic()
    main()
    print(f"\nin {time.monotonic() - began:.0f} s")
