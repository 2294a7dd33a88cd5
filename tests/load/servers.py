"""A throwaway PostgreSQL with a replica, and groups of web processes, all on this machine's loopback."""

from __future__ import annotations

import os
import shutil
import signal
import subprocess
import sys
import time
import urllib.error
import urllib.request
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path

BIN = Path("/usr/lib/postgresql/15/bin")
ROOT = Path(__file__).parent.parent.parent
AS_RUN = "--threads 4 --timeout 120 --max-requests 2000 --max-requests-jitter 200 --no-control-socket"
"""As RUNNING.md starts the site, apart from where it listens."""
ARENAS = {"MALLOC_ARENA_MAX": "2"}
"""As there: more stretches of memory, one a thread, are never given back."""
HOST = "127.0.0.1"


def as_postgres(*command: str | Path) -> None:
    """The server refuses to run as root."""
    user = ["runuser", "-u", "postgres", "--"] if os.geteuid() == 0 else []
    done = subprocess.run([*user, *map(str, command)], capture_output=True, text=True, cwd="/")
    if done.returncode:
        raise RuntimeError(f"{command[0]}: {done.stderr or done.stdout}")


@contextmanager
def started(data: Path, port: int) -> Iterator[None]:
    """A server of this cluster while inside. Durable as it comes; only its memory is set."""
    options = (
        f"-c listen_addresses={HOST} -p {port} -c unix_socket_directories={data.parent} "
        "-c shared_buffers=512MB -c max_wal_size=4GB -c max_connections=60"
    )
    log = data.parent / f"{data.name}.log"
    # Its output goes to the log, or else whoever reads ours waits for the server to end.
    as_postgres(
        BIN / "pg_ctl", f"--pgdata={data}", f"--log={log}", "--wait", "--silent", "start", "-o", options
    )
    try:
        yield
    finally:
        as_postgres(BIN / "pg_ctl", f"--pgdata={data}", "--mode=immediate", "--silent", "stop")


@contextmanager
def primary(folder: Path, port: int) -> Iterator[str]:
    """The address of a new database, owned by a role that passes no row-level security."""
    if os.geteuid() == 0:
        shutil.chown(folder, "postgres")
    folder.chmod(0o755)
    data = folder / "primary"
    asked = ("--username=coverstead", "--auth=trust", "--encoding=UTF8", "--locale=C.UTF-8")
    as_postgres(BIN / "initdb", f"--pgdata={data}", *asked)
    with started(data, port):
        psql = [BIN / "psql", f"--host={HOST}", f"--port={port}", "--username=coverstead", "--quiet"]
        made = ("CREATE ROLE site LOGIN", "CREATE DATABASE site OWNER site")
        for sql in made:
            as_postgres(*psql, "--dbname=postgres", f"--command={sql}")
        yield f"postgres://site@{HOST}:{port}/site"


@contextmanager
def replica(folder: Path, of: int, port: int) -> Iterator[str]:
    """The address of a hot standby that streams from the server at port `of`."""
    data = folder / "replica"
    source = ("--host", HOST, "--port", str(of), "--username", "coverstead")
    as_postgres(
        BIN / "pg_basebackup", "--pgdata", data, *source, "--write-recovery-conf", "--checkpoint=fast"
    )
    with started(data, port):
        yield f"postgres://site@{HOST}:{port}/site"


@dataclass(frozen=True, slots=True)
class Site:
    """A group of web processes."""

    port: int
    pid: int

    def workers(self) -> list[int]:
        children = Path(f"/proc/{self.pid}/task/{self.pid}/children").read_text().split()
        return [int(child) for child in children]

    def memory_mb(self) -> list[float]:
        """Resident memory of each process that answers."""
        found = []
        for pid in self.workers():
            status = Path(f"/proc/{pid}/status").read_text()
            line = next(line for line in status.splitlines() if line.startswith("VmRSS"))
            found.append(int(line.split()[1]) / 1024)
        return found


def settings_of(database: str, folder: Path, **more: str) -> dict[str, str]:
    """The environment of a site without HTTPS and mail, on this machine."""
    return {
        **{name: os.environ[name] for name in ("PATH", "HOME") if name in os.environ},
        "SECRET_KEY": os.environ["SECRET_KEY"],
        "DATABASE_URL": database,
        "HTTPS": "false",
        "EMAIL_URL": "dummymail://",
        "REQUEST_LOG": "false",
        "SLOW_QUERY_MS": "0",
        "VAR_DIR": str(folder),
        **more,
    }


@contextmanager
def site(port: int, environment: dict[str, str], log: Path, workers: int = 2) -> Iterator[Site]:
    """Web processes that answer on a port while inside."""
    command = [sys.executable, "-m", "gunicorn", "consulting.wsgi", "--bind", f"{HOST}:{port}"]
    with log.open("wb") as out:
        asked = [*command, "--workers", str(workers), *AS_RUN.split()]
        run = subprocess.Popen(asked, cwd=ROOT, env=environment | ARENAS, stdout=out, stderr=out)
        try:
            _wait_for(port, run, log)
            yield Site(port, run.pid)
        finally:
            run.send_signal(signal.SIGTERM)
            try:
                run.wait(20)
            except subprocess.TimeoutExpired:
                run.kill()


def _wait_for(port: int, run: subprocess.Popen[bytes], log: Path) -> None:
    until = time.monotonic() + 240
    while time.monotonic() < until:
        if run.poll() is not None:
            break
        try:
            with urllib.request.urlopen(f"http://{HOST}:{port}/ready/", timeout=10):
                return
        except (urllib.error.URLError, OSError):
            time.sleep(0.3)
    raise RuntimeError(f"the site did not start on port {port}: {log.read_text()[-2000:]}")
