"""Job files harmed at one place, as JSON: a value of another kind, a number that is none, a key too many."""

from __future__ import annotations

import copy
import json
from typing import Any

from hypothesis import strategies as st

from plans.planning.planner import plan_job
from plans.planning.wire import BadInput, plan_json, read_job_file
from tests.fuzz import hostile
from tests.planning.make import EXAMPLE, TODAY

JOB = json.loads(EXAMPLE.read_text(encoding="utf-8"))
VALUES: tuple[Any, ...] = (
    *(None, True, [], {}, -1, 0, 1, 0.5, 1e308, -1e308, 1e-300, 10**400, 2**63, "NaN", "1", [None], {"a": 1}),
    *(float("nan"), float("inf"), "9999-12-31", "0001-01-01", "2027-07-01", 100, 1000, 99999),
)


def _places(value: Any, path: tuple[Any, ...] = ()) -> list[tuple[Any, ...]]:
    inside = value.items() if isinstance(value, dict) else enumerate(value) if isinstance(value, list) else ()
    return [path, *(place for key, one in inside for place in _places(one, (*path, key)))][bool(not path) :]


PLACES = _places(JOB)


@st.composite
def jobs(draw: st.DrawFn, turn: int) -> str:
    job = copy.deepcopy(JOB)
    for _ in range(draw(st.sampled_from([1, 1, 1, 2]))):
        _harm(draw, job, draw(st.sampled_from(hostile.turned(PLACES, turn))))
    return json.dumps(job)


def _harm(draw: st.DrawFn, job: Any, place: tuple[Any, ...]) -> None:
    inside = job
    for key in place[:-1]:
        try:
            inside = inside[key]
        except (KeyError, IndexError, TypeError):
            return
    if not isinstance(inside, dict | list):
        return
    how = draw(st.sampled_from(["put", "put", "text", "drop", "more"]))
    try:
        if how == "put":
            inside[place[-1]] = draw(st.sampled_from(VALUES))
        elif how == "text":
            inside[place[-1]] = draw(hostile.values())
        elif how == "drop":
            del inside[place[-1]]
        elif isinstance(inside, dict):
            inside[draw(hostile.values())] = 1
        else:
            inside.append(inside[place[-1]])
    except (KeyError, IndexError):
        return


def check(text: str) -> None:
    """It is planned, and the plan reads back; or it is refused with the place and what is wrong there."""
    try:
        source = read_job_file(text)
        plan = plan_job(source.job, source.prices, TODAY)
    except BadInput as error:
        assert error.problems and all(len(said.split()) > 2 for said in error.problems), error.problems
        return
    except ValueError as error:
        # What a command prints and exits with 2.
        assert len(str(error).split()) > 3, str(error)
        return
    json.loads(plan_json(plan), parse_constant=_no_number)


def _no_number(name: str) -> float:
    raise AssertionError(f"{name} in a plan")
