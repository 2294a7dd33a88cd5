"""Stand counts reckoned: intervals beside published ones, verdicts by the marks, next steps."""

from __future__ import annotations

from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from plans.planning.stand_count import Stand, binomial_interval, mean_interval, next_step, reckon, standing


def count(throws: list[int], **more: Any) -> Stand:
    given: dict[str, Any] = {
        "method": "grid",
        "cells": 25,
        "frame_sqft": 1.0,
        "aim": "cover",
        "season": 2,
        "growth": "clean",
        "acres": 2.0,
    }
    return reckon(throws=throws, **(given | more))


@pytest.mark.parametrize(
    ("hits", "cells", "low", "high"), [(81, 263, 25.53, 36.62), (15, 148, 6.24, 16.05), (0, 20, 0.0, 16.11)]
)
def test_the_interval_of_a_share_is_newcombes_example(hits: int, cells: int, low: float, high: float) -> None:
    """Newcombe 1998, Statistics in Medicine 17:857-872, table I, the score method."""
    assert binomial_interval(hits, cells) == pytest.approx((low, high), abs=0.01)


@given(st.integers(1, 400).flatmap(lambda n: st.tuples(st.integers(0, n), st.just(n))))
def test_the_interval_holds_the_share(counted: tuple[int, int]) -> None:
    low, high = binomial_interval(*counted)
    assert 0 <= low <= 100 * counted[0] / counted[1] + 1e-9 and 100 * counted[0] / counted[1] - 1e-9 <= high


def test_the_interval_of_a_mean() -> None:
    mean, low, high = mean_interval([1, 2, 3, 4, 5])
    assert mean == 3 and (low, high) == pytest.approx((3 - 1.963, 3 + 1.963), abs=0.002)


@pytest.mark.parametrize(
    ("pct", "aim", "found"),
    [
        (40, "forage", "enough"),
        (39, "forage", "fair"),
        (25, "forage", "fair"),
        (24, "forage", "thin"),
        (25, "cover", "enough"),
        (24, "cover", "fair"),
        (13, "cover", "thin"),
        (0, "cover", "nothing"),
    ],
)
def test_the_marks_are_those_of_the_aim(pct: int, aim: Any, found: str) -> None:
    assert standing(0.4 * pct, aim) == found
    assert count([pct], cells=100, aim=aim).standing == found


@pytest.mark.parametrize(
    ("found", "season", "growth", "step"),
    [
        ("enough", 2, "clean", "keep"),
        ("enough", 1, "annuals", "clip"),
        ("enough", 3, "patches", "spot-treat"),
        ("enough", 3, "sod", "release"),
        ("fair", 2, "clean", "keep"),
        ("fair", 3, "clean", "overseed"),
        ("thin", 1, "clean", "keep"),
        ("thin", 2, "clean", "overseed"),
        ("thin", 2, "sod", "start again"),
        ("nothing", 1, "clean", "start again"),
    ],
)
def test_the_next_step(found: Any, season: int, growth: Any, step: str) -> None:
    assert next_step(found, season, growth)[0] == step


def test_few_frames_are_said_and_a_doubtful_verdict_is_no_verdict() -> None:
    few = count([7, 6], acres=10.0)
    assert "10 acres are few" in few.enough_frames and not few.sure
    many = count([15] * 40, acres=10.0)
    assert not many.enough_frames and many.sure and many.verdict == "Enough for cover"


def test_quadrats_are_counted_by_their_area() -> None:
    stand = count([2, 4, 3, 3], method="quadrat", frame_sqft=2.0)
    assert stand.plants_per_sqft.value == 1.5 and stand.frequency_pct is None
    assert float(stand.low_per_sqft.value) < 1.5 < float(stand.high_per_sqft.value)
    with pytest.raises(ValueError, match="at least 2"):
        count([3], method="quadrat")
    with pytest.raises(ValueError, match="more than the 25 cells"):
        count([26])
