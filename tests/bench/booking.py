"""A season of 200 jobs fitted: how soon there is a booking, and how near the bound it comes in a minute."""

from __future__ import annotations

import time

from plans.planning.booking_check import problems
from plans.planning.booking_fit import fit
from plans.planning.booking_greedy import greedy
from tests.bench.seasons import season
from tests.bench.timing import measured, median, said, verdict

JOBS, SECONDS, TARGET = 200, 60.0, 0.02
LOADS = ((0.4, False), (0.7, False), (0.7, True))
"""Share of the machines' hours asked for, and whether the second drill is rented."""


def run() -> None:
    for load, rented in LOADS:
        asked = season(JOBS, load, rented)
        what = f"{JOBS} jobs, {len(asked.visits):,} visits, {len(asked.machines)} machines, {load:.0%} full"
        what += ", one rented" if rented else ""
        measured(f"greedy: {what}", median(lambda asked=asked: greedy(asked), 3), "target: at once")
        began = time.perf_counter()
        best = fit(asked, SECONDS)
        took = time.perf_counter() - began
        assert problems(asked, best) == () and best.gap is not None
        measured("fit", took, f"target: gap under {TARGET:.0%}: {verdict(best.gap <= TARGET)}")
        first = greedy(asked)
        assert best.bound is not None
        said(
            f"gap {best.gap:.1%}: {best.score.late} days late and ${best.score.cost_usd}, "
            f"bound {best.bound.late} and ${best.bound.cost_usd}, "
            f"greedy {first.score.late} and ${first.score.cost_usd}"
        )
