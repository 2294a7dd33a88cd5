"""What the program stands on: each pinned once, all that they pull in, and nothing else."""

from __future__ import annotations

from collections.abc import Iterator
from importlib.metadata import PackageNotFoundError, requires, version
from pathlib import Path

from packaging.requirements import Requirement
from packaging.utils import canonicalize_name

LINES = (Path(__file__).parents[1] / "requirements.txt").read_text().splitlines()
PINS = [Requirement(line) for line in LINES if line and not line.startswith("#")]
HEADS = [number for number, line in enumerate(LINES) if line.startswith("#")]
CHOSEN = [Requirement(line) for line in LINES[: HEADS[-1]] if line and not line.startswith("#")]
"""Those that we chose; what they pull in stands under the last heading."""


def pulled_in(by: Requirement) -> Iterator[Requirement]:
    for text in requires(by.name) or []:
        asked = Requirement(text)
        if asked.marker is None or any(asked.marker.evaluate({"extra": extra}) for extra in ("", *by.extras)):
            yield asked


def test_each_is_pinned_once_to_the_version_that_is_installed() -> None:
    names = [canonicalize_name(pin.name) for pin in PINS]
    assert sorted(names) == sorted(set(names))
    for pin in PINS:
        assert str(pin.specifier) == f"=={version(pin.name)}", pin


def test_what_they_pull_in_is_pinned_too_and_nothing_else_is() -> None:
    needed, waiting = set(), list(CHOSEN)
    while waiting:
        one = waiting.pop()
        if (name := canonicalize_name(one.name), *sorted(one.extras)) in needed:
            continue
        needed.add((name, *sorted(one.extras)))
        try:
            waiting += pulled_in(one)
        except PackageNotFoundError:
            raise AssertionError(f"{one} is needed and not installed") from None
    assert {name for name, *_ in needed} == {canonicalize_name(pin.name) for pin in PINS}
