"""What may come on top of the price in print, and a release in which nothing is sown."""

from __future__ import annotations

from dataclasses import replace

from plans.documents.words import usd
from plans.planning.plan import Plan
from plans.planning.planner import plan_job
from plans.planning.wire import read_job_file
from tests.documents.conftest import EXAMPLE, TODAY, pages, printed


def test_the_range_stands_beside_the_price(plan: Plan, texts: list[str]) -> None:
    words = " ".join(" ".join(texts).split())
    likely = plan.estimate.range
    assert likely is not None
    assert f"between {usd(likely.p10.dollars)} and {usd(likely.p90.dollars)}" in words
    for step in likely.steps:
        assert f"({step.likelihood_pct} times in 100, {usd(step.price.dollars)})" in words


def test_what_grows_in_summer_is_said_to_be_killed_in_summer(texts: list[str]) -> None:
    file = read_job_file(EXAMPLE.read_bytes())
    bermuda = replace(file.job.conversions[0], cover="bermudagrass", kill_program="bermuda_summer")
    plan = plan_job(replace(file.job, conversions=(bermuda,)), file.prices, TODAY)
    assert "Killed in summer" in " ".join(" ".join(pages(printed(plan))).split())
    assert "Killed in summer" not in " ".join(" ".join(texts).split())


def test_a_release_prints_no_seed_and_says_what_is_set_free() -> None:
    file = read_job_file(EXAMPLE.read_bytes())
    released = replace(
        file.job.conversions[0],
        cover="failed native stand",
        kill_program="release_native",
        seeding="none",
        options=("release_imazapic",),
    )
    plan = plan_job(replace(file.job, conversions=(released,)), file.prices, TODAY)
    words = " ".join(" ".join(pages(printed(plan))).split())
    assert "What goes into the ground" not in words
    assert "is still alive under the old grass" in words
    assert "Count what came through" in words
