"""The plan's total against the same sums made apart from it, in bare floats."""

from __future__ import annotations

import pytest

from plans.planning.planner import plan_job
from tests.bench.by_hand import in_python, sums_of
from tests.bench.jobs import SPECIES, TODAY, YEARS, one_field


def test_the_plan_comes_to_what_plain_sums_come_to() -> None:
    jobs, prices = one_field(20)
    for job in jobs:
        plan = plan_job(job, prices, TODAY)
        assert len(plan.seed[0].lines) == SPECIES
        assert plan.job.terms.years == YEARS
        # Floats fall on the other side of half a cent now and then: a cent or so on any of forty lines.
        assert in_python(sums_of(plan, prices)) == pytest.approx(
            float(plan.estimate.total.total.value), abs=0.1
        )
