"""The two databases as an installation has them, each of them made to be killed."""

from __future__ import annotations

import os
import shutil
import signal
import subprocess
import time
from contextlib import suppress
from pathlib import Path
from typing import Any

from django.db import connection, connections

from tests.faults.strike import Whom, children, kill_cluster

BIN = Path("/usr/lib/postgresql/15/bin")
PATIENCE_SECONDS = 60


class Database:
    name: str
    whom: tuple[Whom, ...]
    """Who can be killed with this database."""
    url: str

    def start(self) -> None:
        """Make it, empty."""

    def revive(self) -> None:
        """Bring it back after whatever was killed, and wait until it answers."""

    def kill(self, whom: Whom) -> None:
        """The processes that serve the site, or all of it."""

    def flaws(self) -> list[str]:
        """What the database's own check of its files finds."""
        raise NotImplementedError

    def stop(self) -> None:
        """For good."""


class InFile(Database):
    name = "SQLite"
    whom = (Whom.PROCESS, Whom.SITE)

    def __init__(self, folder: Path) -> None:
        self.url = f"sqlite:///{folder}/faults.sqlite3"

    def flaws(self) -> list[str]:
        with connection.cursor() as cursor:
            found = [row[0] for row in cursor.execute("PRAGMA integrity_check").fetchall()]
            loose = cursor.execute("PRAGMA foreign_key_check").fetchall()
        return [said for said in found if said != "ok"] + [f"points nowhere: {row}" for row in loose]


class Cluster(Database):
    """PostgreSQL 15 with everything that makes it durable left on, unlike the one the suite runs on."""

    name = "PostgreSQL"
    whom = (Whom.PROCESS, Whom.SITE, Whom.BACKEND, Whom.DATABASE)

    def __init__(self, folder: Path) -> None:
        self.home = folder / "cluster"
        self.data = self.home / "data"
        self.server: subprocess.Popen[bytes] | None = None
        self.url = f"postgres://site@/{self.home}/site"
        os.environ["FAULTS_CLUSTER"] = str(self.data)

    @property
    def owner(self) -> dict[str, Any]:
        """As whom its programs run: the server refuses to run as root."""
        return {"user": "postgres", "group": "postgres", "extra_groups": []} if os.geteuid() == 0 else {}

    def run(self, program: str, *arguments: str) -> subprocess.CompletedProcess[str]:
        return subprocess.run(
            [BIN / program, *arguments],
            cwd="/",
            stdout=subprocess.PIPE,
            stderr=subprocess.STDOUT,
            text=True,
            **self.owner,
        )

    def start(self) -> None:
        self.home.mkdir()
        self.home.parent.chmod(0o755)
        if self.owner:
            shutil.chown(self.home, "postgres")
        made = self.run(
            *("initdb", f"--pgdata={self.data}", "--username=coverstead"),
            *("--auth=trust", "--encoding=UTF8", "--locale=C.UTF-8"),
        )
        if made.returncode:
            raise RuntimeError(made.stdout)
        self.up()
        for order in ("CREATE ROLE site LOGIN", "CREATE DATABASE site OWNER site"):
            self.asked(order)

    def asked(self, order: str) -> bool:
        """Whether the server did it."""
        who = (f"--host={self.home}", "--username=coverstead", "--dbname=postgres")
        return not self.run("psql", *who, f"--command={order}").returncode

    def up(self) -> None:
        """As our own child, so that one that was killed is seen to be gone. Waits for what a crash left."""
        options = ("listen_addresses=", f"unix_socket_directories={self.home}", "max_connections=20")
        command = [BIN / "postgres", "-D", self.data, *(part for one in options for part in ("-c", one))]
        until = time.monotonic() + PATIENCE_SECONDS
        while time.monotonic() < until:
            if self.server is None or self.server.poll() is not None:
                with (self.home.parent / "postgres.log").open("a") as log:
                    self.server = subprocess.Popen(command, cwd="/", stdout=log, stderr=log, **self.owner)
            if self.asked("SELECT 1"):
                return
            time.sleep(0.1)
        raise RuntimeError(
            f"PostgreSQL does not come back: {(self.home.parent / 'postgres.log').read_text()}"
        )

    def revive(self) -> None:
        connections.close_all()
        self.up()

    def kill(self, whom: Whom) -> None:
        if whom == Whom.DATABASE:
            kill_cluster(self.data)
            return
        first = int((self.data / "postmaster.pid").read_text().split()[0])
        for pid in children(first):
            with suppress(OSError):
                if b"postgres: site site" in Path(f"/proc/{pid}/cmdline").read_bytes():
                    os.kill(pid, signal.SIGKILL)

    def flaws(self) -> list[str]:
        asked = ("--username=coverstead", "--install-missing", "--heapallindexed", "site")
        found = self.run("pg_amcheck", f"--host={self.home}", *asked)
        return found.stdout.splitlines() or (["pg_amcheck failed"] if found.returncode else [])

    def stop(self) -> None:
        if self.server:
            self.server.send_signal(signal.SIGQUIT)
            self.server.wait()


DATABASES: dict[str, type[InFile] | type[Cluster]] = {one.name: one for one in (InFile, Cluster)}
