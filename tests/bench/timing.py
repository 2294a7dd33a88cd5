"""Medians, and how a measurement is printed beside its floor."""

from __future__ import annotations

import statistics
import time
from collections.abc import Callable, Iterable
from typing import TypeVar

T = TypeVar("T")


def seconds(work: Callable[[T], object], inputs: Iterable[T]) -> list[float]:
    """How long each call took; the caller warms up."""
    took = []
    for given in inputs:
        began = time.perf_counter()
        work(given)
        took.append(time.perf_counter() - began)
    return took


def median(work: Callable[[], object], times: int) -> float:
    """Median seconds of `times` calls, after one that is not counted."""
    work()
    return statistics.median(seconds(lambda _: work(), range(times)))


def shown(value: float) -> str:
    return (
        f"{value:.2f} s"
        if value >= 1
        else f"{value * 1e3:.2f} ms"
        if value >= 1e-4
        else f"{value * 1e6:.1f} µs"
    )


def measured(what: str, value: float, target: str = "") -> None:
    print(f"{what:<58}{shown(value):>12}   {target}".rstrip())


def floor(what: str, value: float, over: float) -> None:
    """A floor, and how many times as long the thing measured took."""
    print(f"  {'floor: ' + what:<56}{shown(value):>12}   ratio {over / value:.2f}")


def said(text: str) -> None:
    print(f"  {text}")


def verdict(met: bool) -> str:
    return "met" if met else "MISSED"
