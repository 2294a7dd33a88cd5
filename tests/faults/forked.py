"""Something done in a process that is forked from this one, and may die of it."""

from __future__ import annotations

import os
import signal
import tempfile
import traceback
from collections.abc import Callable
from threading import Timer

from django.core.management import CommandError, call_command
from django.db import connections
from django.test import Client as Browser
from django.urls import get_resolver

from tests.faults.acts import Blow, Did
from tests.faults.sink import Sink
from tests.faults.site import Answer, Ask
from tests.faults.strike import fix_the_day, watched

WELL = 0


def in_child(do: Callable[[], int], blow: Blow, sink: Sink | None = None) -> Did:
    """`do` gives an exit status, and is hit as `blow` says."""
    connections.close_all()
    with tempfile.TemporaryFile() as told:
        child = os.fork()
        if child == 0:
            os._exit(done(do, blow, told.fileno()))
        victim = blow.outside or (lambda: os.kill(child, signal.SIGKILL))
        if sink and blow.letter_at:
            sink.strike_at(blow.letter_at, victim)
        timer = Timer(blow.after_s, victim)
        if blow.after_s:
            timer.start()
        _, status = os.waitpid(child, 0)
        timer.cancel()
        told.seek(0)
        said = told.read().decode()
        return Did(status == WELL, said if status == WELL else "", said)


def done(do: Callable[[], int], blow: Blow, told: int) -> int:
    """In the child, which must never return into what its parent was doing."""
    try:
        quiet = os.open(os.devnull, os.O_WRONLY)
        os.dup2(quiet, 1)
        os.dup2(quiet, 2)
        with watched(blow.strike) as steps:
            status = do()
            steps.end()
        os.write(told, steps.done.encode())
        return status
    except BaseException:  # noqa: BLE001
        os.write(told, traceback.format_exc().encode())
        return 1


def command(*arguments: str) -> int:
    """`manage.py` with these arguments."""
    try:
        call_command(*arguments)
    except CommandError:
        return 1
    return WELL


def asked_in_child(asked: Ask, blow: Blow) -> Answer | None:
    """A form sent to the site in a process of its own, without a server."""
    get_resolver().url_patterns  # noqa: B018  read here, or each of those processes would

    def send() -> int:
        fix_the_day(asked.day)
        browser = Browser()
        browser.cookies.load(asked.cookies)
        answer = browser.post(asked.path, asked.data)
        if answer.status_code != 302:
            raise RuntimeError(f"{answer.status_code}: {answer.content.decode()}")
        return WELL

    did = in_child(send, blow)
    return Answer(302 if did.promised else 500, did.said, did.steps)
