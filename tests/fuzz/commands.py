"""Our commands, given what hurts: each ends with 0, 1 or 2 and a sentence, never with a traceback."""

from __future__ import annotations

import io
import json
from contextlib import redirect_stderr, redirect_stdout
from dataclasses import dataclass
from pathlib import Path
from unittest.mock import patch

from django.core.management import get_commands, load_command_class
from django.core.management.base import CommandError
from django.db import transaction
from hypothesis import strategies as st

from plans.ground_reckonings import EVERY
from plans.planning.reckoner import listing
from tests.fuzz import hostile
from tests.fuzz.jobs import VALUES, jobs

OURS = ("consulting", "sites", "plans")
NOT_OURS = ("--settings", "--pythonpath", "--traceback", "--help", "--version")
ENDLESS = "--keep-going"
LISTED = listing(EVERY)


def commands() -> list[str]:
    return sorted(name for name, app in get_commands().items() if app in OURS)


@dataclass
class Call:
    name: str
    arguments: list[str]
    stdin: str = ""


def words_of(name: str, folder: Path) -> list[str]:
    """What the command knows, and files that are there."""
    parser = load_command_class(get_commands()[name], name).create_parser("manage.py", name)
    flags = [flag for action in parser._actions for flag in action.option_strings if flag.startswith("--")]
    there = [path.name for path in sorted(folder.iterdir())]
    own = [flag for flag in flags if flag not in NOT_OURS and flag != ENDLESS]
    return [*own, *there, ".", "not/there", "-", "1", "kestrel", "2027-05-01"]


def _argument(text: str) -> str:
    """As a shell can pass it, and never a path outside the folder: some commands write."""
    return text.replace("\x00", "").lstrip("/").replace("=/", "=")


@st.composite
def calls(draw: st.DrawFn, name: str, words: list[str], turn: int) -> Call:
    if name == "reckon" and draw(st.booleans()):
        return draw(_reckonings(turn))
    if name == "plan_job" and draw(st.booleans()):
        return Call(name, ["-", "--today", draw(st.sampled_from(hostile.DAYS))], draw(jobs(turn)))
    argument = st.sampled_from(words) | hostile.values(turn).map(_argument)
    return Call(name, draw(st.lists(argument, max_size=5)))


@st.composite
def _reckonings(draw: st.DrawFn, turn: int) -> Call:
    name = draw(st.sampled_from(hostile.turned(sorted(EVERY), turn)))
    value = st.sampled_from(VALUES) | st.floats(0.01, 1000) | hostile.values(turn)
    inputs = {name: draw(value) for name in LISTED[name].get("properties", {}) if draw(st.integers(0, 9))}
    return Call("reckon", [name, json.dumps(inputs)])


def check(call: Call) -> None:
    """Runs it as `manage.py` does; what it writes to the database is undone."""
    out, err = io.StringIO(), io.StringIO()
    command = load_command_class(get_commands()[call.name], call.name)
    command.stdout._out = command.stderr._out = out
    code: object = 0
    typed = patch("sys.stdin", io.StringIO(call.stdin))
    with transaction.atomic(), redirect_stdout(out), redirect_stderr(err), typed:
        try:
            parser = command.create_parser("manage.py", call.name)
            options = vars(parser.parse_args(call.arguments))
            command.execute(*options.pop("args", ()), **options)
        except SystemExit as ended:
            code = ended.code
        except CommandError as error:
            code = 1
            err.write(str(error))
        transaction.set_rollback(True)
    said = out.getvalue() + err.getvalue()
    assert code in (0, 1, 2, None), code
    assert "Traceback" not in said
    assert code in (0, None) or len(said.split()) > 2, said
