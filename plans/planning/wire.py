"""JSON in and out of the planning service: a job file, a price list, a plan, each checked as it is read."""

from __future__ import annotations

import json
from dataclasses import dataclass
from typing import Any, TypeVar

from pydantic import TypeAdapter, ValidationError

from plans.planning.job import STRICT, Job
from plans.planning.plan import Plan
from plans.planning.price_list import PriceList

T = TypeVar("T")


@dataclass(frozen=True, slots=True, kw_only=True)
class JobFile:
    """What `manage.py plan_job` reads: a job and the prices it is planned with."""

    __pydantic_config__ = STRICT
    job: Job
    prices: PriceList


class BadInput(ValueError):
    """Input that cannot be used; each problem names the place, the value and what is allowed."""

    def __init__(self, problems: list[str]):
        super().__init__("\n".join(problems))
        self.problems = problems


_job_file = TypeAdapter(JobFile)
_plan = TypeAdapter(Plan)


def _inside(place: tuple[int | str, ...], outer: tuple[int | str, ...]) -> bool:
    """A part that is refused leaves its list short; that is no second problem."""
    return len(place) > len(outer) and place[: len(outer)] == outer


def problems(error: ValidationError) -> list[str]:
    """One sentence per problem: where, what is wrong and allowed, what was given."""
    found = []
    items = error.errors(include_url=False, include_context=False)
    for item in items:
        if item["type"] == "too_short" and any(_inside(other["loc"], item["loc"]) for other in items):
            continue
        where = ".".join(str(part) for part in item["loc"]) or "input"
        given = json.dumps(item["input"], default=str)
        shown = given if len(given) <= 80 else given[:77] + "..."
        message = item["msg"].removeprefix("Value error, ")
        if item["type"] == "missing":
            found.append(f"{where}: is missing; it must be given")
        elif item["type"] in ("unexpected_keyword_argument", "extra_forbidden"):
            found.append(f"{where}: is no key that is known here; given {shown}")
        elif item["type"] == "value_error" and isinstance(item["input"], dict):
            found.append(f"{where}: {message}")
        else:
            found.append(f"{where}: {message}; given {shown}")
    return found


def _read(adapter: TypeAdapter[T], text: str | bytes) -> T:
    try:
        return adapter.validate_json(text)
    except ValidationError as error:
        raise BadInput(problems(error)) from None


def read_job_file(text: str | bytes) -> JobFile:
    """A job file from JSON text. Raises BadInput."""
    return _read(_job_file, text)


def job_file_json(job: Job, prices: PriceList) -> str:
    return _job_file.dump_json(JobFile(job=job, prices=prices), indent=2).decode()


def job_schema() -> dict[str, Any]:
    """JSON Schema of a job file."""
    return _job_file.json_schema()


def plan_json(plan: Plan) -> str:
    """The whole plan as JSON, keys in a fixed order; `read_plan` gives the same plan back."""
    return _plan.dump_json(plan, indent=2).decode()


def read_plan(text: str | bytes) -> Plan:
    """A stored plan. Raises BadInput."""
    return _read(_plan, text)
