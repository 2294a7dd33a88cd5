"""Soil loss in print: there for a slope whose soil and rain are known, and nowhere else."""

from __future__ import annotations

from dataclasses import replace

import pytest

from plans.planning.job import Conversion
from plans.planning.plan import Plan
from plans.planning.planner import plan_job
from plans.planning.wire import read_job_file
from tests.documents.conftest import EXAMPLE, TODAY, pages, printed


def known(conversion: Conversion) -> Conversion:
    return replace(conversion, soil_texture="silt loam", soil_r=200.0)


@pytest.fixture(scope="module")
def sloping() -> Plan:
    file = read_job_file(EXAMPLE.read_bytes())
    first, *others = file.job.conversions
    return plan_job(replace(file.job, conversions=(known(first), *others)), file.prices, TODAY)


@pytest.fixture(scope="module")
def sloping_texts(sloping: Plan) -> list[str]:
    return pages(printed(sloping))


def test_both_ways_stand_side_by_side(sloping: Plan, sloping_texts: list[str]) -> None:
    (field,) = sloping.soil
    page = next(text for text in sloping_texts if "What it does to the soil" in text)
    before, during, after = (
        (f"{float(stage.drilled.value):,.1f}", f"{float(stage.tilled.value):,.1f}") for stage in field.stages
    )
    row = (
        f"{field.field} {before[0]} {during[0]} {during[1]} {after[0]} {float(field.times.value):.0f} times 0"
    )
    assert row in page
    assert "Agriculture Handbook 703" in page and "no forecast" in " ".join(page.split())


def test_nothing_differs_between_the_ways_before_and_after(sloping: Plan) -> None:
    """The table has one column for each."""
    before, _, after = sloping.soil[0].stages
    assert before.drilled == before.tilled and after.drilled == after.tilled


def test_the_factors_are_in_the_workings(sloping: Plan, sloping_texts: list[str]) -> None:
    whole = "\n".join(sloping_texts).split("How it was worked out")[-1]
    assert f"{sloping.soil[0].field} 200 0.42" in whole
    assert "R × K × LS × C × P" in whole


def test_it_takes_a_page_at_most(texts: list[str], sloping_texts: list[str]) -> None:
    assert len(sloping_texts) <= len(texts) + 1


def test_nothing_is_printed_while_something_is_unknown(texts: list[str]) -> None:
    assert "soil" not in " ".join(texts).split("How it was worked out")[-1].lower().split()
    assert "What it does to the soil" not in " ".join(texts)
