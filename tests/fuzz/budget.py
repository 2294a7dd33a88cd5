"""How many cases run: a few in the suite, always the same; many at night, each time others."""

from __future__ import annotations

import os
import random
import traceback
from collections.abc import Callable
from pathlib import Path
from typing import Any

from hypothesis import HealthCheck, Phase, given, seed, settings
from hypothesis import strategies as st
from hypothesis.database import DirectoryBasedExampleDatabase

IN_SUITE = 500
CASES = int(os.environ.get("FUZZ_CASES", IN_SUITE))
AT_NIGHT = CASES > IN_SUITE
SEED = int(os.environ.get("FUZZ_SEED") or random.randrange(10**9))
KEPT = Path(".hypothesis/fuzz").absolute()
REPORT = os.environ.get("FUZZ_REPORT", "")
"""A file to which each target adds a line, with its cases, and what failed."""
SHARES = {
    "pages": 0.74,
    "lists": 0.025,
    "maps": 0.02,
    "parsers": 0.125,
    "commands": 0.06,
    "jobs": 0.027,
    "prints": 0.003,
}
"""Of the cases, by part."""


def share(part: str) -> int:
    return max(1, round(CASES * SHARES[part]))


def run(
    what: str, most: int, strategy: st.SearchStrategy[Any], check: Callable[[Any], None], failures: list[str]
) -> int:
    """Check up to so many cases; gives how many ran, and adds the smallest case of each failure."""
    ran, known = 0, len(failures)

    def counted(case: Any) -> None:
        nonlocal ran
        ran += 1
        check(case)

    options: dict[str, Any] = {
        "max_examples": most,
        "deadline": None,
        "suppress_health_check": list(HealthCheck),
        "phases": [Phase.reuse, Phase.generate, Phase.shrink],
        "derandomize": not AT_NIGHT,
        "database": DirectoryBasedExampleDatabase(KEPT / what.replace(" ", "_")) if AT_NIGHT else None,
    }
    test = settings(**options)(given(strategy)(counted))
    try:
        (seed(SEED)(test) if AT_NIGHT else test)()
    except Exception as error:  # noqa: BLE001 - whatever it is, it is what was looked for
        failures += told(what, error)
    if REPORT:
        with Path(REPORT).open("a") as out:
            out.write(f"{what}\t{ran}\n" + "".join(f"FAILED {one}\n" for one in failures[known:]))
    return ran


def told(what: str, error: Exception) -> list[str]:
    found = error.exceptions if isinstance(error, ExceptionGroup) else [error]
    return [
        f"{what}: {type(one).__name__}: {str(one)[:300]}\n    {_place(one)}\n"
        f"    {' '.join(getattr(one, '__notes__', []))[:700]}"
        for one in found
    ]


def _place(error: BaseException) -> str:
    frames = traceback.extract_tb(error.__traceback__)
    own = [frame for frame in frames if "site-packages" not in frame.filename] or frames
    return f"{own[-1].filename}:{own[-1].lineno} {own[-1].line}"
