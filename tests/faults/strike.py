"""A kill at an exact point of an act, from inside the process that does it."""

from __future__ import annotations

import os
import signal
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import date
from enum import StrEnum
from pathlib import Path
from threading import Timer
from types import SimpleNamespace
from typing import Any

from django.db import connection


class Whom(StrEnum):
    PROCESS = "the process"
    """The one that does the act: a web worker, a sender of mail, a keeper of archives."""
    SITE = "the whole site"
    BACKEND = "the database’s process"
    """The one that serves this connection; PostgreSQL then throws out all the others too."""
    DATABASE = "the whole database"


@dataclass(frozen=True, slots=True)
class Strike:
    """Kills `whom` when `after` steps were done: statements, and commits, each of them a step.

    With `late_ms` it falls into the step that follows, so many milliseconds after that began.
    """

    whom: Whom
    after: int
    late_ms: float | None = None

    def __str__(self) -> str:
        return "|".join((self.whom.name, str(self.after), "" if self.late_ms is None else str(self.late_ms)))

    @classmethod
    def read(cls, text: str) -> Strike:
        whom, after, late = text.split("|")
        return cls(Whom[whom], int(after), float(late) if late else None)


READ, WRITE, COMMIT = "r", "w", "c"
OF_STATEMENT = {"SELECT": READ, "INSERT": WRITE, "UPDATE": WRITE, "DELETE": WRITE}


class Steps:
    """Follows what is asked of the database, and strikes where it is told to."""

    def __init__(self, strike: Strike | None) -> None:
        self.strike = strike
        self.done = ""
        """A letter for each step."""

    def take(self, kind: str, do: Callable[[], Any]) -> Any:
        if self.strike and self.strike.after == len(self.done):
            self.fall()
        answer = do()
        self.done += kind
        return answer

    def end(self) -> None:
        """Nothing more is asked of the database, but the answer is not given yet."""
        if self.strike:
            self.fall()

    def fall(self) -> None:
        strike, self.strike = self.strike, None
        assert strike
        if strike.late_ms is None:
            kill(strike.whom, backend())
        else:
            Timer(strike.late_ms / 1000, kill, [strike.whom, backend()]).start()

    def statement(self, execute: Any, sql: Any, params: Any, many: bool, context: Any) -> Any:
        kind = OF_STATEMENT.get(str(sql).split(maxsplit=1)[0].upper(), "o")
        return self.take(kind, lambda: execute(sql, params, many, context))

    def commit(self, commit: Callable[[], None]) -> None:
        self.take(COMMIT, commit)


@contextmanager
def watched(strike: Strike | None) -> Iterator[Steps]:
    """Count what is done on this thread's connection meanwhile, and strike where told."""
    steps, commit = Steps(strike), connection._commit
    connection._commit = lambda: steps.commit(commit)
    try:
        with connection.execute_wrapper(steps.statement):
            yield steps
    finally:
        connection._commit = commit


def backend() -> int:
    """PostgreSQL's process at the other end of this thread's connection; 0 for SQLite, which has none."""
    info = getattr(connection.connection, "info", None)
    return info.backend_pid if info else 0


def kill(whom: Whom, backend: int) -> None:
    if whom == Whom.PROCESS:
        os.kill(os.getpid(), signal.SIGKILL)
    elif whom == Whom.SITE:
        os.killpg(os.getpgrp(), signal.SIGKILL)
    elif whom == Whom.BACKEND:
        os.kill(backend, signal.SIGKILL)
    else:
        kill_cluster(Path(os.environ["FAULTS_CLUSTER"]))


def kill_cluster(data: Path) -> None:
    """PostgreSQL's first process and all its children, none of which can say goodbye."""
    first = int((data / "postmaster.pid").read_text().split()[0])
    os.kill(first, signal.SIGSTOP)
    for pid in [*children(first), first]:
        os.kill(pid, signal.SIGKILL)


def children(pid: int) -> list[int]:
    listed = Path(f"/proc/{pid}/task/{pid}/children").read_text()
    return [int(child) for child in listed.split()]


def fix_the_day(day: str) -> None:
    """Let it be this day wherever a practice is: the acts were written down with their year."""
    from consulting import clock

    fixed = date.fromisoformat(day)
    clock.timezone = SimpleNamespace(localdate=lambda timezone: fixed)
