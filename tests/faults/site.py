"""The site under gunicorn, as RUNNING.md has it but for one worker, spoken to over its socket."""

from __future__ import annotations

import http.client
import os
import signal
import socket
import subprocess
import sys
import time
from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path
from urllib.parse import urlencode

from tests.faults.strike import Strike, Whom, children

ROOT = Path(__file__).resolve().parent.parent.parent
CSRF = "f" * 32


@dataclass(frozen=True, slots=True)
class Ask:
    """A form sent, or with no data a page asked for."""

    path: str
    day: str
    data: Mapping[str, str | list[str]] = field(default_factory=dict)
    session: str = ""

    @property
    def body(self) -> bytes | None:
        if not self.data:
            return None
        return urlencode({**self.data, "csrfmiddlewaretoken": CSRF}, doseq=True).encode()

    @property
    def cookies(self) -> dict[str, str]:
        return {"csrftoken": CSRF} | ({"sessionid": self.session} if self.session else {})


@dataclass(frozen=True, slots=True)
class Answer:
    status: int
    body: str
    steps: str
    """What was done on the database, a letter a step."""


class OverSocket(http.client.HTTPConnection):
    def __init__(self, path: Path) -> None:
        super().__init__("localhost", timeout=120)
        self.path = path

    def connect(self) -> None:
        self.sock = socket.socket(socket.AF_UNIX, socket.SOCK_STREAM)
        self.sock.settimeout(self.timeout)
        self.sock.connect(str(self.path))


class Site:
    def __init__(self, folder: Path) -> None:
        self.socket, self.log = folder / "site.sock", folder / "site.log"
        self.process: subprocess.Popen[bytes] | None = None

    def start(self) -> None:
        command = [sys.executable, "-m", "gunicorn", "tests.faults.wsgi", "--bind", f"unix:{self.socket}"]
        command += ["--workers", "1", "--threads", "4", "--preload", "--no-control-socket"]
        with self.log.open("ab") as log:
            self.process = subprocess.Popen(
                command, cwd=ROOT, stdout=log, stderr=log, start_new_session=True, env=os.environ
            )

    def revive(self) -> None:
        """Start it again if all of it was killed; a worker that was killed is followed by another anyway."""
        if self.process is None or self.process.poll() is not None:
            self.start()

    def kill(self, whom: Whom) -> None:
        assert self.process
        if whom == Whom.SITE:
            os.killpg(self.process.pid, signal.SIGKILL)
        else:
            for worker in children(self.process.pid):
                os.kill(worker, signal.SIGKILL)

    def ask(self, asked: Ask, strike: Strike | None = None) -> Answer | None:
        """The answer; None when whoever should give it died."""
        headers = {"X-Day": asked.day, "Cookie": "; ".join(f"{k}={v}" for k, v in asked.cookies.items())}
        headers |= {"X-Strike": str(strike)} if strike else {}
        headers |= {"Content-Type": "application/x-www-form-urlencoded"} if asked.data else {}
        line = self.connected()
        try:
            line.request("POST" if asked.data else "GET", asked.path, asked.body, headers)
            said = line.getresponse()
            body = said.read().decode(errors="replace")
            return Answer(said.status, body, said.headers.get("X-Steps", ""))
        except (ConnectionError, http.client.HTTPException):
            return None
        finally:
            line.close()

    def connected(self) -> OverSocket:
        until = time.monotonic() + 120
        while True:
            line = OverSocket(self.socket)
            try:
                line.connect()
                return line
            except OSError:
                if time.monotonic() > until:
                    raise
                self.revive()
                time.sleep(0.1)

    def stop(self) -> None:
        if self.process:
            self.process.terminate()
            self.process.wait()
