"""Drilled through residue beside clean tillage: which fields show it, and what it says."""

from __future__ import annotations

from typing import Any, get_args

import pytest

from plans.planning import job, soil_ways
from plans.planning.plan import FieldSoil
from sites.models import Field
from tests.planning import make

KNOWN: dict[str, Any] = {
    "slope_pct": 12.0,
    "slope_length_ft": 200.0,
    "soil_texture": "silt loam",
    "soil_r": 200.0,
}


def field(**changes: Any) -> FieldSoil:
    return make.plan(make.conversion(**(KNOWN | changes))).soil[0]


@pytest.mark.parametrize("missing", [{"soil_r": None}, {"soil_texture": None}, {"slope_length_ft": 0.0}])
def test_nothing_is_said_while_something_is_unknown(missing: dict[str, Any]) -> None:
    assert make.plan(make.conversion(**(KNOWN | missing))).soil == ()


def test_tillage_loses_many_times_as_much_and_never_less_at_any_stage() -> None:
    """25 to 200 times, read off AH-537's cover factors."""
    shown = field()
    assert 25 <= float(shown.times.value) <= 200
    assert all(float(stage.tilled.value) >= float(stage.drilled.value) for stage in shown.stages)
    assert [stage.stage for stage in shown.stages] == ["before", "during", "after"]


def test_loss_is_the_product_of_its_factors() -> None:
    """R 200, K 0.42, LS 2.61 (AH-703, 12 %, 200 ft), C 0.5: 109.6 tons."""
    assert float(field().stages[1].tilled.value) == pytest.approx(200 * 0.42 * 2.61 * 0.5, rel=0.005)


def test_the_surveys_k_goes_before_the_textures() -> None:
    half = field(soil_k=0.21)
    assert float(half.stages[1].tilled.value) == pytest.approx(float(field().stages[1].tilled.value) / 2)


def test_bare_days_are_those_from_disc_to_seed() -> None:
    assert field().bare_days.value == 0
    tilled = make.plan(make.conversion(**(KNOWN | {"seeding": "broadcast"})))
    disc = next(task for task in tilled.tasks if task.operation == "discing")
    sown = next(task for task in tilled.tasks if task.operation == "broadcast_seeding")
    assert tilled.soil[0].bare_days.value == (sown.earliest - disc.earliest).days


def test_the_tillage_finding_names_the_loss_when_it_is_known() -> None:
    facts = KNOWN | {"seeding": "broadcast"}
    reasons = [
        next(finding.reason for finding in make.plan(of).findings if finding.rule == "tillage_steep")
        for of in (make.conversion(**facts), make.conversion(**(facts | {"soil_r": None})))
    ]
    assert "RUSLE" in reasons[0] and "tons" in reasons[0]
    assert "RUSLE" not in reasons[1]


@pytest.mark.parametrize(("slope", "degrees", "across"), [(20, "11.3 degrees", False), (30, "16.7", True)])
def test_a_steep_field_is_told_in_degrees_too(slope: float, degrees: str, across: bool) -> None:
    found = make.plan(make.conversion(slope_pct=slope)).findings
    steep = next(finding for finding in found if finding.rule == "machine_steep")
    assert degrees in steep.message
    assert ("across" in steep.way_out) == across


def test_the_tables_know_every_texture_and_cover() -> None:
    assert set(soil_ways.textures()) == set(get_args(job.Texture)) == {key for key, _ in Field.TEXTURE}
    for cover in get_args(job.Cover):
        assert make.plan(make.conversion(**(KNOWN | {"cover": cover}))).soil
    for row in soil_ways.textures().values():
        assert row.k_low <= row.k <= row.k_high
    for stage in soil_ways.cover_stages():
        assert stage.c_low <= stage.c <= stage.c_high
