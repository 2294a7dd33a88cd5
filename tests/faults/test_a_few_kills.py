"""A few of the kills of `make faults`, without a server: a process dies at the worst points of an act."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from django.db import connection, connections

from tests.faults.acts import NO_BLOW, Blow, Standing, WebAct
from tests.faults.commands import Mailing
from tests.faults.forked import asked_in_child
from tests.faults.kills import first_write
from tests.faults.sink import Sink
from tests.faults.strike import COMMIT, Strike, Whom
from tests.faults.web_acts import Agreeing, Booking

pytestmark = pytest.mark.skipif(connection.vendor != "sqlite", reason="PostgreSQL is killed by make faults")


@pytest.fixture
def file(db: None, tmp_path: Path) -> Iterator[Path]:
    """The tests' database in a file, which another process can open and die over."""
    path = tmp_path / "faults.sqlite3"
    path.write_bytes(connection.connection.serialize())
    usual = connections["default"]
    connections["default"] = in_file = usual.copy()
    in_file.settings_dict["NAME"] = str(path)
    yield path
    in_file.close()
    connections["default"] = usual


def put_back(file: Path, content: bytes) -> None:
    """The database as it was, with nothing left of what others wrote beside it."""
    connections.close_all()
    for beside in file.parent.glob(f"{file.name}-*"):
        beside.unlink()
    file.write_bytes(content)


@pytest.mark.parametrize("kind", [Booking, Agreeing])
def test_who_dies_in_the_middle_leaves_all_or_nothing(kind: type[WebAct], file: Path) -> None:
    act = kind(asked_in_child)
    act.settle()
    with act.scope():
        subject = act.prepare()
    act.session()
    connections.close_all()
    prepared = file.read_bytes()
    steps = act.do(subject, NO_BLOW).steps
    last = steps.rindex(COMMIT)
    for after, stands in ((first_write(steps) + 1, "not done"), (last, "not done"), (last + 1, "done")):
        put_back(file, prepared)
        assert not act.do(subject, Blow(Strike(Whom.PROCESS, after))).promised
        with act.scope():
            found = act.look(subject)
            assert found.standing == stands, found.said
        again = act.do(subject, NO_BLOW)
        with act.scope():
            assert not [*act.done_again(subject, found), *act.wrong()], again.said


def test_a_letter_whose_sender_died_over_it_goes_to_no_mail_server_again(file: Path, settings: Any) -> None:
    sink = Sink()
    settings.EMAIL_BACKEND = "django.core.mail.backends.smtp.EmailBackend"
    settings.EMAIL_HOST, settings.EMAIL_PORT = sink.server_address
    act = Mailing(sink)
    act.settle()
    with act.scope():
        subject = act.prepare()
    act.do(subject, Blow(letter_at="taken"))
    with act.scope():
        found = act.look(subject)
        assert (found.standing, sink.taken[subject.message_id]) == (Standing.ASKED, 1)
        assert not list(act.done_again(subject, found))
    sink.shutdown()
    sink.server_close()
