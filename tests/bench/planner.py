"""plan_job beside the same sums in plain Python and in a LibreOffice sheet."""

from __future__ import annotations

import statistics
import tempfile
from pathlib import Path

from plans.planning.planner import plan_job
from tests.bench.by_hand import in_python, in_sheet, soffice, sums_of
from tests.bench.jobs import SPECIES, TODAY, YEARS, one_field
from tests.bench.timing import floor, measured, said, seconds, shown, verdict

MANY, FEW = 1000, 100


def run() -> None:
    jobs, prices = one_field(MANY + FEW + 1)

    def plan(job):
        return plan_job(job, prices, TODAY)

    (first,) = seconds(plan, jobs[:1])
    few = seconds(plan, jobs[1 : FEW + 1])
    many = seconds(plan, jobs[FEW + 1 :])
    one = statistics.median(many)
    hand = [sums_of(plan(job), prices) for job in jobs[:MANY]]
    in_python(hand[0])
    bare = statistics.median(seconds(in_python, hand))
    totals = [float(plan(job).estimate.total.total.value) for job in jobs[:MANY]]

    measured(
        f"plan_job, one field, {SPECIES} species, {YEARS} years, median",
        one,
        f"target: under 10 ms: {verdict(one < 0.01)}",
    )
    said(f"the first in a fresh process, its tables unread: {first * 1e3:.0f} ms")
    floor("its sums alone in plain Python", bare, one)
    agree([in_python(sums) for sums in hand], totals)

    growth = sum(many) / sum(few) / (MANY / FEW)
    measured(
        f"plan_job, {MANY:,} of them, each at a place of its own",
        sum(many),
        f"target: linear: {verdict(growth < 1.2)}",
    )
    said(f"{FEW} of them take {shown(sum(few))}: among {MANY:,} each takes {growth:.2f} times as long")
    floor("their sums alone in plain Python", sum(seconds(in_python, hand)), sum(many))
    if soffice() is None:
        said("floor: the same sums in a LibreOffice sheet: LibreOffice is not installed")
        return
    with tempfile.TemporaryDirectory(prefix="coverstead-bench-") as name:
        folder = Path(name)
        in_sheet(hand[:1], folder)
        opening = statistics.median(in_sheet(hand[:1], folder)[0] for _ in range(3))
        runs = [in_sheet(hand, folder) for _ in range(3)]
        whole = statistics.median(took for took, _ in runs)
        floor(f"their sums in one LibreOffice sheet of {MANY:,} blocks", whole, sum(many))
        said(
            f"opened, reckoned and written headless; one block alone takes {opening:.2f} s, "
            f"so {(whole - opening) / (MANY - 1) * 1e3:.2f} ms more for each further one"
        )
        agree(runs[0][1], totals)


def agree(found: list[float], totals: list[float]) -> None:
    """Whether the floor reckoned the same: it works in floats, the plan in decimals."""
    off = [abs(a - b) for a, b in zip(found, totals, strict=True)]
    same = sum(1 for difference in off if difference < 0.005)
    said(f"its totals: {same} of {len(totals)} as in the plan to the cent, the worst ${max(off):.2f} apart")
