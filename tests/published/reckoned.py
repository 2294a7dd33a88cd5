"""A printed answer beside the one that `reckon` gives for the same inputs."""

from __future__ import annotations

import json
from dataclasses import dataclass
from typing import Any

from plans.planning.reckoner import reckon


@dataclass(frozen=True)
class Printed:
    """`exact` is the source's arithmetic carried without rounding on the way; `within` what the print
    allows."""

    name: str
    """What is tested, as the test's id."""
    reckoning: str
    inputs: dict[str, Any]
    exact: float
    within: float
    source: str
    part: str = ""
    """Which of several results; `1.bulk_lb` for a nested one."""


def answer(reckoning: str, inputs: dict[str, Any], part: str = "") -> float:
    found: Any = reckon(reckoning, json.dumps(inputs))
    for key in part.split(".") if part else ():
        found = found[key]
    return float(found["value"])


def check(case: Printed) -> None:
    assert case.source
    assert abs(answer(case.reckoning, case.inputs, case.part) - case.exact) <= case.within + 1e-9
